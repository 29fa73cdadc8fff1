"""Lines that name a contour or a layer, held to the drawing before a job takes them."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from kerfwright.app.enquiries import (
    LAYER,
    OF_CONTOURS,
    ROLE,
    Asked,
    Enquiry,
    placed_contours,
    single_lines,
)
from kerfwright.foundation.errors import InputError, KerfwrightError
from kerfwright.trade.part import ContourUse
from kerfwright.trade.roles import is_piece

if TYPE_CHECKING:
    from kerfwright.workbench.desk import Desk
    from kerfwright.workbench.workers import Report

_OF_NAMES: Final = frozenset(
    {
        "contour-unknown",
        "unknown-layer",
        "piece-unknown",
        "piece-role",
        "start-not-a-circle",
        "not-of-a-solid",
    }
)
"""What is wrong with a line itself; anything else is said of the drawing, where it is drafted."""
_NAMED: Final = "kerfwright.workbench.held_lines.check_named"


async def hold_to_drawing(desk: Desk, after: Enquiry, lines: Mapping[str, str]) -> None:
    """Refuse lines about what the drawing does not have, and places where nothing can stand.

    Parameters
    ----------
    desk : Desk
    after : Enquiry
        As it would be with the lines.
    lines : mapping of str to str
        Those that are written, by name.

    Raises
    ------
    KerfwrightError
    """
    named = _named(lines)
    if not _are_known(named, _drafted_ids(desk, after.id)):
        drawing = desk.folder.drawing_of(after)
        try:
            await desk.place(_NAMED, dict(after.asked), drawing, after.drawing_sha256, named)
        except KerfwrightError as fault:
            if fault.code in _OF_NAMES:
                raise
    ids = placed_contours(lines)
    request = desk.request(after) if ids else None
    if request is not None:
        await desk.place("check_placed", request, after.drawing_sha256, tuple(sorted(ids)))


def check_named(
    asked: Asked, drawing: Path, sha256: str, named: dict[str, str], progress: Report
) -> None:
    """Refuse lines that name a contour, a piece or a layer which the drawing does not have.

    Parameters
    ----------
    asked : mapping of str to str
        All lines, with those that are written.
    drawing : Path
    sha256 : str
        Of the drawing.
    named : dict of str to str
        The lines that are written.
    progress : callable

    Raises
    ------
    KerfwrightError
        Also for what else is wrong with the drawing.
    """
    # On demand: the server itself starts without what reads drawings.
    from kerfwright.workbench.read_parts import HowRead, read_drawn

    progress("reading the drawing", 0.0)
    try:
        part = read_drawn(drawing, HowRead.as_asked(asked, sha256))
    except KerfwrightError as fault:
        before = {name: text for name, text in asked.items() if name not in named}
        if fault.code in _OF_NAMES and not _is_refused(drawing, before, sha256, fault.code):
            raise
        return
    known = part.ids
    odd = [one for one in _contours_of(named) if one not in known]
    if odd:
        raise InputError(
            f"the drawing has no contour {', '.join(odd)}; it has {', '.join(known) or 'none'}",
            code="contour-unknown",
            remedy="Pick it on the drawing, or take one of these names.",
        )


def _is_refused(drawing: Path, asked: Asked, sha256: str, code: str) -> bool:
    """Return whether a drawing was refused so already, by a line of before."""
    from kerfwright.workbench.read_parts import HowRead, read_drawn

    try:
        read_drawn(drawing, HowRead.as_asked(asked, sha256))
    except KerfwrightError as fault:
        return fault.code == code
    return False


def _named(lines: Mapping[str, str]) -> dict[str, str]:
    """Return the lines about a layer or a contour that say something, one for each of them."""
    return {
        one: text.strip()
        for name, text in lines.items()
        if name.startswith((LAYER, *OF_CONTOURS)) and text.strip()
        for one in single_lines(name)
    }


def _contours_of(named: Iterable[str]) -> list[str]:
    found = [(name, name.partition(" ")[2]) for name in named if not name.startswith(LAYER)]
    # A single piece has a role and nothing else; whether it is there was seen when it was read.
    mine = (one for name, one in found if not (name.startswith(ROLE) and is_piece(one)))
    return list(dict.fromkeys(mine))


def _are_known(named: Mapping[str, str], ids: Collection[str]) -> bool:
    """Return whether all that is named was drafted: an edit by hand waits for no drawing."""
    return all(
        not name.startswith(LAYER)
        and name.partition(" ")[2] in ids
        and (not name.startswith(ROLE) or text != ContourUse.START)
        for name, text in named.items()
    )


def _drafted_ids(desk: Desk, enquiry_id: str) -> frozenset[str]:
    bench = desk.known_bench(enquiry_id)
    drafted: dict[str, Any] = {} if bench is None or bench.drafted is None else bench.drafted.draft
    return frozenset(one["id"] for one in drafted.get("contours", ()))
