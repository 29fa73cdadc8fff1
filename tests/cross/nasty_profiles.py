"""Profiles that are hard to offset, from a seed, and their polygons for other libraries."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from kerfwright.geometry.contour import Contour

Points = NDArray[np.float64]


def flattened(contour: Contour, chord_error_mm: float) -> Points:
    """Return points on the contour whose polygon leaves it by at most the chord error."""
    s = contour.segments
    count = np.ones(len(s), dtype=int)
    arcs = s.is_arc
    step = 2 * np.arccos(
        np.maximum(1 - chord_error_mm / np.maximum(s.radius[arcs], 1e-9), math.cos(math.pi / 8))
    )
    count[arcs] = np.maximum(1, np.ceil(np.abs(s.sweep[arcs]) / step)).astype(int)
    index = np.repeat(np.arange(len(s)), count)
    within = np.arange(len(index)) - np.repeat(np.cumsum(count) - count, count)
    return s.points_at(index, within / count[index])


def rounded(corners: Points, radii: Sequence[float] | Points) -> Contour:
    """Return a polygon with fillets; a radius of 0 leaves the corner sharp."""
    rows: list[tuple[float, float, float]] = []
    n = len(corners)
    for k in range(n):
        here = corners[k]
        back, onward = corners[k - 1] - here, corners[(k + 1) % n] - here
        size_back, size_onward = math.hypot(*back), math.hypot(*onward)
        back, onward = back / size_back, onward / size_onward
        turned = back[0] * onward[1] - back[1] * onward[0]
        inner = math.atan2(abs(turned), float(back @ onward))
        if radii[k] <= 0 or inner > math.pi - 1e-6:
            rows.append((*here, 0.0))
            continue
        trim = min(radii[k] / math.tan(inner / 2), 0.49 * size_back, 0.49 * size_onward)
        sign = 1.0 if turned < 0 else -1.0
        rows.append((*(here + back * trim), sign * math.tan((math.pi - inner) / 4)))
        rows.append((*(here + onward * trim), 0.0))
    return Contour.from_rows(rows)


def arcs_through(points: Points, tangents: Points, *, is_closed: bool = True) -> Points:
    """Return vertices of two tangent arcs between each point and the next."""
    after, heading = np.roll(points, -1, axis=0), np.roll(tangents, -1, axis=0)
    chord, both = after - points, tangents + heading
    chord_on_both = (chord * both).sum(axis=1)
    squared = (chord * chord).sum(axis=1)
    lack = 2 * (1 - (tangents * heading).sum(axis=1))
    with np.errstate(divide="ignore", invalid="ignore"):
        reach = np.where(
            lack > 1e-12,
            (-chord_on_both + np.sqrt(chord_on_both**2 + lack * squared)) / lack,
            squared / (2 * chord_on_both),
        )
    joint = (points + tangents * reach[:, None] + after - heading * reach[:, None]) / 2

    def bulge(start: Points, tangent: Points, end: Points) -> Points:
        way = end - start
        turn = np.arctan2(
            tangent[:, 0] * way[:, 1] - tangent[:, 1] * way[:, 0], (tangent * way).sum(axis=1)
        )
        return np.tan(turn / 2)

    rows = np.empty((2 * len(points), 3))
    rows[0::2, :2], rows[1::2, :2] = points, joint
    rows[0::2, 2], rows[1::2, 2] = bulge(points, tangents, joint), -bulge(after, -heading, joint)
    return rows if is_closed else rows[:-2]


def polar(radius: Points, slope: Points, angle: Points) -> tuple[Points, Points]:
    """Return points and unit tangents of a curve r(angle) with dr/dangle = slope."""
    cos, sin = np.cos(angle), np.sin(angle)
    points = np.stack([radius * cos, radius * sin], axis=1)
    tangents = np.stack([slope * cos - radius * sin, slope * sin + radius * cos], axis=1)
    return points, tangents / np.hypot(tangents[:, 0], tangents[:, 1])[:, None]


def wavy(count: int, *, radius: float, waves: int, height: float) -> Contour:
    """Return a wavy ring of `count` arcs; where waves are steep the offset swallows them."""
    angle = 2 * math.pi * np.arange(count // 2) / (count // 2)
    points, tangents = polar(
        radius + height * np.cos(waves * angle), -height * waves * np.sin(waves * angle), angle
    )
    return Contour(arcs_through(points, tangents))


def toothed(teeth: int, *, tip: float, root: float) -> Contour:
    """Return a ring of square teeth with fillets, a line and an arc in turn."""
    inner = max(teeth * 2.4 / (2 * math.pi), 1.5)
    corners, radii = [], []
    for k in range(teeth):
        for at, height, fillet in ((0.05, 0, root), (0.2, 1, tip), (0.55, 1, tip), (0.7, 0, root)):
            angle = 2 * math.pi * (k + at) / teeth
            corners.append(((inner + height) * math.cos(angle), (inner + height) * math.sin(angle)))
            radii.append(fillet)
    return rounded(np.array(corners), radii)


def spiral(turns: float, *, width: float, gap: float) -> Contour:
    """Return a spiral band as a closed contour."""
    angle = np.linspace(0, 2 * math.pi * turns, int(60 * turns) + 1)
    pitch = width + gap
    inner = 2.0 + pitch * angle / (2 * math.pi)
    slope = np.full(len(angle), pitch / (2 * math.pi))
    out_points, out_tangents = polar(inner + width, slope, angle)
    in_points, in_tangents = polar(inner, slope, angle)
    there = arcs_through(out_points, out_tangents, is_closed=False)
    back = arcs_through(in_points[::-1], -in_tangents[::-1], is_closed=False)
    ends = np.append(out_points[-1], 0.0), np.append(in_points[0], 0.0)
    return Contour(np.vstack([there, ends[0], back, ends[1]]))


def gear(teeth: int, *, module: float, steps: int) -> Contour:
    """Return a spur gear with involute flanks of tangent arcs and sharp roots."""
    pitch_radius = teeth * module / 2
    base = pitch_radius * math.cos(math.radians(20))
    tip, root = pitch_radius + module, pitch_radius - 1.25 * module
    inv_20 = math.tan(math.radians(20)) - math.radians(20)
    half = math.pi / (2 * teeth) + inv_20
    begin = math.sqrt(max(0.0, (max(base, root + 0.05) / base) ** 2 - 1)) + 1e-6
    roll = np.linspace(begin, math.sqrt((tip / base) ** 2 - 1), steps + 1)
    flank = base * np.stack(
        [np.cos(roll) + roll * np.sin(roll), np.sin(roll) - roll * np.cos(roll)], axis=1
    )
    along = np.stack([np.cos(roll), np.sin(roll)], axis=1)
    mirror = np.array([1.0, -1.0])
    rows: list[Points] = []
    for k in range(teeth):
        centre = 2 * math.pi * k / teeth

        def turned(points: Points, angle: float) -> Points:
            cos, sin = math.cos(angle), math.sin(angle)
            return points @ np.array([[cos, sin], [-sin, cos]])

        up = turned(flank, centre - half)
        down = turned(flank * mirror, centre + half)[::-1]
        over = (math.atan2(down[0, 1], down[0, 0]) - math.atan2(up[-1, 1], up[-1, 0])) % (
            2 * math.pi
        )
        under = 2 * math.pi / teeth - 2 * half
        rows += [
            np.array([[root * math.cos(centre - half), root * math.sin(centre - half), 0.0]]),
            arcs_through(up, turned(along, centre - half), is_closed=False),
            np.array([[*up[-1], math.tan(over / 4)]]),
            arcs_through(down, -turned(along * mirror, centre + half)[::-1], is_closed=False),
            np.array([[*down[-1], 0.0]]),
            np.array(
                [
                    [
                        root * math.cos(centre + half),
                        root * math.sin(centre + half),
                        math.tan(under / 4),
                    ]
                ]
            ),
        ]
    return Contour(np.vstack(rows))


def _random_star(rng: np.random.Generator) -> Contour:
    count = int(rng.integers(4, 60))
    angle = np.sort(rng.uniform(0, 2 * math.pi, count))
    angle = angle[np.append(True, np.diff(angle) > 1e-3)]
    if len(angle) < 4 or np.diff(np.append(angle, angle[0] + 2 * math.pi)).max() > 3.0:
        angle = np.linspace(0, 2 * math.pi, 8)[:-1]
    radius = rng.uniform(2, 10) * (1 + rng.uniform(0, rng.choice([0.06, 0.6]), len(angle)))
    corners = np.stack([radius * np.cos(angle), radius * np.sin(angle)], axis=1)
    if rng.random() < 0.6:
        return rounded(corners, rng.choice([0, 0.02, 0.05, 0.1, 0.15, 0.2, 0.5], len(angle)))
    return rounded(corners, rng.uniform(0, 0.4, len(angle)))


def random_profile(seed: int) -> tuple[Contour, float]:
    """Return a contour and an offset distance; roughly a third have noise or rounded digits."""
    rng = np.random.default_rng(seed)
    kind = seed % 7
    if kind < 3:
        contour = _random_star(rng)
    elif kind == 3:
        contour = toothed(
            int(rng.integers(3, 30)), tip=rng.uniform(0.02, 0.3), root=rng.uniform(0.02, 0.3)
        )
    elif kind == 4:
        contour = wavy(
            2 * int(rng.integers(10, 800)),
            radius=rng.uniform(5, 30),
            waves=int(rng.integers(3, 40)),
            height=rng.uniform(0.05, 1.5),
        )
    elif kind == 5:
        contour = gear(
            int(rng.integers(12, 40)), module=rng.uniform(0.3, 2), steps=int(rng.integers(2, 20))
        )
    else:
        contour = spiral(rng.uniform(1.5, 5), width=rng.uniform(0.25, 1), gap=rng.uniform(0.2, 1))
    contour = contour.transformed(
        turn_rad=rng.uniform(0, 6), shift_mm=(rng.uniform(-50, 50), rng.uniform(-50, 50))
    )
    vertices = contour.vertices.copy()
    noise = rng.choice([0, 0, 0, 1e-9, 1e-7, 1e-6, 1e-5, 1e-4, 5e-4])
    vertices[:, :2] += rng.uniform(-noise, noise, (len(vertices), 2))
    if rng.random() < 0.4:
        vertices[:, :2] = np.round(vertices[:, :2], int(rng.choice([3, 4, 6])))
    step = np.roll(vertices[:, :2], -1, axis=0) - vertices[:, :2]
    vertices = vertices[np.hypot(step[:, 0], step[:, 1]) > 0]
    distance = float(rng.choice([0.05, 0.1, 0.125, 0.15, 0.2, 0.25])) * rng.choice([1, -1])
    return Contour(vertices), distance


def _slot_mouth(width: float) -> Contour:
    return Contour.from_rows(
        [
            (0, 0),
            (10, 0),
            (10, 5),
            (6, 5),
            (6, 1),
            (6 - width, 1),
            (6 - width, 5),
            (0, 5),
        ]
    )


def _bell(neck: float) -> Contour:
    low, high = 2 - neck / 2, 2 + neck / 2
    rows = [(0, 0), (4, 0), (4, low), (8, low), (8, 0), (12, 0), (12, 4), (8, 4)]
    return Contour.from_rows([*rows, (8, high), (4, high), (4, 4), (0, 4)])


def _almost_closed() -> dict[str, tuple[Contour, tuple[float, ...]]]:
    """Return necks and mouths within a hair of twice the distance."""
    both = (0.15, -0.15)
    return {
        **{
            f"neck of 0.3 {extra:+.0e}": (_bell(0.3 + extra), both)
            for extra in (1e-6, -1e-6, 1e-5, -1e-5, 1e-4, -1e-4)
        },
        **{
            f"mouth of 0.3 {extra:+.0e}": (_slot_mouth(0.3 + extra), both)
            for extra in (0, 1e-7, -1e-7, 1e-5, -1e-5, 1e-4, -1e-4)
        },
    }


def named_profiles() -> dict[str, tuple[Contour, tuple[float, ...]]]:
    """Return hand-made profiles with the distances that are nasty for them."""
    rows = Contour.from_rows
    reflex = np.array([(0, 0), (10, 0), (10, 4), (4, 4), (4, 10), (0, 10)], dtype=float)
    zigzag = [(0.3 * k, 0.35 * (k % 2)) for k in range(40)]
    dense = [(float(x), 0.0) for x in np.linspace(0, 10, 1001)]
    both = (0.15, -0.15)
    return {
        "square": (rows([(0, 0), (10, 0), (10, 10), (0, 10)]), (*both, 4.9)),
        "reflex corner": (rows(reflex), (0.2, -0.2)),
        "stadium": (rows([(0, 0), (20, 0, 1), (20, 2), (0, 2, 1)]), (*both, 0.999)),
        "circle": (Contour.circle((1, 2), radius_mm=5), (*both, 4.99)),
        "fillets below the distance": (rounded(reflex, [0.02] * 6), (*both, 0.02, -0.02)),
        "fillets equal to the distance": (rounded(reflex, [0.15] * 6), both),
        "bump in a wall": (
            rows([(-5, -3), (5, -3), (5, 3), (0.9, 3, -0.9), (-0.9, 3), (-5, 3)]),
            (0.2, -0.2),
        ),
        "two bumps that meet": (
            rows(
                [
                    (-5, -1),
                    (-0.9, -1, -0.95),
                    (0.9, -1),
                    (5, -1),
                    (5, 1),
                    (0.9, 1, -0.95),
                    (-0.9, 1),
                    (-5, 1),
                ]
            ),
            (0.1, 0.05, -0.2),
        ),
        "keyhole": (
            rows(
                [
                    (0, 0),
                    (4.95, 0),
                    (4.95, 2),
                    (4.7, 2.05, -4.5),
                    (5.3, 2.05),
                    (5.05, 2),
                    (5.05, 0),
                    (10, 0),
                    (10, 8),
                    (0, 8),
                ]
            ),
            (0.1, -0.04, -0.06, -0.1),
        ),
        "half circles that meet in a cusp": (
            rows([(0, 0), (10, 0), (10, 5, 1), (5, 5, 1), (0, 5)]),
            both,
        ),
        "radius of a kilometre": (rows([(0, 0, 1e-5), (100, 0), (100, 10), (0, 10)]), both),
        "half disc": (rows([(0, 0), (2, 0, 1)]), (*both, 0.5, -0.5)),
        "more than half a disc": (rows([(0, 0), (2, 0, 2.5)]), both),
        "lens": (rows([(0, 0, 0.4), (2, 0, 0.4)]), both),
        "crescent": (rows([(0, 0, 1), (2, 0, -0.5)]), both),
        "circle of a quarter and the rest": (
            rows([(1, 0, math.tan(math.pi / 8)), (0, 1, math.tan(3 * math.pi / 8))]),
            both,
        ),
        "vertices drawn twice": (
            rows([(0, 0), (0, 0), (5, 0), (5, 5), (5, 5), (0, 5), (0, 0)]),
            both,
        ),
        "needle": (
            rows([(0, 0), (5, 0), (5, 2), (9, 2.0005), (5, 2.001), (5, 4), (0, 4)]),
            both,
        ),
        "fine zigzag": (rows([*zigzag, (12, 5), (0, 5)]), (*both, 0.05, -0.05)),
        "dense straight": (rows([*dense, (10, 5), (0, 5)]), both),
        "swallowed waves": (wavy(4000, radius=20, waves=40, height=1.5), (*both, 0.25, -0.25)),
        "spiral": (spiral(6, width=0.8, gap=1.2), (*both, 0.39, -0.59)),
        "gear": (gear(30, module=1.0, steps=12), (*both, 0.25, -0.25)),
        **_almost_closed(),
    }
