"""How a skim in the open kerf comes onto the wall and leaves it, in both forms."""

from __future__ import annotations

from dataclasses import dataclass

from kerfwright.geometry.segments import Floats
from kerfwright.motion.moves import Purpose
from kerfwright.wirepath.contour_frame import ContourFrame
from kerfwright.wirepath.entries import arc_off, arc_on, frame_at
from kerfwright.wirepath.runs import Run, straight


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class End:
    """How a skim comes onto the wall or leaves it, in both forms.

    Attributes
    ----------
    centre, nominal : list of Run
    wall_station_mm : float
        Arc length of the wall at which the skim's contact begins or ends.
    """

    centre: list[Run]
    nominal: list[Run]
    wall_station_mm: float


def lead_end(frame: ContourFrame, number: int, *, entering: bool) -> End:
    """Return the way between the start and the wall at the lead-in, through the open slot.

    On a small arc where that is clear of every wall, else on a slant.
    """
    loop, offset = frame.loop(number).contour, frame.offset(number)
    radius, run = frame.offset(1) - offset, frame.run_mm(frame.offset(1))
    station = frame.target.lead_station_mm + radius
    make = arc_on if entering else arc_off
    purpose = Purpose.APPROACH if entering else Purpose.LEAD_OUT
    curve = make(
        loop,
        frame.station_on(number, station),
        radius_mm=radius,
        forwards=entering,
        purpose=purpose,
    )
    outer = curve.start if entering else curve.last
    slot = [frame.start, frame.slot_top(run), outer + frame.lead.normal * run, outer]
    ways = _slot_ways(slot, entering=entering)
    is_clear = frame.is_clear(*ways, curve, offset_mm=offset)
    if not (is_clear and frame.has_opposite(number, station)):
        return _lead_slant(frame, number, entering=entering)
    wall_curve = make(
        frame.wall, station, radius_mm=radius + offset, forwards=entering, purpose=purpose
    )
    foot = wall_curve.start if entering else wall_curve.last
    above = foot + frame_at(frame.wall, station, forwards=True).normal * run
    if entering:
        programmed = [straight([frame.start, above, foot], purpose=Purpose.LEAD_IN), wall_curve]
        return End(centre=[*ways, curve], nominal=programmed, wall_station_mm=station)
    programmed = [
        wall_curve,
        straight([foot, above], purpose=Purpose.LEAD_OUT),
        straight([above, frame.slot_top(run), frame.start], purpose=Purpose.RETURN),
    ]
    return End(centre=[curve, *ways], nominal=programmed, wall_station_mm=station)


def _lead_slant(frame: ContourFrame, number: int, *, entering: bool) -> End:
    lead = frame.target.lead_station_mm
    contact = frame.point_on(1, lead)
    slant, on = frame.slant(number, contact, lead, sense=1)
    way = straight(
        [frame.start, frame.slot_top(frame.run_mm(frame.offset(1))), contact],
        purpose=Purpose.RETURN,
    )
    station = lead + slant
    foot = frame_at(frame.wall, station, forwards=True).point
    if entering:
        onto = straight([contact, foot], purpose=Purpose.APPROACH)
        return End(centre=[way, on], nominal=[way, onto], wall_station_mm=station)
    off = on.reversed().returning()
    away = straight([foot, contact], purpose=Purpose.RETURN)
    back = way.reversed()
    return End(centre=[off, back], nominal=[away, back], wall_station_mm=station)


def tab_end(frame: ContourFrame, number: int, here: Floats | None) -> End:
    """Return the way between the wall and the open end of the rough kerf at the tab.

    With `here` given the skim starts at that point; else it ends there, on a small
    arc where that is clear, else on a slant.
    """
    loop, offset = frame.loop(number).contour, frame.offset(number)
    if here is not None:
        slant, on = frame.slant(number, here, frame.tab_start, sense=-1)
        station = frame.tab_start - slant
        foot = frame_at(frame.wall, station, forwards=True).point
        onto = straight([here, foot], purpose=Purpose.APPROACH)
        return End(centre=[on], nominal=[onto], wall_station_mm=station)
    radius = frame.offset(1) - offset
    station = frame.tab_start - radius
    curve = arc_off(
        loop,
        frame.station_on(number, station),
        radius_mm=radius,
        forwards=True,
        purpose=Purpose.LEAD_OUT,
    )
    if frame.has_opposite(number, station) and frame.is_clear(curve, offset_mm=offset):
        wall_curve = arc_off(
            frame.wall,
            station,
            radius_mm=radius + offset,
            forwards=True,
            purpose=Purpose.LEAD_OUT,
        )
        programmed = let_go([wall_curve], curve)
        return End(centre=[curve], nominal=programmed, wall_station_mm=station)
    there = frame.point_on(1, frame.tab_start)
    slant, on = frame.slant(number, there, frame.tab_start, sense=-1)
    station = frame.tab_start - slant
    off = on.reversed().returning()
    foot = frame_at(frame.wall, station, forwards=True).point
    away = straight([foot, there], purpose=Purpose.RETURN)
    return End(centre=[off], nominal=[away], wall_station_mm=station)


def let_go(nominal: list[Run], centre: Run) -> list[Run]:
    """Add the block in which the control takes its offset off, where the wire stands already."""
    return [*nominal, straight([nominal[-1].last, centre.last], purpose=Purpose.RETURN)]


def _slot_ways(points: list[Floats], *, entering: bool) -> list[Run]:
    """Return the straight way down the lead-in slot, or up it and home."""
    if entering:
        return [straight(points, purpose=Purpose.LEAD_IN)]
    up = points[::-1]
    return [
        straight(up[:2], purpose=Purpose.LEAD_OUT),
        straight(up[1:], purpose=Purpose.RETURN),
    ]
