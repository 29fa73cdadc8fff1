"""How the wire comes to the wall and leaves it, for the wire centre and for the wall itself.

Every entry is drawn twice: as the path of the wire centre, and as the programmed wall path from
which a control that applies the offset makes the same centre path.  A control reaches its offset
square to the end of the first offset move, so that move ends beside the lead-in line, one offset
to its side, and the lead-in runs on in the same direction: the centre then comes down the same
line in both forms.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from kerfwright.geometry.contour import Contour
from kerfwright.geometry.regions import nearest_station
from kerfwright.geometry.segments import Floats
from kerfwright.motion.moves import Purpose, Turn
from kerfwright.wirepath.runs import Run, arc, straight

_SAME_MM = 1e-7


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Frame:
    """A point of a wall or loop with directions.

    Attributes
    ----------
    point : (2,) float
    tangent : (2,) float
        Direction of travel.
    normal : (2,) float
        Into the waste.
    """

    point: Floats
    tangent: Floats
    normal: Floats


def frame_at(contour: Contour, station_mm: float, *, forwards: bool) -> Frame:
    """Return the frame at an arc length; the waste is right of the contour's own sense."""
    index, fraction = contour.locate(np.array([station_mm]))
    tangent = contour.segments.tangents_at(index, fraction)[0]
    return Frame(
        point=contour.segments.points_at(index, fraction)[0],
        tangent=tangent if forwards else -tangent,
        normal=np.array([tangent[1], -tangent[0]]),
    )


def wall_foot(contour: Contour, station_mm: float, *, shift_mm: float) -> float | None:
    """Return where a line square to the wall, shifted along it, meets the wall.

    Parameters
    ----------
    contour : Contour
    station_mm : float
        Place whose normal is taken.
    shift_mm : float
        Shift along the contour's own sense; negative is backwards.

    Returns
    -------
    float or None
        Arc length of the foot, or None where the segment at `station_mm` does not extend so far.
    """
    frame = frame_at(contour, station_mm, forwards=True)
    index, _ = contour.locate(np.array([station_mm]))
    i = int(index[0])
    s = contour.segments
    aside = frame.point + frame.tangent * shift_mm
    if not s.is_arc[i]:
        foot = aside
    else:
        radius = float(s.radius[i])
        if abs(shift_mm) >= radius:
            return None
        # Height of the circle above its tangent at `shift_mm`; towards the centre.
        rise = radius - np.sqrt((radius - abs(shift_mm)) * (radius + abs(shift_mm)))
        towards = np.sign((s.centre[i] - frame.point) @ frame.normal)
        foot = aside + frame.normal * towards * rise
    station, distance = nearest_station(contour, (float(foot[0]), float(foot[1])))
    return station if distance <= _SAME_MM else None


def arc_on(
    loop: Contour, station_mm: float, *, radius_mm: float, forwards: bool, purpose: Purpose
) -> Run:
    """Return the quarter turn from the waste onto a loop, ending at an arc length."""
    f = frame_at(loop, station_mm, forwards=forwards)
    return quarter_on(f, radius_mm=radius_mm, purpose=purpose)


def quarter_on(f: Frame, *, radius_mm: float, purpose: Purpose) -> Run:
    """Return the quarter turn from the waste onto the point of a frame."""
    centre = f.point + f.normal * radius_mm
    turn = Turn.CLOCKWISE if _is_right(f) else Turn.COUNTER_CLOCKWISE
    return arc(centre - f.tangent * radius_mm, f.point, centre, turn=turn, purpose=purpose)


def arc_off(
    loop: Contour, station_mm: float, *, radius_mm: float, forwards: bool, purpose: Purpose
) -> Run:
    """Return the quarter turn from an arc length of a loop into the waste."""
    f = frame_at(loop, station_mm, forwards=forwards)
    return quarter_off(f, radius_mm=radius_mm, purpose=purpose)


def quarter_off(f: Frame, *, radius_mm: float, purpose: Purpose) -> Run:
    """Return the quarter turn from the point of a frame into the waste."""
    centre = f.point + f.normal * radius_mm
    turn = Turn.CLOCKWISE if _is_right(f) else Turn.COUNTER_CLOCKWISE
    return arc(f.point, centre + f.tangent * radius_mm, centre, turn=turn, purpose=purpose)


def _is_right(f: Frame) -> bool:
    """Return whether the waste lies right of travel."""
    return bool(f.tangent[0] * f.normal[1] - f.tangent[1] * f.normal[0] < 0)


def lead_line(frame: Frame, *, run_mm: float, start: Floats, purpose: Purpose) -> Run:
    """Return the run from a start to a frame's point, its last `run_mm` square to the wall."""
    return straight([start, frame.point + frame.normal * run_mm, frame.point], purpose=purpose)
