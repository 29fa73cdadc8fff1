"""The cuts along one contour, each as wire-centre moves and as programmed wall."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from kerfwright.geometry.contour import Contour
from kerfwright.geometry.nearest import NearestIndex
from kerfwright.geometry.offset import OffsetLoop
from kerfwright.geometry.regions import nearest_station
from kerfwright.geometry.segments import Floats
from kerfwright.motion.moves import Moves, Purpose, Stop
from kerfwright.planning.plan import ContourPlan, Plan, StartKind
from kerfwright.planning.rules import CornerStyle
from kerfwright.planning.starts import lead_length_mm
from kerfwright.wirepath.corners import extend_corners
from kerfwright.wirepath.entries import arc_off, arc_on, frame_at, lead_line, wall_foot
from kerfwright.wirepath.runs import Run, along, joined, samples, straight

_CLEAR_MM = 1e-6
"""Slack when an entry is tested for clearance: it meets the offset exactly where it ends."""
_SAMPLE_MM = 0.05
_SLANTS_MM = (0.5, 0.25, 0.1, 0.05, 0.0)
"""Lengths along the wall over which a skim slants on or off, the longest clear one taken."""
_SKIM_RUN = 2.5
"""Straight run before the arc of a skim, in offsets: a turn of 120° uses up 1.7 of them."""
_RADIUS_SHARES = (1.0, 0.5, 0.25, 0.125, 0.0625)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Drawn:
    """One cut as drawn.

    Attributes
    ----------
    moves : Moves
        Path of the wire centre.
    nominal : Moves or None
        Programmed wall for a control that applies the offset: its RETURN moves are wire-centre
        coordinates with the offset off, everything between is the wall with the offset on.
    offset_on_left : bool
    stop_after : Stop or None
    """

    moves: Moves
    nominal: Moves | None
    offset_on_left: bool
    stop_after: Stop | None = None


class ContourCuts:
    """Draws the cuts of one contour.

    Parameters
    ----------
    plan : Plan
    target : ContourPlan
    walls : NearestIndex
        All finished walls of the part.
    """

    def __init__(self, plan: Plan, target: ContourPlan, walls: NearestIndex) -> None:
        self._plan = plan
        self._target = target
        self._walls = walls
        self._wall = target.target.contour
        self._start = np.array([target.start.x_mm, target.start.y_mm])
        self._lead = frame_at(self._wall, target.lead_station_mm, forwards=True)
        self._tab_start = target.tab.start_station_mm

    # -- cuts ------------------------------------------------------------------------------

    def rough(self) -> Drawn:
        """Cut from the start to the wall and round to the tab."""
        loop, offset = self._loop(1), self._offset(1)
        begin = self._station_on(1, self._target.lead_station_mm)
        end = self._station_on(1, self._tab_start)
        body = self._along_loop(loop, begin, (end - begin) % loop.contour.length_mm, Purpose.WALL)
        run = self._run_mm(offset)
        lead = lead_line(
            replace(self._lead, point=body.start),
            run_mm=run,
            start=self._start,
            purpose=Purpose.LEAD_IN,
        )
        feeds = self._feeds(1)
        nominal = self._nominal_from_start(
            -offset, run, purpose=Purpose.WALL, until=self._tab_start
        )
        return Drawn(
            moves=joined([lead, body], feeds=feeds),
            nominal=None if nominal is None else joined(_let_go(nominal, body), feeds=feeds),
            offset_on_left=False,
        )

    def cut_off(self) -> Drawn:
        """Come in through the open lead-in and cut the tab backwards, from the lead-in."""
        loop, offset = self._loop(1), self._offset(1)
        begin = self._station_on(1, self._tab_start)
        end = self._station_on(1, self._target.lead_station_mm)
        tab = along(
            loop.contour,
            begin_mm=begin,
            length_mm=(end - begin) % loop.contour.length_mm,
            purpose=Purpose.CUT_OFF,
        ).reversed()
        run = self._run_mm(offset)
        lead = lead_line(
            replace(self._lead, point=tab.start),
            run_mm=run,
            start=self._start,
            purpose=Purpose.RETURN,
        )
        feeds = self._feeds(1) | {Purpose.LEAD_IN: self._plan.rules.return_feed_mm_per_min}
        nominal = self._nominal_from_start(
            offset, run, purpose=Purpose.CUT_OFF, until=self._tab_start
        )
        return Drawn(
            moves=joined([lead, tab], feeds=feeds),
            nominal=None if nominal is None else joined(_let_go(nominal, tab), feeds=feeds),
            offset_on_left=True,
            stop_after=self._removal() if self._is_last_cut(self._target) else None,
        )

    def skim_whole(self, number: int) -> Drawn:
        """Skim all round an opening whose slug is out, on and off on arcs, with an overlap."""
        loop, offset = self._loop(number), self._offset(number)
        lead, overlap = self._target.lead_station_mm, self._plan.rules.overlap_mm
        overlap = min(overlap, self._wall.length_mm / 8)
        begin = self._station_on(number, lead)
        end = self._station_on(number, lead + overlap)
        length = loop.contour.length_mm
        over = (end - begin) % length
        body = self._along_loop(loop, begin, length, Purpose.WALL)
        rest = along(loop.contour, begin_mm=begin, length_mm=over, purpose=Purpose.OVERLAP)
        feeds = self._feeds(number)
        for share in _RADIUS_SHARES:
            radius = self._plan.rules.approach_radius_mm * share
            on = arc_on(
                loop.contour, begin, radius_mm=radius, forwards=True, purpose=Purpose.APPROACH
            )
            off = arc_off(
                loop.contour,
                begin + over,
                radius_mm=radius,
                forwards=True,
                purpose=Purpose.LEAD_OUT,
            )
            out = frame_at(loop.contour, begin + over, forwards=True)
            # Long enough for a control to turn onto it from any side at this offset.
            run = _SKIM_RUN * offset
            first = straight(
                [self._start, on.start + self._normal_at(loop, begin) * run, on.start],
                purpose=Purpose.LEAD_IN,
            )
            away = straight([off.last, off.last + out.normal * run], purpose=Purpose.LEAD_OUT)
            home = straight([away.last, self._start], purpose=Purpose.RETURN)
            if not all(self._is_clear(r, offset) for r in (first, on, off, away, home)):
                continue
            nominal = self._nominal_loop(lead, overlap, radius + offset, run)
            return Drawn(
                moves=joined([first, on, body, rest, off, away, home], feeds=feeds),
                nominal=joined(nominal, feeds=feeds),
                offset_on_left=False,
            )
        run = self._run_mm(offset)
        first = lead_line(
            replace(self._lead, point=body.start),
            run_mm=run,
            start=self._start,
            purpose=Purpose.LEAD_IN,
        )
        home = straight([body.start, *first.end[-2::-1], self._start], purpose=Purpose.RETURN)
        return Drawn(
            moves=joined([first, body, home], feeds=feeds), nominal=None, offset_on_left=False
        )

    def skim_body(self, number: int, before: Drawn | None) -> Drawn:
        """Skim an outline between lead-in and tab while the frame holds it.

        The first skim runs forwards from the lead-in; each next one runs back from where the
        last ended, so that the wire is not threaded anew.
        """
        loop, offset = self._loop(number), self._offset(number)
        radius = self._offset(1) - offset
        begin = self._station_on(number, self._target.lead_station_mm) + radius
        end = self._station_on(number, self._tab_start)
        length = loop.contour.length_mm
        feeds = self._feeds(number)
        run = self._run_mm(self._offset(1))
        if before is None or self._ends_at_start(before):
            stop = end - radius
            on = arc_on(
                loop.contour, begin, radius_mm=radius, forwards=True, purpose=Purpose.APPROACH
            )
            off = arc_off(
                loop.contour, stop, radius_mm=radius, forwards=True, purpose=Purpose.LEAD_OUT
            )
            first = straight(
                [self._start, self._slot_top(run), on.start + self._lead.normal * run, on.start],
                purpose=Purpose.LEAD_IN,
            )
            body = self._along_loop(loop, begin, (stop - begin) % length, Purpose.WALL)
            nominal = self._nominal_body(radius, offset, run)
            return Drawn(
                moves=joined([first, on, body, off], feeds=feeds),
                nominal=joined(_let_go(nominal, off), feeds=feeds),
                offset_on_left=False,
            )
        here = before.moves.end_mm[-1]
        slant, on = self._slant_on(number, here, self._tab_start, sense=-1)
        start = self._station_on(number, self._tab_start - slant)
        body = self._along_loop(loop, begin, (start - begin) % length, Purpose.WALL).reversed()
        off = arc_off(
            loop.contour, begin, radius_mm=radius, forwards=False, purpose=Purpose.LEAD_OUT
        )
        away = straight([off.last, off.last + self._lead.normal * run], purpose=Purpose.LEAD_OUT)
        home = straight([away.last, self._slot_top(run), self._start], purpose=Purpose.RETURN)
        nominal = self._nominal_body_back(here, slant, radius, offset, run)
        return Drawn(
            moves=joined([on, body, off, away, home], feeds=feeds),
            nominal=joined(nominal, feeds=feeds),
            offset_on_left=True,
        )

    def skim_tab(self, number: int, before: Drawn | None) -> Drawn:
        """Skim the tab's span of an outline that was cut off and is held by hand or strap.

        Passes run to and fro; each comes from the open rough kerf and goes back into it.
        """
        assert before is not None
        loop, rough = self._loop(number), self._loop(1)
        over = self._plan.rules.overlap_mm + self._offset(1)
        low, high = self._tab_start - over, self._target.lead_station_mm + over
        here = before.moves.end_mm[-1]
        forwards = number % 2 == 0
        sense = 1 if forwards else -1
        enter, leave = (low, high) if forwards else (high, low)
        feeds = self._feeds(number)
        slant, _ = self._slant_on(number, None, enter, sense=sense)
        there = self._station_on(1, enter - sense * slant)
        way = self._kerf_way(rough.contour, here, there)
        on = straight([way.last, self._point_on(number, enter)], purpose=Purpose.APPROACH)
        a, b = self._station_on(number, low), self._station_on(number, high)
        span = along(
            loop.contour,
            begin_mm=a,
            length_mm=(b - a) % loop.contour.length_mm,
            purpose=Purpose.WALL,
        )
        body = span if forwards else span.reversed()
        off_slant, _ = self._slant_on(number, None, leave, sense=-sense)
        out = straight(
            [body.last, self._point_on(1, leave + sense * off_slant)], purpose=Purpose.RETURN
        )
        wall = along(
            self._wall,
            begin_mm=low,
            length_mm=(high - low) % self._wall.length_mm,
            purpose=Purpose.WALL,
        )
        wall = wall if forwards else wall.reversed()
        nominal_on = straight([way.last, wall.start], purpose=Purpose.APPROACH)
        nominal_out = straight([wall.last, out.last], purpose=Purpose.RETURN)
        is_last = number == len(self._plan.passes)
        return Drawn(
            moves=joined([way, on, body, out], feeds=feeds),
            nominal=joined([way, nominal_on, wall, nominal_out], feeds=feeds),
            offset_on_left=not forwards,
            stop_after=self._removal() if is_last else None,
        )

    # -- programmed walls ------------------------------------------------------------------

    def _nominal_from_start(
        self, shift_mm: float, run_mm: float, *, purpose: Purpose, until: float
    ) -> list[Run] | None:
        """Return lead-in and wall for a control's offset; the wall runs on to `until`.

        A negative `shift_mm` leads onto the wall forwards, a positive one backwards.
        """
        foot = wall_foot(self._wall, self._target.lead_station_mm, shift_mm=shift_mm)
        if foot is None:
            return None
        rough = abs(shift_mm)
        aside = self._lead.point + self._lead.tangent * shift_mm
        top = aside + self._lead.normal * (rough + run_mm)
        lead = straight(
            [self._start, top, frame_at(self._wall, foot, forwards=True).point],
            purpose=Purpose.LEAD_IN,
        )
        length = self._wall.length_mm
        if shift_mm < 0:
            wall = along(
                self._wall, begin_mm=foot, length_mm=(until - foot) % length, purpose=purpose
            )
        else:
            wall = along(
                self._wall, begin_mm=until, length_mm=(foot - until) % length, purpose=purpose
            ).reversed()
        return [lead, wall]

    def _nominal_loop(
        self, lead: float, overlap: float, radius_mm: float, run_mm: float
    ) -> list[Run]:
        wall = self._wall
        on = arc_on(wall, lead, radius_mm=radius_mm, forwards=True, purpose=Purpose.APPROACH)
        off = arc_off(
            wall, lead + overlap, radius_mm=radius_mm, forwards=True, purpose=Purpose.LEAD_OUT
        )
        out = frame_at(wall, lead + overlap, forwards=True)
        first = straight(
            [self._start, on.start + self._lead.normal * run_mm, on.start],
            purpose=Purpose.LEAD_IN,
        )
        body = along(wall, begin_mm=lead, length_mm=wall.length_mm, purpose=Purpose.WALL)
        rest = along(wall, begin_mm=lead, length_mm=overlap, purpose=Purpose.OVERLAP)
        away = straight([off.last, off.last + out.normal * run_mm], purpose=Purpose.LEAD_OUT)
        home = straight([away.last, self._start], purpose=Purpose.RETURN)
        return [first, on, body, rest, off, away, home]

    def _nominal_body(self, radius_mm: float, offset_mm: float, run_mm: float) -> list[Run]:
        wall, big = self._wall, radius_mm + offset_mm
        begin, end = self._target.lead_station_mm + radius_mm, self._tab_start - radius_mm
        on = arc_on(wall, begin, radius_mm=big, forwards=True, purpose=Purpose.APPROACH)
        off = arc_off(wall, end, radius_mm=big, forwards=True, purpose=Purpose.LEAD_OUT)
        first = straight(
            [
                self._start,
                on.start + frame_at(wall, begin, forwards=True).normal * run_mm,
                on.start,
            ],
            purpose=Purpose.LEAD_IN,
        )
        body = along(
            wall, begin_mm=begin, length_mm=(end - begin) % wall.length_mm, purpose=Purpose.WALL
        )
        return [first, on, body, off]

    def _nominal_body_back(
        self, here: Floats, slant: float, radius_mm: float, offset_mm: float, run_mm: float
    ) -> list[Run]:
        wall, big = self._wall, radius_mm + offset_mm
        begin, end = self._target.lead_station_mm + radius_mm, self._tab_start - slant
        body = along(
            wall, begin_mm=begin, length_mm=(end - begin) % wall.length_mm, purpose=Purpose.WALL
        ).reversed()
        on = straight([here, body.start], purpose=Purpose.APPROACH)
        off = arc_off(wall, begin, radius_mm=big, forwards=False, purpose=Purpose.LEAD_OUT)
        up = frame_at(wall, begin, forwards=True).normal
        away = straight([off.last, off.last + up * run_mm], purpose=Purpose.LEAD_OUT)
        home = straight([away.last, self._slot_top(run_mm), self._start], purpose=Purpose.RETURN)
        return [on, body, off, away, home]

    # -- helpers ---------------------------------------------------------------------------

    def _loop(self, number: int) -> OffsetLoop:
        return self._target.loops[number - 1]

    def _offset(self, number: int) -> float:
        return self._plan.passes[number - 1].offset_mm

    def _feeds(self, number: int) -> dict[Purpose, float]:
        rules, this = self._plan.rules, self._plan.passes[number - 1]
        feeds = dict.fromkeys(Purpose, this.feed_mm_per_min)
        feeds[Purpose.RETURN] = rules.return_feed_mm_per_min
        feeds[Purpose.LEAD_IN] = (
            this.feed_mm_per_min * rules.lead_feed_factor
            if number == 1
            else rules.return_feed_mm_per_min
        )
        return feeds

    def _station_on(self, number: int, station_mm: float) -> float:
        """Return the loop's arc length opposite an arc length of the wall."""
        f = frame_at(self._wall, station_mm, forwards=True)
        p = f.point + f.normal * self._offset(number)
        station, _ = nearest_station(self._loop(number).contour, (float(p[0]), float(p[1])))
        return station

    def _point_on(self, number: int, station_mm: float) -> Floats:
        loop = self._loop(number).contour
        return loop.points_at(np.array([self._station_on(number, station_mm)]))[0]

    def _normal_at(self, loop: OffsetLoop, station_mm: float) -> Floats:
        return frame_at(loop.contour, station_mm, forwards=True).normal

    def _run_mm(self, offset_mm: float) -> float:
        """Return the last, square part of the lead-in."""
        run = lead_length_mm(offset_mm)
        if self._target.start.kind is StartKind.GIVEN:
            return run
        height = float((self._start - self._lead.point) @ self._lead.normal)
        return min(run, (height - offset_mm) / 2)

    def _slot_top(self, run_mm: float) -> Floats:
        """Return the corner of the lead-in slot, where it turns square to the wall."""
        return self._point_on(1, self._target.lead_station_mm) + self._lead.normal * run_mm

    def _along_loop(self, loop: OffsetLoop, begin: float, length: float, purpose: Purpose) -> Run:
        """Return a run along a loop with its rolled corners marked or run past."""
        run = along(loop.contour, begin_mm=begin, length_mm=length, purpose=purpose)
        rolled = loop.source[run.source] < 0
        purposes = np.where(rolled, np.int8(Purpose.CORNER), run.purpose)
        run = replace(run, purpose=purposes)
        if self._plan.rules.outside_corners is CornerStyle.EXTEND:
            return extend_corners(
                run,
                most_deg=self._plan.rules.extend_up_to_deg,
                clearance_mm=lambda points: self._walls.query(points)[0],
            )
        return run

    def _is_clear(self, run: Run, offset_mm: float) -> bool:
        distance, _ = self._walls.query(samples(run, step_mm=_SAMPLE_MM))
        return bool(distance.min() >= offset_mm - _CLEAR_MM)

    def _slant_on(
        self, number: int, here: Floats | None, station_mm: float, *, sense: int
    ) -> tuple[float, Run]:
        """Return the longest clear slant from the rough kerf onto a pass's loop.

        With `here` given the slant starts there and ends short of `station_mm` (against travel
        of the wall for sense −1); without, it ends at `station_mm` and starts before it.
        """
        offset = self._offset(number)
        for slant in _SLANTS_MM:
            if here is not None:
                ends = [here, self._point_on(number, station_mm + sense * slant)]
            else:
                ends = [
                    self._point_on(1, station_mm - sense * slant),
                    self._point_on(number, station_mm),
                ]
            run = straight(ends, purpose=Purpose.APPROACH)
            if self._is_clear(run, offset):
                return slant, run
        return 0.0, run

    def _kerf_way(self, rough: Contour, here: Floats, to_station: float) -> Run:
        """Return the way through the open rough kerf from a point on it, the shorter way round."""
        begin, _ = nearest_station(rough, (float(here[0]), float(here[1])))
        length = rough.length_mm
        ahead = (to_station - begin) % length
        if ahead <= length / 2:
            run = along(rough, begin_mm=begin, length_mm=ahead, purpose=Purpose.RETURN)
        else:
            run = along(
                rough, begin_mm=to_station, length_mm=length - ahead, purpose=Purpose.RETURN
            ).reversed()
        return replace(run, start=here)

    def _ends_at_start(self, before: Drawn) -> bool:
        return bool(np.abs(before.moves.end_mm[-1] - self._start).max() < _CLEAR_MM)

    def _is_last_cut(self, target: ContourPlan) -> bool:
        """Return whether the cut-off is followed by taking a piece out."""
        return not target.slug.is_part or len(self._plan.passes) == 1

    def _removal(self) -> Stop:
        name = self._target.target.id
        what = "PART" if self._target.slug.is_part else "SLUG"
        return Stop(instruction=f"TAKE OUT {what} {name}: SHARP EDGES, IT MAY BE HEAVY")


def _let_go(nominal: list[Run], centre: Run) -> list[Run]:
    """Add the block in which the control takes its offset off, where the wire stands already."""
    return [*nominal, straight([nominal[-1].last, centre.last], purpose=Purpose.RETURN)]
