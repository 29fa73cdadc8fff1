"""The cuts of a contour whose tab stands apart from its lead-in: the kerf has two open ends.

The rough pass comes in at the lead-in, cuts the shorter way to one side of the tab, comes back
through its own kerf and cuts the longer way to the other.  Everything after goes through that kerf
to the end that it needs.  A control cannot turn its offset over within a pass: all is programmed as
the wire's own path.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from kerfwright.geometry.segments import Floats
from kerfwright.motion.moves import Purpose
from kerfwright.wirepath.beside_edge import zones_beside
from kerfwright.wirepath.contour_frame import ContourFrame
from kerfwright.wirepath.kerf_ends import End
from kerfwright.wirepath.runs import Run, along, joined

_SAME_MM = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Way:
    """Runs of the wire that follow each other.

    Attributes
    ----------
    runs : list of Run
    beside : tuple of (float, float)
        Begin and end, along the runs, of what runs beside the edge of the stock, mm.
    """

    runs: list[Run]
    beside: tuple[tuple[float, float], ...]


def rough_way(frame: ContourFrame) -> Way:
    """Return the rough pass: in at the lead-in, to one side of the tab, back, and to the other."""
    lead, behind, ahead = _stations(frame)
    loop, length = frame.loop(1), frame.loop(1).contour.length_mm
    on = frame.along_loop(
        loop, begin_mm=lead, length_mm=(ahead - lead) % length, purpose=Purpose.WALL
    )
    back = frame.along_loop(
        loop, begin_mm=behind, length_mm=(lead - behind) % length, purpose=Purpose.WALL
    ).reversed()
    first, second = (on, back) if _length(on) < _length(back) else (back, on)
    slot = frame.lead_onto(first.start, purpose=Purpose.LEAD_IN)
    home = first.reversed().returning()
    stretches, contour = frame.target.flushing.beside, loop.contour
    zones = [
        *zones_beside(first, contour, stretches, begin_mm=lead, before=slot, forwards=first is on),
        *(
            (low + 2 * _length(first), high + 2 * _length(first))
            for low, high in zones_beside(
                second, contour, stretches, begin_mm=lead, before=slot, forwards=second is on
            )
        ),
    ]
    return Way(runs=[slot, first, home, second], beside=tuple(zones))


def cut_off_way(frame: ContourFrame) -> Way:
    """Return the cut-off: through the kerf to the nearer end of the tab, and through the tab."""
    lead, behind, ahead = _stations(frame)
    contour = frame.loop(1).contour
    length = contour.length_mm
    tab = along(
        contour, begin_mm=ahead, length_mm=(behind - ahead) % length, purpose=Purpose.CUT_OFF
    )
    is_behind = (lead - behind) % length <= (ahead - lead) % length
    way = kerf_way(frame, lead, behind if is_behind else ahead)
    tab = tab.reversed() if is_behind else tab
    slot = frame.lead_onto(way.start, purpose=Purpose.RETURN)
    zones = zones_beside(
        tab,
        contour,
        frame.target.flushing.beside,
        begin_mm=behind if is_behind else ahead,
        before=slot,
        forwards=not is_behind,
    )
    gone = _length(way)
    return Way(
        runs=[slot, way, tab], beside=tuple((low + gone, high + gone) for low, high in zones)
    )


def ways_to_skim(
    frame: ContourFrame, number: int, here: Floats | None
) -> tuple[list[Run], End, End, bool]:
    """Return how a skim of all but the tab gets to the wall, its two ends, and whether forwards.

    Parameters
    ----------
    frame : ContourFrame
    number : int
        Of the pass.
    here : (2,) float or None
        Where the wire stands in the rough kerf; None where it comes from the start.
    """
    lead, behind, ahead = _stations(frame)
    at = lead if here is None else frame.on_rough(here)
    forwards = _gone(frame, at) <= _gone(frame, ahead) / 2
    way = kerf_way(frame, at, behind if forwards else ahead)
    if here is None:
        runs = [frame.lead_onto(way.start, purpose=Purpose.RETURN), way]
    else:
        runs = [replace(way, start=here)] if len(way.turn) else []
    low = _open_end(frame, number, frame.tab_end, sense=1)
    high = _open_end(frame, number, frame.tab_start, sense=-1)
    return runs, low, high, forwards


def kerf_way(frame: ContourFrame, begin_mm: float, end_mm: float) -> Run:
    """Return the way through the rough kerf between two lengths of its path, not over the tab."""
    _, behind, _ = _stations(frame)
    from_tab, to = (_gone(frame, at) for at in (begin_mm, end_mm))
    low, high = sorted((from_tab, to))
    run = along(
        frame.loop(1).contour,
        begin_mm=behind + low,
        length_mm=high - low,
        purpose=Purpose.RETURN,
    )
    return run if to >= from_tab else run.reversed()


def _gone(frame: ContourFrame, at_mm: float) -> float:
    """Return how far a length of the rough path lies beyond the kerf's end behind the lead-in."""
    _, behind, _ = _stations(frame)
    length = frame.loop(1).contour.length_mm
    gone = (at_mm - behind) % length
    # A hair before that end is not once round.
    return 0.0 if length - gone < _SAME_MM else gone


def _stations(frame: ContourFrame) -> tuple[float, float, float]:
    """Return lead-in, and the kerf's ends behind and ahead of it, as lengths on the rough path."""
    return (
        frame.station_on(1, frame.target.lead_station_mm),
        frame.station_on(1, frame.tab_end),
        frame.station_on(1, frame.tab_start),
    )


def _open_end(frame: ContourFrame, number: int, station_mm: float, *, sense: int) -> End:
    """Return the slant from an open end of the rough kerf onto a pass, `sense` along the wall."""
    there = frame.point_on(1, station_mm)
    slant, on = frame.slant(number, there, station_mm, sense=sense)
    station = station_mm + sense * slant
    return End(centre=[on], nominal=[], wall_station_mm=station)


def leaving(end: End) -> End:
    """Return the way off the wall where an end is the way onto it."""
    return End(
        centre=[run.reversed().returning() for run in end.centre[::-1]],
        nominal=[],
        wall_station_mm=end.wall_station_mm,
    )


def _length(run: Run) -> float:
    return float(joined([run], feeds={}).lengths_mm().sum()) if len(run.turn) else 0.0
