"""Reasons as people read them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Final

from kerfwright.adapters.json_shapes import answer_shape, finding_shape
from kerfwright.app.explain import asked_for, listing
from kerfwright.app.share_words import share_words
from kerfwright.app.sure_words import no_range_words
from kerfwright.cli.output import Page, put_json
from kerfwright.foundation.answers import Answer
from kerfwright.foundation.findings import Finding
from kerfwright.foundation.sources import Reason, Shares

_UNITS: Final = {
    "_mm_per_min": "mm/min",
    "_n_per_mm2": "N/mm²",
    "_n_per_m": "N/m",
    "_mm2": "mm²",
    "_mm": "mm",
    "_deg": "°",
    "_um": "µm",
    "_kg": "kg",
    "_mj": "mJ",
    "_min": "min",
    "_hz": "Hz",
    "_khz": "kHz",
    "_us": "µs",
    "_n": "N",
    "_a": "A",
    "_c": "°C",
    "_k": "K",
}
"""Unit by the end of a quantity's name, the longest first."""
_WHOLE: Final = {"minutes": "min", "hours": "h", "wire_breaks": "breaks in a piece"}
PLAIN: Final = {
    "margin": "break current over mean current",
    "utilisation": "mean current over break current",
    "rank": "a rank between passes, no chance",
    "relative_breaks": "breaks over those of a usual rough pass",
    "breaks_by_heat": "breaks over those of a usual rough pass",
    "breaks_by_dirt": "breaks over those in clean water",
    "breaks_beside": "breaks over those of a usual rough pass",
    "breaks_closed": "breaks over those of a usual rough pass",
    "breaks_unslowed": "breaks over those of a usual rough pass",
    "breaks_by_taper": "breaks over those of an upright wire",
    "edge_share": "share of a length",
    "rate_factor": "factor on the feed",
    "passes": "number of passes",
    "lines": "lines of the program",
    "along_factor": "factor on the feed",
    "taper_factor": "factor on the feed",
    "rough_taper_factor": "factor on the feed",
    "rough_lean_factor": "factor on the feed",
    "beside_factor": "factor on the feed",
    "margin_factor": "factor on the feed",
    "beside_margin_factor": "factor on the feed",
    "least_feed_factor": "factor on the feed",
    "safety": "what a tab holds over what pulls at it",
    "chance_of_a_break": "a probability",
    "chance_of_a_miss": "a probability",
    "not_through_chance": "a probability",
    "cutting_sigma_log": "deviation of a logarithm",
}
"""Quantities that are plain numbers, and why they have no unit."""
_FAR_BELOW: Final = 1e-4
"""A break rank below this says nothing but that the wire is far from a break."""
_ALL_DIGITS_FROM: Final = 10_000
"""From here on four digits would need an exponent."""
_LEAST_SHARE: Final = 0.005
"""Shares below half a percent would print as 0 %."""


def unit_of(quantity: str) -> str:
    """Return the unit that a quantity's name ends in; empty for a plain number.

    >>> unit_of("feed_mm_per_min"), unit_of("amount_kWh"), unit_of("safety")
    ('mm/min', 'kWh', '')
    """
    if quantity in _WHOLE:
        return _WHOLE[quantity]
    if quantity.startswith("amount_"):
        return quantity.removeprefix("amount_")
    return next((unit for end, unit in _UNITS.items() if quantity.endswith(end)), "")


def number(value: float) -> str:
    """Return a number with four digits that count, and all before its point.

    >>> number(0.123456), number(11502.4), number(-3.2)
    ('0.1235', '11502', '-3.2')
    """
    return f"{value:.0f}" if abs(value) >= _ALL_DIGITS_FROM else f"{value:.4g}"


def shares_text(shares: Shares) -> str:
    """Return shares in percent, the largest first.

    >>> shares_text((("gap", 0.04), ("cutting rate: job", 0.96)))
    'cutting rate: from job to job 96 %, gap 4 %'
    """
    ranked = sorted(shares, key=lambda part: -part[1])
    told = [
        f"{share_words(name)} {share:.0%}" for name, share in ranked if abs(share) >= _LEAST_SHARE
    ]
    return ", ".join(told).replace("%", " %")


def show_answers(page: Page, answers: Iterable[Answer]) -> None:
    """Show name and value, formula, inputs, source, range and who brings the uncertainty."""
    for answer in answers:
        reason = answer.reason
        unit = unit_of(reason.quantity)
        value = f"{_figure(reason.value, reason)} {unit}".rstrip()
        if reason.quantity == "rank" and reason.value < _FAR_BELOW:
            value = f"far from a break ({value})"
        page.line(f"{answer.title}: {value}", indent=2, style="bold")
        page.line(f"= {reason.formula}", indent=6)
        if reason.inputs:
            page.line(_inputs(reason), indent=6)
        page.line(f"source: {reason.source}", indent=6)
        known = no_range_words(reason)
        if known:
            page.line(f"no range: {known}", indent=6)
        elif reason.range is not None:
            # A dash between signed numbers reads as a minus.
            low, high = (_figure(end, reason) for end in (reason.range.low, reason.range.high))
            to = " to " if reason.range.low < 0 or low.startswith(_BELOW) else "–"
            span = (low if low == high else f"{low}{to}{high}") + f" {unit}".rstrip()
            by = f"; by {shares_text(reason.shares)}" if reason.shares else ""
            page.line(f"10–90 %: {span}{by}", indent=6)


_BELOW: Final = "below "


def _figure(value: float, reason: Reason) -> str:
    """Return a value or an end of its range; of a rank far from a break only that it is small."""
    is_far = reason.quantity == "rank" and value < _FAR_BELOW
    return f"{_BELOW}{_FAR_BELOW:g}" if is_far else number(value)


def tell(
    every: tuple[Answer, ...],
    folder: Path,
    quantity: Sequence[str],
    *,
    as_json: bool,
    more: str = "",
    refused: Sequence[Finding] = (),
) -> None:
    """Print the answers to what is asked of a job, or what can be asked, `more` below that.

    What is refused has no number: instead of it stands what was refused, by which limit, and what
    to do.
    """
    asked = " ".join(quantity)
    # Other numbers that have the words too would hide that this one has none.
    found = asked_for(every, asked) if quantity and not refused else ()
    if as_json:
        shown = found if quantity else every
        put_json(
            {
                "format": "kerfwright-reasons",
                "version": 1,
                "reasons": [answer_shape(a) for a in shown],
                **({"refusals": [finding_shape(f) for f in refused]} if refused else {}),
            }
        )
        return
    page = Page()
    if quantity:
        page.heading(f"Why, for {folder}")
        show_answers(page, found)
        for one in refused:
            page.line(f"refused: {one.message}", indent=2, style="bold red")
            page.line(f"where: {one.where}", indent=6)
            page.line(f"remedy: {one.remedy}", indent=6)
        if refused:
            page.line("What is refused is not cut: it has no time and no price.", indent=2)
        return
    page.heading("What can be asked, one or more words of a line")
    for row in listing(every).splitlines():
        page.line(row)
    if more:
        page.line(more)


def _inputs(reason: Reason) -> str:
    return ", ".join(
        f"{name} = {number(value)}" if isinstance(value, float) else f"{name} = {value}"
        for name, value in reason.inputs
    )
