"""Holes on paper: from above, and from the front where some lean; order as a thin line."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from kerfwright.adapters.svg import ink, style, views
from kerfwright.adapters.svg.labels import Label, LabelGrid
from kerfwright.geometry.segments import Floats
from kerfwright.planning.hole_plan import HolePlan, PlannedHole

_WAY = ink.Stroke(colour=style.SKY, width_mm=0.12)
_AXIS = ink.Stroke(colour=style.VERMILLION, width_mm=0.25)
_LEAST_MM: Final = 0.35
"""Radius of the smallest mark."""
_UPRIGHT: Final = 1e-9
_NUMBERED: Final = 150
"""With more holes than this, numbers stand at the first and last of each tube only."""
_GAP_MM: Final = 6.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """Room on paper."""

    left_mm: float
    top_mm: float
    width_mm: float
    height_mm: float


def leans(plan: HolePlan) -> bool:
    """Return whether some hole is not upright in the drawing."""
    return any(abs(p.hole.into[2] + 1) > _UPRIGHT for p in plan.holes)


def hole_pictures(plan: HolePlan, window: Window) -> tuple[list[str], int]:
    """Return the picture of the holes and how many labels found no room.

    Parameters
    ----------
    plan : HolePlan
    window : Window
    """
    if not plan.holes:
        return [], 0
    planes: tuple[tuple[tuple[int, int], str], ...] = (((0, 1), "from above: X, Y"),)
    if leans(plan):
        planes += (((0, 2), "from the front: X, Z"), ((1, 2), "from the right: Y, Z"))
    body: list[str] = []
    left_out = 0
    for place, (axes, name) in zip(_windows(window, len(planes)), planes, strict=True):
        elements, missed = _one(plan, place, axes, name)
        body += elements
        left_out += missed
    return body, left_out


def _windows(window: Window, count: int) -> list[Window]:
    if count == 1:
        return [window]
    half = (window.height_mm - _GAP_MM) / 2
    wide = (window.width_mm - _GAP_MM) / 2
    below = window.top_mm + half + _GAP_MM
    return [
        Window(
            left_mm=window.left_mm, top_mm=window.top_mm, width_mm=window.width_mm, height_mm=half
        ),
        Window(left_mm=window.left_mm, top_mm=below, width_mm=wide, height_mm=half),
        Window(
            left_mm=window.left_mm + wide + _GAP_MM, top_mm=below, width_mm=wide, height_mm=half
        ),
    ]


def _one(plan: HolePlan, window: Window, axes: tuple[int, int], name: str) -> tuple[list[str], int]:
    mouths = np.array([p.hole.mouth_mm for p in plan.holes])[:, axes]
    into = np.array([p.hole.into for p in plan.holes])[:, axes]
    depths = np.array([p.hole.depth_mm for p in plan.holes])
    ends = mouths + into * depths[:, None]
    every = np.vstack([mouths, ends])
    low, high = every.min(axis=0), every.max(axis=0)
    view = ink.View.fit(
        (float(low[0]), float(low[1]), float(high[0]), float(high[1])),
        left_mm=window.left_mm, top_mm=window.top_mm, width_mm=window.width_mm,
        height_mm=window.height_mm, margin_mm=8.0,
    )  # fmt: skip
    grid = LabelGrid(
        left_mm=window.left_mm, top_mm=window.top_mm, width_mm=window.width_mm,
        height_mm=window.height_mm,
    )  # fmt: skip
    at, to = view.points(mouths), view.points(ends)
    body = [_way(at)]
    body += [
        ink.line(a[0], a[1], b[0], b[1], _AXIS)
        for a, b in zip(at.tolist(), to.tolist(), strict=True)
        if np.hypot(b[0] - a[0], b[1] - a[1]) > _LEAST_MM
    ]
    for (x, y), hole in zip(at.tolist(), plan.holes, strict=True):
        radius = max(hole.hole.diameter_mm * view.scale / 2, _LEAST_MM)
        body.append(ink.disc(x, y, radius, style.START, fill=style.WHITE))
        views.take_disc(grid, x, y, radius)
    if axes == (0, 1):
        body += views.zero_mark(view, grid)
    body += [grid.place(label) for label in _labels(plan.holes, at.tolist())]
    body.append(ink.words(window.left_mm + 1, window.top_mm + 2.6, name, size=2.3, fill=style.GREY))
    return body, grid.left_out


def _way(at: Floats) -> str:
    """Return the order of drilling as one line."""
    places = [f"{x:.2f} {y:.2f}" for x, y in at.tolist()]
    return f'<path d="M{"L".join(places)}" {_WAY.attributes()}/>'


def _labels(holes: Sequence[PlannedHole], at: list[list[float]]) -> list[Label]:
    few = len(holes) <= _NUMBERED
    found = []
    for index, (hole, (x, y)) in enumerate(zip(holes, at, strict=True)):
        is_end = index in {0, len(holes) - 1} or (
            hole.electrode.tube != holes[index - 1].electrode.tube
        )
        if few or is_end:
            found.append(
                Label(
                    text=str(hole.number), x_mm=x, y_mm=y, clear_mm=0.9,
                    size_mm=2.4 if is_end else 2.0, weight="bold" if is_end else "normal",
                )
            )  # fmt: skip
    return found
