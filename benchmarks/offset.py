"""Offsets of many segments in six passes, beside GEOS buffers in the same run.

GEOS gets polygons flattened beforehand at the same chord error; flattening is not counted.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable

import numpy as np
import shapely

from kerfwright.geometry.contour import Contour
from kerfwright.geometry.offset import offset_passes
from kerfwright.geometry.regions import flattened

CHORD_ERROR_MM = 1e-4
PASSES_MM = (0.2, 0.18, 0.165, 0.155, 0.152, 0.15)
SIZES = (100, 1_000, 10_000, 50_000)


def teeth(count: int) -> Contour:
    """Return a ring of rounded teeth: eight segments each, a line and a fillet in turn."""
    number = max(4, count // 8)
    ring = number * 2.4 / (2 * math.pi)
    share = np.array([0.05, 0.2, 0.55, 0.7])
    height = np.array([0.0, 1.0, 1.0, 0.0])
    fillet = np.tile([0.25, 0.3, 0.3, 0.25], number)
    angle = (2 * math.pi * (np.arange(number)[:, None] + share) / number).ravel()
    radius = ring + np.tile(height, number)
    corner = np.column_stack([radius * np.cos(angle), radius * np.sin(angle)])
    back = np.roll(corner, 1, axis=0) - corner
    onward = np.roll(corner, -1, axis=0) - corner
    back /= np.hypot(*back.T)[:, None]
    onward /= np.hypot(*onward.T)[:, None]
    turned = back[:, 0] * onward[:, 1] - back[:, 1] * onward[:, 0]
    inner = np.arctan2(np.abs(turned), (back * onward).sum(axis=1))
    trim = (fillet / np.tan(inner / 2))[:, None]
    rows = np.zeros((2 * len(corner), 3))
    rows[0::2, :2] = corner + back * trim
    rows[1::2, :2] = corner + onward * trim
    rows[0::2, 2] = -np.sign(turned) * np.tan((math.pi - inner) / 4)
    return Contour(rows)


def wavy(count: int) -> Contour:
    """Return a wavy ring of tangent arcs, 24 waves of 6 mm on a radius of 50 mm.

    Each pair of arcs joins two points of the curve along its tangents.
    """
    angle = 2 * math.pi * np.arange(count // 2) / (count // 2)
    radius, slope = 50 + 3 * np.cos(24 * angle), -72 * np.sin(24 * angle)
    cos, sin = np.cos(angle), np.sin(angle)
    point = np.column_stack([radius * cos, radius * sin])
    tangent = np.column_stack([slope * cos - radius * sin, slope * sin + radius * cos])
    tangent /= np.hypot(*tangent.T)[:, None]
    after, heading = np.roll(point, -1, axis=0), np.roll(tangent, -1, axis=0)
    chord, both = after - point, tangent + heading
    along, size = (chord * both).sum(axis=1), (chord * chord).sum(axis=1)
    lack = 2 * (1 - (tangent * heading).sum(axis=1))
    # The root of lack a² + 2 along a = size that stays finite as the tangents agree.
    reach = (size / (along + np.sqrt(along**2 + lack * size)))[:, None]
    joint = (point + tangent * reach + after - heading * reach) / 2

    def bulge(start: np.ndarray, direction: np.ndarray, end: np.ndarray) -> np.ndarray:
        way = end - start
        turn = direction[:, 0] * way[:, 1] - direction[:, 1] * way[:, 0]
        return np.tan(np.arctan2(turn, (direction * way).sum(axis=1)) / 2)

    rows = np.empty((2 * len(point), 3))
    rows[0::2, :2], rows[1::2, :2] = point, joint
    rows[0::2, 2] = bulge(point, tangent, joint)
    rows[1::2, 2] = -bulge(after, -heading, joint)
    return Contour(rows)


def _best_cpu_s(work: Callable[[], object], repeats: int) -> float:
    best = math.inf
    for _ in range(repeats):
        begin = time.process_time()
        work()
        best = min(best, time.process_time() - begin)
    return best


def _ours(contour: Contour) -> Callable[[], object]:
    # A fresh contour each time: derived segments are part of the work.
    return lambda: offset_passes(Contour(contour.vertices), distances_mm=PASSES_MM)


def _geos(polygon: shapely.Polygon) -> Callable[[], object]:
    def work() -> None:
        for distance in PASSES_MM:
            step = 2 * math.acos(1 - CHORD_ERROR_MM / distance)
            shapely.buffer(polygon, -distance, quad_segs=math.ceil(math.pi / 2 / step))

    return work


def rows() -> list[dict[str, float | str]]:
    """Return one row for each profile and size, CPU seconds of the best of three."""
    result: list[dict[str, float | str]] = []
    for make in (teeth, wavy):
        for size in SIZES:
            contour = make(size)
            begin = time.process_time()
            points = flattened(contour, chord_error_mm=CHORD_ERROR_MM)
            polygon = shapely.Polygon(points)
            flattening = time.process_time() - begin
            repeats = 3 if size <= 10_000 else 2
            ours = _best_cpu_s(_ours(contour), repeats)
            peer = _best_cpu_s(_geos(polygon), repeats)
            result.append(
                {
                    "name": f"offset {make.__name__}, {len(contour)} segments, 6 passes",
                    "ours_s": ours,
                    "peer_s": peer,
                    "ratio": peer / ours,
                    "note": f"GEOS at 0.1 µm chord error on {len(points)} points;"
                    f" flattening them took {flattening * 1e3:.1f} ms more",
                }
            )
    return result


if __name__ == "__main__":
    for row in rows():
        print(
            f"{row['name']:45s} {float(row['ours_s']) * 1e3:8.1f} ms"
            f" {float(row['peer_s']) * 1e3:8.1f} ms  {float(row['ratio']):5.2f}x  {row['note']}"
        )
