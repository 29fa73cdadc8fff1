"""A nested sheet as a drawing: parts with their names, clamps, what is left, and the numbers."""

from __future__ import annotations

import math
import textwrap
from collections import Counter
from typing import Final

import numpy as np
import shapely

from kerfwright.adapters.svg import ink, style
from kerfwright.adapters.svg.labels import Label, LabelGrid
from kerfwright.app.nest import NestResult, UsedSheet
from kerfwright.foundation.findings import Severity
from kerfwright.foundation.units import MM_PER_INCH
from kerfwright.geometry.contour import Contour
from kerfwright.geometry.regions import flattened
from kerfwright.nesting.records import Kind

WIDTH_MM, HEIGHT_MM = 264.0, 194.0
"""As the sheet for the machine: A4 and letter, landscape."""
_COLUMN_MM: Final = 192.0
_COLUMN_WIDTH_MM: Final = 70.0
_PICTURE_MM: Final = 184.0
_ROW_MM: Final = 3.2
_TEXT_MM: Final = 2.3
_WIDE: Final = 50
_MOST_KINDS: Final = 18
_CHORD_MM: Final = 0.05
_KIND_FILLS: Final = ("#dce9f3", "#f6e3d3", "#dcefe6", "#f3e2ec", "#f5ecd0", "#e2eff7", "#ebebeb")
"""Pale, and told apart by the names too."""
_LEFT: Final = ink.Stroke(colour=style.GREEN, width_mm=0.25, dash_mm=(2.0, 1.0))
_CLAMP: Final = ink.Stroke(colour=style.VERMILLION, width_mm=0.25)
_WALL: Final = ink.Stroke(colour=style.BLACK, width_mm=0.22)
_HATCH: Final = (
    '<defs><pattern id="clamp" width="1.6" height="1.6" patternUnits="userSpaceOnUse"'
    ' patternTransform="rotate(45)"><rect width="1.6" height="1.6" fill="#ffffff"/>'
    f'<rect width="0.5" height="1.6" fill="{style.VERMILLION}"/></pattern></defs>'
)


def size_text(value_mm: float) -> str:
    """Return a length in both unit systems.

    >>> size_text(254.0)
    '254 mm (10 in)'
    """
    return f"{value_mm:.4g} mm ({value_mm / MM_PER_INCH:.4g} in)"


def render_nest(result: NestResult, number: int, *, version: str = "") -> str:
    """Return one sheet of a nest as SVG.

    Parameters
    ----------
    result : NestResult
    number : int
        Of the sheet, from 1.
    version : str
    """
    used = result.sheets[number - 1]
    view = ink.View.fit(
        used.sheet.outline.bounds_mm,
        left_mm=4.0, top_mm=4.0, width_mm=_PICTURE_MM, height_mm=178.0, margin_mm=4.0,
    )  # fmt: skip
    body = [_HATCH, *_picture(result, used, view), *_column(result, used, number, version)]
    if result.is_refused:
        body.append(
            ink.words(
                6.0,
                9.0,
                "NOT FOR CUTTING: this nest does not hold, see the findings",
                size=4.0,
                weight="bold",
                fill=style.VERMILLION,
                halo_mm=1.0,
            )
        )
    said = "Clamp outside the parts and their kerfs; freed parts fall: stand by at every stop."
    body.append(ink.words(4.0, 190.0, said, size=2.1))
    return ink.document(
        body,
        title=f"nest, sheet {number} of {len(result.sheets)}",
        width_mm=WIDTH_MM,
        height_mm=HEIGHT_MM,
    )


def _filled(contours: tuple[Contour, ...], view: ink.View, fill: str, stroke: ink.Stroke,
            name: str = "") -> str:  # fmt: skip
    """Return a region with its openings left white."""
    data = "".join(ink.outline(c, view) for c in contours)
    attributes = stroke.attributes().replace('fill="none"', f'fill="{fill}" fill-rule="evenodd"')
    title = f"<title>{ink.clean(name)}</title>" if name else ""
    return f'<path d="{data}" {attributes}>{title}</path>'


def _picture(result: NestResult, used: UsedSheet, view: ink.View) -> list[str]:
    sheet = used.sheet
    order = [k.id for k in result.instance.kinds]
    grid = LabelGrid(left_mm=4.0, top_mm=4.0, width_mm=_PICTURE_MM, height_mm=178.0)
    body = [_filled((sheet.outline, *sheet.holes), view, style.WHITE, style.STOCK)]
    body += [
        _filled((one.outline, *one.holes), view, "none", _LEFT, "kept as a remnant")
        for one in used.left
    ]
    body += [_filled((c,), view, "url(#clamp)", _CLAMP, "clamp: stays free") for c in sheet.clamps]
    labels = []
    for place, kind in used.parts:
        fill = _KIND_FILLS[order.index(place.kind) % len(_KIND_FILLS)]
        shape = (kind.outline, *kind.openings, *kind.islands)
        body.append(_filled(shape, view, fill, _WALL, place.name))
        for contour in shape:
            s = contour.segments
            grid.add_points(view.points(s.points_at(np.arange(len(s)), np.full(len(s), 0.5))))
        labels.append((place.name, *_middle(kind)))
    for name, x, y in labels:
        at = view.point(x, y)
        body.append(grid.place(Label(text=name, x_mm=at[0], y_mm=at[1], size_mm=2.4)))
    for one in used.left:
        x, y = _middle(Kind(id="left", outline=one.outline, openings=one.holes))
        at = view.point(x, y)
        text = f"remnant {one.area_mm2 / 100:.0f} cm²"
        body.append(grid.place(Label(text=text, x_mm=at[0], y_mm=at[1], size_mm=2.6)))
    return body


def _middle(kind: Kind) -> tuple[float, float]:
    """Return a point well inside the metal of a part."""
    body = shapely.Polygon(
        flattened(kind.outline, chord_error_mm=_CHORD_MM),
        [flattened(c, chord_error_mm=_CHORD_MM) for c in kind.openings],
    )
    circle = shapely.maximum_inscribed_circle(body, tolerance=1.0)
    return float(circle.coords[0][0]), float(circle.coords[0][1])


def _column(result: NestResult, used: UsedSheet, number: int, version: str) -> list[str]:
    rows: list[tuple[str, str]] = []
    x0, y0, x1, y1 = used.sheet.outline.bounds_mm
    kerf, room, measured = result.kerf, result.instance.room, result.checked.measured
    rows.append(("h", f"Sheet {number} of {len(result.sheets)}: {used.sheet.id}"))
    rows.append(("", f"{size_text(x1 - x0)} x {size_text(y1 - y0)}"))
    rows.append(("", f"{kerf.material.name}, {size_text(kerf.thickness_mm)}"))
    rows.append(("", f"weight {result.mass_kg(used.sheet.area_mm2):.3g} kg"))
    rows.append(("h", "Parts here / asked"))
    here = Counter(p.kind for p, _ in used.parts)
    kinds = [k for k in result.instance.kinds if here[k.id]]
    rows += [
        ("", f"{here[k.id]} / {k.quantity}  {k.id}  ({k.turns.value})") for k in kinds[:_MOST_KINDS]
    ]
    if len(kinds) > _MOST_KINDS:
        rows.append(("", f"… and {len(kinds) - _MOST_KINDS} more kinds: nest.json"))
    guests = sum(p.inside is not None for p, _ in used.parts)
    if guests:
        rows.append(("", f"{guests} of them in openings of others"))
    rows.append(("h", "Material"))
    kept_kg = result.mass_kg(sum(o.area_mm2 for o in used.left))
    rows.append(("", f"parts {used.parts_mm2 / 100:.1f} cm², gone {used.used_mm2 / 100:.1f} cm²"))
    rows.append(("", f"{100 * used.density:.1f} % of what is gone is parts"))
    rows.append(("", f"kept for other jobs {kept_kg:.3g} kg"))
    rows.append(("h", "Least distance: needed / measured"))
    for what, needed, found in (
        ("part to part", room.between_mm, measured.between_mm),
        ("part to edge", room.edge_mm, measured.edge_mm),
        ("part to clamp", room.clamp_mm, measured.clamp_mm),
    ):
        if math.isfinite(found):
            rows.append(("", f"{what}: {needed:.3f} / {found:.3f} mm"))
            rows.append(("", f"    {needed / MM_PER_INCH:.4f} / {found / MM_PER_INCH:.4f} in"))
    rows.append(("", f"rough kerf {kerf.side_mm:.3f} mm beyond an outline"))
    rows.append(("", f"wire {size_text(kerf.wire.diameter_mm)}"))
    bad = [f for f in result.checked.findings if f.severity is not Severity.NOTE]
    if bad:
        rows.append(("h", "Findings"))
        for finding in bad[:6]:
            rows += [("", line) for line in _wrapped(finding.message)[:3]]
    rows.append(("h", "Made by"))
    rows.append(("", f"{result.solution.method or 'nobody'}, seed {result.request.seed}"))
    rows.append(("", f"kerfwright {version}; distances checked apart"))
    return _written(rows)


def _wrapped(text: str) -> list[str]:
    return textwrap.wrap(text, _WIDE)


def _written(rows: list[tuple[str, str]]) -> list[str]:
    body, y = [], 3.0
    for kind, text in rows:
        if kind == "h":
            y += _ROW_MM + 1.6
            body.append(ink.words(_COLUMN_MM, y, text, size=2.6, weight="bold"))
            body.append(
                ink.line(_COLUMN_MM, y + 0.9, _COLUMN_MM + _COLUMN_WIDTH_MM, y + 0.9, style.RULE)
            )
            y += 0.9
        else:
            for line in _wrapped(text) if not text.startswith(" ") else [text]:
                y += _ROW_MM
                body.append(ink.words(_COLUMN_MM, y, line, size=_TEXT_MM))
    return body
