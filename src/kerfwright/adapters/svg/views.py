"""The drawing itself on paper: the whole part, and details where millimetres hide micrometres."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from kerfwright.adapters.svg import ink, style
from kerfwright.adapters.svg.labels import Label, LabelGrid
from kerfwright.geometry.contour import Contour
from kerfwright.geometry.segments import Floats, Segments
from kerfwright.motion.moves import CutKind, Purpose, WirePath
from kerfwright.planning.feasibility import corner_depths_mm
from kerfwright.planning.plan import ContourPlan, Plan, Start, StartKind, Tab
from kerfwright.trade.part import Role

_APART_MM = 0.25
"""Lines nearer than this on paper print as one."""
_VISIBLE_MM = 0.15
"""Smaller areas are a dot on paper; details and findings show them."""
_MOST_SHADED = 10_000
"""With more segments than this a detail is left unshaded, to keep the file small."""
_CROWD = 60
"""With more contours than this, labels of starts are left to the table."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """A numbered finding on the picture; lengths on the drawing."""

    number: int
    is_refusal: bool
    x_mm: float
    y_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Detail:
    """A magnified square of the drawing.

    Attributes
    ----------
    letter, title : str
    centre_mm : (x, y)
    half_mm : float
        Half the side of the square.
    contour : ContourPlan
    shows_passes : bool
        Number each pass line and draw the wire.
    """

    letter: str
    title: str
    centre_mm: tuple[float, float]
    half_mm: float
    contour: ContourPlan
    shows_passes: bool = False


Paths = Mapping[int, tuple[Segments, ...]]
"""Path of the wire centre by pass number."""


def wire_paths(plan: Plan, path: WirePath | None) -> dict[int, list[Segments]]:
    """Return the wire's path by pass: from the moves if there are any, else the bare loops."""
    found: dict[int, list[Segments]] = {p.number: [] for p in plan.passes}
    if path is None:
        for contour in plan.contours:
            for one, loop in zip(contour.passes, contour.loops, strict=False):
                found[one.number].append(loop.contour.segments)
        return found
    for cut in path.cuts:
        number = 1 if cut.kind is CutKind.CUT_OFF else cut.pass_number
        cutting = cut.moves.purpose != Purpose.RETURN
        found.setdefault(number, []).append(ink.move_segments(cut.moves, wanted=cutting))
    return found


def bounds_mm(plan: Plan) -> tuple[float, float, float, float]:
    """Return the box of everything that belongs on the picture."""
    shapes = [c.contour for c in plan.part.contours] + ([plan.stock] if plan.stock else [])
    boxes = [s.bounds_mm for s in shapes]
    boxes += [(c.start.x_mm, c.start.y_mm, c.start.x_mm, c.start.y_mm) for c in plan.contours]
    if not boxes:
        boxes = [c.bounds_mm for c in plan.part.construction] or [(0.0, 0.0, 1.0, 1.0)]
    low, high = np.min(boxes, axis=0), np.max(boxes, axis=0)
    return float(low[0]), float(low[1]), float(high[2]), float(high[3])


def details(plan: Plan, *, most: int = 3) -> list[Detail]:
    """Choose the magnified views: a tab with its lead, passes at a wall, loops, tight corners."""
    if not plan.contours:
        return []
    first = next((c for c in plan.contours if c.tab is not None), plan.contours[0])
    finest = max(plan.contours, key=lambda c: len(c.passes))
    chosen = [
        _lead_view(first),
        ("passes at a straight of", *_wall_window(finest), finest, True),
    ]
    eroded = [c for c in plan.contours if c.coreless is not None and c is not first]
    if eroded:
        chosen.append(_lead_view(max(eroded, key=lambda c: _size(c.target.contour))))
    tight = [
        (_size(u), c, u)
        for c in plan.contours
        for u, depth_mm in zip(
            c.unreachable,
            corner_depths_mm(c.unreachable, radius_mm=c.passes[-1].offset_mm),
            strict=True,
        )
        if depth_mm > _allowed_mm(plan, c)
    ]
    for _, contour, corner in sorted(tight, key=lambda t: -t[0])[: most - len(chosen)]:
        x0, y0, x1, y1 = corner.bounds_mm
        rough_mm = contour.passes[0].offset_mm
        window = ((x0 + x1) / 2, (y0 + y1) / 2), max(_size(corner), rough_mm)
        chosen.append(("corner out of the wire's reach,", *window, contour, False))
    outlines = [c for c in plan.contours if c.slug.is_part and c is not first]
    if outlines and len(chosen) < most:
        chosen.append(_lead_view(outlines[-1]))
    return [
        Detail(
            letter=chr(ord("A") + i),
            title=f"{words} {contour.target.id}",
            centre_mm=centre,
            half_mm=half,
            contour=contour,
            shows_passes=passes,
        )
        for i, (words, centre, half, contour, passes) in enumerate(chosen)
    ]


def _allowed_mm(plan: Plan, contour: ContourPlan) -> float:
    asked = plan.requirement.demand_on(contour.target.id).tolerance_um
    return (contour.passes[-1].tolerance_um if asked is None else asked) / 1000


def _size(shape: Contour) -> float:
    x0, y0, x1, y1 = shape.bounds_mm
    return max(x1 - x0, y1 - y0)


def _lead_view(
    contour: ContourPlan,
) -> tuple[str, tuple[float, float], float, ContourPlan, bool]:
    """Return the view of a tab with its lead-in, or of the loops of an opening without a tab."""
    if contour.tab is not None:
        return "tab and lead-in of", *_tab_window(contour, contour.tab), contour, False
    x0, y0, x1, y1 = contour.target.contour.bounds_mm
    middle = (x0 + x1) / 2, (y0 + y1) / 2
    return "loops inside", middle, 0.6 * _size(contour.target.contour), contour, False


def _tab_window(contour: ContourPlan, tab: Tab) -> tuple[tuple[float, float], float]:
    wall = contour.target.contour
    ends = wall.points_at(np.array([tab.start_station_mm, tab.end_station_mm]))
    start = np.array([contour.start.x_mm, contour.start.y_mm])
    width = max(tab.width_mm, _size(wall) / 200)
    reach = float(np.hypot(*(start - ends).T).max())
    if reach > 8 * width:
        middle = ends.mean(axis=0)
        return (float(middle[0]), float(middle[1])), 2.5 * width
    corners = np.vstack(
        [ends, start + contour.start.diameter_mm / 2, start - contour.start.diameter_mm / 2]
    )
    low, high = corners.min(axis=0), corners.max(axis=0)
    middle = (low + high) / 2
    return (float(middle[0]), float(middle[1])), 0.65 * float((high - low).max())


def _straight_station(contour: ContourPlan) -> float:
    """Return the middle of a long segment, of those the one farthest from the lead and the tab."""
    wall = contour.target.contour
    length = wall.segments.length
    middle = wall.stations_mm + length / 2
    away = np.abs(middle - contour.lead_station_mm)
    away = np.where(length >= 0.6 * length.max(), np.minimum(away, wall.length_mm - away), -1.0)
    return float(middle[int(np.argmax(away))])


def _beside(wall: Contour, station_mm: float, off_mm: float) -> Floats:
    """Return the point at a distance from the wall, on the side of the waste.

    The material lies on the left of travel, so the waste and the wire are on the right.
    """
    index, fraction = wall.locate(np.array([station_mm]))
    tangent = wall.segments.tangents_at(index, fraction)[0]
    point: Floats = wall.segments.points_at(index, fraction)[0]
    return point + np.array([tangent[1], -tangent[0]]) * off_mm


def _wall_window(contour: ContourPlan) -> tuple[tuple[float, float], float]:
    rough_mm = contour.passes[0].offset_mm
    middle = _beside(contour.target.contour, _straight_station(contour), 0.65 * rough_mm)
    return (float(middle[0]), float(middle[1])), 1.15 * rough_mm


def main_view(
    plan: Plan,
    *,
    view: ink.View,
    paths: Paths,
    marks: tuple[Mark, ...],
    magnified: list[Detail],
) -> tuple[list[str], int]:
    """Draw the whole part; return the elements and how many labels found no place."""
    out = list(ground(plan, view))
    grid = LabelGrid(
        left_mm=view.left_mm,
        top_mm=view.top_mm,
        width_mm=view.width_mm,
        height_mm=view.height_mm,
    )
    for contour in plan.contours:
        out.extend(tab_mark(contour, view, with_bars=True))
    rough, *skims = plan.passes
    for one in (rough, *skims):
        apart = abs(one.offset_mm - rough.offset_mm) * view.scale
        if one is rough or apart > _APART_MM:
            out.extend(_passes(paths, one.number, view))
    for target in plan.part.contours:
        out.append(ink.path(ink.outline(target.contour, view), style.WALL, name=target.id))
        grid.add_points(samples(target.contour, view))
    out.extend(zero_mark(view, grid))
    for contour in plan.contours:
        out.append(start_mark(contour.start, view))
        take_disc(grid, *view.point(contour.start.x_mm, contour.start.y_mm), 1.2)
        out.extend(
            _left_standing(corner, view)
            for corner in contour.unreachable
            if _size(corner) * view.scale > _VISIBLE_MM
        )
    out.extend(_marks(marks, view, grid))
    out.extend(_frames(magnified, view, grid))
    out.extend(grid.place(label) for label in _names(plan, view))
    return out, grid.left_out


def ground(plan: Plan, view: ink.View) -> Iterator[str]:
    """Fill what stays: the part, or the plate around openings if its stock is known."""
    outlines = [c.contour for c in plan.part.contours if c.role is Role.OUTLINE]
    openings = [c.contour for c in plan.part.contours if c.role is Role.OPENING]
    around = outlines or ([plan.stock] if plan.stock else [])
    if around:
        data = "".join(ink.outline(c, view) for c in (*around, *openings))
        yield f'<path d="{data}" fill="{style.PALE}" fill-rule="evenodd"/>'
    if plan.stock:
        yield ink.path(ink.outline(plan.stock, view), style.STOCK, name="stock")
    for chain in plan.part.construction:
        yield ink.path(ink.outline(chain, view), style.CONSTRUCTION)


def _passes(paths: Paths, number: int, view: ink.View) -> Iterator[str]:
    data = "".join(ink.path_data(s, view) for s in paths.get(number, ()))
    yield ink.path(data, style.of_pass(number), name=f"pass {number}")


def samples(contour: Contour, view: ink.View) -> Floats:
    """Points of a contour at less than a grid cell's distance on paper."""
    count = int(min(contour.length_mm * view.scale / 0.4, 4000)) + 2
    return view.points(contour.points_at(np.linspace(0, contour.length_mm, count)))


def tab_mark(contour: ContourPlan, view: ink.View, *, with_bars: bool) -> Iterator[str]:
    """Draw the tab on the wall, with a bar at either end."""
    tab, wall = contour.tab, contour.target.contour
    if tab is None:
        return
    span = (tab.end_station_mm - tab.start_station_mm) % wall.length_mm
    if span <= 0:
        return
    stations = tab.start_station_mm + np.linspace(0.0, span, 25)
    points = view.points(wall.points_at(stations))
    data = "M" + "L".join(f"{x:.3f} {y:.3f}" for x, y in points.tolist())
    yield ink.path(data, style.TAB, name=f"tab of {contour.target.id}")
    if with_bars:
        for end, towards in ((points[0], points[1]), (points[-1], points[-2])):
            along = towards - end
            across = np.array([-along[1], along[0]]) / max(float(np.hypot(*along)), 0.001)
            (x0, y0), (x1, y1) = (end - across).tolist(), (end + across).tolist()
            yield ink.line(x0, y0, x1, y1, style.TAB_EDGE)


def start_mark(start: Start, view: ink.View) -> str:
    """Draw a start as a hole in true size, but legible, with a cross; one at an edge as a wedge."""
    x, y = view.point(start.x_mm, start.y_mm)
    radius = max(start.diameter_mm * view.scale / 2, 0.7)
    if start.kind is StartKind.CHANNEL:
        return ink.disc(x, y, 0.4, style.START, fill=style.WHITE)
    if start.kind is StartKind.EDGE:
        look = f'fill="{style.WHITE}" stroke="{style.BLACK}" stroke-width="0.2"'
        return f'<path d="M{x:.3f} {y:.3f}l-1 -1.8h2z" {look}/>'
    arm = radius + 0.5
    return (
        ink.disc(x, y, radius, style.START, fill=style.WHITE)
        + ink.line(x - arm, y, x + arm, y, style.START)
        + ink.line(x, y - arm, x, y + arm, style.START)
    )


def _left_standing(corner: Contour, view: ink.View) -> str:
    attributes = style.LEFT_STANDING.attributes().replace('"none"', '"url(#left-standing)"', 1)
    return f'<path d="{ink.outline(corner, view)}" {attributes}/>'


def take_disc(grid: LabelGrid, x: float, y: float, radius: float) -> None:
    """Forbid a disc to labels."""
    grid.take(x - radius, y - radius, x + radius, y + radius)


def zero_mark(view: ink.View, grid: LabelGrid) -> Iterator[str]:
    """Draw the drawing's zero point, if it lies on the view."""
    x, y = view.point(0.0, 0.0)
    inside_x = view.left_mm + 3 < x < view.left_mm + view.width_mm - 3
    if not (inside_x and view.top_mm + 3 < y < view.top_mm + view.height_mm - 3):
        return
    yield ink.disc(x, y, 1.3, style.START)
    yield f'<path d="M{x:.3f} {y:.3f}v-1.3a1.3 1.3 0 0 1 1.3 1.3zv1.3a1.3 1.3 0 0 1 -1.3 -1.3z"/>'
    take_disc(grid, x, y, 1.5)
    yield grid.place(Label(text="X0 Y0", x_mm=x, y_mm=y, clear_mm=2.0, size_mm=2.2))


def _marks(marks: Iterable[Mark], view: ink.View, grid: LabelGrid) -> Iterator[str]:
    for mark in marks:
        x, y = view.point(mark.x_mm, mark.y_mm)
        # A dot on the spot, the number beside it, so that the spot itself stays visible.
        yield ink.disc(x, y, 0.45, style.NONE, fill=style.VERMILLION)
        cy = y - 3.2 if y - 5.5 > view.top_mm else y + 3.2
        yield ink.line(x, y, x, cy, style.START)
        yield badge(mark.number, x, cy, is_refusal=mark.is_refusal)
        take_disc(grid, x, cy, 1.8)


def badge(number: int, x: float, y: float, *, is_refusal: bool) -> str:
    """Draw a numbered mark: a filled square refuses, an open triangle warns."""
    if is_refusal:
        shape = ink.box(x - 1.6, y - 1.6, 3.2, 3.2, style.FRAME, fill=style.VERMILLION)
        return shape + ink.words(
            x, y + 0.8, str(number), size=2.2, anchor="middle", weight="bold", fill=style.WHITE
        )
    shape = (
        f'<path d="M{x:.3f} {y - 2.1:.3f}l2.1 3.7h-4.2z" fill="{style.WHITE}"'
        f' stroke="{style.BLACK}" stroke-width="0.25"/>'
    )
    return shape + ink.words(x, y + 1.2, str(number), size=2.0, anchor="middle", weight="bold")


def _frames(magnified: list[Detail], view: ink.View, grid: LabelGrid) -> Iterator[str]:
    for detail in magnified:
        x, y = view.point(*detail.centre_mm)
        half = max(detail.half_mm * view.scale, 1.0)
        yield ink.box(x - half, y - half, 2 * half, 2 * half, style.DETAIL)
        yield grid.place(
            Label(text=detail.letter, x_mm=x, y_mm=y, clear_mm=2.0, size_mm=3.2, weight="bold")
        )


def _names(plan: Plan, view: ink.View) -> Iterator[Label]:
    """Names of contours, outlines first, then of starts."""
    starts = {c.target.id: c.start for c in plan.contours}
    for target in sorted(plan.part.contours, key=lambda c: c.role is Role.OPENING):
        x0, y0, x1, y1 = target.contour.bounds_mm
        if target.role is Role.OUTLINE:
            top = target.contour.vertices[int(np.argmax(target.contour.vertices[:, 1]))]
            x, y = view.point(float(top[0]), float(top[1]))
        else:
            x, y = view.point((x0 + x1) / 2, (y0 + y1) / 2)
        size = 2.8 if len(plan.part.contours) <= _CROWD else 2.2
        yield Label(text=target.id, x_mm=x, y_mm=y, size_mm=size, weight="bold")
    if len(plan.contours) <= _CROWD:
        for start in starts.values():
            x, y = view.point(start.x_mm, start.y_mm)
            yield Label(text=start.id, x_mm=x, y_mm=y, clear_mm=1.5, size_mm=2.2)


def detail_view(detail: Detail, *, plan: Plan, paths: Paths, view: ink.View) -> list[str]:
    """Draw one magnified square with its frame and title."""
    name = f"window-{detail.letter}"
    window = view.left_mm, view.top_mm, view.width_mm, view.height_mm
    out = [
        f'<clipPath id="{name}">{ink.box(*window, style.NONE)}</clipPath>',
        f'<g clip-path="url(#{name})">',
    ]
    shapes = [c.contour for c in plan.part.contours]
    near = [s for s in shapes if view.meets(s.bounds_mm)]
    out.extend(_detail_ground(plan, near, view))
    for contour in plan.contours:
        if view.meets(contour.target.contour.bounds_mm) and not detail.shows_passes:
            out.extend(tab_mark(contour, view, with_bars=True))
        out.extend(_left_standing(u, view) for u in contour.unreachable if view.meets(u.bounds_mm))
    for one in plan.passes:
        for segments in paths.get(one.number, ()):
            seen = ink.picked(segments, view.touched(segments))
            out.append(ink.path(ink.path_data(seen, view), style.of_pass(one.number)))
    for shape in near:
        seen = ink.picked(shape.segments, view.touched(shape.segments))
        out.append(ink.path(ink.path_data(seen, view), style.WALL))
    if detail.shows_passes:
        out.extend(_pass_numbers(detail, plan, view))
    else:
        out.append(_start_in_detail(detail.contour.start, view))
        out.append(_tab_name(detail.contour, view))
    out.append("</g>")
    out.append(ink.box(*window, style.FRAME))
    title_y = view.top_mm + view.height_mm + 3.0
    out.append(ink.words(view.left_mm, title_y, detail.letter, size=3.0, weight="bold"))
    ratio = f"{view.scale:.0f}:1" if view.scale >= 2 else f"{view.scale:.2g}:1"
    out.append(ink.words(view.left_mm + 3.2, title_y, f"{detail.title}, {ratio}", size=2.1))
    return out


def _detail_ground(plan: Plan, near: list[Contour], view: ink.View) -> Iterator[str]:
    """Fill the material of a detail from the contours that meet its window."""
    if sum(len(c) for c in near) > _MOST_SHADED:
        return
    data = "".join(ink.outline(c, view) for c in near)
    if not any(c.role is Role.OUTLINE for c in plan.part.contours):
        # A plate around openings: all of the window but the openings is material.
        x, y = view.left_mm - 1, view.top_mm - 1
        wide, high = view.width_mm + 2, view.height_mm + 2
        data += f"M{x:.3f} {y:.3f}h{wide:.3f}v{high:.3f}h{-wide:.3f}z"
    yield f'<path d="{data}" fill="{style.PALE}" fill-rule="evenodd"/>'


def _start_in_detail(start: Start, view: ink.View) -> str:
    if not view.shows(start.x_mm, start.y_mm):
        return ""
    x, y = view.point(start.x_mm, start.y_mm)
    label = ink.words(x, y + 3.6, start.id, size=2.2, anchor="middle", halo_mm=0.7)
    return start_mark(start, view) + label


def _pass_numbers(detail: Detail, plan: Plan, view: ink.View) -> Iterator[str]:
    """Write the number of each pass on its line and draw the wire on the last, in true size."""
    wall, middle = detail.contour.target.contour, _straight_station(detail.contour)
    # Only as far along as the straight reaches.
    reach = min(detail.half_mm * 0.95, float(wall.segments.length.max()) / 2)
    passes = detail.contour.passes
    spread = np.linspace(-reach, reach, len(passes) + 2)[1:-1]
    for one, along in zip(passes, spread.tolist(), strict=True):
        x, y = view.point(*_beside(wall, middle + along, one.offset_mm).tolist())
        yield ink.words(
            x, y + 0.9, str(one.number), size=2.5, anchor="middle", weight="bold", halo_mm=0.9
        )
    last, radius_mm = passes[-1].offset_mm, plan.choice.wire.radius_mm
    x, y = view.point(*_beside(wall, middle, last).tolist())
    yield ink.disc(x, y, radius_mm * view.scale, style.WIRE)
    for text, along, off in (
        ("wire", 0.0, last + 0.55 * radius_mm),
        ("part", 0.5 * reach, -0.25 * detail.half_mm),
    ):
        x, y = view.point(*_beside(wall, middle + along, off).tolist())
        yield ink.words(x, y, text, size=2.0, anchor="middle", halo_mm=0.7)


def _tab_name(contour: ContourPlan, view: ink.View) -> str:
    """Write the word beside the tab, on the material."""
    tab, wall = contour.tab, contour.target.contour
    if tab is None:
        return ""
    span = (tab.end_station_mm - tab.start_station_mm) % wall.length_mm
    spot = _beside(wall, tab.start_station_mm + span / 2, -3.2 / view.scale).tolist()
    if not view.shows(*spot):
        return ""
    x, y = view.point(*spot)
    return ink.words(x, y + 0.8, "tab", size=2.2, anchor="middle", halo_mm=0.7)


def nice_length_mm(view: ink.View, *, unit_mm: float) -> float:
    """Return a round length, 1, 2 or 5 of a power of ten of the unit, 20 to 50 mm on paper."""
    longest = 50.0 / view.scale / unit_mm
    decade = 10.0 ** math.floor(math.log10(longest))
    return max(f for f in (1.0, 2.0, 5.0) if f * decade <= longest) * decade * unit_mm
