"""Single pieces of a drawing: those that a person leaves out, and those to choose from."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from typing import TYPE_CHECKING, Final

from kerfwright.adapters.dxf.layers import Reason
from kerfwright.adapters.dxf.shapes import anchor
from kerfwright.foundation.errors import InputError
from kerfwright.trade.roles import is_piece, piece_name

if TYPE_CHECKING:
    from kerfwright.adapters.dxf.entities import Harvest
    from kerfwright.adapters.dxf.shapes import Drawn
    from kerfwright.adapters.dxf.strands import Strands

_MOST_OFFERED: Final = 60
"""More pieces than this are not offered one by one: their layer is the way to leave them out."""
_MOST_NAMED: Final = 12
BETWEEN: Final = "; "
"""Between groups of pieces that are left out together."""


def leave_out(found: Harvest, names: Collection[str]) -> None:
    """Move pieces that a person says are no contour from what is used to the picture.

    Raises
    ------
    InputError
        ``piece-unknown``
    """
    from kerfwright.adapters.dxf.entities import LeftOut

    if not names:
        return
    wanted = {name.upper() for name in names}
    # A piece that is out for another reason, such as its layer, is as the person says already.
    known = {piece_name(d.name) for d in (*found.drawn, *found.pictured)}
    known |= {piece_name(entry.name) for entry in found.left_out}
    if odd := sorted(wanted - known):
        raise InputError(
            f"{', '.join(odd)} is to be left out, and the drawing has no such piece",
            code="piece-unknown",
            remedy="Take the names that the findings of `kerfwright check` give.",
        )
    stay: list[Drawn] = []
    for one in found.drawn:
        if piece_name(one.name) not in wanted:
            stay.append(one)
            continue
        x, y = anchor(one)
        found.pictured.append(one)
        found.left_out.append(
            LeftOut(
                kind=one.name.split()[0],
                name=one.name,
                layer=one.layer,
                reason=Reason.PERSON,
                x=x,
                y=y,
            )
        )
    found.drawn[:] = stay


def offered(groups: Sequence[Sequence[int]], strands: Strands) -> dict[str, str]:
    """Return pieces that can be left out, for the data of a finding.

    Parameters
    ----------
    groups : sequence of sequence of int
        Strands that are left out together.
    strands : Strands

    Returns
    -------
    dict of str to str
        ``pieces``, names with commas and groups with :data:`BETWEEN`; ``pieces_at_mm``, a point
        of each group.  Empty where a piece has no name, or there are too many to choose from.
    """
    named = [[piece_name(strands.drawn[k].name) for k in group] for group in groups]
    if sum(map(len, named)) > _MOST_OFFERED or not all(is_piece(n) for g in named for n in g):
        return {}
    spots = (_middle(group, strands) for group in groups)
    return {
        "pieces": BETWEEN.join(",".join(dict.fromkeys(group)) for group in named),
        "pieces_at_mm": BETWEEN.join(f"{x:.4f},{y:.4f}" for x, y in spots),
    }


def _middle(group: Sequence[int], strands: Strands) -> tuple[float, float]:
    rows = strands.chains[group[0]][0]
    x, y = (rows[0, :2] + rows[1 % len(rows), :2]) / 2
    return float(x), float(y)


def way_out(data: Mapping[str, str], *, loose: Sequence[str] = ()) -> str:
    """Return the remedy of leaving pieces out, empty where none can be named.

    Parameters
    ----------
    data : mapping of str to str
        As :func:`offered` gives it.
    loose : sequence of str
        Pieces that lie on no loop: all of them at once, where there are few.
    """
    if not data:
        return ""
    if 0 < len(loose) <= _MOST_NAMED:
        return f" Ways that end in nothing are left out with --role '{','.join(loose)}: reference'."
    first = data["pieces"].split(BETWEEN)[0].split(",")[0]
    return f" A piece that is no contour is left out by its name: --role '{first}: reference'."
