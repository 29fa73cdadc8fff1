"""Pictures of the papers: the part, the set-up and the holes, as SVG in millimetres of paper."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from kerfwright.adapters.papers.words import Units
from kerfwright.adapters.svg import ink, style, views
from kerfwright.adapters.svg.labels import Label, LabelGrid
from kerfwright.app.papers.set_up import Box
from kerfwright.geometry.contour import Contour
from kerfwright.geometry.regions import contains_points
from kerfwright.planning.plan import ContourPlan, Plan, StartKind
from kerfwright.trade.part import Part, Role

_ENLARGED: Final = (50.0, 20.0, 10.0, 5.0, 4.0, 3.0, 2.0, 1.5, 1.0)
_REDUCED: Final = (1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 7.5, 10.0, 15.0, 20.0, 50.0, 100.0)
_SCALES: Final = (*_ENLARGED, *(1 / step for step in _REDUCED))
"""Scales of technical drawings (1, 2, 5 and their tenfolds: ISO 5455, from memory) and steps
between them: by those alone a plate of 250 mm would be 50 mm on paper."""
_TRUE_FROM_MM: Final = 45.0
"""A part of at least this on paper is drawn in true size where it fits: it can be laid on."""
_DIMENSION_MM: Final = 10.0
"""Room on the left and below for the dimensioned extent."""
_MARGIN_MM: Final = 4.0
_CROWD: Final = 30
"""With more contours than this the labels of starts stand alone: the chart says what each cuts."""
_BESIDE_MM: Final = 3.6
"""Lines nearer than this to each other would run through words that stand at one of them."""
_NEAR_MM: Final = 2.5
"""In a crowd a number further off its start would be read as the next one's."""
_FACING: Final = 0.35
"""A number inside an opening stands so far beyond its middle, as a part of the way from the start:
the mark of the start and the tab are at the other side."""
_DIMENSION = ink.Stroke(colour=style.BLACK, width_mm=0.13)
_CLEAR = ink.Stroke(colour=style.BLACK, width_mm=0.3, dash_mm=(3.0, 1.5))


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """A drawing ready to be placed.

    Attributes
    ----------
    svg : str
        A whole document of the given size.
    width_mm, height_mm : float
        On paper.
    scale : str
        ``"1:1"``, ``"1:2"`` …
    left_out : int
        Labels that found no room.
    caption : str
        What its numbers are, where that has to be said.
    """

    svg: str
    width_mm: float
    height_mm: float
    scale: str
    left_out: int
    caption: str = ""


def part_picture(
    part: Part, *, ids: frozenset[str], units: Units, width_mm: float, height_mm: float,
    with_names: bool,
) -> Picture:  # fmt: skip
    """Return the part alone with its extent: nothing of how it is cut.

    Parameters
    ----------
    part : Part
    ids : frozenset of str
        Contours that are cut; the others are dashed.
    units : Units
    width_mm, height_mm : float
        Most room on paper.
    with_names : bool
        Whether the names of the contours stand beside them.
    """
    shapes = [c.contour for c in part.contours] or list(part.construction)
    extent = _around([s.bounds_mm for s in shapes])
    view = _view(extent, width_mm=width_mm, height_mm=height_mm)
    grid = _grid(view)
    body = [_ground(part, None, view)]
    for target in part.contours:
        stroke = style.WALL if target.id in ids else style.STOCK
        body.append(ink.path(ink.outline(target.contour, view), stroke, name=target.id))
        grid.add_points(views.samples(target.contour, view))
    body += [ink.path(ink.outline(c, view), style.CONSTRUCTION) for c in part.construction]
    body += _extent(extent, view, units, grid)
    if with_names:
        body += [grid.place(label) for label in _contour_names(part, view, crowd=len(ids))]
    return _picture(view, body, grid)


def set_up_picture(
    plan: Plan, *, clear: Box, units: Units, width_mm: float, height_mm: float
) -> Picture:
    """Return stock, walls, tabs, starts with their names, zero point, and clamps or where is none.

    Parameters
    ----------
    plan : Plan
    clear : Box
        No clamp inside.
    units : Units
    width_mm, height_mm : float
        Most room on paper.
    """
    cut = [c.target.contour.bounds_mm for c in plan.contours]
    zones = plan.clamps.zones if plan.clamps else ()
    whole = [*cut, clear, *([plan.stock.bounds_mm] if plan.stock else [])]
    whole += [zone.bounds_mm for zone in zones]
    view = _view(_around(whole), width_mm=width_mm, height_mm=height_mm)
    grid = _grid(view)
    body = [_ground(plan.part, plan.stock, view)]
    body += _clamps(zones, view, grid)
    for contour in plan.contours:
        body.extend(views.tab_mark(contour, view, with_bars=True))
    for target in plan.part.contours:
        body.append(ink.path(ink.outline(target.contour, view), style.WALL, name=target.id))
        grid.add_points(views.samples(target.contour, view))
    if plan.stock is not None:
        body.append(ink.path(ink.outline(plan.stock, view), style.STOCK))
        grid.add_points(views.samples(plan.stock, view))
    # Where clamps are known they are what is kept clear of; the box would lie over them.
    body += [] if zones else _clear_zone(clear, plan.stock, view, grid)
    body += _starts(plan, view, grid)
    body += views.zero_mark(view, grid)
    body += _extent(_around(cut), view, units, grid)
    few = len(plan.contours) <= _CROWD
    body += [grid.place(label) for label in _start_names(plan, view, few=few)]
    if few:
        body += [grid.place(x) for x in _contour_names(plan.part, view, crowd=len(plan.contours))]
    first = start_number(plan.contours[0].start.id) if plan.contours else ""
    caption = "" if few else f"Numbers are those of the starts: {first} is S{first}."
    return _picture(view, body, grid, caption=caption)


def holes_picture(
    plan: Plan, *, numbers: dict[str, int], units: Units, width_mm: float, height_mm: float
) -> Picture:
    """Return the holes to drill, numbered, with the part thin behind them.

    Parameters
    ----------
    plan : Plan
    numbers : dict of str to int
        Number of each hole by the name of its start.
    units : Units
    width_mm, height_mm : float
        Most room on paper.
    """
    cut = [c.target.contour.bounds_mm for c in plan.contours]
    whole = [*cut, *([plan.stock.bounds_mm] if plan.stock else [])]
    view = _view(_around(whole), width_mm=width_mm, height_mm=height_mm)
    grid = _grid(view)
    body = [ink.path(ink.outline(c.contour, view), style.CONSTRUCTION) for c in plan.part.contours]
    if plan.stock is not None:
        body.append(ink.path(ink.outline(plan.stock, view), style.STOCK))
        grid.add_points(views.samples(plan.stock, view))
    shown = [c.start for c in plan.contours if c.start.id in numbers]
    for start in shown:
        body.append(views.start_mark(start, view))
        views.take_disc(grid, *view.point(start.x_mm, start.y_mm), 1.1)
    body += views.zero_mark(view, grid)
    body += _extent(_around(cut), view, units, grid)
    size_mm = 3.2 if len(shown) <= _CROWD else 2.4
    for start in shown:
        x, y = view.point(start.x_mm, start.y_mm)
        label = Label(
            text=str(numbers[start.id]), x_mm=x, y_mm=y, clear_mm=1.6, size_mm=size_mm,
            weight="bold", near_mm=math.inf if len(shown) <= _CROWD else _NEAR_MM,
        )  # fmt: skip
        body.append(grid.place(label))
    return _picture(view, body, grid)


def scale_for(extent: Box, *, width_mm: float, height_mm: float) -> float:
    """Return the scale of a drawing: true size if that is large enough, else the largest usual.

    >>> scale_for((0, 0, 64, 64), width_mm=100, height_mm=90)
    1.0
    >>> scale_for((0, 0, 10, 5), width_mm=100, height_mm=90)
    10.0
    """
    wide, high = max(extent[2] - extent[0], 0.001), max(extent[3] - extent[1], 0.001)
    most = min(width_mm / wide, height_mm / high)
    if most >= 1 and max(wide, high) >= _TRUE_FROM_MM:
        return 1.0
    return next((s for s in _SCALES if s <= most), most)


def scale_words(scale: float) -> str:
    """Return a scale as drawings write it."""
    return f"{scale:g}:1" if scale >= 1 else f"1:{1 / scale:.4g}"


def _around(boxes: Sequence[Box]) -> Box:
    if not boxes:
        return 0.0, 0.0, 1.0, 1.0
    x0, y0, x1, y1 = zip(*boxes, strict=True)
    return min(x0), min(y0), max(x1), max(y1)


def _view(extent: Box, *, width_mm: float, height_mm: float) -> ink.View:
    """Return a view just large enough for an extent, its dimensions and labels around it."""
    x0, y0, x1, y1 = extent
    aside = _DIMENSION_MM + _MARGIN_MM
    scale = scale_for(extent, width_mm=width_mm - aside, height_mm=height_mm - aside)
    width, height = (x1 - x0) * scale + aside, (y1 - y0) * scale + aside
    # The room for dimensions is on the left and below: the middle moves by half of it.
    shift = (_DIMENSION_MM - _MARGIN_MM) / 2 / scale
    middle = ((x0 + x1) / 2 - shift, (y0 + y1) / 2 - shift)
    return ink.View(
        centre_mm=middle, left_mm=0.0, top_mm=0.0, width_mm=width, height_mm=height, scale=scale
    )


def _grid(view: ink.View) -> LabelGrid:
    return LabelGrid(left_mm=0.0, top_mm=0.0, width_mm=view.width_mm, height_mm=view.height_mm)


def _picture(view: ink.View, body: Iterable[str], grid: LabelGrid, *, caption: str = "") -> Picture:
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{view.width_mm:.3f}mm"'
        f' height="{view.height_mm:.3f}mm" viewBox="0 0 {view.width_mm:.3f} {view.height_mm:.3f}"'
        " font-family=\"'DejaVu Sans Mono'\">\n"
    )
    return Picture(
        svg=head + "\n".join(e for e in body if e) + "\n</svg>\n",
        width_mm=view.width_mm,
        height_mm=view.height_mm,
        scale=scale_words(view.scale),
        left_out=grid.left_out,
        caption=caption,
    )


def _ground(part: Part, stock: Contour | None, view: ink.View) -> str:
    """Fill what stays: the part, or the plate around openings where its outline is known."""
    outlines = [c.contour for c in part.contours if c.role is Role.OUTLINE]
    plate = stock or part.stock
    around = outlines or ([plate] if plate else [])
    if not around:
        return ""
    openings = [c.contour for c in part.contours if c.role is Role.OPENING]
    data = "".join(ink.outline(c, view) for c in (*around, *openings))
    return f'<path d="{data}" fill="{style.PALE}" fill-rule="evenodd"/>'


def _contour_names(part: Part, view: ink.View, *, crowd: int) -> Iterator[Label]:
    size_mm = 2.8 if crowd <= _CROWD else 2.1
    for target in part.contours:
        x0, y0, x1, y1 = target.contour.bounds_mm
        at = ((x0 + x1) / 2, (y0 + y1) / 2)
        if target.role is Role.OUTLINE:
            top = target.contour.vertices[target.contour.vertices[:, 1].argmax()]
            at = (float(top[0]), float(top[1]))
        x, y = view.point(*at)
        yield Label(text=target.id, x_mm=x, y_mm=y, size_mm=size_mm, weight="bold")


def _start_names(plan: Plan, view: ink.View, *, few: bool) -> Iterator[Label]:
    for contour in plan.contours:
        x, y = view.point(contour.start.x_mm, contour.start.y_mm)
        if few:
            yield Label(text=contour.start.id, x_mm=x, y_mm=y, clear_mm=1.5, size_mm=2.6)
        else:
            yield _within(contour, view) or Label(
                text=start_number(contour.start.id), x_mm=x, y_mm=y, clear_mm=1.5, size_mm=2.1,
                near_mm=_NEAR_MM,
            )  # fmt: skip


def start_number(start_id: str) -> str:
    """Return the bare number of a start, as it stands on a crowded picture.

    >>> start_number("S20")
    '20'
    """
    return start_id.lstrip("S")


def _within(contour: ContourPlan, view: ink.View) -> Label | None:
    """Return the number of a start inside the opening it cuts, where it is large enough."""
    target, start = contour.target, contour.start
    if target.role is not Role.OPENING:
        return None
    x0, y0, x1, y1 = target.contour.bounds_mm
    x, y = (x0 + x1) / 2, (y0 + y1) / 2
    x, y = x + _FACING * (x - start.x_mm), y + _FACING * (y - start.y_mm)
    text = start_number(start.id)
    for size in (2.4, 2.1, 1.8, 1.6):
        half_w = ink.text_width_mm(text, size=size) / 2 / view.scale
        half_h = size / 2 / view.scale
        corners = [(x + i * half_w, y + j * half_h) for i in (-1, 1) for j in (-1, 1)]
        if contains_points(target.contour, np.array([(x, y), *corners])).all():
            at_x, at_y = view.point(x, y)
            return Label(text=text, x_mm=at_x, y_mm=at_y, size_mm=size, weight="bold", near_mm=0.0)
    return None


def _starts(plan: Plan, view: ink.View, grid: LabelGrid) -> Iterator[str]:
    for contour in plan.contours:
        start = contour.start
        yield views.start_mark(start, view)
        radius = max(start.diameter_mm * view.scale / 2, 0.7)
        reach = 2.0 if start.kind is StartKind.EDGE else radius + 0.3
        views.take_disc(grid, *view.point(start.x_mm, start.y_mm), reach)


def _clamps(zones: Sequence[Contour], view: ink.View, grid: LabelGrid) -> Iterator[str]:
    for zone in zones:
        yield ink.path(ink.outline(zone, view), style.CLAMP, name="clamp")
        grid.add_points(views.samples(zone, view))
        x0, y0, x1, y1 = zone.bounds_mm
        x, y = view.point((x0 + x1) / 2, (y0 + y1) / 2)
        size = 2.2
        width = ink.text_width_mm("clamp", size=size)
        grid.take(x - width / 2, y - size / 2, x + width / 2, y + size / 2)
        yield ink.words(x - width / 2, y + size / 3, "clamp", size=size, halo_mm=0.7)


def _clear_zone(clear: Box, stock: Contour | None, view: ink.View, grid: LabelGrid) -> list[str]:
    left, bottom = view.point(clear[0], clear[1])
    right, top = view.point(clear[2], clear[3])
    words = "no clamp inside"
    size = 2.2
    at_x, at_y = left, top
    if stock is not None:
        # The edge of the stock often runs a hair inside: the words stand within both.
        edge_x, edge_y = view.point(stock.bounds_mm[0], stock.bounds_mm[3])
        at_x, at_y = (
            edge if 0 < edge - line < _BESIDE_MM else line
            for line, edge in ((left, edge_x), (top, edge_y))
        )
    width = ink.text_width_mm(words, size=size)
    grid.take(at_x + 1, at_y + 0.6, at_x + 1.5 + width, at_y + 3.2)
    return [
        ink.box(left, top, right - left, bottom - top, _CLEAR),
        ink.words(at_x + 1.2, at_y + 2.8, words, size=size, halo_mm=0.7),
    ]


def _extent(extent: Box, view: ink.View, units: Units, grid: LabelGrid) -> list[str]:
    """Draw width below and height on the left of the part, with arrows and unit."""
    left, bottom = view.point(extent[0], extent[1])
    right, top = view.point(extent[2], extent[3])
    y, x = view.height_mm - 4.0, 4.0
    wide, high = units.size(extent[2] - extent[0]), units.size(extent[3] - extent[1])
    grid.take(0.0, view.height_mm - 7.5, view.width_mm, view.height_mm)
    grid.take(0.0, 0.0, 7.5, view.height_mm)
    middle_y = (top + bottom) / 2
    return [
        ink.line(left, bottom + 1.0, left, y + 1.2, _DIMENSION),
        ink.line(right, bottom + 1.0, right, y + 1.2, _DIMENSION),
        ink.line(left, y, right, y, _DIMENSION),
        _arrow(left, y, 1, 0),
        _arrow(right, y, -1, 0),
        ink.words((left + right) / 2, y - 0.8, wide, size=2.6, anchor="middle", halo_mm=0.8),
        ink.line(left - 1.0, top, x - 1.2, top, _DIMENSION),
        ink.line(left - 1.0, bottom, x - 1.2, bottom, _DIMENSION),
        ink.line(x, top, x, bottom, _DIMENSION),
        _arrow(x, top, 0, 1),
        _arrow(x, bottom, 0, -1),
        f'<g transform="rotate(-90 {x:.3f} {middle_y:.3f})">'
        + ink.words(x, middle_y - 0.8, high, size=2.6, anchor="middle", halo_mm=0.8)
        + "</g>",
    ]


def _arrow(x: float, y: float, across: int, along: int) -> str:
    """Draw an arrow head at a point; the direction leads away from its tip."""
    ends = [
        f"{x + 1.8 * across + side * along:.3f} {y + 1.8 * along + side * across:.3f}"
        for side in (-0.35, 0.35)
    ]
    return f'<path d="M{x:.3f} {y:.3f}L{ends[0]}L{ends[1]}Z" fill="{style.BLACK}"/>'
