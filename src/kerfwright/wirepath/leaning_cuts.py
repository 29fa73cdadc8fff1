"""The cuts along one leaning contour, as positions of the wire in two planes.

The wire is threaded upright, leans while it comes to the wall and is upright again before it is cut
or threaded anew.  Stations along the wall are those of the section on which the plan was made.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from kerfwright.geometry.clearance import WallSections
from kerfwright.geometry.leaning import wire_loop
from kerfwright.geometry.nearest import NearestIndex
from kerfwright.geometry.ruled import RuledWall
from kerfwright.geometry.segments import Floats
from kerfwright.motion.moves import Purpose
from kerfwright.planning.plan import ContourPlan, Plan
from kerfwright.wirepath.contour_cuts import ContourCuts, Drawn
from kerfwright.wirepath.entries import frame_at
from kerfwright.wirepath.lean_runs import LeanRun, LeanTrack, joined, through, upright

_RADIUS_SHARES = (1.0, 0.5, 0.25, 0.125)
_STEP_BACK_MM = 0.5
"""A skim that ends in the open kerf steps back into the rough path over this length."""
_CLEAR_MM = 1e-4
"""An arc onto the wall may come nearer by this, chords and all."""
_ARC_PARTS = 16
_TAB_TRIES = 6
_TAB_SHORT_MM = 0.01


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Leaning:
    """How a contour leans.

    Attributes
    ----------
    wall : RuledWall
    section_mm : float
        Height of the section on which the plan was made.
    chord_mm : float
        Largest distance of straight moves from the true path.
    guides_mm : (float, float)
        Heights of the guides, at which the chords are held too.
    """

    wall: RuledWall
    section_mm: float
    chord_mm: float
    guides_mm: tuple[float, float]


class LeaningCuts(ContourCuts):
    """Draws the cuts of one leaning contour.

    Parameters
    ----------
    plan : Plan
    target : ContourPlan
    walls : NearestIndex
        All finished walls of the part, as planned.
    leaning : Leaning
    """

    def __init__(
        self, plan: Plan, target: ContourPlan, walls: NearestIndex, leaning: Leaning
    ) -> None:
        super().__init__(plan, target, walls)
        self._leaning = leaning
        self._tracks: dict[int, LeanTrack] = {}
        self._sections = WallSections(leaning.wall, chord_mm=_CLEAR_MM / 2)

    def rough(self) -> Drawn:
        """Cut from the start to the wall and round to the tab."""
        track = self._track(1)
        begin = self._station(1, self._frame.target.lead_station_mm)
        end = self._tab_end()
        body = track.along(begin, (end - begin) % track.length_mm, purpose=Purpose.WALL)
        return self._drawn(
            1,
            [self._lead(body.places[0], purpose=Purpose.LEAD_IN), body],
            stop=self._frees_pieces,
        )

    def cut_off(self) -> Drawn:
        """Come in through the open lead-in and cut the tab backwards, from the lead-in."""
        track = self._track(1)
        begin = self._tab_end()
        end = self._station(1, self._frame.target.lead_station_mm)
        tab = track.along(begin, (end - begin) % track.length_mm, purpose=Purpose.CUT_OFF)
        tab = tab.reversed()
        return self._drawn(
            1,
            [self._lead(tab.places[0], purpose=Purpose.RETURN), tab],
            stop=self._is_last_cut(self._frame.target),
        )

    def skim_whole(self, number: int) -> Drawn:
        """Skim all round an opening whose slug is out, with an overlap."""
        track = self._track(number)
        lead = self._frame.target.lead_station_mm
        begin = self._station(number, lead)
        over = min(self._frame.plan.rules.overlap_mm, track.length_mm / 8)
        body = track.along(begin, track.length_mm, purpose=Purpose.WALL)
        rest = track.along(begin, over, purpose=Purpose.OVERLAP)
        on = self._arc(number, body.places[0], coming=True)
        off = self._arc(number, rest.places[-1], coming=False)
        home = through([off.places[-1], upright(self._frame.start)], purpose=Purpose.RETURN)
        first = through([upright(self._frame.start), on.places[0]], purpose=Purpose.LEAD_IN)
        return self._drawn(number, [first, on, body, rest, off, home])

    def skim_body(self, number: int, before: Drawn | None) -> Drawn:  # noqa: ARG002
        """Skim an outline between lead-in and tab while the frame holds it.

        Every skim is threaded anew and comes and goes through the open rough kerf; the ends, a
        wire's width from the tab, are skimmed with the tab.
        """
        rough, track = self._track(1), self._track(number)
        keep = self._frame.offset(1)
        low = self._frame.target.lead_station_mm + keep
        high = self._tab_start - keep
        lead = self._station(1, self._frame.target.lead_station_mm)
        there = self._station(1, low)
        onto, off = self._station(number, low), self._station(number, high)
        leaves = self._station(1, high) - _STEP_BACK_MM
        body = track.along(onto, (off - onto) % track.length_mm, purpose=Purpose.WALL)
        way = rough.way(lead, there, purpose=Purpose.RETURN)
        return self._drawn(
            number,
            [
                self._lead(way.places[0], purpose=Purpose.LEAD_IN),
                way,
                through([way.places[-1], body.places[0]], purpose=Purpose.APPROACH),
                body,
                through([body.places[-1], rough.at(leaves)], purpose=Purpose.RETURN),
            ],
        )

    def skim_tab(self, number: int, before: Drawn | None) -> Drawn:
        """Skim the tab's span of an outline that was cut off, to and fro."""
        assert before is not None
        rough, track = self._track(1), self._track(number)
        length = self._frame.wall.length_mm
        span = (self._frame.target.lead_station_mm - self._tab_start) % length
        over = min(
            self._frame.plan.rules.overlap_mm + 2 * self._frame.offset(1), 0.4 * (length - span)
        )
        low, high = self._tab_start - over, self._tab_start + span + over
        forwards = number % 2 == 0
        enter, leave = (low, high) if forwards else (high, low)
        here = self._end_of(before)
        way = rough.way(
            rough.nearest(self._point(here)), self._station(1, enter), purpose=Purpose.RETURN
        )
        a, b = self._station(number, low), self._station(number, high)
        body = track.along(a, (b - a) % track.length_mm, purpose=Purpose.WALL)
        body = body if forwards else body.reversed()
        out = rough.at(self._station(1, leave))
        return self._drawn(
            number,
            [
                through([here, *way.places], purpose=Purpose.RETURN),
                through([way.places[-1], body.places[0]], purpose=Purpose.APPROACH),
                body,
                through([body.places[-1], out], purpose=Purpose.RETURN),
            ],
            stop=number == len(self._frame.target.passes),
        )

    @cached_property
    def _tab_start(self) -> float:
        """Where the tab begins: so early that it is as wide as planned at every height.

        At another height than that of the plan the same rulings may lie closer together.
        """
        planned, lead = self._frame.tab_start, self._frame.target.lead_station_mm
        span = (lead - planned) % self._frame.wall.length_mm
        track = self._track(1)
        for _ in range(_TAB_TRIES):
            begin, end = self._station(1, lead - span), self._station(1, lead)
            tab = track.along(begin, (end - begin) % track.length_mm, purpose=Purpose.CUT_OFF)
            lengths = [float(np.hypot(*np.diff(tab.places[:, k], axis=0).T).sum()) for k in (0, 1)]
            wanted = (lead - planned) % self._frame.wall.length_mm
            if min(lengths) >= wanted - _TAB_SHORT_MM:
                break
            span += wanted - min(lengths)
        return (lead - span) % self._frame.wall.length_mm

    def _tab_end(self) -> float:
        """Return the length on the rough loop at which the rough pass stops."""
        return self._station(1, self._tab_start)

    def _track(self, number: int) -> LeanTrack:
        """Return the loop of a pass; made once."""
        if number not in self._tracks:
            one = self._leaning
            loop = wire_loop(
                one.wall,
                distance_mm=self._frame.offset(number),
                chord_mm=one.chord_mm,
                heights_mm=one.guides_mm,
            )
            self._tracks[number] = LeanTrack(loop, one.section_mm)
        return self._tracks[number]

    def _station(self, number: int, station_mm: float) -> float:
        """Return the length on a pass's loop opposite an arc length of the planned section."""
        frame = frame_at(self._frame.wall, station_mm % self._frame.wall.length_mm, forwards=True)
        aside = frame.normal * self._frame.offset(number)
        return self._track(number).nearest(frame.point + aside)

    def _point(self, place: Floats) -> Floats:
        """Return where a position passes the planned section."""
        v = self._leaning.wall.share(self._leaning.section_mm)
        point: Floats = place[0] + (place[1] - place[0]) * v
        return point

    def _end_of(self, before: Drawn) -> Floats:
        second = before.moves.second_end_mm
        assert second is not None
        return np.stack([before.moves.end_mm[-1], second[-1]])

    def _lead(self, onto: Floats, *, purpose: Purpose) -> LeanRun:
        """Return the way from the upright start to a position; the last part square to the wall."""
        run = self._frame.lead.normal * self._frame.run_mm(self._frame.offset(1))
        return through([upright(self._frame.start), onto + run, onto], purpose=purpose)

    def _arc(self, number: int, onto: Floats, *, coming: bool) -> LeanRun:
        """Return the quarter turn onto the wall or off it, the wire leaning as at the wall.

        The largest radius that clears the wall is taken, else a straight way square to it.
        """
        frame = self._frame.lead
        purpose = Purpose.APPROACH if coming else Purpose.LEAD_OUT
        offset = self._frame.offset(number)
        back = -1.0 if coming else 1.0
        turn = np.linspace(math.pi / 2, 0.0, _ARC_PARTS + 1)[:, None]
        for share in _RADIUS_SHARES:
            radius = self._frame.plan.rules.approach_radius_mm * share
            aside = frame.normal * radius * (1 - np.cos(turn))
            aside = aside + frame.tangent * back * radius * np.sin(turn)
            places = onto[None, :, :] + aside[:, None, :]
            near = self._sections.clearance(places[:, 0], places[:, 1], within_mm=offset)
            if near.min() >= offset - _CLEAR_MM:
                run = LeanRun(places=places, purpose=purpose)
                return run if coming else run.reversed()
        run = through([onto + frame.normal * offset, onto], purpose=purpose)
        return run if coming else run.reversed()

    def _drawn(self, number: int, runs: list[LeanRun], *, stop: bool = False) -> Drawn:
        return Drawn(
            moves=joined(runs, feeds=self._frame.feeds(number)),
            nominal=None,
            offset_on_left=False,
            stop_after=self._removal() if stop else None,
        )
