"""What a drawing says about itself, as a person reads it before a plan."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Final

from kerfwright.app.drawing_says import Saying
from kerfwright.cli.output import Page
from kerfwright.cli.words import Show
from kerfwright.foundation.counts import counted
from kerfwright.foundation.shortened import shortened
from kerfwright.trade.statements import Asks, Statement, option

_MOST_ROWS: Final = 40
_LONGEST_TEXT: Final = 60
_MOST_CONTOURS: Final = 4
_LAST: Final = (Asks.SIZE, Asks.ANGLE, Asks.TITLE_BLOCK)
"""Kinds that ask nothing by themselves stand behind those that do."""


def show_says(page: Page, says: Sequence[Saying], show: Show) -> None:
    """Show each statement with its place and the option that would apply it.

    Parameters
    ----------
    page : Page
    says : sequence of Saying
    show : Show
    """
    if not says:
        return
    page.heading("The drawing says")
    page.line("Nothing of this is applied: add the options that you agree with.", indent=2)
    understood = [s for s in says if s.statement.asks is not Asks.NOT_UNDERSTOOD]
    remarks: dict[str, int] = {}
    rows = [_row(same, show, remarks) for same in _together(understood)]
    if rows:
        page.table(
            ("asks", "written", "reads as", "where", "to apply", "see"),
            rows,
            left=(0, 1, 2, 3, 4),
            most=_MOST_ROWS,
            rest="statements: see --json",
        )
    for remark, number in remarks.items():
        page.line(f"{number}. {remark}", indent=2)
    lost = _together(s for s in says if s.statement.asks is Asks.NOT_UNDERSTOOD)
    if not lost:
        return
    page.line("Not understood; read it on the drawing:", indent=2)
    for same in lost[:_MOST_ROWS]:
        text = f"“{_short(same[0].statement.text)}”"
        remark = same[0].statement.remark
        page.line(f"{text}, {_where(same, show)}" + (f": {remark}" if remark else ""), indent=4)
    if len(lost) > _MOST_ROWS:
        page.line(f"… and {counted(len(lost) - _MOST_ROWS, 'more text')}: see --json", indent=4)


def _together(says: Iterable[Saying]) -> list[list[Saying]]:
    """Put equal statements together, those that ask something first."""
    groups: dict[tuple[Asks, str, str], list[Saying]] = {}
    for one in says:
        said = one.statement
        groups.setdefault((said.asks, said.text, said.remark), []).append(one)
    return sorted(groups.values(), key=lambda same: same[0].statement.asks in _LAST)


def _row(same: list[Saying], show: Show, remarks: dict[str, int]) -> tuple[str, ...]:
    said = same[0].statement
    number = remarks.setdefault(said.remark, len(remarks) + 1) if said.remark else 0
    return (
        said.asks.value,
        _short(said.text),
        _readings(said),
        _where(same, show),
        "\nor ".join(_to_apply(said)),
        str(number) if number else "",
    )


def _readings(said: Statement) -> str:
    return "\nor ".join(r.words for r in said.readings)


def _to_apply(said: Statement) -> list[str]:
    """Return the options that apply the readings of a statement."""
    picked = (r.of_picked and option("contour", f"ID: {r.of_picked}") for r in said.readings)
    both = (r.option or own for r, own in zip(said.readings, picked, strict=True))
    return [one for one in both if one]


def _short(text: str) -> str:
    return shortened(text, _LONGEST_TEXT)


def _where(same: Sequence[Saying], show: Show) -> str:
    first = same[0]
    ids = list(dict.fromkeys(name for one in same for name in one.contour_ids))
    words = [", ".join(ids[:_MOST_CONTOURS]) + (" …" if len(ids) > _MOST_CONTOURS else "")]
    if not ids:
        words = []
    place = first.where
    if first.sheet:
        words.append(f"sheet {_short(first.sheet)}")
    elif place.x_mm is not None and place.y_mm is not None:
        words.append(f"X{show.length(place.x_mm)} Y{show.length(place.y_mm)}")
    if place.entity:
        words.append(place.entity)
    more = f" and {len(same) - 1} more" if len(same) > 1 else ""
    return ", ".join(words) + more
