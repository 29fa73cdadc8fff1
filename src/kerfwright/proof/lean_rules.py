"""What a leaning wire must keep to beside the wall: the machine, its neighbours, the way out."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
import shapely.affinity

from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.geometry.nearest import NearestIndex
from kerfwright.geometry.segments import Floats, Indices, Segments
from kerfwright.nc.timeline import Timeline
from kerfwright.proof.lean_axis import axis_moves, distances, lean_of
from kerfwright.proof.lean_wall import UM_PER_MM, LeaningContour, moves_of
from kerfwright.proof.records import Claim
from kerfwright.proof.slack import last_digit_mm
from kerfwright.proof.track import move_sweeps
from kerfwright.trade.part import Role

_LEVELS = 9
_SNUG_MM = 1e-4
"""A slug that touches its opening by less than this still slides out."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LeanCourse:
    """How the wire leans in the course of a program, at the end of every move.

    Attributes
    ----------
    angle_deg : (n,) float
    u_mm, v_mm : (n,) float
        How far the upper guide stands aside of the lower one.
    """

    angle_deg: Floats
    u_mm: Floats
    v_mm: Floats


def lean_course(timeline: Timeline, claim: Claim) -> LeanCourse:
    """Return angle and guide travel at the end of every move.

    Parameters
    ----------
    timeline : Timeline
    claim : Claim
        The machine of which has a tilt.
    """
    lean = lean_of(timeline)
    return course_of(lean.end_mm / (lean.second_mm - lean.program_mm), claim)


def course_of(per_mm: Floats, claim: Claim) -> LeanCourse:
    """Return angle and guide travel of a wire that leans so.

    Parameters
    ----------
    per_mm : (n, 2) float
        By how much it lies aside, mm per mm up.
    claim : Claim
        The machine of which has a tilt.
    """
    tilt = claim.machine.tilt
    assert tilt is not None
    angle = np.arctan(np.hypot(*per_mm.T))
    shift = tilt.guide_radius_mm * np.tan(angle / 2)
    apart = claim.height_mm + tilt.lower_guide_mm + tilt.upper_guide_mm + 2 * shift
    return LeanCourse(
        angle_deg=np.degrees(angle), u_mm=per_mm[:, 0] * apart, v_mm=per_mm[:, 1] * apart
    )


def check_tilt(timeline: Timeline, claim: Claim) -> Iterator[Finding]:
    """Yield refusals of moves that lean the wire more than the machine can."""
    tilt = claim.machine.tilt
    if tilt is None:
        if timeline.lean is not None and timeline.lean.end_mm.any():
            yield Finding(
                code="machine-no-taper",
                severity=Severity.REFUSAL,
                message=f"the wire leans; {claim.machine.name} keeps it upright",
                remedy="take a machine that leans the wire",
            )
        return
    course = lean_course(timeline, claim)
    slack_deg = _digit_deg(timeline, claim)
    for code, values, limit, slack, name, unit in (
        (
            "angle-beyond-machine", course.angle_deg, tilt.max_angle_deg, slack_deg,
            "the wire leans by", "°",
        ),
        ("uv-beyond-machine", np.abs(course.u_mm), tilt.travel_u_mm, 0.0, "U travels", " mm"),
        ("uv-beyond-machine", np.abs(course.v_mm), tilt.travel_v_mm, 0.0, "V travels", " mm"),
    ):  # fmt: skip
        if not len(values) or values.max() <= limit + slack:
            continue
        k = int(np.argmax(values))
        yield Finding(
            code=code,
            severity=Severity.REFUSAL,
            message=f"{name} {values[k]:.3f}{unit}; the limit of {claim.machine.name} is "
            f"{limit:g}{unit}",
            where=Place(
                line=int(timeline.line[k]),
                x_mm=float(timeline.end_mm[k, 0]),
                y_mm=float(timeline.end_mm[k, 1]),
            ),
            remedy="take a smaller angle, a lower piece or another machine",
            data={"found": float(values[k]), "limit": float(limit)},
        )


def check_upright(timeline: Timeline, claim: Claim) -> Iterator[Finding]:
    """Yield refusals of cuts in which the wire leans along a wall that does not.

    Such a wall is compared with the path in one plane only: it must be the path at every height.

    Parameters
    ----------
    timeline : Timeline
    claim : Claim
    """
    if timeline.lean is None or not claim.walls:
        return
    lean = lean_of(timeline)
    apart = lean.second_mm - lean.program_mm
    off = np.hypot(*np.maximum(np.abs(lean.start_mm), np.abs(lean.end_mm)).T)
    off = off / apart * claim.height_mm
    for cut in timeline.headers:
        mine = np.arange(cut.first_move, cut.end_move)
        mine = mine[timeline.is_rapid[mine] == 0]
        if cut.contour_id in claim.walls or not len(mine):
            continue
        k = int(mine[np.argmax(off[mine])])
        if off[k] * UM_PER_MM > claim.tolerance_um:
            yield Finding(
                code="leans-along-upright-wall",
                severity=Severity.REFUSAL,
                message=f"pass {cut.pass_number} of contour {cut.contour_id} is cut with a wire "
                f"that leans: {off[k]:.4f} mm over the height of the work; the wall is upright",
                where=Place(
                    contour_id=cut.contour_id,
                    pass_number=cut.pass_number,
                    line=int(timeline.line[k]),
                    x_mm=float(timeline.end_mm[k, 0]),
                    y_mm=float(timeline.end_mm[k, 1]),
                ),
                remedy="set U and V to 0 before this cut",
                data={"off_mm": float(off[k])},
            )


def _digit_deg(timeline: Timeline, claim: Claim) -> float:
    """Return by how much the digits of a program can turn a wire that leans just as asked.

    U and V are sums of rounded steps of X and Y: one digit in each, over the way from plane to
    plane.  Without it a wall at the limit of the machine would be refused for its own rounding.
    """
    lean, digit_mm = lean_of(timeline), last_digit_mm(claim.machine)
    return math.degrees(math.hypot(digit_mm, digit_mm) / (lean.second_mm - lean.program_mm))


def check_neighbours(
    timeline: Timeline, claim: Claim, contours: Sequence[LeaningContour]
) -> Iterator[Finding]:
    """Yield refusals of cuts of one contour that take metal from the wall of another.

    Parameters
    ----------
    timeline : Timeline
    claim : Claim
    contours : sequence of LeaningContour
        All contours of the drawing, upright ones too.
    """
    slack = {one.part.id: one.tolerance_mm for one in contours}
    mates = {name: split.ids for split in claim.splits for name in split.ids}
    for cut in timeline.headers:
        radius = claim.kerf_radius_mm.get(cut.pass_number)
        moves = np.arange(cut.first_move, cut.end_move)
        moves = moves[timeline.is_rapid[moves] == 0]
        if radius is None or not len(moves):
            continue
        axis = axis_moves(timeline, moves[timeline.turn[moves] == 0])
        arcs = upright_arcs(timeline, moves[timeline.turn[moves] != 0])
        for one in contours:
            if one.part.id == cut.contour_id:
                continue
            allowed = one.tolerance_mm
            if cut.contour_id in mates.get(one.part.id, ()):
                # At the edge where they meet, a wall has the chords of the other's cut.
                allowed = max(allowed, slack[cut.contour_id])
            for z in np.linspace(*one.stands_mm, _LEVELS):
                spots = one.wanted.spots(float(z)).points
                near = distances(axis, spots, float(z), within_mm=radius)
                if arcs is not None:
                    near = np.minimum(near, arcs.query(spots)[0])
                depth = radius - float(near.min())
                if depth > allowed:
                    k = int(np.argmin(near))
                    yield Finding(
                        code="gouge",
                        severity=Severity.REFUSAL,
                        message=f"pass {cut.pass_number} of contour {cut.contour_id} cuts "
                        f"{depth * UM_PER_MM:.1f} µm into contour {one.part.id}, {z:.3f} mm up",
                        where=Place(
                            contour_id=one.part.id,
                            pass_number=cut.pass_number,
                            x_mm=float(spots[k, 0]),
                            y_mm=float(spots[k, 1]),
                            line=cut.line,
                        ),
                        remedy="keep the cuts apart at every height",
                        data={"depth_um": depth * UM_PER_MM, "height_mm": float(z)},
                    )
                    break


def upright_arcs(timeline: Timeline, moves: Indices) -> NearestIndex | None:
    """Return the arcs among some moves, in which the wire is upright; None where there are none."""
    if not len(moves):
        return None
    half = move_sweeps(timeline)[moves] / 2
    begin, end, centre = timeline.start_mm[moves], timeline.end_mm[moves], timeline.centre_mm[moves]
    cos, sin = np.cos(half)[:, None], np.sin(half)[:, None]
    spoke = begin - centre
    # Halves, for a bulge says no more than half a turn well.
    middle = centre + spoke * cos + np.column_stack([-spoke[:, 1], spoke[:, 0]]) * sin
    bulge = np.tile(np.tan(half / 4), 2)
    return NearestIndex(
        Segments.from_ends(np.vstack([begin, middle]), np.vstack([middle, end]), bulge)
    )


def check_arcs(timeline: Timeline, contours: Sequence[LeaningContour]) -> Iterator[Finding]:
    """Yield refusals of arcs under a leaning contour: its cuts are made of straight moves."""
    for one in contours:
        moves = moves_of(timeline, one.part.id)
        arcs = moves[timeline.turn[moves] != 0]
        if len(arcs):
            yield Finding(
                code="arc-in-leaning-cut",
                severity=Severity.REFUSAL,
                message=f"contour {one.part.id} leans; an arc cannot lead the wire along it",
                where=Place(contour_id=one.part.id, line=int(timeline.line[arcs[0]])),
                remedy="write straight moves in X Y U V",
            )


def _leaves(
    pieces: Sequence[shapely.Geometry],
    openings: Sequence[shapely.Geometry],
    levels: Floats,
    aside: Floats,
) -> bool:
    """Return whether a piece slides out over the levels in their order, so far aside per mm up."""
    return all(
        openings[b].covers(
            shapely.affinity.translate(pieces[a], *(aside * (levels[b] - levels[a])))
        )
        for a in range(len(levels))
        for b in range(a + 1, len(levels))
    )


def check_way_out(claim: Claim, one: LeaningContour) -> Iterator[Finding]:
    """Yield what a piece needs to come out: which way it goes, or that it is caught.

    The piece (the slug of an opening, the part of an outline) goes up if, at every height, its
    section fits into the opening at every greater height; down likewise.

    Parameters
    ----------
    claim : Claim
    one : LeaningContour
    """
    levels = np.linspace(0.0, claim.height_mm, _LEVELS)
    sections = [one.wanted.polygon(float(z)).buffer(0) for z in levels]
    # The kerf of a leaning wire is nowhere narrower in plan than that of an upright one.
    kerf = 2 * min(claim.kerf_radius_mm.values())
    if one.part.role is Role.OPENING:
        pieces, openings = [s.buffer(-kerf) for s in sections], sections
    else:
        pieces, openings = sections, [s.buffer(kerf) for s in sections]
    wide = [o.buffer(_SNUG_MM) for o in openings]
    # Straight, or along its own wall where that leans to one side on the whole.
    aside = one.wanted.spots(claim.height_mm / 2).aside.mean(axis=0)
    straight, sideways = (
        (
            _leaves(pieces, wide, levels, way),
            _leaves(pieces[::-1], wide[::-1], levels[::-1], way),
        )
        for way in (np.zeros(2), aside)
    )
    up, down = straight if any(straight) else sideways
    how = "" if any(straight) else f" and {float(np.hypot(*aside)):.3f} mm aside for every mm"
    what = "slug" if one.part.role is Role.OPENING else "part"
    where = Place(contour_id=one.part.id)
    if not up and not down:
        yield Finding(
            code="piece-caught",
            severity=Severity.REFUSAL,
            message=f"the {what} of contour {one.part.id} comes out neither upwards nor downwards: "
            "its wall undercuts it both ways",
            where=where,
            remedy="cut it in pieces, or change the taper so that it opens one way",
        )
    elif up != down:
        way = f"upwards{how}: it is held from below until it is lifted out"
        if down:
            way = f"downwards{how}: it drops as soon as it is free, so hold or catch it from below"
        yield Finding(
            code="piece-goes-one-way",
            severity=Severity.NOTE,
            message=f"the {what} of contour {one.part.id} comes out {way}",
            where=where,
        )
