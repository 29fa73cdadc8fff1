"""Walls made in two cuts: their order, what comes loose in the second, and one view of both.

Land and relief of an opening are two cuts along one wall of the part.  Where rules of two axes look
at a section, only one of the two is the wall there: :func:`as_one` shows them that wall with the
passes of both, the second's numbered on, and each at the distance that it has there.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np
import shapely

from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.nc.timeline import CutHeader, Timeline
from kerfwright.proof.lean_section import at_height
from kerfwright.proof.lean_wall import UM_PER_MM, LeaningContour
from kerfwright.proof.pieces import grown
from kerfwright.proof.records import Claim, ContourPass
from kerfwright.proof.track import build_track
from kerfwright.trade.walls import SplitWall

_LEVELS = 5
_DETACHED_MM = 1e-3
"""What stands this far off its wall does not hang on it."""
_RING_MM = 0.005
"""A ring thinner than this is what chords leave, and is gone in the spark."""


def check_second_order(timeline: Timeline, claim: Claim) -> Iterator[Finding]:
    """Yield refusals of second cuts that come before the first is done.

    Parameters
    ----------
    timeline : Timeline
    claim : Claim
    """
    for split in claim.splits:
        firsts = [k for k, h in enumerate(timeline.headers) if h.contour_id == split.first_id]
        for k, cut in enumerate(timeline.headers):
            if cut.contour_id == split.second_id and firsts and k < firsts[-1]:
                yield Finding(
                    code="second-wall-first",
                    severity=Severity.REFUSAL,
                    message=f"{split.second_id} is cut before {split.first_id} is done; the "
                    f"{split.first.value} comes first: it has the tab, and the {split.second.value}"
                    " is finished last",
                    where=Place(
                        contour_id=split.second_id, pass_number=cut.pass_number, line=cut.line
                    ),
                    remedy=f"cut all passes of {split.first_id}, then those of {split.second_id}",
                )
                break


def check_rings(
    timeline: Timeline, claim: Claim, contours: Sequence[LeaningContour]
) -> Iterator[Finding]:
    """Yield refusals of second cuts in which a ring comes loose.

    At heights of the second's part of the wall the solid inside the opening is followed cut by
    cut: what no longer hangs on the wall after the first cuts is the slug; what comes off later
    would drop beside the wire.

    Parameters
    ----------
    timeline : Timeline
    claim : Claim
    contours : sequence of LeaningContour
    """
    wanted = {one.part.id: one.wanted for one in contours}
    for split in claim.splits:
        for z in np.linspace(*split.stands_mm(split.second_id), _LEVELS).tolist():
            opening = wanted[split.second_id].polygon(z).buffer(0)
            ring = _ring_at(timeline, claim, split, opening, z)
            if ring is not None:
                yield ring
                break


def _ring_at(
    timeline: Timeline, claim: Claim, split: SplitWall, opening: shapely.Polygon, height_mm: float
) -> Finding | None:
    line = at_height(timeline, height_mm)
    # In the section a leaning kerf is wider, by the cosine of its angle.
    steep = float(np.sqrt(1.0 + split.slope**2))
    leaning = split.second_id if split.second_id in claim.walls else split.first_id
    solid: shapely.Geometry = opening
    for number, cut in enumerate(line.headers):
        if cut.contour_id not in split.ids:
            continue
        wide = steep if cut.contour_id == leaning else 1.0
        radii = {n: r * wide for n, r in claim.kerf_radius_mm.items()}
        track = build_track(line, radii, idle_mm_per_min=claim.machine.idle_speed_mm_per_min)
        rows = track.rows_of(number)
        if not len(rows):
            continue
        solid = shapely.difference(solid, grown(shapely.Polygon(), track, rows))
        parts = [p for p in shapely.get_parts(solid) if isinstance(p, shapely.Polygon)]
        loose = [p for p in parts if shapely.distance(p, opening.boundary) > _DETACHED_MM]
        solid = shapely.union_all([p for p in parts if p not in loose])
        rings = [p for p in loose if not p.buffer(-_RING_MM / 2).is_empty]
        if cut.contour_id == split.second_id and rings:
            return _ring(split, cut, max(rings, key=lambda p: p.area), height_mm)
    return None


def _ring(split: SplitWall, cut: CutHeader, ring: shapely.Polygon, height_mm: float) -> Finding:
    place = shapely.point_on_surface(ring)
    width_mm = 2 * ring.area / ring.length
    return Finding(
        code="ring-comes-loose",
        severity=Severity.REFUSAL,
        message=f"pass {cut.pass_number} of {split.second_id} frees a ring about "
        f"{width_mm * UM_PER_MM:.0f} µm thick, {height_mm:.3f} mm up, with nothing to hold it",
        where=Place(
            contour_id=split.second_id,
            pass_number=cut.pass_number,
            x_mm=float(place.x),
            y_mm=float(place.y),
            line=cut.line,
        ),
        remedy="let the first cut leave less than the kerf of the second is wide",
        data={"height_mm": height_mm},
    )


def as_one(timeline: Timeline, claim: Claim, height_mm: float) -> tuple[Timeline, Claim]:
    """Return time line and claim as they are at a height, both cuts of a wall as cuts of one.

    Parameters
    ----------
    timeline : Timeline
    claim : Claim
        With the sections of all its walls at that height for contours.
    height_mm : float
    """
    if not claim.splits:
        return timeline, claim
    more = max(claim.kerf_radius_mm)
    after = {s.second_id: s for s in claim.splits}
    away = {}
    standing = {}
    for split in claim.splits:
        for name in split.ids:
            low, high = split.stands_mm(name)
            away[name] = max(low - height_mm, height_mm - high, 0.0) * split.slope
        standing[split.first_id] = min(split.ids, key=lambda name: away[name])

    def renamed(key: ContourPass) -> ContourPass:
        split = after.get(key[0])
        return key if split is None else (split.first_id, key[1] + more)

    def one(cut: CutHeader) -> CutHeader:
        name, number = renamed((cut.contour_id, cut.pass_number))
        offset = cut.offset_mm + away.get(cut.contour_id, 0.0)
        return replace(cut, contour_id=name, pass_number=number, offset_mm=offset)

    walls = {c.id: c.contour for c in claim.contours}
    numbers: dict[str, tuple[int, ...]] = {}
    for name in sorted(claim.cut_ids, key=lambda n: n in after):
        for number in claim.passes_of(name):
            first, n = renamed((name, number))
            numbers[first] = (*numbers.get(first, ()), n)
    here = replace(
        claim,
        contours=tuple(
            replace(c, contour=walls[standing.get(c.id, c.id)])
            for c in claim.contours
            if c.id not in after
        ),
        cut_ids=claim.cut_ids - after.keys(),
        kerf_radius_mm={
            **claim.kerf_radius_mm,
            **{n + more: r for n, r in claim.kerf_radius_mm.items()},
        },
        pass_numbers=numbers,
        offset_mm={renamed(k): v + away.get(k[0], 0.0) for k, v in claim.offset_mm.items()},
        feed_mm_per_min={renamed(k): v for k, v in claim.feed_mm_per_min.items()},
        edge_feed_mm_per_min={renamed(k): v for k, v in claim.edge_feed_mm_per_min.items()},
        condition={renamed(k): v for k, v in claim.condition.items()},
        splits=(),
    )
    return replace(timeline, headers=tuple(one(h) for h in timeline.headers)), here


def in_own_words(findings: Sequence[Finding], claim: Claim) -> list[Finding]:
    """Return findings of :func:`as_one` with the names and pass numbers of the program.

    Left out is that a second cut at full power goes through solid: inside its opening, the slug
    out, that is what the first left for it to take.

    Parameters
    ----------
    findings : sequence of Finding
    claim : Claim
        Before it was seen as one.
    """
    more = max(claim.kerf_radius_mm)
    seconds = {s.first_id: s.second_id for s in claim.splits}
    found = []
    for f in findings:
        number = f.where.pass_number
        if not seconds or number is None or number <= more:
            found.append(f)
            continue
        first = f.where.contour_id or next(iter(seconds))
        name = seconds.get(first, first)
        if f.code == "cut-through-solid" and number - more == min(claim.kerf_radius_mm):
            continue
        message = re.sub(rf"\bpass {number}\b", f"pass {number - more} of {name}", f.message)
        where = replace(f.where, contour_id=name, pass_number=number - more)
        found.append(replace(f, message=message, where=where))
    return found
