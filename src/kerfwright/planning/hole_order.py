"""In which order holes are drilled: tube by tube, a short way, and in rounds where heat asks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from kerfwright.geometry.shortest_order import Ends, shortest_order, way_length
from kerfwright.planning.hole_plan import Order, OrderReason
from kerfwright.planning.hole_rules import HoleRules
from kerfwright.process.hole_heat import rise_k
from kerfwright.trade.drill import DrillMachine
from kerfwright.trade.material import Material

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]

_ANGLE_DECIMALS: Final = 6
_S_PER_MIN: Final = 60.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Places:
    """What the order depends on, a row for each hole.

    Attributes
    ----------
    mouths_mm : array, shape (n, 3)
        In coordinates of the drawing.
    at_mm : array, shape (n, 2)
        In coordinates of the program.
    angles_deg : array, shape (n, axes)
    tubes : array of int, shape (n,)
        Number of the tube.
    depths_mm, minutes : array, shape (n,)
    """

    mouths_mm: Floats
    at_mm: Floats
    angles_deg: Floats
    tubes: Indices
    depths_mm: Floats
    minutes: Floats


def order_holes(
    places: Places,
    *,
    machine: DrillMachine,
    material: Material,
    rules: HoleRules,
    pause_min: float,
) -> tuple[Indices, Order, Floats]:
    """Return the order, why it is that, and the rise of each hole in that order, K.

    Holes of one tube stay together, as a change of guide takes minutes; so do holes at the same
    angles where there are several.  Within, the way is short
    (:func:`kerfwright.geometry.shortest_order.shortest_order`).  Where a hole would begin at a
    place that those before have warmed by more than the limit, every second, third … hole of that
    way is drilled first, in as few rounds as keep the limit.

    Parameters
    ----------
    places : Places
        At least one hole.
    machine : DrillMachine
    material : Material
    rules : HoleRules
    pause_min : float
        Between two holes.
    """
    reach = _reach(places, machine)
    blocks: list[Indices] = []
    for tube in dict.fromkeys(places.tubes.tolist()):
        rows = np.flatnonzero(places.tubes == tube)
        blocks.append(rows[_within_tube(reach[rows], places.angles_deg[rows])])
    best: tuple[Indices, int, Floats] | None = None
    shortest = np.concatenate(blocks)
    rise_shortest = 0.0
    for rounds in range(1, rules.most_rounds + 1):
        order = np.concatenate([_in_rounds(block, rounds) for block in blocks])
        rises = _rises(order, places, material=material, rules=rules, pause_min=pause_min)
        rise = float(rises.max())
        if rounds == 1:
            rise_shortest = rise
        if best is None or rise < float(best[2].max()):
            best = order, rounds, rises
        if rise <= rules.rise_limit_k:
            break
    assert best is not None
    order, rounds, rises = best
    why = Order(
        reason=OrderReason.HEAT if rounds > 1 else OrderReason.TRAVEL,
        rounds=rounds,
        travel_mm=way_length(reach, order, ends=Ends.ANYWHERE),
        as_listed_mm=way_length(reach, np.arange(len(reach)), ends=Ends.ANYWHERE),
        shortest_mm=way_length(reach, shortest, ends=Ends.ANYWHERE),
        changes=0,
        as_listed_changes=0,
        rise_k=float(rises.max()),
        rise_shortest_k=rise_shortest,
    )
    return order, why, rises


def _reach(places: Places, machine: DrillMachine) -> Floats:
    """Return places with angles as the way the table would go in the time they take."""
    speeds = [machine.idle_speed_mm_per_min / a.speed_deg_per_min for a in machine.axes]
    return np.hstack([places.at_mm, places.angles_deg * np.array(speeds)])


def _within_tube(reach: Floats, angles_deg: Floats) -> Indices:
    rounded = np.round(angles_deg, _ANGLE_DECIMALS)
    settings, which = np.unique(rounded, axis=0, return_inverse=True)
    which = which.reshape(-1)
    if len(settings) <= 1 or len(settings) > len(reach) / 2:
        return _from_corner(reach)
    order: list[Indices] = []
    here: Floats | None = None
    for setting in shortest_order(settings).tolist():
        rows = np.flatnonzero(which == setting)
        way = _from_corner(reach[rows]) if here is None else _onwards(reach[rows], here)
        order.append(rows[way])
        here = reach[rows[way[-1]]]
    return np.concatenate(order)


def _from_corner(reach: Floats) -> Indices:
    """Return a short way from the hole at the lower left."""
    return _onwards(reach, reach.min(axis=0))


def _onwards(reach: Floats, here: Floats) -> Indices:
    """Return a short way from the hole nearest to a place."""
    first = int(np.argmin(((reach - here) ** 2).sum(axis=1)))
    rows = np.concatenate([[first], np.delete(np.arange(len(reach)), first)])
    order: Indices = rows[shortest_order(reach[rows])]
    return order


def _in_rounds(block: Indices, rounds: int) -> Indices:
    """Return every so-maniest hole of a way, then the next ones back, to and fro."""
    parts = [block[k::rounds] for k in range(rounds)]
    return np.concatenate([part[:: 1 if k % 2 == 0 else -1] for k, part in enumerate(parts)])


def _rises(
    order: Indices, places: Places, *, material: Material, rules: HoleRules, pause_min: float
) -> Floats:
    spark_s = places.minutes[order] * _S_PER_MIN
    end_s = np.cumsum(spark_s + pause_min * _S_PER_MIN)
    begin_s = end_s - spark_s
    return rise_k(
        places.mouths_mm[order],
        begin_s=begin_s,
        end_s=end_s,
        depth_mm=places.depths_mm[order],
        heat_w=rules.heat_into_work_w,
        material=material,
    )


def sorted_tubes(diameters_mm: Sequence[float]) -> dict[float, int]:
    """Return the number of each tube, the thinnest first."""
    return {d: number for number, d in enumerate(sorted(set(diameters_mm)), start=1)}
