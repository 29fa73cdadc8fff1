"""The cuts along one contour, each as wire-centre moves and as programmed wall."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from kerfwright.geometry.nearest import NearestIndex
from kerfwright.geometry.segments import Floats
from kerfwright.motion.moves import Moves, Purpose, Stop
from kerfwright.planning.plan import ContourPlan, Plan, RoughAttendance
from kerfwright.wirepath.beside_edge import zones_beside
from kerfwright.wirepath.contour_frame import ContourFrame
from kerfwright.wirepath.entries import (
    Frame,
    arc_off,
    arc_on,
    frame_at,
    quarter_off,
    quarter_on,
    wall_foot,
)
from kerfwright.wirepath.inside_cuts import InsideCut
from kerfwright.wirepath.kerf_ends import lead_end, let_go, tab_end
from kerfwright.wirepath.runs import Run, along, joined, straight
from kerfwright.wirepath.tab_apart import Way, cut_off_way, leaving, rough_way, ways_to_skim

_SAME_PLACE_MM = 1e-6
_SKIM_RUN = 2.5
"""Straight run before the arc of a skim, in offsets: a turn of 120° uses up 1.7 of them."""
_RADIUS_SHARES = (1.0, 0.5, 0.25, 0.125, 0.0625)
"""Arcs on and off are tried from the largest radius down."""


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
    beside : tuple of (float, float)
        Begin and end, along the moves, of what runs beside the edge of the stock, mm.
    """

    moves: Moves
    nominal: Moves | None
    offset_on_left: bool
    stop_after: Stop | None = None
    beside: tuple[tuple[float, float], ...] = ()


class ContourCuts:
    """Draws the cuts of one contour.

    Parameters
    ----------
    plan : Plan
    target : ContourPlan
    walls : NearestIndex
        All finished walls of the part.
    programs_wall : bool
        Whether to draw the programmed wall too.
    """

    def __init__(
        self, plan: Plan, target: ContourPlan, walls: NearestIndex, *, programs_wall: bool = True
    ) -> None:
        self._frame = ContourFrame(plan, target, walls, programs_wall=programs_wall)

    @property
    def frame(self) -> ContourFrame:
        """Wall, loops and start of the contour."""
        return self._frame

    def feeds(self, number: int, *, is_cut_off: bool) -> dict[Purpose, float]:
        """Return the feed of a cut by purpose, mm/min."""
        feeds = self._frame.feeds(number)
        if is_cut_off:
            # Its lead-in is the open one of the rough pass.
            feeds[Purpose.LEAD_IN] = self._frame.plan.rules.return_feed_mm_per_min
        return feeds

    # -- cuts ------------------------------------------------------------------------------

    def rough(self) -> Drawn:
        """Cut from the start to the wall and round to the tab."""
        if self._frame.target.has_tab_apart:
            return self._apart(rough_way(self._frame), stop=self._frees_pieces, on_left=False)
        loop, offset = self._frame.loop(1), self._frame.offset(1)
        begin = self._frame.station_on(1, self._frame.target.lead_station_mm)
        end = self._frame.station_on(1, self._frame.tab_start)
        body = self._frame.along_loop(
            loop,
            begin_mm=begin,
            length_mm=(end - begin) % loop.contour.length_mm,
            purpose=Purpose.WALL,
        )
        run = self._frame.run_mm(offset)
        lead = self._frame.lead_onto(body.start, purpose=Purpose.LEAD_IN)
        feeds = self._frame.feeds(1)
        stretches = self._frame.target.flushing.beside
        nominal = self._nominal_from_start(
            -offset, run, purpose=Purpose.WALL, until=self._frame.tab_start
        )
        return Drawn(
            moves=joined([lead, body], feeds=feeds),
            nominal=self._programmed(None if nominal is None else let_go(nominal, body), feeds),
            offset_on_left=False,
            stop_after=self._removal() if self._frees_pieces else None,
            beside=zones_beside(body, loop.contour, stretches, begin_mm=begin, before=lead),
        )

    def inside(self) -> Drawn:
        """Cut the whole inside of an opening away, so that no slug is left."""
        coreless = self._frame.target.coreless
        assert coreless is not None
        return Drawn(
            moves=InsideCut(self._frame, coreless).moves(), nominal=None, offset_on_left=False
        )

    def cut_off(self) -> Drawn:
        """Come in through the open lead-in and cut the tab backwards, from the lead-in."""
        if self._frame.target.has_tab_apart:
            is_last = self._is_last_cut(self._frame.target)
            return self._apart(cut_off_way(self._frame), stop=is_last, on_left=True)
        loop, offset = self._frame.loop(1), self._frame.offset(1)
        begin = self._frame.station_on(1, self._frame.tab_start)
        end = self._frame.station_on(1, self._frame.target.lead_station_mm)
        tab = along(
            loop.contour,
            begin_mm=begin,
            length_mm=(end - begin) % loop.contour.length_mm,
            purpose=Purpose.CUT_OFF,
        ).reversed()
        run = self._frame.run_mm(offset)
        lead = self._frame.lead_onto(tab.start, purpose=Purpose.RETURN)
        feeds = self.feeds(1, is_cut_off=True)
        nominal = self._nominal_from_start(
            offset, run, purpose=Purpose.CUT_OFF, until=self._frame.tab_start
        )
        return Drawn(
            moves=joined([lead, tab], feeds=feeds),
            nominal=self._programmed(None if nominal is None else let_go(nominal, tab), feeds),
            offset_on_left=True,
            stop_after=self._removal() if self._is_last_cut(self._frame.target) else None,
            beside=zones_beside(
                tab,
                loop.contour,
                self._frame.target.flushing.beside,
                begin_mm=end,
                before=lead,
                forwards=False,
            ),
        )

    def skim_whole(self, number: int) -> Drawn:
        """Skim all round an opening whose slug is out, on and off on arcs, with an overlap."""
        loop, offset = self._frame.loop(number), self._frame.offset(number)
        lead, overlap = self._frame.target.lead_station_mm, self._frame.plan.rules.overlap_mm
        overlap = min(overlap, self._frame.wall.length_mm / 8)
        stop = self._frame.settled(number, lead + overlap, sense=-1)
        overlap = (stop - lead) % self._frame.wall.length_mm
        begin = self._frame.station_on(number, lead)
        end = self._frame.station_on(number, lead + overlap)
        length = loop.contour.length_mm
        over = (end - begin) % length
        body = self._frame.along_loop(loop, begin_mm=begin, length_mm=length, purpose=Purpose.WALL)
        rest = along(loop.contour, begin_mm=begin, length_mm=over, purpose=Purpose.OVERLAP)
        feeds = self._frame.feeds(number)
        # Long enough for a control to turn onto it from any side at this offset.
        run = _SKIM_RUN * offset
        ways = self._arcs_that_clear(number, begin, begin + over, run)
        if ways is not None:
            radius, on, off = ways
            nominal = None
            if self._frame.has_wall_form(number):
                nominal = self._nominal_loop(lead, overlap, radius + offset, run)
            return Drawn(
                moves=joined([*on, body, rest, *off], feeds=feeds),
                nominal=self._programmed(nominal, feeds),
                offset_on_left=False,
            )
        first = self._frame.lead_onto(body.start, purpose=Purpose.LEAD_IN, number=number)
        home = straight([body.start, *first.end[-2::-1], self._frame.start], purpose=Purpose.RETURN)
        return Drawn(
            moves=joined([first, body, home], feeds=feeds), nominal=None, offset_on_left=False
        )

    def _arcs_that_clear(
        self, number: int, begin_mm: float, end_mm: float, run_mm: float
    ) -> tuple[float, list[Run], list[Run]] | None:
        """Return the largest radius whose arcs on and off keep clear, with both ways, or None."""
        loop, offset = self._frame.loop(number).contour, self._frame.offset(number)
        begin, end = (frame_at(loop, at, forwards=True) for at in (begin_mm, end_mm))
        radii = [self._frame.plan.rules.approach_radius_mm * share for share in _RADIUS_SHARES]
        # The largest is mostly clear: the others are not even drawn then.
        for some in (radii[:1], radii[1:]):
            ways = [
                _arcs_on_and_off(self._frame.start, begin, end, radius_mm=radius, run_mm=run_mm)
                for radius in some
            ]
            chosen = self._frame.first_clear([(*on, *off) for on, off in ways], offset_mm=offset)
            if chosen is not None:
                return some[chosen], *ways[chosen]
        return None

    def skim_body(self, number: int, before: Drawn | None) -> Drawn:
        """Skim an outline between lead-in and tab while the frame holds it.

        The first skim runs forwards from the lead-in; each next one runs back from where the
        last ended, so that the wire is not threaded anew.
        """
        if self._frame.target.has_tab_apart:
            return self._skim_body_apart(number, before)
        loop = self._frame.loop(number)
        feeds = self._frame.feeds(number)
        forwards = before is None or self._ends_at_start(before)
        lead = lead_end(self._frame, number, entering=forwards)
        tab = tab_end(
            self._frame, number, None if before is None or forwards else before.moves.end_mm[-1]
        )
        begin = self._frame.station_on(number, lead.wall_station_mm)
        end = self._frame.station_on(number, tab.wall_station_mm)
        span = self._frame.along_loop(
            loop,
            begin_mm=begin,
            length_mm=(end - begin) % loop.contour.length_mm,
            purpose=Purpose.WALL,
        )
        wall = along(
            self._frame.wall,
            begin_mm=lead.wall_station_mm,
            length_mm=(tab.wall_station_mm - lead.wall_station_mm) % self._frame.wall.length_mm,
            purpose=Purpose.WALL,
        )
        if forwards:
            centre, nominal = [*lead.centre, span, *tab.centre], [*lead.nominal, wall, *tab.nominal]
        else:
            centre = [*tab.centre, span.reversed(), *lead.centre]
            nominal = [*tab.nominal, wall.reversed(), *lead.nominal]
        return Drawn(
            moves=joined(centre, feeds=feeds),
            nominal=self._programmed(nominal if self._frame.has_wall_form(number) else None, feeds),
            offset_on_left=not forwards,
        )

    def skim_tab(self, number: int, before: Drawn | None) -> Drawn:
        """Skim the tab's span of an outline that was cut off and is held by hand or strap.

        Passes run to and fro; each comes from the open rough kerf and goes back into it.
        """
        assert before is not None
        loop, rough = self._frame.loop(number), self._frame.loop(1)
        length = self._frame.wall.length_mm
        span_mm = (self._frame.tab_end - self._frame.tab_start) % length
        # A very small part has no wall left beside the tab for the usual overlap.
        over = min(
            self._frame.plan.rules.overlap_mm + self._frame.offset(1), 0.4 * (length - span_mm)
        )
        low = self._frame.settled(number, self._frame.tab_start - over, sense=-1)
        high = self._frame.settled(number, self._frame.tab_start + span_mm + over, sense=1)
        here = before.moves.end_mm[-1]
        forwards = number % 2 == 0
        sense = 1 if forwards else -1
        enter, leave = (low, high) if forwards else (high, low)
        feeds = self._frame.feeds(number)
        kerf_point = self._frame.kerf_point(number, enter, sense=-sense)
        way = self._frame.kerf_way(rough.contour, here, self._frame.on_rough(kerf_point))
        on = straight([way.last, self._frame.point_on(number, enter)], purpose=Purpose.APPROACH)
        a, b = self._frame.station_on(number, low), self._frame.station_on(number, high)
        span = along(
            loop.contour,
            begin_mm=a,
            length_mm=(b - a) % loop.contour.length_mm,
            purpose=Purpose.WALL,
        )
        body = span if forwards else span.reversed()
        out = straight(
            [body.last, self._frame.kerf_point(number, leave, sense=sense)], purpose=Purpose.RETURN
        )
        wall = along(
            self._frame.wall,
            begin_mm=low,
            length_mm=(high - low) % self._frame.wall.length_mm,
            purpose=Purpose.WALL,
        )
        wall = wall if forwards else wall.reversed()
        nominal_on = straight([way.last, wall.start], purpose=Purpose.APPROACH)
        nominal_out = straight([wall.last, out.last], purpose=Purpose.RETURN)
        is_last = number == len(self._frame.target.passes)
        return Drawn(
            moves=joined([way, on, body, out], feeds=feeds),
            nominal=self._programmed(
                [way, nominal_on, wall, nominal_out] if self._frame.has_wall_form(number) else None,
                feeds,
            ),
            offset_on_left=not forwards,
            stop_after=self._removal() if is_last else None,
        )

    def _apart(self, way: Way, *, stop: bool, on_left: bool) -> Drawn:
        """Return a rough pass or cut-off beside a tab apart from the lead-in."""
        feeds = self.feeds(1, is_cut_off=on_left)
        return Drawn(
            moves=joined(way.runs, feeds=feeds),
            nominal=None,
            offset_on_left=on_left,
            stop_after=self._removal() if stop else None,
            beside=way.beside,
        )

    def _skim_body_apart(self, number: int, before: Drawn | None) -> Drawn:
        """Skim an outline from one side of a tab apart from the lead-in round to the other."""
        is_fresh = before is None or self._ends_at_start(before)
        here = None if before is None or is_fresh else before.moves.end_mm[-1]
        way, low, high, forwards = ways_to_skim(self._frame, number, here)
        feeds, loop = self._frame.feeds(number), self._frame.loop(number)
        begin = self._frame.station_on(number, low.wall_station_mm)
        end = self._frame.station_on(number, high.wall_station_mm)
        body = self._frame.along_loop(
            loop,
            begin_mm=begin,
            length_mm=(end - begin) % loop.contour.length_mm,
            purpose=Purpose.WALL,
        )
        on, off = (low, leaving(high)) if forwards else (high, leaving(low))
        body = body if forwards else body.reversed()
        return Drawn(
            moves=joined([*way, *on.centre, body, *off.centre], feeds=feeds),
            nominal=None,
            offset_on_left=not forwards,
        )

    @staticmethod
    def _programmed(runs: list[Run] | None, feeds: dict[Purpose, float]) -> Moves | None:
        """Return the moves of the programmed wall, or None where a control could not follow it."""
        return None if runs is None else joined(runs, feeds=feeds)

    # -- programmed walls ------------------------------------------------------------------

    def _nominal_from_start(
        self, shift_mm: float, run_mm: float, *, purpose: Purpose, until: float
    ) -> list[Run] | None:
        """Return lead-in and wall for a control's offset; the wall runs on to `until`.

        A negative `shift_mm` leads onto the wall forwards, a positive one backwards.
        """
        if not self._frame.has_wall_form(1):
            return None
        foot = wall_foot(self._frame.wall, self._frame.target.lead_station_mm, shift_mm=shift_mm)
        if foot is None:
            return None
        rough = abs(shift_mm)
        aside = self._frame.lead.point + self._frame.lead.tangent * shift_mm
        top = aside + self._frame.lead.normal * (rough + run_mm)
        lead = straight(
            [self._frame.start, top, frame_at(self._frame.wall, foot, forwards=True).point],
            purpose=Purpose.LEAD_IN,
        )
        length = self._frame.wall.length_mm
        if shift_mm < 0:
            wall = along(
                self._frame.wall, begin_mm=foot, length_mm=(until - foot) % length, purpose=purpose
            )
        else:
            wall = along(
                self._frame.wall, begin_mm=until, length_mm=(foot - until) % length, purpose=purpose
            ).reversed()
        return [lead, wall]

    def _nominal_loop(
        self, lead: float, overlap: float, radius_mm: float, run_mm: float
    ) -> list[Run]:
        wall = self._frame.wall
        on = arc_on(wall, lead, radius_mm=radius_mm, forwards=True, purpose=Purpose.APPROACH)
        off = arc_off(
            wall, lead + overlap, radius_mm=radius_mm, forwards=True, purpose=Purpose.LEAD_OUT
        )
        out = frame_at(wall, lead + overlap, forwards=True)
        first = straight(
            [self._frame.start, on.start + self._frame.lead.normal * run_mm, on.start],
            purpose=Purpose.LEAD_IN,
        )
        body = along(wall, begin_mm=lead, length_mm=wall.length_mm, purpose=Purpose.WALL)
        rest = along(wall, begin_mm=lead, length_mm=overlap, purpose=Purpose.OVERLAP)
        away = straight([off.last, off.last + out.normal * run_mm], purpose=Purpose.LEAD_OUT)
        home = straight([away.last, self._frame.start], purpose=Purpose.RETURN)
        return [first, on, body, rest, off, away, home]

    def _ends_at_start(self, before: Drawn) -> bool:
        return bool(np.abs(before.moves.end_mm[-1] - self._frame.start).max() < _SAME_PLACE_MM)

    @property
    def _frees_pieces(self) -> bool:
        """Whether the rough pass parts the slug with nothing to hold the pieces."""
        return self._frame.target.rough_attendance is RoughAttendance.PIECES_COME_FREE

    def _is_last_cut(self, target: ContourPlan) -> bool:
        """Return whether the cut-off is followed by taking a piece out."""
        return not target.slug.is_part or len(target.passes) == 1

    def _removal(self) -> Stop:
        target = self._frame.target
        return removal(target.target.id, is_part=target.slug.is_part)


def removal(contour_id: str, *, is_part: bool) -> Stop:
    """Return the stop at which somebody takes out the piece of a contour."""
    what = "PART" if is_part else "SLUG"
    return Stop(instruction=f"TAKE OUT {what} {contour_id}: SHARP EDGES, IT MAY BE HEAVY")


def _arcs_on_and_off(
    start: Floats, begin: Frame, end: Frame, *, radius_mm: float, run_mm: float
) -> tuple[list[Run], list[Run]]:
    """Return the ways from the start onto a loop and from it back, on arcs of one radius."""
    on = quarter_on(begin, radius_mm=radius_mm, purpose=Purpose.APPROACH)
    off = quarter_off(end, radius_mm=radius_mm, purpose=Purpose.LEAD_OUT)
    above = on.start + begin.normal * run_mm
    beyond = off.last + end.normal * run_mm
    first = straight([start, above, on.start], purpose=Purpose.LEAD_IN)
    away = straight([off.last, beyond], purpose=Purpose.LEAD_OUT)
    home = straight([beyond, start], purpose=Purpose.RETURN)
    return [first, on], [off, away, home]
