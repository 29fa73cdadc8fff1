"""The path of the wire centre as DXF and SVG, for other programs to look at and measure.

In the DXF each cut is one polyline whose bulges are its true arcs, in the direction of travel; the
layer names the pass.  Moves through open kerf belong to it, the way from start to start does not.
"""

from __future__ import annotations

import io
from collections.abc import Iterator

import numpy as np
from ezdxf._options import options
from ezdxf.filemanagement import new

from kerfwright.adapters.papers.words import Units
from kerfwright.adapters.svg import ink, style
from kerfwright.foundation.units import MM_PER_INCH
from kerfwright.geometry.contour import Contour
from kerfwright.geometry.segments import Segments
from kerfwright.motion.moves import Cut, CutKind, WirePath
from kerfwright.planning.plan import Plan
from kerfwright.trade.part import LengthUnit

WALLS, STARTS = "WALL", "START"
_INCHES, _MILLIMETRES = 1, 4
"""Values of $INSUNITS."""
_COLOURS = (5, 1, 3, 6, 4, 30)
"""Numbers of the colour index for the passes, near those of the sheet."""
_MARGIN_MM = 2.0


def layer_of(cut: Cut) -> str:
    """Return the layer of a cut: ``PASS-1-ROUGH``, ``PASS-1-CUT-OFF``, ``PASS-2-SKIM``."""
    kind = {CutKind.ROUGH: "ROUGH", CutKind.CUT_OFF: "CUT-OFF", CutKind.SKIM: "SKIM"}[cut.kind]
    return f"PASS-{cut.pass_number}-{kind}"


def segments_of(cut: Cut) -> Segments:
    """Return every move of a cut as lines and arcs; a full circle as two half turns."""
    return ink.move_segments(cut.moves, wanted=np.ones(len(cut.moves), dtype=bool))


def path_dxf(plan: Plan, path: WirePath, *, unit: LengthUnit) -> bytes:
    """Return walls, starts and the path of the wire centre as DXF R2010 in a unit."""
    scale = 1.0 / MM_PER_INCH if unit is LengthUnit.INCH else 1.0
    fixed = options.write_fixed_meta_data_for_testing
    # The same job gives the same bytes: no time, no random identity in the head of the file.
    options.write_fixed_meta_data_for_testing = True
    try:
        units = _INCHES if unit is LengthUnit.INCH else _MILLIMETRES
        drawing = new("R2010", units=units)
        space = drawing.modelspace()
        drawing.layers.add(WALLS, color=7)
        drawing.layers.add(STARTS, color=8)
        for cut in path.cuts:
            name = layer_of(cut)
            if name not in drawing.layers:
                drawing.layers.add(name, color=_COLOURS[(cut.pass_number - 1) % len(_COLOURS)])
        for target in plan.part.contours:
            space.add_lwpolyline(
                _rows(target.contour.segments, scale), format="xyb", close=True,
                dxfattribs={"layer": WALLS},
            )  # fmt: skip
        for contour in plan.contours:
            start = contour.start
            at = (start.x_mm * scale, start.y_mm * scale)
            if start.diameter_mm == 0:
                space.add_point(at, dxfattribs={"layer": STARTS})
            else:
                radius = start.diameter_mm / 2 * scale
                space.add_circle(at, radius, dxfattribs={"layer": STARTS})
        for cut in path.cuts:
            segments = segments_of(cut)
            if len(segments):
                rows = [*_rows(segments, scale), (*(segments.end[-1] * scale).tolist(), 0.0)]
                space.add_lwpolyline(rows, format="xyb", dxfattribs={"layer": layer_of(cut)})
        stream = io.StringIO()
        drawing.write(stream)
    finally:
        options.write_fixed_meta_data_for_testing = fixed
    return stream.getvalue().encode("utf-8")


def _rows(segments: Segments, scale: float) -> list[tuple[float, float, float]]:
    """Return start and bulge of each segment; they follow one another."""
    return [
        (float(x), float(y), float(b))
        for (x, y), b in zip(segments.start * scale, segments.bulge, strict=True)
    ]


def path_svg(plan: Plan, path: WirePath, *, unit: LengthUnit) -> bytes:
    """Return the same as SVG in true size, one group for each layer, coordinates in millimetres.

    The group of the drawing turns Y up, so that the numbers in it are those of the drawing.
    """
    x0, y0, x1, y1 = _bounds(plan, path)
    wide, high = x1 - x0, y1 - y0
    groups: dict[str, list[str]] = {}
    for cut in path.cuts:
        groups.setdefault(layer_of(cut), []).append(_data(segments_of(cut), is_closed=False))
    body = [_group(WALLS, style.WALL, (_wall(c.contour) for c in plan.part.contours))]
    for number, name in sorted((int(n.split("-")[1]), n) for n in groups):
        body.append(_group(name, style.of_pass(number), groups[name]))
    holes = [c.start for c in plan.contours if c.start.diameter_mm > 0]
    circles = "".join(
        f'<circle cx="{s.x_mm:.6f}" cy="{s.y_mm:.6f}" r="{s.diameter_mm / 2:.6f}"/>' for s in holes
    )
    body.append(f'<g id="{STARTS}" {style.START.attributes()}>{circles}</g>')
    size = Units(unit=unit)
    factor = MM_PER_INCH if size.is_inch else 1.0
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{wide / factor:.6f}{size.name}"'
        f' height="{high / factor:.6f}{size.name}"'
        f' viewBox="{x0:.6f} {-y1:.6f} {wide:.6f} {high:.6f}">\n'
        f"<title>{ink.clean(plan.part.name)}: path of the wire centre</title>\n"
        '<g transform="scale(1 -1)">\n' + "\n".join(body) + "\n</g>\n</svg>\n"
    ).encode()


def _bounds(plan: Plan, path: WirePath) -> tuple[float, float, float, float]:
    boxes = [np.array(c.contour.bounds_mm) for c in plan.part.contours]
    for cut in path.cuts:
        x0, y0, x1, y1 = segments_of(cut).boxes()
        if len(x0):
            boxes.append(np.array([x0.min(), y0.min(), x1.max(), y1.max()]))
    for c in plan.contours:
        x, y, r = c.start.x_mm, c.start.y_mm, c.start.diameter_mm / 2
        boxes.append(np.array([x - r, y - r, x + r, y + r]))
    every = np.array(boxes)
    x0, y0 = every[:, :2].min(axis=0) - _MARGIN_MM
    x1, y1 = every[:, 2:].max(axis=0) + _MARGIN_MM
    return float(x0), float(y0), float(x1), float(y1)


def _group(name: str, stroke: ink.Stroke, paths: Iterator[str] | list[str]) -> str:
    inner = "\n".join(f'<path d="{data}"/>' for data in paths if data)
    return f'<g id="{name}" {stroke.attributes()}>\n{inner}\n</g>'


def _wall(contour: Contour) -> str:
    return _data(contour.segments, is_closed=contour.is_closed)


def _data(segments: Segments, *, is_closed: bool) -> str:
    """Return path data to a millionth of a millimetre, Y up as in the drawing."""
    if not len(segments):
        return ""
    x, y = segments.start[0]
    words = [f"M{x:.6f} {y:.6f}"]
    rows = zip(
        segments.end.tolist(), segments.bulge.tolist(), segments.radius.tolist(),
        segments.is_arc.tolist(), strict=True,
    )  # fmt: skip
    for (x1, y1), bulge, radius, is_arc in rows:
        if is_arc:
            turn = f"{int(abs(bulge) > 1)} {int(bulge > 0)}"
            words.append(f"A{radius:.6f} {radius:.6f} 0 {turn} {x1:.6f} {y1:.6f}")
        else:
            words.append(f"L{x1:.6f} {y1:.6f}")
    return "".join(words) + ("Z" if is_closed else "")
