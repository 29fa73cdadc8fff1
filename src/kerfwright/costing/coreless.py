"""What cutting the inside of openings away costs against leaving a slug, in minutes."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np

from kerfwright.costing.rates import HumanMinutes, RateTable
from kerfwright.foundation.answers import Answer
from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.foundation.sizes import both_sizes
from kerfwright.foundation.sources import Reason, Source, SourceTag
from kerfwright.foundation.units import minutes_text
from kerfwright.motion.moves import CutKind, WirePath
from kerfwright.motion.tally import tally
from kerfwright.planning.coreless_loops import Coreless, CorelessWhy
from kerfwright.planning.plan import ContourPlan, Plan

_COMPUTED = Source(tag=SourceTag.COMPUTED)
CORELESS: Final = "coreless rough pass"
"""The time line of the cuts that take insides away."""
PARTIAL_KERF: Final = "feed where only a part of the kerf is metal"
"""What is unsure of it beyond the rough feed."""
_STOPS_OF_A_SLUG = 2
"""Before the cut that frees it, and after it, to take it out."""
_NAMED = 6
"""Openings named in a finding; of more the number is said."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TwoWays:
    """The minutes of one opening both ways, at likely feeds.

    Attributes
    ----------
    contour_id : str
    coreless : Coreless
    machine_min : float
        The rough cut of the inside.
    slug_machine_min : float
        Rough pass, threading anew and cut-off with a slug.
    slug_people_min : float
        Two stops, and the slug taken out: coreless, nobody is there.
    """

    contour_id: str
    coreless: Coreless
    machine_min: float
    slug_machine_min: float
    slug_people_min: float


def two_ways(plan: Plan, path: WirePath, *, rates: RateTable) -> tuple[TwoWays, ...]:
    """Return both ways for every opening whose inside is cut away.

    The slug's way is worked out from the same plan: the rough path once round and its lead-in at
    the feeds of the rough pass, the way back to the tab through open kerf, and the rates' minutes
    for threading and people.

    Parameters
    ----------
    plan : Plan
    path : WirePath
        Of that plan.
    rates : RateTable
    """
    if all(c.coreless is None for c in plan.contours):
        return ()
    rough = [cut for cut in path.cuts if cut.kind is CutKind.ROUGH]
    added = tally(rough, idle_mm_per_min=plan.requirement.machine.idle_speed_mm_per_min)
    minutes = {
        cut.contour_id: float(added.wall_min[k] + added.return_min[k])
        for k, cut in enumerate(rough)
    }
    people = rates.minutes
    return tuple(
        TwoWays(
            contour_id=c.target.id,
            coreless=c.coreless,
            machine_min=minutes[c.target.id],
            slug_machine_min=_slug_machine_min(plan, c, people),
            slug_people_min=_STOPS_OF_A_SLUG * people.attended_stop
            + people.removal_per_piece_freed,
        )
        for c in plan.contours
        if c.coreless is not None
    )


def _slug_machine_min(plan: Plan, c: ContourPlan, people: HumanMinutes) -> float:
    rules, offset_mm = plan.rules, c.passes[0].offset_mm
    feed = c.feed_mm_per_min(c.passes[0])
    lead = c.target.contour.points_at(np.array([c.lead_station_mm]))[0]
    lead_mm = math.dist((c.start.x_mm, c.start.y_mm), lead) - offset_mm
    return (
        c.loops[0].contour.length_mm / feed
        + lead_mm / (feed * rules.lead_feed_factor)
        + lead_mm / rules.return_feed_mm_per_min
        + people.threading(by_itself=plan.requirement.machine.threads_itself)
    )


def coreless_findings(plan: Plan, path: WirePath, *, rates: RateTable) -> list[Finding]:
    """Return a note for each reason for which insides are cut away, with the minutes both ways."""
    every = two_ways(plan, path, rates=rates)
    return [
        _note([one for one in every if one.coreless.why is why])
        for why in CorelessWhy
        if any(one.coreless.why is why for one in every)
    ]


_BECAUSE = {
    CorelessWhy.TOO_SMALL: "its slug of {width} would be too small to catch, the limit is {limit}",
    CorelessWhy.PARTED: "start hole and kerf would part its slug of {width} in small pieces, "
    "the limit is {limit}",
    CorelessWhy.UNATTENDED: "nobody has to be there for its slug of {width}, the limit is {limit}",
    CorelessWhy.ASKED: "that was asked for; its slug would be {width} wide",
}


def _note(ways: list[TwoWays]) -> Finding:
    names = ", ".join(one.contour_id for one in ways[:_NAMED])
    if len(ways) > _NAMED:
        names += f" and {len(ways) - _NAMED} more"
    widest = max(ways, key=lambda one: one.coreless.slug_width_mm).coreless
    because = _BECAUSE[widest.why].format(
        width=both_sizes(widest.slug_width_mm), limit=both_sizes(widest.limit_mm)
    )
    if len(ways) > 1:
        because = because.replace("its slug", "the widest slug", 1)
    machine, slug, people = (
        math.fsum(getattr(one, name) for one in ways)
        for name in ("machine_min", "slug_machine_min", "slug_people_min")
    )
    return Finding(
        code="inside-cut-away",
        severity=Severity.NOTE,
        message=f"The inside of {names} is cut away whole, no slug is left: {because}. It takes "
        f"{minutes_text(machine)} of machine with nobody there; with a slug "
        f"{minutes_text(slug)} of machine and {minutes_text(people)} of somebody.",
        where=Place(contour_id=ways[0].contour_id) if len(ways) == 1 else Place(),
        remedy='Ask for slugs with --coreless never, or of one opening with --coreless "'
        f'{ways[0].contour_id}: never".',
        data={
            "openings": float(len(ways)),
            "machine_min": machine,
            "slug_machine_min": slug,
            "slug_people_min": people,
        },
    )


def coreless_answers(plan: Plan, path: WirePath, *, rates: RateTable) -> Iterator[Answer]:
    """Yield why each opening takes its minutes, and what it would take with a slug."""
    itself = plan.requirement.machine.threads_itself
    threading_min = rates.minutes.threading(by_itself=itself)
    for one in two_ways(plan, path, rates=rates):
        loops = one.coreless.loops
        yield _answer(
            one.contour_id,
            "coreless machine time",
            one.machine_min,
            "sum over moves of length / feed; feed of a loop = rough feed x min(most, kerf / "
            "width in metal), of the loop along the wall = rough feed",
            (
                ("loops", float(loops.count)),
                ("loops_mm", loops.length_mm),
                ("kerf_mm", one.coreless.kerf_mm),
                ("pitch_mm", one.coreless.pitch_mm),
                ("most", one.coreless.most_feed_factor),
            ),
        )
        yield _answer(
            one.contour_id,
            "coreless machine time with a slug instead",
            one.slug_machine_min,
            "rough path / feed + lead-in at its feed and back + threading anew for the cut-off",
            (
                ("path_mm", loops.contour.length_mm),
                ("threading_min", threading_min),
            ),
        )
        yield _answer(
            one.contour_id,
            "coreless people's time saved",
            one.slug_people_min,
            "stops x minutes of a stop + taking the slug out",
            (
                ("stops", float(_STOPS_OF_A_SLUG)),
                ("stop_min", rates.minutes.attended_stop),
                ("removal_min", rates.minutes.removal_per_piece_freed),
            ),
        )


def _answer(
    about: str,
    name: str,
    minutes: float,
    formula: str,
    inputs: tuple[tuple[str, float | str], ...],
) -> Answer:
    return Answer(
        about=about,
        name=name,
        path="",
        also="minutes against the slug",
        reason=Reason(
            quantity="minutes", value=minutes, formula=formula, inputs=inputs, source=_COMPUTED
        ),
    )
