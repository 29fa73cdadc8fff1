"""Drawings that allow no recast layer at all, which no wire cut keeps."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Final

from kerfwright.app.drawing_says import Saying
from kerfwright.app.papers.common import NO_RECAST
from kerfwright.app.papers.same_remarks import CONTOURS, listed
from kerfwright.foundation.findings import Finding, Severity
from kerfwright.foundation.shortened import shortened
from kerfwright.foundation.zones import zone_asked
from kerfwright.trade.part import Part
from kerfwright.trade.requirement import Requirement
from kerfwright.trade.statements import Asks

_MOST_LETTERS: Final = 60


def recast_forbidden(
    sayings: Iterable[Saying], part: Part, requirement: Requirement
) -> Iterator[Finding]:
    """Yield a warning for each text that allows no recast layer, once for equal ones.

    It stays where a limit is asked of the job: that one is planned, and the drawing still asks
    for none.

    Parameters
    ----------
    sayings : iterable of Saying
        What the drawing says.
    part : Part
    requirement : Requirement
        What is planned and priced.
    """
    cut = tuple(one.id for one in part.to_cut)
    told: set[tuple[str, tuple[str, ...]]] = set()
    for one in sayings:
        if one.statement.asks is not Asks.RECAST or one.statement.readings:
            continue
        own = tuple(name for name in one.contour_ids if name in cut)
        text = " ".join(one.statement.text.split())
        if (one.contour_ids and not own) or (text.lower(), own) in told:
            continue
        told.add((text.lower(), own))
        yield _forbidden(one, shortened(text, _MOST_LETTERS), own, own or cut, requirement)


def _forbidden(
    one: Saying,
    text: str,
    own: tuple[str, ...],
    ids: tuple[str, ...],
    requirement: Requirement,
) -> Finding:
    at = f" at {listed(own)}" if own else ""
    limits_um = [requirement.demand_on(name).max_recast_um for name in ids]
    known_um = [value for value in limits_um if value is not None]
    data: dict[str, float | int | str] = {"text": one.statement.text}
    if known_um and len(known_um) == len(limits_um):
        data["planned_um"] = max(known_um)
        planned = f"at most {zone_asked(max(known_um))} is planned and quoted"
    else:
        planned = "no limit of it is planned or quoted"
    if own:
        data[CONTOURS] = ",".join(own)
    return Finding(
        code=NO_RECAST,
        severity=Severity.WARNING,
        message=f"The drawing asks “{text}”{at}. Sparks always leave a recast layer, "
        f"and {planned}.",
        where=one.where,
        remedy="Ask how thin it may be and ask that of the job, or agree on who takes the layer "
        "off after the cut, such as by etching or polishing.",
        data=data,
    )
