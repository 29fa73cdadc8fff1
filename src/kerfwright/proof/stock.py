"""What is left standing on the wall after all passes, and what of it no wire could reach.

Exact at the points listed in :mod:`kerfwright.proof.sweep`.
"""

from __future__ import annotations

import numpy as np

from kerfwright.foundation.findings import Finding
from kerfwright.foundation.tolerances import TINY
from kerfwright.geometry.segments import Flags, Floats, Indices
from kerfwright.proof.passes import (
    SEEN_MM,
    UM_PER_MM,
    PassRun,
    Spots,
    Worst,
    base_spots,
    finished_contours,
    further_spots,
    joined_spots,
    wall_finding,
)
from kerfwright.proof.reach import find_pockets
from kerfwright.proof.records import Claim, Unreachable
from kerfwright.proof.wall import Wall


def stock_left(
    wall: Wall, runs: tuple[PassRun, ...], tolerance_mm: float
) -> tuple[Spots, Floats, Indices]:
    """Return wall points, the least stock left over the passes, and the pass that left it."""
    base = base_spots(wall)
    finishing = _finishing(runs, tolerance_mm)
    spots = joined_spots(
        [base, *(further_spots(wall, r.sweep, r.radius_mm + SEEN_MM) for r in finishing)]
    )
    stock = np.full(len(spots), np.inf)
    pass_of = np.full(len(spots), -1, dtype=np.intp)
    for place, run in enumerate(runs):
        if run in finishing:
            rows = np.arange(len(base), len(spots))
            more = run.sweep.distances(spots.index[rows], spots.points_mm[rows])
            known = np.concatenate([run.sweep.start_distances, run.sweep.middle_distances, more])
            _lower(stock, pass_of, np.arange(len(spots)), known - run.radius_mm, place)
    for place, run in enumerate(runs):
        if run not in finishing:
            rows = np.flatnonzero(stock > tolerance_mm)
            known = run.sweep.distances(spots.index[rows], spots.points_mm[rows])
            _lower(stock, pass_of, rows, known - run.radius_mm, place)
    return spots, stock, pass_of


def _finishing(runs: tuple[PassRun, ...], tolerance_mm: float) -> list[PassRun]:
    """Return the passes that finish some contour."""
    finishes = finished_contours(runs, tolerance_mm)
    return [runs[k] for k in np.flatnonzero(finishes.any(axis=1))]


def _lower(stock: Floats, pass_of: Indices, rows: Indices, value: Floats, place: int) -> None:
    better = value < stock[rows]
    stock[rows[better]] = value[better]
    pass_of[rows[better]] = place


def judge_stock(
    wall: Wall,
    claim: Claim,
    runs: tuple[PassRun, ...],
    spots: Spots,
    stock: Floats,
    pass_of: Indices,
    worst: Worst,
) -> tuple[Flags, tuple[Unreachable, ...], list[Finding]]:
    """Tell stock that the wire cannot reach from stock that it should have cut."""
    tolerance_mm = claim.tolerance_um / UM_PER_MM
    forced = np.zeros(len(spots), dtype=bool)
    wanted = np.array([part.id in claim.cut_ids for part in wall.contours])
    contour = wall.contour_of[spots.index]
    open_rows = np.flatnonzero((stock > tolerance_mm) & wanted[contour])
    unreachable: list[Unreachable] = []
    finishes = finished_contours(runs, tolerance_mm)
    for place in np.flatnonzero(finishes.any(axis=1)).tolist():
        run = runs[place]
        # A pass that finishes other contours excuses nothing on this one.
        mine = finishes[place][contour[open_rows]]
        rows, others = open_rows[mine], open_rows[~mine]
        pockets = find_pockets(
            wall,
            run.sweep,
            index=spots.index[rows],
            fraction=spots.fraction[rows],
            radius_mm=np.full(len(rows), run.radius_mm),
            tolerance_mm=tolerance_mm,
        )
        _lower(stock, pass_of, rows, pockets.distance_mm - run.radius_mm, place)
        hit = np.flatnonzero(pockets.is_forced)
        forced[rows[hit]] = True
        unreachable += _pocket_list(
            wall,
            spots,
            rows[hit],
            pockets.distance_mm[hit] - run.radius_mm,
            pockets.before_mm[hit],
            pockets.after_mm[hit],
        )
        open_rows = np.sort(np.concatenate([others, rows[~pockets.is_forced]]))
    for place, run in enumerate(runs):
        exact, _ = run.sweep.index.query(spots.points_mm[open_rows])
        _lower(stock, pass_of, open_rows, exact - run.radius_mm, place)
    findings = _uncut(wall, claim, spots, stock, open_rows[stock[open_rows] > tolerance_mm])
    free = wanted[wall.contour_of[spots.index]] & ~forced
    for k in np.flatnonzero(wanted):
        rows = np.flatnonzero(free & (wall.contour_of[spots.index] == k))
        if len(rows):
            row = rows[np.argmax(stock[rows])]
            worst.note("leftover", int(k), float(stock[row]), spots.points_mm[row])
    return forced, tuple(unreachable), findings


def _pocket_list(
    wall: Wall,
    spots: Spots,
    rows: Indices,
    left_mm: Floats,
    before_mm: Floats,
    after_mm: Floats,
) -> list[Unreachable]:
    """Gather places with the same contacts into pockets."""
    if not len(rows):
        return []
    contour = wall.contour_of[spots.index[rows]]
    station = wall.stations_at(spots.index[rows], spots.fraction[rows])
    begin = np.mod(station - before_mm, wall.perimeter_mm[contour])
    # A micrometre apart is another pocket.
    keys = np.column_stack([contour, np.round(begin * UM_PER_MM)])
    order = np.lexsort((-left_mm, keys[:, 1], keys[:, 0]))
    new = np.concatenate([[True], np.any(np.diff(keys[order], axis=0) > 1, axis=1)])
    group = np.cumsum(new) - 1
    best = np.full(group[-1] + 1, -1, dtype=np.intp)
    for position in np.argsort(left_mm[order], kind="stable"):
        best[group[position]] = order[position]
    return [
        Unreachable(
            contour_id=wall.contours[contour[k]].id,
            x_mm=float(spots.points_mm[rows[k], 0]),
            y_mm=float(spots.points_mm[rows[k], 1]),
            leftover_um=float(left_mm[k]) * UM_PER_MM,
            length_mm=float(before_mm[k] + after_mm[k]),
        )
        for k in best
    ]


def _uncut(wall: Wall, claim: Claim, spots: Spots, stock: Floats, rows: Indices) -> list[Finding]:
    findings: list[Finding] = []
    contour = wall.contour_of[spots.index[rows]]
    for k in np.flatnonzero(np.bincount(contour)):
        mine = rows[contour == k]
        row = mine[np.argmax(stock[mine])]
        findings.append(
            wall_finding(
                "uncut-wall",
                f"{stock[row] * UM_PER_MM:.1f} µm of stock is left on contour "
                f"{wall.contours[k].id} where the wire could reach "
                f"(at {len(mine)} points; {claim.tolerance_um:.2f} µm pass)",
                wall,
                int(k),
                None,
                spots.points_mm[row],
                remedy="add the missing cut or correct its offset",
                leftover_um=float(stock[row] * UM_PER_MM),
            )
        )
    return findings


def mean_deviations(wall: Wall, spots: Spots, stock: Floats, forced: Flags) -> Floats:
    """Return the mean deviation of each contour over reachable wall, weighted by length."""
    n = 2 * len(wall.segments)
    index = spots.index[:n]
    good = np.isfinite(stock[:n]) & ~forced[:n]
    weight = np.where(good, wall.segments.length[index], 0.0)
    value = np.where(good, stock[:n], 0.0)
    contour = wall.contour_of[index]
    total = np.bincount(contour, weight * value, minlength=len(wall.contours))
    whole = np.bincount(contour, weight, minlength=len(wall.contours))
    result: Floats = total / np.maximum(whole, TINY)
    return result
