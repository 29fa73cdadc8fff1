"""Marks on paper: lines, true arcs and text as SVG elements, in millimetres of paper."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from dataclasses import dataclass
from xml.sax.saxutils import escape, quoteattr

import numpy as np

from kerfwright.geometry.contour import Contour
from kerfwright.geometry.segments import Flags, Floats, Segments
from kerfwright.motion.moves import Moves, Turn

CHARACTER_EM = 0.6
"""Mean advance of a character over the font size in common sans-serif faces, on the wide side."""

_PAPER_EPSILON_MM = 0.001
"""A micrometre on paper: no printer shows less."""
_FULL_TURN_SLACK_RAD = 1e-9
"""Rounding of an arc's angle; a sweep below it between equal ends is a full turn."""
_NOT_XML = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


@dataclass(frozen=True, slots=True, kw_only=True)
class Stroke:
    """How a line is drawn.

    Attributes
    ----------
    colour : str
    width_mm : float
    dash_mm : tuple of float
        Lengths of dashes and gaps; empty for a full line.
    """

    colour: str
    width_mm: float
    dash_mm: tuple[float, ...] = ()

    def attributes(self) -> str:
        """Return the SVG attributes."""
        dash = " ".join(f"{d:g}" for d in self.dash_mm)
        dashed = f' stroke-dasharray="{dash}"' if dash else ""
        return (
            f'fill="none" stroke="{self.colour}" stroke-width="{self.width_mm:g}"'
            f' stroke-linejoin="round"{dashed}'
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """A window of the drawing and where it lies on paper.

    Attributes
    ----------
    centre_mm : (x, y)
        Point of the drawing in the middle of the window, +Y up.
    left_mm, top_mm, width_mm, height_mm : float
        Window on paper, +Y down.
    scale : float
        Paper millimetres per drawing millimetre.
    """

    centre_mm: tuple[float, float]
    left_mm: float
    top_mm: float
    width_mm: float
    height_mm: float
    scale: float

    @classmethod
    def fit(
        cls,
        bounds_mm: tuple[float, float, float, float],
        *,
        left_mm: float,
        top_mm: float,
        width_mm: float,
        height_mm: float,
        margin_mm: float,
    ) -> View:
        """Return the view that shows a box of the drawing as large as the window allows."""
        x0, y0, x1, y1 = bounds_mm
        wide, high = max(x1 - x0, _PAPER_EPSILON_MM), max(y1 - y0, _PAPER_EPSILON_MM)
        scale = min((width_mm - 2 * margin_mm) / wide, (height_mm - 2 * margin_mm) / high)
        return cls(
            centre_mm=((x0 + x1) / 2, (y0 + y1) / 2),
            left_mm=left_mm,
            top_mm=top_mm,
            width_mm=width_mm,
            height_mm=height_mm,
            scale=scale,
        )

    def points(self, drawing_mm: Floats) -> Floats:
        """Map points (n, 2) of the drawing to paper."""
        middle = np.array([self.left_mm + self.width_mm / 2, self.top_mm + self.height_mm / 2])
        flip = np.array([self.scale, -self.scale])
        mapped: Floats = middle + (drawing_mm - np.array(self.centre_mm)) * flip
        return mapped

    def point(self, x_mm: float, y_mm: float) -> tuple[float, float]:
        """Map one point of the drawing to paper."""
        mapped = self.points(np.array([[x_mm, y_mm]]))[0]
        return float(mapped[0]), float(mapped[1])

    @property
    def window_mm(self) -> tuple[float, float, float, float]:
        """The box of the drawing that the window shows."""
        half_x, half_y = self.width_mm / self.scale / 2, self.height_mm / self.scale / 2
        x, y = self.centre_mm
        return x - half_x, y - half_y, x + half_x, y + half_y

    def shows(self, x_mm: float, y_mm: float) -> bool:
        """Return whether a point of the drawing lies in the window."""
        x0, y0, x1, y1 = self.window_mm
        return x0 <= x_mm <= x1 and y0 <= y_mm <= y1

    def meets(self, bounds_mm: tuple[float, float, float, float]) -> bool:
        """Return whether a box of the drawing meets the window."""
        x0, y0, x1, y1 = bounds_mm
        wx0, wy0, wx1, wy1 = self.window_mm
        return x0 <= wx1 and x1 >= wx0 and y0 <= wy1 and y1 >= wy0

    def touched(self, segments: Segments) -> Flags:
        """Return which segments have a box that meets the window."""
        x0, y0, x1, y1 = segments.boxes()
        wx0, wy0, wx1, wy1 = self.window_mm
        return (x0 <= wx1) & (x1 >= wx0) & (y0 <= wy1) & (y1 >= wy0)


def picked(segments: Segments, which: Flags) -> Segments:
    """Return some of the segments."""
    return Segments.from_ends(segments.start[which], segments.end[which], segments.bulge[which])


def move_segments(moves: Moves, *, wanted: Flags) -> Segments:
    """Return the wanted moves as segments; full circles become two half turns."""
    begin = np.vstack([moves.start_mm[None, :], moves.end_mm[:-1]])
    first, last = begin - moves.centre_mm, moves.end_mm - moves.centre_mm
    cross = first[:, 0] * last[:, 1] - first[:, 1] * last[:, 0]
    angle = np.arctan2(cross, (first * last).sum(axis=1))
    turn = moves.turn.astype(np.float64)
    sweep = np.mod(angle * turn, 2 * math.pi)
    is_arc = moves.turn != Turn.LINE
    sweep = np.where(is_arc & (sweep < _FULL_TURN_SLACK_RAD), 2 * math.pi, sweep)
    full = wanted & is_arc & (sweep > 2 * math.pi - _FULL_TURN_SLACK_RAD)
    bulge = np.where(is_arc & ~full, np.tan(np.where(full, 0.0, sweep) / 4) * turn, turn)
    opposite = 2 * moves.centre_mm - begin
    rows = np.flatnonzero(wanted)
    end = np.where(full[:, None], opposite, moves.end_mm)
    # The second half of a full circle follows its first.
    halves = np.flatnonzero(full)
    order = np.argsort(np.concatenate([rows, halves]), kind="stable")
    return Segments.from_ends(
        np.concatenate([begin[rows], opposite[halves]])[order],
        np.concatenate([end[rows], moves.end_mm[halves]])[order],
        np.concatenate([bulge[rows], turn[halves]])[order],
    )


def _without_dust(start: Floats, end: Floats, bulge: Floats, radius: Floats) -> list[Floats]:
    """Join runs of segments too short to print; a run is cut where it grew long enough."""
    length = np.hypot(*(end - start).T)
    linked = np.concatenate([[False], (np.abs(start[1:] - end[:-1]) < _PAPER_EPSILON_MM).all(1)])
    short = (length < 10 * _PAPER_EPSILON_MM) & (np.abs(bulge) < 1)
    if short.mean() < 0.5:
        return [start, end, bulge, radius]
    grown = np.floor(np.cumsum(length) / (50 * _PAPER_EPSILON_MM))
    opens = ~short | ~linked | np.concatenate([[True], ~short[:-1]])
    opens |= np.concatenate([[True], grown[1:] != grown[:-1]])
    first = np.flatnonzero(opens)
    last = np.append(first[1:], len(start)) - 1
    alone = first == last
    return [start[first], end[last], np.where(alone, bulge[first], 0.0), radius[first]]


def path_data(segments: Segments, view: View, *, is_closed: bool = False) -> str:
    """Return the SVG path of segments: L for lines, A for arcs, M where the chain breaks."""
    if not len(segments):
        return ""
    start, end = view.points(segments.start), view.points(segments.end)
    radius = np.where(segments.is_arc, segments.radius, 0.0) * view.scale
    start, end, bulge, radius = _without_dust(start, end, segments.bulge, radius)
    sagitta = np.hypot(*(end - start).T) / 2 * np.abs(bulge)
    as_arc = (radius > 0) & (sagitta > _PAPER_EPSILON_MM)
    jump = np.ones(len(start), dtype=bool)
    jump[1:] = (np.abs(start[1:] - end[:-1]) > _PAPER_EPSILON_MM).any(axis=1)
    words: list[str] = []
    rows = zip(
        start.tolist(), end.tolist(), bulge.tolist(), radius.tolist(), as_arc.tolist(),
        jump.tolist(), strict=True,
    )  # fmt: skip
    for (x0, y0), (x1, y1), b, r, arc, new in rows:
        if new:
            words.append(f"M{x0:.3f} {y0:.3f}")
        if arc:
            # Counter-clockwise in the drawing is a negative angle on paper: sweep flag 0.
            words.append(f"A{r:.3f} {r:.3f} 0 {int(abs(b) > 1)} {int(b < 0)} {x1:.3f} {y1:.3f}")
        else:
            words.append(f"L{x1:.3f} {y1:.3f}")
    return "".join(words) + ("Z" if is_closed else "")


def outline(contour: Contour, view: View) -> str:
    """Return the SVG path of a whole contour."""
    return path_data(contour.segments, view, is_closed=contour.is_closed)


def clean(words: str) -> str:
    """Return text that XML can hold; other characters become a visible replacement mark."""
    return escape(_NOT_XML.sub("\ufffd", words))


def path(data: str, stroke: Stroke, *, name: str = "") -> str:
    """Return a path element, with a title that a viewer shows on pointing."""
    if not data:
        return ""
    title = f"<title>{clean(name)}</title>" if name else ""
    return f'<path d="{data}" {stroke.attributes()}>{title}</path>'


def line(x0: float, y0: float, x1: float, y1: float, stroke: Stroke) -> str:
    """Return a straight line."""
    return path(f"M{x0:.3f} {y0:.3f}L{x1:.3f} {y1:.3f}", stroke)


def box(
    left: float, top: float, width: float, height: float, stroke: Stroke, *, fill: str = "none"
) -> str:
    """Return a rectangle."""
    attributes = stroke.attributes().replace('fill="none"', f"fill={quoteattr(fill)}")
    place = f'x="{left:.3f}" y="{top:.3f}" width="{width:.3f}" height="{height:.3f}"'
    return f"<rect {place} {attributes}/>"


def disc(x: float, y: float, radius: float, stroke: Stroke, *, fill: str = "none") -> str:
    """Return a circle."""
    attributes = stroke.attributes().replace('fill="none"', f"fill={quoteattr(fill)}")
    return f'<circle cx="{x:.3f}" cy="{y:.3f}" r="{radius:.3f}" {attributes}/>'


def words(
    x: float,
    y: float,
    text: str,
    *,
    size: float = 2.4,
    anchor: str = "start",
    weight: str = "normal",
    fill: str = "#000000",
    halo_mm: float = 0.0,
) -> str:
    """Return text whose base line starts, centres or ends at a point, with a white halo if any."""
    halo = (
        f' stroke="#ffffff" stroke-width="{halo_mm:g}" stroke-linejoin="round" paint-order="stroke"'
        if halo_mm
        else ""
    )
    bold = ' font-weight="bold"' if weight == "bold" else ""
    at = "" if anchor == "start" else f' text-anchor="{anchor}"'
    return (
        f'<text x="{x:.3f}" y="{y:.3f}" font-size="{size:g}" fill="{fill}"{at}{bold}{halo}>'
        f"{clean(text)}</text>"
    )


def document(body: Iterable[str], *, title: str, width_mm: float, height_mm: float) -> str:
    """Return a whole SVG document of white paper with some elements on it."""
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width_mm:g}mm" height="{height_mm:g}mm"'
        f' viewBox="0 0 {width_mm:g} {height_mm:g}"'
        " font-family=\"'DejaVu Sans', Verdana, Arial, Helvetica, sans-serif\">\n"
        f"<title>{clean(title)}</title>\n"
        f'<rect width="{width_mm:g}" height="{height_mm:g}" fill="#ffffff"/>\n'
        + "\n".join(e for e in body if e)
        + "\n</svg>\n"
    )


def text_width_mm(text: str, *, size: float) -> float:
    """Return a generous estimate of the width of text."""
    return len(text) * size * CHARACTER_EM
