"""What a drawing says of the whole job in two ways, remarked at both."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from kerfwright.foundation.shortened import shortened
from kerfwright.trade.statements import Asks, Statement

_OF_THE_JOB: Final = {
    Asks.QUANTITY: "pieces",
    Asks.HEIGHT: "height_mm",
    Asks.MATERIAL: "material",
    Asks.REVISION: "revision",
    Asks.CUSTOMER: "customer",
    Asks.DUE: "date",
}
"""What there is one of in a job, and the number of a reading that says it."""
_SAME: Final = 1e-3
"""Share by which two heights may differ that are one: 25.4 and 1 in."""
_MOST_LETTERS: Final = 40
_MOST_NAMED: Final = 3
_MOST_COMPARED: Final = 100
"""Different values of one kind that are compared; a drawing has two or three."""
_Values = tuple[float | str, ...]


def contradictions(said: Sequence[tuple[Statement, str]]) -> dict[int, str]:
    """Return a remark on each statement that another one contradicts.

    Statements that may mean several things contradict each other only where no meaning is shared.

    Parameters
    ----------
    said : sequence of (Statement, str)
        Of the whole job, each with the entity that says it.

    Returns
    -------
    dict of int to str
        By the place in the sequence; statements without one stand for themselves.
    """
    of_kind: dict[Asks, dict[_Values, list[int]]] = {}
    for number, (one, _) in enumerate(said):
        values = _values(one)
        if values:
            of_kind.setdefault(one.asks, {}).setdefault(values, []).append(number)
    remarks: dict[int, str] = {}
    for groups in of_kind.values():
        kept = list(groups)[:_MOST_COMPARED]
        for values in kept if len(kept) > 1 else ():
            others = [said[groups[v][0]] for v in kept if not _agree(values, v)]
            if others:
                remarks.update(dict.fromkeys(groups[values], _remark(others)))
    return remarks


def _values(one: Statement) -> _Values:
    """Return what a statement may say of the job; nothing where it is no offer."""
    key = _OF_THE_JOB.get(one.asks)
    if key is None:
        return ()
    meant = (r.data.get(key) for r in one.readings if r.option)
    return tuple(value for value in meant if value is not None)


def _agree(one: _Values, other: _Values) -> bool:
    return any(_is_same(a, b) for a in one for b in other)


def _is_same(one: float | str, other: float | str) -> bool:
    if isinstance(one, str) or isinstance(other, str):
        return str(one).casefold() == str(other).casefold()
    return abs(one - other) <= _SAME * max(abs(one), abs(other))


def _remark(others: Sequence[tuple[Statement, str]]) -> str:
    named = ", ".join(_short(one.text, entity) for one, entity in others[:_MOST_NAMED])
    more = f" and {len(others) - _MOST_NAMED} more" if len(others) > _MOST_NAMED else ""
    return f"the drawing also says {named}{more}: ask which holds"


def _short(text: str, entity: str) -> str:
    line = shortened(" ".join(text.split()), _MOST_LETTERS)
    return f"“{line}”" + (f" ({entity})" if entity else "")
