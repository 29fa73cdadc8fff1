"""One contour with its loops, stations and clearances: what every cut of it is drawn from."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from kerfwright.geometry.contour import Contour
from kerfwright.geometry.nearest import NearestIndex
from kerfwright.geometry.offset import OffsetLoop
from kerfwright.geometry.regions import nearest_station
from kerfwright.geometry.segments import Floats
from kerfwright.geometry.separation import nearness
from kerfwright.motion.moves import Purpose
from kerfwright.planning.plan import ContourPlan, Plan, StartKind
from kerfwright.planning.rules import CornerStyle
from kerfwright.planning.starts import lead_length_mm
from kerfwright.planning.stations import opposite, settled
from kerfwright.wirepath.corners import extend_corners
from kerfwright.wirepath.entries import frame_at, lead_line
from kerfwright.wirepath.runs import Run, Samples, along, samples, segments_of, straight

_CLEAR_MM = 1e-6
"""Slack when an entry is tested for clearance: it meets the offset exactly where it ends."""
_ROUNDING_MM = 1e-9
_SAMPLE_MM = 0.1
_FINE_MM = 0.01
"""Where a run comes close it is looked at again: arcs of 0.2 mm then hide 0.06 µm at most."""
_SLANTS_MM = (0.5, 0.25, 0.1, 0.05, 0.0)
"""Lengths along the wall over which a skim slants on or off, the longest clear one taken."""


class ContourFrame:
    """The wall, the loops and the start of one contour.

    Parameters
    ----------
    plan : Plan
    target : ContourPlan
    walls : NearestIndex
        All finished walls of the part that any way of the wire to this contour may come near.
    programs_wall : bool
        Whether the program may be that of the wall, for a control that applies the offset.

    Attributes
    ----------
    wall : Contour
    start : (2,) float
        Where the wire is threaded, mm.
    lead : Frame
        The wall's frame at the lead-in.
    """

    def __init__(
        self, plan: Plan, target: ContourPlan, walls: NearestIndex, *, programs_wall: bool = True
    ) -> None:
        self._programs_wall = programs_wall
        self.plan = plan
        self.target = target
        self.walls = walls
        self.wall = target.target.contour
        self.start = np.array([target.start.x_mm, target.start.y_mm])
        self.lead = frame_at(self.wall, target.lead_station_mm, forwards=True)
        # Every cut of the contour asks for the same few: of the lead-in, and of the tab's ends.
        self._opposites: dict[tuple[int, float], tuple[float, bool]] = {}

    @property
    def tab_end(self) -> float:
        """Arc length of the wall at which the tab ends."""
        assert self.target.tab is not None, "an opening without a slug has no tab"
        return self.target.tab.end_station_mm

    @property
    def tab_start(self) -> float:
        """Arc length of the wall at which the tab begins."""
        assert self.target.tab is not None, "an opening without a slug has no tab"
        return self.target.tab.start_station_mm

    def loop(self, number: int) -> OffsetLoop:
        """Return the wire-centre loop of a pass."""
        return self.target.loops[number - 1]

    def offset(self, number: int) -> float:
        """Return the offset of a pass, mm."""
        return self.target.passes[number - 1].offset_mm

    def has_wall_form(self, number: int) -> bool:
        """Return whether a control is to make a pass's loop from the wall by itself, and could.

        It cannot where a bend or edge of the wall is smaller than the offset: no part of the loop
        then belongs to that segment, and the control has nothing to offset.
        """
        if not self._programs_wall:
            return False
        source = self.loop(number).source
        return len(np.unique(source[source >= 0])) == len(self.wall)

    def feeds(self, number: int) -> dict[Purpose, float]:
        """Return the feed of a pass by purpose, mm/min."""
        rules, this = self.plan.rules, self.target.passes[number - 1]
        feed = self.target.feed_mm_per_min(this)
        feeds = dict.fromkeys(Purpose, feed)
        feeds[Purpose.RETURN] = rules.return_feed_mm_per_min
        feeds[Purpose.LEAD_IN] = rules.return_feed_mm_per_min
        if number == 1:
            feeds[Purpose.LEAD_IN] = self._feed_at_lead * rules.lead_feed_factor
            if self.target.flushing.enters_from_edge:
                # No nozzle closes across the edge: no faster there than beside it.
                most = self.target.edge_feed_mm_per_min
                feeds[Purpose.LEAD_IN] = min(feeds[Purpose.LEAD_IN], most)
        return feeds

    @property
    def _feed_at_lead(self) -> float:
        """Feed of the rough pass where the lead-in meets the wall, mm/min."""
        this = self.target.passes[0]
        if not self.target.flushing.beside:
            return self.target.feed_mm_per_min(this)
        station = self.station_on(1, self.target.lead_station_mm)
        return float(self.target.rough_feeds_at(np.array([station]))[0])

    def station_on(self, number: int, station_mm: float) -> float:
        """Return the loop's arc length opposite an arc length of the wall."""
        return self._opposite(number, station_mm)[0]

    def has_opposite(self, number: int, station_mm: float) -> bool:
        """Return whether the loop of a pass has a point square to the wall at an arc length."""
        return self._opposite(number, station_mm)[1]

    def _opposite(self, number: int, station_mm: float) -> tuple[float, bool]:
        known = self._opposites.get((number, station_mm))
        if known is None:
            known = self._opposites[number, station_mm] = opposite(
                self.wall,
                self.loop(number).contour,
                station_mm=station_mm,
                offset_mm=self.offset(number),
            )
        return known

    def settled(self, number: int, station_mm: float, *, sense: int) -> float:
        """Return the nearest arc length, from one on, that has an opposite on a pass's loop."""
        return settled(
            self.wall,
            self.loop(number).contour,
            station_mm=station_mm,
            offset_mm=self.offset(number),
            sense=sense,
        )

    def point_on(self, number: int, station_mm: float) -> Floats:
        """Return the point of a pass's loop opposite an arc length of the wall."""
        loop = self.loop(number).contour
        point: Floats = loop.points_at(np.array([self.station_on(number, station_mm)]))[0]
        return point

    def run_mm(self, offset_mm: float) -> float:
        """Return the last, square part of the lead-in."""
        run = lead_length_mm(offset_mm)
        if self.target.start.kind is StartKind.GIVEN:
            return run
        height = float((self.start - self.lead.point) @ self.lead.normal)
        return min(run, (height - offset_mm) / 2)

    def lead_onto(self, onto: Floats, *, purpose: Purpose, number: int = 1) -> Run:
        """Return the way from the start onto a point of a pass's loop opposite the lead-in."""
        return lead_line(
            replace(self.lead, point=onto),
            run_mm=self.run_mm(self.offset(number)),
            start=self.start,
            purpose=purpose,
        )

    def slot_top(self, run_mm: float) -> Floats:
        """Return the corner of the lead-in slot, where it turns square to the wall."""
        return self.point_on(1, self.target.lead_station_mm) + self.lead.normal * run_mm

    def along_loop(
        self, loop: OffsetLoop, *, begin_mm: float, length_mm: float, purpose: Purpose
    ) -> Run:
        """Return a run along a loop with its rolled corners marked or run past."""
        run = along(loop.contour, begin_mm=begin_mm, length_mm=length_mm, purpose=purpose)
        rolled = loop.source[run.source] < 0
        purposes = np.where(rolled, np.int8(Purpose.CORNER), run.purpose)
        run = replace(run, purpose=purposes)
        if self.plan.rules.outside_corners is CornerStyle.EXTEND:
            return extend_corners(
                run,
                most_deg=self.plan.rules.extend_up_to_deg,
                clearance_mm=lambda points: self.walls.query(points)[0],
            )
        return run

    def is_clear(self, *runs: Run, offset_mm: float) -> bool:
        """Return whether runs keep an offset from every wall, see :func:`runs.samples`."""
        return self.first_clear([runs], offset_mm=offset_mm) is not None

    def first_clear(self, ways: Sequence[Sequence[Run]], *, offset_mm: float) -> int | None:
        """Return the first of several ways that keeps an offset from every wall, or None.

        Samples decide, but mostly exact distances tell sooner what they would say; only what is in
        doubt is sampled, in one query, for each costs more to begin than to answer.
        """
        doubtful = []
        for number, way in enumerate(ways):
            is_clear = self._is_surely_clear(way, offset_mm - _CLEAR_MM)
            if is_clear is None:
                doubtful.append(number)
            elif is_clear:
                return self._first_sampled(ways, doubtful, number, offset_mm=offset_mm)
        return self._first_sampled(ways, doubtful, None, offset_mm=offset_mm)

    def _is_surely_clear(self, way: Sequence[Run], limit_mm: float) -> bool | None:
        """Return whether samples of a way would all keep a limit, None where it is close.

        The ends of its pieces are among the samples, and no sample is nearer than the way.
        """
        limit = limit_mm + _ROUNDING_MM
        ends, least = nearness(
            segments_of(way), self.walls.segments, limit_mm=limit, boxes=self.walls.boxes
        )
        if ends < limit_mm - _ROUNDING_MM:
            return False
        return True if least >= limit else None

    def _first_sampled(
        self,
        ways: Sequence[Sequence[Run]],
        doubtful: Sequence[int],
        sure: int | None,
        *,
        offset_mm: float,
    ) -> int | None:
        """Return the first of some ways whose samples all keep clear, or else the sure one."""
        if not doubtful:
            return sure
        limit = offset_mm - _CLEAR_MM
        pieces = [samples(run, step_mm=_SAMPLE_MM) for k in doubtful for run in ways[k]]
        found, _ = self.walls.query(np.vstack([piece.points for piece in pieces]))
        away = np.split(found, np.cumsum([len(piece) for piece in pieces])[:-1])
        for number, way in ((k, ways[k]) for k in doubtful):
            own, away = away[: len(way)], away[len(way) :]
            coarse, pieces = pieces[: len(way)], pieces[len(way) :]
            if min(float(d.min()) for d in own) < limit:
                continue
            close = [
                _between(run, some, d, limit)
                for run, some, d in zip(way, coarse, own, strict=True)
                if d.min() < limit + _SAMPLE_MM
            ]
            points = np.vstack([np.zeros((0, 2)), *close])
            if not len(points) or self.walls.query(points)[0].min() >= limit:
                return number
        return sure

    def slant(
        self, number: int, here: Floats, station_mm: float, *, sense: int
    ) -> tuple[float, Run]:
        """Return the longest clear slant from a point of the open kerf onto a pass's loop.

        It meets the loop `sense` × its length along the wall from `station_mm`.
        """
        lengths = [
            length
            for length in _SLANTS_MM
            if not length or self.has_opposite(number, station_mm + sense * length)
        ]
        ways = [
            straight(
                [here, self.point_on(number, station_mm + sense * length)],
                purpose=Purpose.APPROACH,
            )
            for length in lengths
        ]
        clear = self.first_clear([[way] for way in ways], offset_mm=self.offset(number))
        chosen = len(ways) - 1 if clear is None else clear
        return lengths[chosen], ways[chosen]

    def kerf_point(self, number: int, station_mm: float, *, sense: int) -> Floats:
        """Return the point of the rough path from which a clear slant meets a pass's loop."""
        onto = self.point_on(number, station_mm)
        points = [self.point_on(1, station_mm + sense * length) for length in _SLANTS_MM]
        ways = [[straight([point, onto], purpose=Purpose.APPROACH)] for point in points]
        clear = self.first_clear(ways, offset_mm=self.offset(number))
        return points[-1 if clear is None else clear]

    def on_rough(self, point: Floats) -> float:
        """Return the arc length of the rough loop nearest to a point."""
        station, _ = nearest_station(self.loop(1).contour, (float(point[0]), float(point[1])))
        return station

    def kerf_way(self, rough: Contour, here: Floats, to_station: float) -> Run:
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


def _between(run: Run, coarse: Samples, away_mm: Floats, limit_mm: float) -> Floats:
    """Return fine samples of a run where the walls may come nearer than a limit, (m, 2) mm.

    From a sample on the distance changes by no more than the way walked.
    """
    fine = samples(run, step_mm=_FINE_MM)
    after = np.clip(np.searchsorted(coarse.way_mm, fine.way_mm), 1, len(coarse) - 1)
    least = [away_mm[k] - np.abs(coarse.way_mm[k] - fine.way_mm) for k in (after - 1, after)]
    points: Floats = fine.points[np.maximum(*least) < limit_mm]
    return points
