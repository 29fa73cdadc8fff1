"""Rectangles that frame a sheet, and its title block: drawn as lines, and no wall of any part.

Read as a wall the frame would be an outline to be cut and priced, the part in it an opening, and
every hole of the part an outline.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Final

import numpy as np

from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.foundation.shortened import shortened
from kerfwright.foundation.sizes import both_extents
from kerfwright.foundation.units import MM_PER_INCH
from kerfwright.trade.annotation import Annotation, AnnotationKind
from kerfwright.trade.part import Part, PartContour, RoleFrom

SHEET_FRAME: Final = "sheet-frame"
"""Code of the warning that a contour was taken for a frame; ``contours`` has its names."""
_SHEETS_MM: Final = {
    "A4": (297.0, 210.0),
    "A3": (420.0, 297.0),
    "A2": (594.0, 420.0),
    "A1": (841.0, 594.0),
    "A0": (1189.0, 841.0),
    **{
        name: (long * MM_PER_INCH, short * MM_PER_INCH)
        for name, long, short in (
            ("ANSI A", 11, 8.5),
            ("ANSI B", 17, 11),
            ("ANSI C", 22, 17),
            ("ANSI D", 34, 22),
            ("ANSI E", 44, 34),
        )
    },
}
"""Trimmed sheets of ISO 216 and of ASME Y14.1 (both from memory)."""
_MARGINS_MM: Final = ((0.0, 0.0), (30.0, 20.0), (20.0, 30.0), (20.0, 20.0), (10.0, 10.0))
"""What the frame leaves of length and width: 20 mm at the edge for filing and 10 mm at the others
as in ISO 5457 (from memory), or one margin all round (common practice, no source)."""
_SCALES: Final = (1.0, 2.0, 2.5, 4.0, 5.0, 10.0, 20.0, 50.0, 100.0, 0.5, 0.2, 0.1, 0.05)
"""By how much a sheet is drawn larger than it is, so that its part is of true size."""
_SAME: Final = 2e-3
_TITLES: Final = re.compile(
    r"\b(?:(title|part name|benennung)|(scale|ma(?:ß|ss)stab)|(drawn|gez\.?|designed)"
    r"|(checked|chkd?|appr(?:oved|'?d)?|gepr\.?)|(date|datum)|(rev(?:ision)?s?|issue|index)"
    r"|(material|werkstoff|mat'?l)|(dwg|drawing n|drg|part n|zeichnungs)|(sheet|blatt)"
    r"|(unless otherwise|tolerances?|toleranz)|(finish|oberfl)|(projection|third angle|first angle)"
    r"|(customer|company|kunde|firma)|(weight|mass|gewicht)|(qty|quantity|req'?d|st(?:ü|ue)ck))",
    re.IGNORECASE,
)
"""Words of a title block, one group a kind."""
_LAYER: Final = re.compile(
    r"frame|border|title|sheet|rahmen|schriftfeld|blatt|format", re.IGNORECASE
)
_KINDS_ALONE, _KINDS_OF_A_SHEET = 3, 1
"""Kinds of words that make a frame: of any rectangle, of one as large as a sheet."""
_CORNERS: Final = 4
_BESIDE_SHARE: Final = 0.05
"""Share of the sheet within which a title block lies at the frame."""
_ON_LINE_MM: Final = 0.05
_MOST_LETTERS: Final = 30
_TITLE_BLOCK: Final = "a rectangle at the frame with the words of a title block"


def frames_of(part: Part) -> dict[str, Finding]:
    """Return the contours that frame the sheet or its title block, each with a warning.

    A frame is the one rectangle around all else, with every text and dimension inside it and the
    words of a title block beside the contours; no dimension measures it.

    Parameters
    ----------
    part : Part
        As read, roles by depth.
    """
    words = [a for a in part.annotations if not a.sheet and a.where.x_mm is not None]
    found: dict[str, Finding] = {}
    inner = list(part.contours)
    while (frame := _around_all(inner, words)) is not None:
        inner.remove(frame)
        why = _reason(frame, inner, words, is_in_one=bool(found))
        if not why:
            break
        found[frame.id] = _warning(frame, f"a rectangle around all else, {why}")
    if found:
        outer = next(c for c in part.contours if c.id in found)
        for one in _title_blocks(outer, inner, words):
            found[one.id] = _warning(
                one, "a rectangle at the frame with the words of a title block"
            )
    return found


def _around_all(contours: list[PartContour], words: list[Annotation]) -> PartContour | None:
    """Return the rectangle that has all other contours and every text inside it."""
    if len(contours) < 2:
        return None
    boxes = np.array([c.contour.bounds_mm for c in contours])
    number = int(np.argmax((boxes[:, 2] - boxes[:, 0]) * (boxes[:, 3] - boxes[:, 1])))
    one, (x0, y0, x1, y1) = contours[number], boxes[number]
    others = np.delete(boxes, number, axis=0)
    is_inside = (others[:, :2] > (x0, y0)).all() and (others[:, 2:] < (x1, y1)).all()
    if one.role_from is not RoleFrom.DRAWING or not is_inside or not _is_rectangle(one):
        return None
    return one if all(_holds(one, a) for a in words) else None


def _is_rectangle(one: PartContour) -> bool:
    segments = one.contour.segments
    if len(one.contour) != _CORNERS or segments.is_arc.any():
        return False
    along = segments.end - segments.start
    return bool((np.abs(along).min(axis=1) <= _ON_LINE_MM).all())


def _holds(one: PartContour, said: Annotation) -> bool:
    x0, y0, x1, y1 = one.contour.bounds_mm
    x, y = said.where.x_mm, said.where.y_mm
    return x is not None and y is not None and x0 <= x <= x1 and y0 <= y <= y1


def _is_on_walls(one: PartContour, point: tuple[float, float]) -> bool:
    x0, y0, x1, y1 = one.contour.bounds_mm
    x, y = point
    near_x = min(abs(x - x0), abs(x - x1)) <= _ON_LINE_MM and y0 <= y <= y1
    near_y = min(abs(y - y0), abs(y - y1)) <= _ON_LINE_MM and x0 <= x <= x1
    return near_x or near_y


def _reason(
    frame: PartContour, inner: list[PartContour], words: list[Annotation], *, is_in_one: bool
) -> str:
    """Say what makes a rectangle a frame; nothing where it may well be the part."""
    measured = [p for a in words if a.kind is AnnotationKind.DIMENSION for p in a.points_mm]
    if any(_is_on_walls(frame, point) for point in measured):
        return ""
    beside = [a for a in words if not any(_holds(c, a) for c in _parts(inner, words))]
    titles = _titles(beside)
    sheet = _sheet_of(frame)
    is_named = _LAYER.search(frame.layer) is not None
    if len(titles) < (_KINDS_OF_A_SHEET if sheet or is_named or is_in_one else _KINDS_ALONE):
        return ""
    reasons = [sheet, f"on layer {frame.layer}" if is_named else ""]
    reasons.append(f"with “{'”, “'.join(list(titles.values())[:3])}” in it")
    return ", ".join(one for one in reasons if one)


def _parts(inner: list[PartContour], words: list[Annotation]) -> list[PartContour]:
    """Return the contours that may be parts: no rectangle that is full of a title block's words."""
    return [
        c
        for c in inner
        if not _is_rectangle(c) or len(_titles(a for a in words if _holds(c, a))) < _KINDS_ALONE
    ]


def _titles(words: Iterable[Annotation]) -> dict[int, str]:
    """Return words of a title block, the first text of each kind."""
    found: dict[int, str] = {}
    for one in words:
        for match in _TITLES.finditer(f"{one.label} {one.text}"):
            said = shortened(" ".join(one.text.split()), _MOST_LETTERS)
            found.setdefault(match.lastindex or 0, said)
    return found


def _sheet_of(one: PartContour) -> str:
    """Name the sheet that a rectangle is as large as; empty where there is none."""
    x0, y0, x1, y1 = one.contour.bounds_mm
    short, long = sorted((x1 - x0, y1 - y0))
    for scale in _SCALES:
        for name, (sheet_long, sheet_short) in _SHEETS_MM.items():
            for along, across in _MARGINS_MM:
                wanted = (sheet_short - across) * scale, (sheet_long - along) * scale
                if np.allclose((short, long), wanted, rtol=_SAME, atol=0):
                    times = "" if scale == 1 else f", {scale:g} times as large"
                    return f"as large as {'the frame of ' * bool(along)}a sheet {name}{times}"
    return ""


def _title_blocks(
    frame: PartContour, inner: list[PartContour], words: list[Annotation]
) -> list[PartContour]:
    """Return rectangles at the frame that hold words of a title block and no part."""
    x0, y0, x1, y1 = frame.contour.bounds_mm
    reach = _BESIDE_SHARE * max(x1 - x0, y1 - y0)
    blocks = []
    for one in inner:
        a0, b0, a1, b1 = one.contour.bounds_mm
        is_beside = min(a0 - x0, b0 - y0, x1 - a1, y1 - b1) <= reach
        within = [c for c in inner if c is not one and _is_in(c, one)]
        titles = _titles(a for a in words if _holds(one, a))
        if not (is_beside and _is_rectangle(one) and all(map(_is_rectangle, within))):
            continue
        if len(titles) >= _KINDS_ALONE:
            blocks += [one, *within]
    # Never all that is left.
    unique = list({c.id: c for c in blocks}.values())
    return unique if len(unique) < len(inner) else []


def _is_in(one: PartContour, other: PartContour) -> bool:
    x0, y0, x1, y1 = other.contour.bounds_mm
    a0, b0, a1, b1 = one.contour.bounds_mm
    return x0 <= a0 and y0 <= b0 and a1 <= x1 and b1 <= y1


def _warning(one: PartContour, why: str) -> Finding:
    x0, y0, x1, y1 = one.contour.bounds_mm
    wide, high = x1 - x0, y1 - y0
    return Finding(
        code=SHEET_FRAME,
        severity=Severity.WARNING,
        message=f"{one.id}, {both_extents(wide, high)}, is taken for a frame of the sheet: "
        f"{why}. It is left out, so it is neither cut nor priced.",
        where=Place(contour_id=one.id, layer=one.layer, entity=one.entities[0]),
        remedy=f"Look whether it is the edge of the part: then give {one.id} the role outline.",
        data={"wide_mm": wide, "high_mm": high},
    )
