"""The swept kerf against the wall: gouges, stock left, places out of reach, offsets kept.

The gouge of a path segment clear of the wall is exact (radius minus clearance).  Where the wire
centre crosses the wall or runs inside the part the depth is sampled every eighth of the kerf
radius: by then it is far above any tolerance.  Stock left is exact at the points listed in
:mod:`kerfwright.proof.sweep`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.geometry.segments import Flags, Floats, Indices, Segments
from kerfwright.nc.timeline import Timeline
from kerfwright.proof.reach import find_pockets
from kerfwright.proof.records import Claim, Deviation, Unreachable
from kerfwright.proof.sweep import PassSweep
from kerfwright.proof.track import NO_CUT, Track
from kerfwright.proof.wall import Wall

UM_PER_MM = 1e3
SEEN_MM = 5e-5
"""Half of the 0.1 µm to which deviations are reported."""
_LIMIT_SLACK_MM = 5e-4
"""Least distance beyond the offset up to which neighbours are kept: half a micrometre."""
_WIDEST = 3.0
"""A header's offset above this multiple of the largest kerf radius is not followed further."""
_SKIPPED_SHARE = 0.25
"""A stretch left by more than this share of the kerf radius was not cut in that pass at all."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Spots:
    """Points of the wall: segment, fraction and place."""

    index: Indices
    fraction: Floats
    points_mm: Floats

    def __len__(self) -> int:
        return len(self.index)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PassRun:
    """Everything of one pass.

    Attributes
    ----------
    number : int
    radius_mm : float
    elements : (k,) int
        Segments of the track.
    sweep : PassSweep
    offset_mm : (contours,) float
        Largest offset stated for the pass on each contour; nan where there is none.
    """

    number: int
    radius_mm: float
    elements: Indices
    sweep: PassSweep
    offset_mm: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Comparison:
    """Result of comparing path and wall."""

    deviations: tuple[Deviation, ...]
    unreachable: tuple[Unreachable, ...]
    findings: tuple[Finding, ...]
    samples: int


def compare(timeline: Timeline, track: Track, wall: Wall, claim: Claim) -> Comparison:
    """Compare the kerf of every pass with the wall.

    Parameters
    ----------
    timeline : Timeline
    track : Track
    wall : Wall
    claim : Claim
    """
    tolerance = claim.tolerance_um / UM_PER_MM
    runs = pass_runs(timeline, track, wall, claim)
    worst = _Worst(wall)
    findings = _gouges(track, wall, claim, runs, worst)
    findings += _offsets_kept(timeline, track, wall, runs, tolerance)
    spots, stock, pass_of = _stock_left(wall, runs, tolerance)
    forced, unreachable, more = _judge(wall, claim, runs, spots, stock, pass_of, worst)
    findings += more
    findings += _pass_by_pass(wall, claim, runs, tolerance)
    means = _means(wall, spots, stock, forced, tolerance)
    samples = len(spots) * max(len(runs), 1) + len(track)
    return Comparison(
        deviations=worst.deviations(means),
        unreachable=unreachable,
        findings=tuple(findings),
        samples=samples,
    )


class _Worst:
    """Largest gouge and leftover of each contour so far."""

    def __init__(self, wall: Wall) -> None:
        self.wall = wall
        n = len(wall.contours)
        self.depth = {"gouge": np.zeros(n), "leftover": np.zeros(n)}
        self.place: dict[tuple[str, int], tuple[float, float]] = {}

    def note(self, kind: str, contour: int, depth_mm: float, place: Floats) -> None:
        if depth_mm > self.depth[kind][contour]:
            self.depth[kind][contour] = depth_mm
            self.place[kind, contour] = (float(place[0]), float(place[1]))

    def deviations(self, means: Floats) -> tuple[Deviation, ...]:
        return tuple(
            Deviation(
                contour_id=part.id,
                max_gouge_um=float(self.depth["gouge"][k]) * UM_PER_MM,
                max_leftover_um=float(self.depth["leftover"][k]) * UM_PER_MM,
                gouge_at_mm=self.place.get(("gouge", k)),
                leftover_at_mm=self.place.get(("leftover", k)),
                mean_um=float(means[k]) * UM_PER_MM,
            )
            for k, part in enumerate(self.wall.contours)
        )


def pass_runs(timeline: Timeline, track: Track, wall: Wall, claim: Claim) -> tuple[PassRun, ...]:
    """Group the track by pass, in order of pass numbers; moves under no header are pass 0."""
    position = {part.id: k for k, part in enumerate(wall.contours)}
    widest = max(claim.kerf_radius_mm.values()) * _WIDEST
    slack = max(2 * claim.tolerance_um / UM_PER_MM, _LIMIT_SLACK_MM)
    runs = []
    for number in np.unique(track.pass_number):
        elements = np.flatnonzero(track.pass_number == number)
        offset = np.full(len(wall.contours), np.nan)
        for header in timeline.headers:
            k = position.get(header.contour_id)
            if header.pass_number == number and k is not None:
                offset[k] = np.fmax(offset[k], header.offset_mm)
        radius = float(track.radius_mm[elements[0]])
        reach = min(max(radius, float(np.nanmax(np.append(offset, 0.0)))), widest)
        path = Segments.from_ends(
            track.segments.start[elements],
            track.segments.end[elements],
            track.segments.bulge[elements],
        )
        runs.append(
            PassRun(
                number=int(number),
                radius_mm=radius,
                elements=elements,
                sweep=PassSweep(path, wall.segments, wall.index.tree, reach + slack),
                offset_mm=offset,
            )
        )
    return tuple(runs)


def _gouges(
    track: Track, wall: Wall, claim: Claim, runs: tuple[PassRun, ...], worst: _Worst
) -> list[Finding]:
    findings: list[Finding] = []
    for run in runs:
        gap, near = run.sweep.path_clearances
        inside = _inside(track, wall, run, gap)
        depth = run.radius_mm - gap
        depth[near < 0] = 0.0
        contour = np.where(near >= 0, wall.contour_of[near], 0)
        place = np.full((len(gap), 2), np.nan)
        _crossed_depth(wall, run, inside, depth, contour, place)
        for k in np.unique(contour[depth > 0]):
            mine = np.flatnonzero((contour == k) & (depth > 0))
            element = mine[np.argmax(depth[mine])]
            if np.isnan(place[element, 0]):
                place[element] = _wall_place(wall, run, element)
            worst.note("gouge", int(k), float(depth[element]), place[element])
            if depth[element] * UM_PER_MM > claim.tolerance_um:
                count = int(np.count_nonzero(depth[mine] * UM_PER_MM > claim.tolerance_um))
                findings.append(
                    _finding(
                        "gouge",
                        f"pass {run.number} cuts {depth[element] * UM_PER_MM:.1f} µm into contour "
                        f"{wall.contours[k].id} ({count} moves above the "
                        f"{claim.tolerance_um:.2f} µm that pass)",
                        wall,
                        int(k),
                        run.number,
                        place[element],
                        line=int(track.line[run.elements[element]]),
                        remedy="correct the path or its offset",
                        depth_um=float(depth[element] * UM_PER_MM),
                    )
                )
    return findings


def _wall_place(wall: Wall, run: PassRun, element: int) -> Floats:
    """Return the point of the wall nearest to a path segment, found among 65 of its points."""
    steps = np.linspace(0.0, 1.0, 65)
    points = run.sweep.path.points_at(np.full(65, element), steps)
    distance, index = wall.index.query(points)
    k = int(np.argmin(distance))
    place: Floats = wall.index.closest_points(points[k : k + 1], index[k : k + 1])[0][0]
    return place


def _inside(track: Track, wall: Wall, run: PassRun, gap: Floats) -> Indices:
    """Return path segments that cross the wall or lie in the part's material.

    The side is asked once where each run of the wire begins, and again at the segments that come
    within the kerf radius by more than a reported step; between them the side cannot change
    without a crossing, whose clearance is 0.
    """
    number = track.run[run.elements]
    begins = np.flatnonzero(np.diff(number, prepend=-1))
    near = np.flatnonzero(gap < run.radius_mm - SEEN_MM)
    # Where every segment is too near (an offset on the wrong side keeps its distance) sides are
    # asked at the middles of all of them.
    asked = np.unique(np.concatenate([begins, near]))
    middle = run.sweep.path.points_at(asked, np.full(len(asked), 0.5))
    signed, _ = wall.signed_distances(middle)
    wrong = np.zeros(len(gap), dtype=bool)
    wrong[asked[signed < 0]] = True
    wrong[gap == 0] = True
    if wrong.any():
        suspect = np.isin(number, np.unique(number[wrong]))
        rest = np.flatnonzero(suspect & ~wrong)
        middle = run.sweep.path.points_at(rest, np.full(len(rest), 0.5))
        signed, _ = wall.signed_distances(middle)
        wrong[rest[signed < 0]] = True
    return np.flatnonzero(wrong)


def _crossed_depth(
    wall: Wall, run: PassRun, inside: Indices, depth: Floats, contour: Indices, place: Floats
) -> None:
    if not len(inside):
        return
    path = run.sweep.path
    step = run.radius_mm / 8
    count = np.clip(np.ceil(path.length[inside] / step), 4, 256).astype(np.intp)
    which = np.repeat(np.arange(len(inside)), count + 1)
    first = np.cumsum(count + 1) - (count + 1)
    fraction = (np.arange(len(which)) - first[which]) / count[which]
    points = path.points_at(inside[which], fraction)
    signed, index = wall.signed_distances(points)
    order = np.lexsort((signed, which))
    least = order[np.searchsorted(which[order], np.arange(len(inside)))]
    depth[inside] = np.maximum(run.radius_mm - signed[least], depth[inside])
    contour[inside] = wall.contour_of[index[least]]
    place[inside] = wall.index.closest_points(points[least], index[least])[0]


def _offsets_kept(
    timeline: Timeline, track: Track, wall: Wall, runs: tuple[PassRun, ...], tolerance: float
) -> list[Finding]:
    """Compare the distance that the wire keeps with what each header states."""
    position = {part.id: k for k, part in enumerate(wall.contours)}
    findings: list[Finding] = []
    for run in runs:
        gap, near = run.sweep.path_clearances
        header = track.header[run.elements]
        contour = np.where(near >= 0, wall.contour_of[near], -1)
        bounds = np.flatnonzero(np.diff(header, prepend=-2, append=-2))
        for begin, end in zip(bounds[:-1], bounds[1:], strict=True):
            if header[begin] == NO_CUT:
                continue
            cut = timeline.headers[header[begin]]
            k = position.get(cut.contour_id)
            if k is None:
                continue
            own = np.where(contour[begin:end] == k, gap[begin:end], np.inf)
            weight = run.sweep.path.length[begin:end]
            kept = _usual_distance(wall, run, begin, own, weight)
            if abs(kept - cut.offset_mm) > tolerance:
                findings.append(
                    _finding(
                        "offset-mismatch",
                        f"the header states an offset of {cut.offset_mm:.4f} mm but the wire "
                        f"keeps {kept:.4f} mm from the wall",
                        wall,
                        k,
                        run.number,
                        None,
                        line=cut.line,
                        remedy="make header, offset table and path agree",
                        stated_mm=cut.offset_mm,
                        measured_mm=kept,
                    )
                )
                continue
            short = cut.offset_mm - own
            element = begin + int(np.argmax(short))
            if short.max() > max(tolerance, SEEN_MM) and gap[element] > run.radius_mm - tolerance:
                findings.append(
                    _finding(
                        "stock-taken",
                        f"pass {run.number} comes {short.max() * UM_PER_MM:.1f} µm nearer to the "
                        "wall than its header states: stock that later passes need is gone",
                        wall,
                        k,
                        run.number,
                        _wall_place(wall, run, element),
                        line=int(track.line[run.elements[element]]),
                        remedy="correct the path of this pass",
                        depth_um=float(short.max() * UM_PER_MM),
                    )
                )
    return findings


def _usual_distance(wall: Wall, run: PassRun, begin: int, own: Floats, weight: Floats) -> float:
    """Return the median distance from the wall, weighted by length."""
    known = np.isfinite(own)
    if weight[known].sum() * 2 < weight.sum():
        which = np.arange(begin, begin + len(own))
        middle = run.sweep.path.points_at(which, np.full(len(own), 0.5))
        own, _ = wall.signed_distances(middle)
        known = np.ones(len(own), dtype=bool)
    order = np.argsort(own[known])
    total = np.cumsum(weight[known][order])
    return float(own[known][order][np.searchsorted(total, total[-1] / 2)])


def base_spots(wall: Wall) -> Spots:
    """Return the starts and middles of all wall segments."""
    n = len(wall.segments)
    index = np.concatenate([np.arange(n), np.arange(n)])
    fraction = np.repeat([0.0, 0.5], n)
    points = wall.segments.points_at(index, fraction)
    return Spots(index=index, fraction=fraction, points_mm=points)


def further_spots(wall: Wall, sweep: PassSweep, threshold_mm: float) -> Spots:
    """Return the further points at which the distance to a pass may be largest."""
    index, fraction = sweep.further_stations(threshold_mm)
    points = wall.segments.points_at(index, fraction)
    return Spots(index=index, fraction=fraction, points_mm=points)


def _joined(spots: list[Spots]) -> Spots:
    return Spots(
        index=np.concatenate([s.index for s in spots]),
        fraction=np.concatenate([s.fraction for s in spots]),
        points_mm=np.concatenate([s.points_mm for s in spots]),
    )


def _finishing(runs: tuple[PassRun, ...], tolerance: float) -> list[PassRun]:
    """Return the passes that state to cut to the wall; failing any, the last."""
    named = [r for r in runs if r.number > 0]
    found = [
        r for r in named if np.nanmin(np.append(r.offset_mm, np.inf)) <= r.radius_mm + tolerance
    ]
    return found or named[-1:]


def _stock_left(
    wall: Wall, runs: tuple[PassRun, ...], tolerance: float
) -> tuple[Spots, Floats, Indices]:
    """Return wall points, the least stock left over the passes, and the pass that left it."""
    base = base_spots(wall)
    finishing = _finishing(runs, tolerance)
    spots = _joined(
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
            rows = np.flatnonzero(stock > tolerance)
            known = run.sweep.distances(spots.index[rows], spots.points_mm[rows])
            _lower(stock, pass_of, rows, known - run.radius_mm, place)
    return spots, stock, pass_of


def _lower(stock: Floats, pass_of: Indices, rows: Indices, value: Floats, place: int) -> None:
    better = value < stock[rows]
    stock[rows[better]] = value[better]
    pass_of[rows[better]] = place


def _judge(
    wall: Wall,
    claim: Claim,
    runs: tuple[PassRun, ...],
    spots: Spots,
    stock: Floats,
    pass_of: Indices,
    worst: _Worst,
) -> tuple[Flags, tuple[Unreachable, ...], list[Finding]]:
    """Tell stock that the wire cannot reach from stock that it should have cut."""
    tolerance = claim.tolerance_um / UM_PER_MM
    forced = np.zeros(len(spots), dtype=bool)
    wanted = np.array([part.id in claim.cut_ids for part in wall.contours])
    open_rows = np.flatnonzero((stock > tolerance) & wanted[wall.contour_of[spots.index]])
    unreachable: list[Unreachable] = []
    for place in sorted({runs.index(r) for r in _finishing(runs, tolerance)}):
        run = runs[place]
        pockets = find_pockets(
            wall,
            run.sweep,
            index=spots.index[open_rows],
            fraction=spots.fraction[open_rows],
            radius_mm=np.full(len(open_rows), run.radius_mm),
            tolerance_mm=tolerance,
        )
        _lower(stock, pass_of, open_rows, pockets.distance_mm - run.radius_mm, place)
        hit = np.flatnonzero(pockets.is_forced)
        forced[open_rows[hit]] = True
        unreachable += _pocket_list(
            wall,
            spots,
            open_rows[hit],
            pockets.distance_mm[hit] - run.radius_mm,
            pockets.before_mm[hit],
            pockets.after_mm[hit],
        )
        open_rows = open_rows[~pockets.is_forced]
    for place, run in enumerate(runs):
        exact, _ = run.sweep.index.query(spots.points_mm[open_rows])
        _lower(stock, pass_of, open_rows, exact - run.radius_mm, place)
    findings = _uncut(wall, claim, spots, stock, open_rows[stock[open_rows] > tolerance])
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
    for k in np.unique(contour):
        mine = rows[contour == k]
        row = mine[np.argmax(stock[mine])]
        findings.append(
            _finding(
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


def _pass_by_pass(
    wall: Wall, claim: Claim, runs: tuple[PassRun, ...], tolerance: float
) -> list[Finding]:
    """Check that every pass keeps its stated offset all along each contour."""
    findings: list[Finding] = []
    last = max(claim.kerf_radius_mm)
    for run in runs:
        if not np.isfinite(run.offset_mm).any():
            continue
        smallest = float(np.nanmin(run.offset_mm))
        spots = _joined([base_spots(wall), further_spots(wall, run.sweep, smallest + SEEN_MM)])
        n = 2 * len(wall.segments)
        known = np.concatenate(
            [
                run.sweep.start_distances,
                run.sweep.middle_distances,
                run.sweep.distances(spots.index[n:], spots.points_mm[n:]),
            ]
        )
        offset = run.offset_mm[wall.contour_of[spots.index]]
        off = np.flatnonzero(known - offset > tolerance)
        if not len(off):
            continue
        pockets = find_pockets(
            wall,
            run.sweep,
            index=spots.index[off],
            fraction=spots.fraction[off],
            radius_mm=offset[off],
            tolerance_mm=tolerance,
        )
        excess = np.where(pockets.is_forced, 0.0, pockets.distance_mm - offset[off])
        excess[excess <= tolerance] = 0.0
        full = np.zeros(len(spots))
        full[off] = excess
        findings += _stretches(wall, run, spots, full, is_last=run.number == last)
    return findings


def _stretches(
    wall: Wall, run: PassRun, spots: Spots, excess: Floats, *, is_last: bool
) -> list[Finding]:
    """Gather places where a pass is too far from the wall, and name the worst of each kind."""
    findings: list[Finding] = []
    station = wall.stations_at(spots.index, spots.fraction)
    contour = wall.contour_of[spots.index]
    for k in np.unique(contour[excess > 0]):
        rows = np.flatnonzero(contour == k)
        rows = rows[np.argsort(station[rows], kind="stable")]
        # Begin at a place that is well, so that no stretch runs over the seam.
        well = np.flatnonzero(excess[rows] == 0)
        rows = np.roll(rows, -int(well[0])) if len(well) else rows
        group = np.cumsum(excess[rows] == 0)
        most = np.zeros(group[-1] + 1)
        np.maximum.at(most, group, excess[rows])
        skipped = most > run.radius_mm * _SKIPPED_SHARE
        for kind in (False, True):
            mine = rows[(excess[rows] > 0) & (skipped[group] == kind)]
            if len(mine):
                findings.append(_off_finding(wall, run, int(k), spots, mine, excess, kind, is_last))
    return findings


def _off_finding(
    wall: Wall,
    run: PassRun,
    contour: int,
    spots: Spots,
    rows: Indices,
    excess: Floats,
    skipped: bool,
    is_last: bool,
) -> Finding:
    row = rows[np.argmax(excess[rows])]
    if skipped:
        tail = "; there the finish is that of another pass" if is_last else ""
        return _finding(
            "pass-skips-wall",
            f"pass {run.number} leaves out a stretch of contour {wall.contours[contour].id}{tail}",
            wall,
            contour,
            run.number,
            spots.points_mm[row],
            severity=Severity.WARNING,
            remedy="look whether this stretch may keep the finish of another pass",
            excess_um=float(excess[row] * UM_PER_MM),
        )
    return _finding(
        "off-path",
        f"pass {run.number} runs {excess[row] * UM_PER_MM:.1f} µm farther from the wall than its "
        "header states",
        wall,
        contour,
        run.number,
        spots.points_mm[row],
        remedy="correct the path of this pass",
        excess_um=float(excess[row] * UM_PER_MM),
    )


def _means(wall: Wall, spots: Spots, stock: Floats, forced: Flags, tolerance: float) -> Floats:
    """Return the mean deviation of each contour over reachable wall, weighted by length."""
    n = 2 * len(wall.segments)
    index = spots.index[:n]
    good = np.isfinite(stock[:n]) & ~forced[:n]
    del tolerance
    weight = np.where(good, wall.segments.length[index], 0.0)
    value = np.where(good, stock[:n], 0.0)
    contour = wall.contour_of[index]
    total = np.bincount(contour, weight * value, minlength=len(wall.contours))
    whole = np.bincount(contour, weight, minlength=len(wall.contours))
    result: Floats = total / np.maximum(whole, 1e-300)
    return result


def _finding(
    code: str,
    message: str,
    wall: Wall,
    contour: int,
    pass_number: int | None,
    place: Floats | None,
    *,
    line: int | None = None,
    severity: Severity = Severity.REFUSAL,
    remedy: str = "",
    **data: float,
) -> Finding:
    return Finding(
        code=code,
        severity=severity,
        message=message,
        where=Place(
            contour_id=wall.contours[contour].id,
            x_mm=None if place is None else float(place[0]),
            y_mm=None if place is None else float(place[1]),
            line=line,
            pass_number=pass_number or None,
        ),
        remedy=remedy,
        data=data,
    )
