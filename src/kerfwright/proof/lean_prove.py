"""Prove a program in which the wire leans.

The walls are judged in space, height by height.  What a program must keep to otherwise (threading,
stops, tabs, pieces, ways, feeds) is checked in sections: at the underside, half way up and at the
top the program is read as one of two axes, and the wanted wall as its section there.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from kerfwright.foundation.findings import Finding, Severity
from kerfwright.nc.timeline import Timeline
from kerfwright.proof.claimed import check_feeds, check_starts, check_stated_offsets
from kerfwright.proof.clamped import check_clamps
from kerfwright.proof.compare import Comparison, compare
from kerfwright.proof.edge_feeds import check_edge_feeds
from kerfwright.proof.engaged import check_engaged
from kerfwright.proof.lean_axis import lean_of
from kerfwright.proof.lean_rules import (
    check_arcs,
    check_neighbours,
    check_tilt,
    check_upright,
    check_way_out,
    lean_course,
)
from kerfwright.proof.lean_section import at_height
from kerfwright.proof.lean_wall import LeaningContour, WallJudgement, judge_walls
from kerfwright.proof.lean_wanted import Wanted, paired_faults
from kerfwright.proof.passes import UM_PER_MM, pass_runs
from kerfwright.proof.pieces import pieces_freed
from kerfwright.proof.records import Claim, Event, HeightDeviation, LeanProof, Proof
from kerfwright.proof.rules import check_cuts, check_moves, check_pieces, check_wire
from kerfwright.proof.solid import check_free_pieces, joint_pieces
from kerfwright.proof.split_walls import as_one, check_rings, check_second_order, in_own_words
from kerfwright.proof.tabs import check_tabs
from kerfwright.proof.track import build_track
from kerfwright.proof.wall import Wall
from kerfwright.proof.ways import check_ways
from kerfwright.trade.walls import PairedWall, TaperedWall

_CONTOUR_MM = 1e-4
"""A claimed pairing may leave its contours by this."""


def prove_leaning(timeline: Timeline, claim: Claim, *, program_sha256: str) -> Proof:
    """Prove a time line against a claim some of whose walls lean.

    Parameters
    ----------
    timeline : Timeline
    claim : Claim
    program_sha256 : str
    """
    every = wanted_contours(claim)
    leaning = [one for one in every if one.part.id in claim.walls]
    judged = judge_walls(timeline, claim, leaning)
    upright = _upright(timeline, claim)
    findings = [*_pairings(claim), *check_arcs(timeline, leaning), *check_tilt(timeline, claim)]
    findings += [*check_upright(timeline, claim), *check_clamps(timeline, claim)]
    findings += judged.findings
    findings += check_neighbours(timeline, claim, every)
    findings += [*check_second_order(timeline, claim), *check_rings(timeline, claim, every)]
    no_piece = {s.second_id for s in claim.splits}
    for one in leaning:
        # In a second cut no piece comes free.
        findings += () if one.part.id in no_piece else check_way_out(claim, one)
    if upright is not None:
        findings += upright.findings
    found, events, seconds, length = _in_sections(timeline, claim, every)
    findings += found
    unique = _once(findings)
    deviations = judged.deviations + (() if upright is None else upright.deviations)
    return Proof(
        passed=not any(f.severity is Severity.REFUSAL for f in unique),
        max_gouge_um=max((d.max_gouge_um for d in deviations), default=0.0),
        max_leftover_um=max((d.max_leftover_um for d in deviations), default=0.0),
        deviations=deviations,
        unreachable=judged.unreachable + (() if upright is None else upright.unreachable),
        events=events,
        findings=unique,
        cutting_time_s=seconds,
        path_length_mm=length,
        samples=judged.samples + (0 if upright is None else upright.samples),
        program_sha256=program_sha256,
        leaning=_course(timeline, claim, judged, lands=_lands(claim, upright)),
    )


def _lands(claim: Claim, upright: Comparison | None) -> tuple[HeightDeviation, ...]:
    """Return the deviations of straight lands at both ends; an upright wire cuts all alike."""
    ids = {name for split in claim.splits for name in split.ids} - claim.walls.keys()
    return tuple(
        HeightDeviation(
            contour_id=d.contour_id,
            height_mm=z,
            max_gouge_um=d.max_gouge_um,
            max_leftover_um=d.max_leftover_um,
        )
        for d in (() if upright is None else upright.deviations)
        if d.contour_id in ids
        for z in claim.stands_mm(d.contour_id)
    )


def _course(
    timeline: Timeline, claim: Claim, judged: WallJudgement, *, lands: tuple[HeightDeviation, ...]
) -> LeanProof:
    lean = lean_of(timeline)
    planes = (lean.program_mm, lean.second_mm)
    if claim.machine.tilt is None or not len(timeline):
        return LeanProof(
            heights_mm=judged.heights_mm,
            planes_mm=planes,
            max_angle_deg=0.0,
            max_u_mm=0.0,
            max_v_mm=0.0,
            by_height=(*judged.by_height, *lands),
        )
    course = lean_course(timeline, claim)
    return LeanProof(
        heights_mm=judged.heights_mm,
        planes_mm=planes,
        max_angle_deg=float(course.angle_deg.max()),
        max_u_mm=float(np.abs(course.u_mm).max()),
        max_v_mm=float(np.abs(course.v_mm).max()),
        by_height=(*judged.by_height, *lands),
    )


def wanted_contours(claim: Claim) -> list[LeaningContour]:
    """Return every contour with its wanted wall; an upright one is a taper of nothing."""
    found = []
    for part in claim.contours:
        shape = claim.walls.get(part.id)
        if shape is None:
            shape = TaperedWall(
                contour=part.contour, rise=0.0, reference_mm=0.0, constant_keys=frozenset()
            )
        tolerance_um = claim.tolerance_um + claim.lean_allowance_um.get(part.id, 0.0)
        found.append(
            LeaningContour(
                part=part,
                wanted=Wanted(shape),
                tolerance_mm=tolerance_um / UM_PER_MM,
                stands_mm=claim.stands_mm(part.id),
            )
        )
    return found


def _pairings(claim: Claim) -> Iterator[Finding]:
    """Yield refusals of pairings that do not join the two drawn contours."""
    for name, shape in claim.walls.items():
        if isinstance(shape, PairedWall):
            off = paired_faults(shape)
            if off > _CONTOUR_MM:
                yield Finding(
                    code="pairing-off-contour",
                    severity=Severity.REFUSAL,
                    message=f"the wall claimed for contour {name} leaves the drawn contours by "
                    f"{off:.4f} mm",
                    remedy="plan again: bottom, top or their matching are not those of the drawing",
                )


def _claim_at(claim: Claim, every: Sequence[LeaningContour], height_mm: float) -> Claim:
    contours = tuple(
        replace(one.part, contour=one.wanted.section(height_mm))
        if one.part.id in claim.walls
        else one.part
        for one in every
    )
    # In the plane of a section a wire that leans by β stands off by up to 1 / cos β more.
    steep = max(
        (float(np.hypot(*one.wanted.spots(height_mm).aside.T).max()) for one in every), default=0.0
    )
    widest = max([*claim.offset_mm.values(), *claim.kerf_radius_mm.values()])
    more_um = widest * (np.sqrt(1.0 + steep * steep) - 1.0) * UM_PER_MM
    more_um += max(claim.lean_allowance_um.values(), default=0.0)
    return replace(claim, contours=contours, tolerance_um=claim.tolerance_um + float(more_um))


def _in_sections(
    timeline: Timeline, claim: Claim, every: Sequence[LeaningContour]
) -> tuple[list[Finding], tuple[Event, ...], float, float]:
    """Return findings at the underside, half way up and at the top; events, time and length."""
    findings: list[Finding] = []
    events: list[Event] = []
    seconds = length = 0.0
    middle = claim.height_mm / 2
    for height in (middle, 0.0, claim.height_mm):
        true, all_of_it = at_height(timeline, height), _claim_at(claim, every, height)
        line, here = as_one(true, all_of_it, height)
        wall = Wall(here.contours)
        track = build_track(
            line, claim.kerf_radius_mm, idle_mm_per_min=claim.machine.idle_speed_mm_per_min
        )
        runs = pass_runs(line, track, wall, here)
        freed = pieces_freed(line, track, here)
        joint = joint_pieces(line, track, here, freed=freed)
        wire_findings, wire_events = check_wire(line, track, here)
        findings += wire_findings
        findings += [
            *check_starts(wall, here),
            *check_cuts(true, track, all_of_it),
            *check_stated_offsets(true, all_of_it),
            *check_ways(line, track, wall, here, runs=runs, freed=freed),
            *check_engaged(line, track, wall, here, runs=runs, freed=freed),
            *check_tabs(line, track, here),
            *check_pieces(line, track, (*freed, *joint)),
            *check_free_pieces(line, track, here, freed=(*freed, *joint)),
        ]
        if height == middle:
            findings += check_feeds(line, track, here, runs)
            findings += check_edge_feeds(line, track, here, runs)
            findings += check_moves(line, track, here)
            events = [*wire_events, *(f.event for f in (*freed, *joint))]
            cutting = track.move[np.flatnonzero(np.diff(track.move, prepend=-1))]
            seconds = float(track.move_seconds[cutting].sum())
            length = float(track.segments.length.sum())
    said = in_own_words(findings, claim)
    return said, tuple(sorted(events, key=lambda e: e.line)), seconds, length


def _upright(timeline: Timeline, claim: Claim) -> Comparison | None:
    """Return the comparison in two axes of the contours that do not lean; None if there is none."""
    contours = tuple(c for c in claim.contours if c.id not in claim.walls)
    cut = claim.cut_ids - claim.walls.keys()
    if not contours or not cut:
        return None
    mine = _only(timeline, cut)
    here = replace(claim, contours=contours, cut_ids=frozenset(cut))
    wall = Wall(contours)
    track = build_track(
        mine, claim.kerf_radius_mm, idle_mm_per_min=claim.machine.idle_speed_mm_per_min
    )
    return compare(mine, track, wall, here, pass_runs(mine, track, wall, here))


def _only(timeline: Timeline, names: frozenset[str]) -> Timeline:
    """Return a time line with the moves of some contours only."""
    headers, rows, at = [], [], 0
    for header in timeline.headers:
        if header.contour_id in names:
            moves = np.arange(header.first_move, header.end_move)
            rows.append(moves)
            headers.append(replace(header, first_move=at, end_move=at + len(moves)))
            at += len(moves)
    every = np.concatenate([np.zeros(0, dtype=np.intp), *rows])
    return replace(
        timeline,
        start_mm=timeline.start_mm[every],
        end_mm=timeline.end_mm[every],
        centre_mm=timeline.centre_mm[every],
        turn=timeline.turn[every],
        is_rapid=timeline.is_rapid[every],
        feed_mm_per_min=timeline.feed_mm_per_min[every],
        line=timeline.line[every],
        headers=tuple(headers),
        happenings=(),
        lean=None,
    )


def _once(findings: Sequence[Finding]) -> tuple[Finding, ...]:
    """Return findings without those that say the same of the same cut at another height."""
    seen = set()
    kept = []
    for f in findings:
        key = (f.code, f.severity, f.where.contour_id, f.where.pass_number, f.where.line)
        if key not in seen:
            seen.add(key)
            kept.append(f)
    return tuple(kept)
