"""One channel of a string: where it leaves a kerf, how it reaches the next part, what it keeps."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely

from kerfwright.geometry.nearest import NearestIndex
from kerfwright.geometry.regions import nearest_station
from kerfwright.geometry.segments import Floats
from kerfwright.planning.beside_clamps import clear_ways
from kerfwright.planning.feasibility import chords
from kerfwright.planning.ground import ground_of
from kerfwright.planning.limits import Ground, Limit
from kerfwright.planning.placed import lead_checks
from kerfwright.planning.placed_tab import middle_of, stand_tab
from kerfwright.planning.plan import ContourPlan, Plan, Start, StartKind, Tab
from kerfwright.planning.starts import Candidates, Walls, candidates
from kerfwright.planning.stations import opposite
from kerfwright.planning.string_plan import Channel
from kerfwright.planning.wires import Paths
from kerfwright.process.technology import Technology
from kerfwright.trade.part import GivenStart
from kerfwright.trade.placement import NOWHERE_PLACED

_HEIGHTS = (3.0, 2.0)
"""From the wall to where a channel turns square to it, in rough offsets; the first as off a hole,
the second where parts lie close."""
_TRIED = 10
"""Lead-ins of a part that are looked at, the nearest to the kerf first."""
_SCARRED = 4.0
"""Rank of lead-ins whose tab stands on a corner of the part: not unasked."""
_STEP_MM = 0.05
_SLACK_MM = 1e-4
_BESIDE_MM = 5.0
"""How far about a channel kerfs and tabs are looked at: tabs and webs are well below it."""
_APART_KERFS = 4.0
"""From the ends of the rough path to a channel, in kerf radii: a kerf of metal stands between."""
_ON_MM = 0.05
_FLAT_MM = 1e-3
_QUARTER_CHORDS = 4


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Link:
    """A channel, and the contour that it leads to as it is cut then."""

    channel: Channel
    contour: ContourPlan


class Yard:
    """All contours of a plan with their kerfs, for channels between them.

    Parameters
    ----------
    plan : Plan
        With a start for each contour.
    technology : Technology
    """

    def __init__(self, plan: Plan, *, technology: Technology) -> None:
        self.plan = plan
        self._technology = technology
        self._walls = Walls(plan.part.contours, plan.stock, plan.clamps)
        self._grounds: dict[str, Ground] = {}
        self._kerfs: dict[tuple[str, float], shapely.Geometry] = {}
        self._links: dict[tuple[str, float, str], Link | None] = {}
        self._rings = {c.id: shapely.LinearRing(chords(c.contour)) for c in plan.part.contours}

    def gap_mm(self, a: ContourPlan, b: ContourPlan) -> float:
        """Return the distance between the walls of two contours."""
        return float(self._rings[a.target.id].distance(self._rings[b.target.id]))

    def link(self, a: ContourPlan, b: ContourPlan) -> Link | None:
        """Return the shortest channel from the kerf of one part to the lead-in of another."""
        key = a.target.id, a.lead_station_mm, b.target.id
        if key not in self._links:
            self._links[key] = self._link(a, b)
        return self._links[key]

    # -- one link ---------------------------------------------------------------------------

    def _link(self, a: ContourPlan, b: ContourPlan) -> Link | None:
        rules, offset = self.plan.rules, b.passes[0].offset_mm
        ground = self._ground(b)
        line = shapely.shortest_line(self._rings[a.target.id], self._rings[b.target.id])
        x, y = line.coords[0]
        opposite_a = GivenStart(x_mm=x, y_mm=y, diameter_mm=0.0)
        found = candidates(b.target.contour, ground.tab_span_mm, offset, rules, (opposite_a,))
        index = NearestIndex(a.loops[0].contour.segments)
        for height in _HEIGHTS:
            tips = found.point_mm + found.normal * (height * offset)
            away, _ = index.query(tips)
            for k in _nearest(found, away, most_mm=rules.string_channel_most_mm):
                link = self._led(a, b, ground, found, k, tips[k])
                if link is not None:
                    return link
        return None

    def _led(
        self,
        a: ContourPlan,
        b: ContourPlan,
        ground: Ground,
        found: Candidates,
        k: int,
        tip: Floats,
    ) -> Link | None:
        """Return the link by one lead-in of the second part, if it keeps all that it must."""
        end = float(tip[0]), float(tip[1])
        loop, station = a.loops[0], float(found.station_mm[k])
        branch, away = nearest_station(loop.contour, end)
        segment = int(loop.contour.locate(np.array([branch]))[0][0])
        if loop.source[segment] < 0 or not _in_body(a, branch, self._kerf_mm(a)):
            return None
        begin = loop.contour.points_at(np.array([branch]))[0]
        if not self._is_clear(a, b, begin, tip):
            return None
        tab = self._tab(b, ground, station)
        if tab is None:
            return None
        start = Start(
            id="",
            contour_id=b.target.id,
            kind=StartKind.CHANNEL,
            x_mm=end[0],
            y_mm=end[1],
            diameter_mm=0.0,
            clearance_mm=float(self._walls.clearance_mm(tip[None, :])[0]),
        )
        led = replace(b, start=start, lead_station_mm=station, tab=tab)
        channel = Channel(
            from_id=a.target.id,
            to_id=b.target.id,
            branch_station_mm=branch,
            branch_mm=(float(begin[0]), float(begin[1])),
            end_mm=end,
            length_mm=away,
        )
        return Link(channel=channel, contour=led) if self._holds(a, led, channel) else None

    def _tab(self, b: ContourPlan, ground: Ground, station_mm: float) -> Tab | None:
        """Return the tab beside a lead-in, if it holds as well as that of the plan or the rule."""
        assert b.tab is not None
        checks = lead_checks(station_mm, ground)
        if any(c.refuses or (c.limit is Limit.CORNER and not c.is_met) for c in checks):
            return None
        tab, said = stand_tab(NOWHERE_PLACED, station_mm, ground)
        least = min(b.tab.safety, self.plan.rules.tab_safety)
        if any(c.refuses for c in said) or tab.safety < least:
            return None
        return tab

    def _is_clear(self, a: ContourPlan, b: ContourPlan, begin: Floats, tip: Floats) -> bool:
        """Return whether a channel keeps its distance from every wall and from other kerfs."""
        length = float(np.hypot(*(tip - begin)))
        way = np.linspace(0.0, length, max(int(length / _STEP_MM), 2) + 1)
        points = begin + (tip - begin) * (way / max(length, _SLACK_MM))[:, None]
        offset = min(a.passes[0].offset_mm, b.passes[0].offset_mm)
        # From the rough path on, which keeps just the offset, it goes straight away from the wall.
        least = offset + np.minimum(way, self.plan.rules.string_margin_mm)
        if (self._walls.clearance_mm(points) < least - _SLACK_MM).any():
            return False
        ends = begin[None, :], tip[None, :]
        beside_mm = self.plan.rules.approach_radius_mm
        if not clear_ways(self.plan.clamps, *ends, beside_mm=beside_mm).all():
            return False
        if (self._walls.stock_clearance_mm(points) < self._kerf_mm(a)).any():
            return False
        line = shapely.LineString([begin, tip])
        own = {a.target.id, b.target.id}
        apart = 2 * self._kerf_mm(a) + offset + self.plan.rules.string_neck_mm
        near = (c for c in self.plan.part.contours if c.id not in own)
        return all(line.distance(self._rings[c.id]) >= apart for c in near)

    def _holds(self, a: ContourPlan, b: ContourPlan, channel: Channel) -> bool:
        """Return whether nothing comes loose and every tab beside a channel hangs on enough."""
        cut = shapely.LineString([channel.branch_mm, channel.end_mm]).buffer(self._kerf_mm(a))
        near = [
            c
            for c in self.plan.contours
            if c.target.id not in {a.target.id, b.target.id}
            and self._rings[c.target.id].distance(cut) <= _BESIDE_MM
        ]
        kerfs = {c.target.id: self.rough_kerf(c) for c in (a, b, *near)}
        joined = shapely.union_all([kerfs[a.target.id], cut, kerfs[b.target.id]])
        if not isinstance(joined, shapely.Polygon) or len(joined.interiors):
            return False
        if any(cut.intersects(kerfs[c.target.id]) for c in near):
            return False
        return self._tabs_hang((a, b, *near), [*kerfs.values(), cut])

    def _tabs_hang(
        self, contours: Sequence[ContourPlan], kerfs: Sequence[shapely.Geometry]
    ) -> bool:
        """Return whether each tab hangs together with the waste around over enough metal."""
        neck = self.plan.rules.string_neck_mm
        around = shapely.box(*shapely.total_bounds(list(kerfs))).buffer(_BESIDE_MM)
        parts = [shapely.Polygon(self._rings[c.target.id]) for c in contours]
        solid = around.difference(shapely.union_all([*kerfs, *parts])).buffer(-neck / 2)
        held = [p for p in shapely.get_parts(solid) if p.distance(around.exterior) <= neck]
        for c in contours:
            if c.tab is None or c.target.parent_id is not None:
                continue
            root = shapely.Point(_root_mm(c, c.tab, self._kerf_mm(c) + neck / 2))
            if not any(p.distance(root) <= _ON_MM for p in held):
                return False
        return True

    # -- what is known of contours -----------------------------------------------------------

    def rough_kerf(self, c: ContourPlan) -> shapely.Geometry:
        """Return what the rough pass of a contour takes, lead-in and all, tab left out."""
        key = c.target.id, c.lead_station_mm
        if key not in self._kerfs:
            line = shapely.simplify(self._rough_line(c), _FLAT_MM)
            self._kerfs[key] = shapely.buffer(line, self._kerf_mm(c), quad_segs=_QUARTER_CHORDS)
        return self._kerfs[key]

    @staticmethod
    def _rough_line(c: ContourPlan) -> shapely.Geometry:
        loop = c.loops[0].contour
        if c.tab is None:
            return shapely.Polygon(chords(loop))
        lead, length = body_of(c)
        corners = np.mod(loop.stations_mm - lead, loop.length_mm)
        steps = np.linspace(0.0, length, int(length / _STEP_MM) + 2)
        way = np.sort(np.concatenate([steps, corners[corners < length]]))
        points = loop.points_at(np.mod(lead + way, loop.length_mm))
        slot = np.vstack([[c.start.x_mm, c.start.y_mm], points[:1]])
        return shapely.MultiLineString([slot, points])

    def _ground(self, c: ContourPlan) -> Ground:
        if c.target.id not in self._grounds:
            path = Paths(target=c.target, loops=c.loops, unreachable=c.unreachable, refusal=None)
            self._grounds[c.target.id] = ground_of(
                path,
                c.choice,
                c.slug,
                walls=self._walls,
                given=(),
                requirement=self.plan.requirement,
                technology=self._technology,
                rules=self.plan.rules,
            )
        return self._grounds[c.target.id]

    @staticmethod
    def _kerf_mm(c: ContourPlan) -> float:
        return c.choice.wire.radius_mm + c.passes[0].gap_um / 1000


def body_of(c: ContourPlan) -> tuple[float, float]:
    """Return where the rough path meets the lead-in, as its arc length, and how far it goes on."""
    assert c.tab is not None
    wall, loop, offset = c.target.contour, c.loops[0].contour, c.passes[0].offset_mm
    begin, _ = opposite(wall, loop, station_mm=c.lead_station_mm, offset_mm=offset)
    end, _ = opposite(wall, loop, station_mm=c.tab.start_station_mm, offset_mm=offset)
    return begin, (end - begin) % loop.length_mm


def _in_body(c: ContourPlan, station_mm: float, kerf_mm: float) -> bool:
    """Return whether a place of the rough path is cut, and not beside lead-in or tab."""
    begin, length = body_of(c)
    way = (station_mm - begin) % c.loops[0].contour.length_mm
    return bool(_APART_KERFS * kerf_mm <= way <= length - _APART_KERFS * kerf_mm)


def _nearest(found: Candidates, away_mm: Floats, *, most_mm: float) -> list[int]:
    usable = np.flatnonzero((away_mm <= most_mm) & (found.rank < _SCARRED))
    order = np.lexsort((found.rank[usable], np.round(away_mm[usable], 3)))
    return [int(k) for k in usable[order][:_TRIED]]


def _root_mm(c: ContourPlan, tab: Tab, out_mm: float) -> Floats:
    """Return the middle of the root of a tab in the waste, beyond the rough kerf."""
    wall = c.target.contour
    index, fraction = wall.locate(np.array([middle_of(tab, wall.length_mm)]))
    tangent = wall.segments.tangents_at(index, fraction)[0]
    normal = np.array([tangent[1], -tangent[0]])
    point: Floats = wall.segments.points_at(index, fraction)[0]
    return point + normal * (c.passes[0].offset_mm + out_mm)
