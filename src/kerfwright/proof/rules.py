"""What a program must keep to apart from the wall: passes, threading, stops, limits, words."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import pairwise

import numpy as np
import shapely

from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.foundation.places import place_words
from kerfwright.foundation.units import minutes_text
from kerfwright.geometry.nearest import NearestIndex
from kerfwright.geometry.segments import Floats, Indices, Segments
from kerfwright.nc.timeline import CutHeader, Timeline, WordEvent
from kerfwright.proof.conditions import check_conditions
from kerfwright.proof.pieces import ATTENDED_S, Freed, contour_polygon
from kerfwright.proof.records import Claim, Event, EventKind
from kerfwright.proof.rooms import Room, has_room
from kerfwright.proof.slack import last_digit_mm
from kerfwright.proof.track import NO_CUT, Track
from kerfwright.trade.part import Role

ARC_ENDS_MM = 0.005
"""Radii at the two ends of an arc may differ by this: two roundings of the coarsest inch program
(four decimals) allow 0.0036 mm."""
_HOUR_MIN = 60.0
_EDGE_MM = 0.1
"""How far from the place claimed for an edge start the wire may be threaded: the edge is found
by touch."""
_HEADER_DIGIT_MM = 1e-4
_ROUNDING = 1.001
"""Room for the rounding of doubles when half digits are compared."""
_RAPID_STEP_MM = 0.05
"""Spacing at which a rapid move is looked at."""


def check_cuts(timeline: Timeline, track: Track, claim: Claim) -> Iterator[Finding]:
    """Yield findings on headers, passes and their order, the offset table and conditions."""
    known = {part.id for part in claim.contours}
    for number, cut in enumerate(timeline.headers):
        if cut.contour_id not in known:
            yield _refusal(
                "unknown-contour",
                f"the header names contour {cut.contour_id}, which the drawing does not have",
                cut,
                remedy="correct the header",
            )
        elif cut.contour_id not in claim.cut_ids:
            yield _refusal(
                "contour-not-to-cut",
                f"contour {cut.contour_id} is cut but was not to be",
                cut,
                remedy="leave this cut out, or plan the contour",
            )
        if cut.pass_number not in claim.kerf_radius_mm:
            yield _refusal(
                "unknown-pass",
                f"pass {cut.pass_number} has no kerf; known are {sorted(claim.kerf_radius_mm)}",
                cut,
                remedy="correct the header",
            )
        elif cut.pass_number not in claim.passes_of(cut.contour_id):
            yield _refusal(
                "pass-not-planned",
                f"contour {cut.contour_id} is cut in pass {cut.pass_number}; planned are "
                f"{len(claim.passes_of(cut.contour_id))}",
                cut,
                remedy="leave this pass out, or plan the contour with it",
            )
        if not len(track.rows_of(number)):
            yield _refusal("empty-cut", "no cutting move follows this header", cut)
        yield from _table_agrees(timeline, claim, cut)
    yield from _passes_present(timeline, track, claim)
    yield from check_conditions(timeline, claim)
    stray = np.flatnonzero(track.header == NO_CUT)
    if len(stray):
        yield Finding(
            code="cut-without-header",
            severity=Severity.REFUSAL,
            message=f"{len(stray)} cutting moves stand under no header: their pass is unknown",
            where=Place(line=int(track.line[stray[0]])),
            remedy="head every cut with (CUT <contour> PASS <n> OFFSET <mm>)",
        )


def _table_agrees(timeline: Timeline, claim: Claim, cut: CutHeader) -> Iterator[Finding]:
    table = timeline.offsets_mm
    digit = last_digit_mm(claim.machine)
    # The table holds the offset rounded to the program's digits, the header to four decimals.
    slack = (digit + _HEADER_DIGIT_MM) / 2 * _ROUNDING
    if table and all(abs(v - cut.offset_mm) > slack for v in table.values()):
        nearest = min(table.values(), key=lambda v: abs(v - cut.offset_mm))
        yield _refusal(
            "offset-table",
            f"the header states {cut.offset_mm:.4f} mm; the nearest offset in the table is "
            f"{nearest:.4f} mm",
            cut,
            remedy="make header and offset table agree",
        )


def _passes_present(timeline: Timeline, track: Track, claim: Claim) -> Iterator[Finding]:
    filled = set(track.header[np.flatnonzero(np.diff(track.header, prepend=-2))].tolist())
    for contour_id in sorted(claim.cut_ids):
        wanted = claim.passes_of(contour_id)
        cuts = [
            c for k, c in enumerate(timeline.headers) if c.contour_id == contour_id and k in filled
        ]
        first: dict[int, int] = {}
        for place, cut in enumerate(cuts):
            first.setdefault(cut.pass_number, place)
        missing = [n for n in wanted if n not in first]
        if missing:
            names = ", ".join(str(n) for n in missing)
            yield Finding(
                code="missing-pass",
                severity=Severity.REFUSAL,
                message=f"contour {contour_id} is not cut in pass {names} of {len(wanted)}",
                where=Place(contour_id=contour_id, pass_number=missing[0]),
                remedy="add the missing pass",
            )
        order = [first[n] for n in wanted if n in first]
        if order != sorted(order):
            late = next(cuts[b] for a, b in pairwise(order) if b < a)
            yield _refusal(
                "pass-order",
                f"pass {late.pass_number} of contour {contour_id} comes before a coarser pass",
                late,
                remedy="cut rough to fine",
            )


def check_moves(timeline: Timeline, track: Track, claim: Claim) -> Iterator[Finding]:
    """Yield findings on feeds, arcs, travel, height and weight."""
    cutting = timeline.is_rapid == 0
    feed = timeline.feed_mm_per_min
    fastest = claim.machine.idle_speed_mm_per_min
    for move in np.flatnonzero(cutting & ~(feed > 0))[:1]:
        yield _at_move(timeline, move, "feed-missing", f"a cutting move has the feed {feed[move]}")
    for move in np.flatnonzero(cutting & (feed > fastest))[:1]:
        yield _at_move(
            timeline,
            move,
            "feed-too-fast",
            f"a cutting move has {feed[move]:.1f} mm/min; the machine does at most "
            f"{fastest:.0f} mm/min without load",
        )
    for move in np.flatnonzero(track.centre_error_mm > ARC_ENDS_MM)[:1]:
        error = track.centre_error_mm[move]
        yield _at_move(
            timeline, move, "arc-ends", f"the radii at the ends of an arc differ by {error:.4f} mm"
        )
    yield from _frame(timeline, track, claim)


def _frame(timeline: Timeline, track: Track, claim: Claim) -> Iterator[Finding]:
    machine = claim.machine
    if claim.height_mm > machine.max_height_mm:
        yield _plain(
            "too-high",
            f"the work is {claim.height_mm:.1f} mm high; the machine takes "
            f"{machine.max_height_mm:.1f} mm",
        )
    if claim.stock is not None:
        weight = abs(claim.stock.area_mm2) * claim.height_mm * claim.density_kg_per_m3 * 1e-9
        if weight > machine.max_weight_kg:
            yield _plain(
                "too-heavy",
                f"the stock weighs {weight:.1f} kg; the table takes {machine.max_weight_kg:.1f} kg",
            )
    # Where the first rapid comes from is not known; where each move ends is.  Arcs bulge.
    boxes = track.segments.boxes() if len(track) else None
    ends = timeline.end_mm[timeline.is_rapid != 0]
    for axis, name, travel in ((0, "X", machine.travel_x_mm), (1, "Y", machine.travel_y_mm)):
        values = [ends[:, axis]]
        if boxes is not None:
            values += [boxes[axis], boxes[axis + 2]]
        places = np.concatenate(values)
        span = float(np.ptp(places)) if len(places) else 0.0
        if span > travel:
            yield _plain(
                "travel",
                f"the path, rapids included, spans {span:.1f} mm in {name}; the machine travels "
                f"{travel:.1f} mm",
            )


def check_wire(
    timeline: Timeline, track: Track, claim: Claim, *, rooms: tuple[Room, ...] = ()
) -> tuple[list[Finding], list[Event]]:
    """Follow the wire: threading, cutting, rapids, stops.

    Parameters
    ----------
    timeline : Timeline
    track : Track
    claim : Claim
    rooms : tuple of Room
        Where parts were that have been taken out: the wire may be threaded there.

    Returns
    -------
    list of Finding, list of Event
    """
    findings: list[Finding] = []
    events: list[Event] = []
    threaded = False
    is_alone = False
    at = 0
    end = len(timeline)
    moves = [*timeline.happenings, None]
    for happening in moves:
        until = end if happening is None else happening.before_move
        findings += _between(timeline, track, claim, at, until, threaded=threaded)
        is_alone = is_alone or bool((timeline.is_rapid[at:until] == 0).any())
        at = max(at, until)
        if happening is None:
            break
        here = _position(timeline, until)
        kind = None
        match happening.kind:
            case WordEvent.THREAD:
                kind = EventKind.THREAD
                findings += _threading(claim, here, happening.line, rooms, threaded=threaded)
                threaded = True
            case WordEvent.CUT_WIRE:
                kind = EventKind.WIRE_CUT
                if not threaded:
                    findings.append(
                        _on_line(
                            "wire-not-threaded", "there is no wire to cut", happening.line, here
                        )
                    )
                threaded = False
            case WordEvent.STOP:
                kind = EventKind.STOP
                is_alone = False
            case WordEvent.OPTIONAL_STOP:
                kind = EventKind.STOP
        if kind is not None:
            events.append(
                Event(
                    kind=kind,
                    line=happening.line,
                    time_s=float(track.clock_s[min(until, end)]),
                    x_mm=float(here[0]),
                    y_mm=float(here[1]),
                    contour_id=None,
                    mass_kg=None,
                    is_attended=not is_alone,
                    message=happening.kind.value.replace("-", " "),
                )
            )
    if threaded:
        findings.append(
            Finding(
                code="wire-left-threaded",
                severity=Severity.WARNING,
                message="the program ends with the wire threaded",
                remedy="cut the wire at the end",
            )
        )
    return findings, events


def _position(timeline: Timeline, move: int) -> Floats:
    if not len(timeline):
        return np.zeros(2)
    here: Floats = timeline.start_mm[move] if move < len(timeline) else timeline.end_mm[-1]
    return here


def _threading(
    claim: Claim, here: Floats, line: int, rooms: tuple[Room, ...], *, threaded: bool
) -> Iterator[Finding]:
    if threaded:
        yield _on_line("threaded-twice", "the wire is threaded already", line, here)
    has_space = has_room(rooms, here, line=line, wire_mm=claim.wire_diameter_mm)
    if not has_space and not is_threadable(claim, here):
        yield _on_line(
            "thread-outside-start",
            f"the wire is threaded at {place_words(here[0], here[1])}, where there is no start "
            f"hole with room for a wire of {claim.wire_diameter_mm:.3f} mm",
            line,
            here,
        )


def is_threadable(claim: Claim, here: Floats) -> bool:
    """Return whether the wire can be threaded at a place."""
    room = claim.wire_diameter_mm / 2
    for start in claim.starts:
        away = math.hypot(here[0] - start.x_mm, here[1] - start.y_mm)
        if start.diameter_mm > 0 and away + room <= start.diameter_mm / 2:
            return True
        if start.diameter_mm == 0 and away <= _EDGE_MM:
            return True
    if claim.stock is None:
        return False
    gap = shapely.distance(contour_polygon(claim.stock), shapely.Point(here))
    return bool(gap >= room)


def _between(
    timeline: Timeline, track: Track, claim: Claim, begin: int, end: int, *, threaded: bool
) -> Iterator[Finding]:
    """Yield findings on the moves between two words."""
    rapid = timeline.is_rapid[begin:end] != 0
    if not threaded:
        for move in begin + np.flatnonzero(~rapid)[:1]:
            yield _at_move(timeline, int(move), "cut-without-wire", "a cutting move without wire")
        return
    for move in begin + np.flatnonzero(rapid):
        if not _is_open(timeline, track, claim, int(move)):
            yield _at_move(
                timeline,
                int(move),
                "rapid-through-material",
                "a rapid with the wire threaded goes where the kerf is not open",
            )
            return


def _is_open(timeline: Timeline, track: Track, claim: Claim, move: int) -> bool:
    """Return whether a rapid stays in start holes, in open kerf or outside the stock."""
    begin, end = timeline.start_mm[move], timeline.end_mm[move]
    length = float(np.hypot(*(end - begin)))
    steps = np.linspace(0.0, 1.0, max(math.ceil(length / _RAPID_STEP_MM), 1) + 1)
    points = begin + (end - begin) * steps[:, None]
    room = claim.wire_diameter_mm / 2
    is_open = np.zeros(len(points), dtype=bool)
    for start in claim.starts:
        away = np.hypot(points[:, 0] - start.x_mm, points[:, 1] - start.y_mm)
        is_open |= away <= start.diameter_mm / 2 - room
    if claim.stock is not None:
        stock = contour_polygon(claim.stock)
        is_open |= shapely.distance(stock, shapely.points(points)) >= room
    rows: Indices = np.flatnonzero(track.move < move)
    if len(rows) and not is_open.all():
        done = track.segments
        path = Segments.from_ends(done.start[rows], done.end[rows], done.bulge[rows])
        near, which = NearestIndex(path).query(points)
        spare = track.radius_mm[rows[which]] - room
        is_open |= near <= spare
    return bool(is_open.all())


def check_pieces(timeline: Timeline, track: Track, freed: tuple[Freed, ...]) -> Iterator[Finding]:
    """Yield findings on pieces that fall with nobody there, or stay where the wire goes on."""
    stops = [h.before_move for h in timeline.happenings if h.kind is WordEvent.STOP]
    for one in freed:
        event = one.event
        if not event.is_attended:
            yield Finding(
                code="piece-falls-unattended",
                severity=Severity.REFUSAL,
                message=f"{event.message} with no programmed stop in the {ATTENDED_S / 60:.0f} min "
                f"before{_since_stop(timeline, track, one)}",
                where=_event_place(event),
                remedy="leave a tab and cut it off after a stop (M00), with the piece held; "
                "a falling piece breaks nozzles and can crush a finger",
                data={"mass_kg": event.mass_kg or 0.0},
            )
        after = _next_cut(timeline, one)
        if after is None:
            continue
        begin = track.move[track.rows_of(timeline.headers.index(after))]
        if len(begin) and not any(one.move < s <= begin[0] for s in stops):
            yield Finding(
                code="piece-not-taken-out",
                severity=Severity.REFUSAL,
                message=f"the free piece of contour {event.contour_id} is still in place when the "
                f"cut of line {after.line} begins",
                where=_event_place(event),
                remedy="add a stop (M00) after the cut that frees it; a loose piece tilts into "
                "the wire",
            )


def _since_stop(timeline: Timeline, track: Track, one: Freed) -> str:
    """Return how long ago the last programmed stop was, in words."""
    before = [
        h.before_move
        for h in timeline.happenings
        if h.kind is WordEvent.STOP and h.before_move <= one.move
    ]
    if not before:
        return ": there is none at all"
    minutes = (track.clock_s[one.move + 1] - track.clock_s[max(before)]) / 60.0
    # To the tenth below an hour: 15.4 min are longer than 15.
    words = f"{minutes:.1f} min" if minutes < _HOUR_MIN else minutes_text(minutes)
    return f"; the last is {words} earlier"


def _next_cut(timeline: Timeline, one: Freed) -> CutHeader | None:
    """Return the next cut that needs the piece out of the way.

    A part that was cut off stays held while its tab is skimmed; a slug has to leave first.
    """
    for cut in timeline.headers[one.header + 1 :]:
        if one.contour.role is Role.OUTLINE and cut.contour_id == one.contour.id:
            continue
        return cut
    return None


def _event_place(event: Event) -> Place:
    return Place(contour_id=event.contour_id, x_mm=event.x_mm, y_mm=event.y_mm, line=event.line)


def _refusal(
    code: str,
    message: str,
    cut: CutHeader,
    *,
    severity: Severity = Severity.REFUSAL,
    remedy: str = "",
) -> Finding:
    return Finding(
        code=code,
        severity=severity,
        message=message,
        where=Place(contour_id=cut.contour_id, pass_number=cut.pass_number, line=cut.line),
        remedy=remedy,
    )


def _plain(code: str, message: str) -> Finding:
    return Finding(code=code, severity=Severity.REFUSAL, message=message)


def _on_line(code: str, message: str, line: int, here: Floats) -> Finding:
    return Finding(
        code=code,
        severity=Severity.REFUSAL,
        message=message,
        where=Place(x_mm=float(here[0]), y_mm=float(here[1]), line=line),
    )


def _at_move(timeline: Timeline, move: int, code: str, message: str) -> Finding:
    x, y = timeline.start_mm[move]
    return Finding(
        code=code,
        severity=Severity.REFUSAL,
        message=message,
        where=Place(x_mm=float(x), y_mm=float(y), line=int(timeline.line[move])),
    )
