"""Small wire programs written by hand rules, with the claims they fulfil.

Nothing of the planner or of the offset engine is used: the shapes are polygons with rounded
corners, whose offsets are written down directly (shifted lines, radii made smaller or larger).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from kerfwright.adapters.machines import load_machine
from kerfwright.geometry.contour import Contour
from kerfwright.proof.records import Claim, StartPlace
from kerfwright.trade.machine import Machine
from kerfwright.trade.part import PartContour, Role

Point = tuple[float, float]
Corner = tuple[float, float, float]
"""x, y and fillet radius."""

STEEL = 7850.0
KERF = {1: 0.150, 2: 0.145, 3: 0.140}
OFFSET = {1: 0.200, 2: 0.155, 3: 0.140}
"""Stock of 50 and 10 micrometres is left for the skims."""
FEED = {1: 2.5, 2: 6.0, 3: 6.0}


@dataclass(frozen=True)
class Piece:
    """A line or an arc of a path: end, and centre and turn of an arc."""

    end: Point
    centre: Point | None = None
    turn: int = 0


def offset_corners(corners: list[Corner], distance: float) -> list[Corner]:
    """Shift every side to the right of travel; inside corners lose radius, outside gain."""
    n = len(corners)
    result = []
    for k in range(n):
        before, here, after = corners[k - 1], corners[k], corners[(k + 1) % n]
        ux, uy = _unit(before, here)
        vx, vy = _unit(here, after)
        # Both shifted lines cross at here + distance * (n1 + n2) / (1 + n1 . n2).
        n1, n2 = (uy, -ux), (vy, -vx)
        share = distance / (1 + n1[0] * n2[0] + n1[1] * n2[1])
        x, y = here[0] + (n1[0] + n2[0]) * share, here[1] + (n1[1] + n2[1]) * share
        left_turn = ux * vy - uy * vx > 0
        radius = here[2] + distance if left_turn else max(here[2] - distance, 0.0)
        result.append((x, y, radius))
    return result


def _unit(a: Corner, b: Corner) -> Point:
    length = math.hypot(b[0] - a[0], b[1] - a[1])
    return (b[0] - a[0]) / length, (b[1] - a[1]) / length


def pieces_of(corners: list[Corner]) -> tuple[Point, list[Piece]]:
    """Return the point where corner 0's fillet ends and all pieces round to it."""
    n = len(corners)
    pieces = []
    for k in [*range(1, n), 0]:
        before, here, after = corners[k - 1], corners[k], corners[(k + 1) % n]
        ux, uy = _unit(before, here)
        vx, vy = _unit(here, after)
        cross, dot = ux * vy - uy * vx, ux * vx + uy * vy
        cut = here[2] * math.tan(math.atan2(abs(cross), dot) / 2)
        first = (here[0] - ux * cut, here[1] - uy * cut)
        last = (here[0] + vx * cut, here[1] + vy * cut)
        pieces.append(Piece(first))
        if here[2] > 0:
            side = math.copysign(here[2], cross)
            centre = (first[0] - uy * side, first[1] + ux * side)
            pieces.append(Piece(last, centre, 1 if cross > 0 else -1))
    return pieces[-1].end, pieces


def contour_of(corners: list[Corner]) -> Contour:
    """Return the shape as a contour."""
    start, pieces = pieces_of(corners)
    rows = []
    at = start
    for piece in pieces:
        bulge = 0.0
        if piece.centre is not None:
            cx, cy = piece.centre
            a = (at[0] - cx, at[1] - cy)
            b = (piece.end[0] - cx, piece.end[1] - cy)
            sweep = math.atan2(a[0] * b[1] - a[1] * b[0], a[0] * b[0] + a[1] * b[1])
            bulge = math.tan(sweep / 4)
        if math.dist(at, piece.end) > 1e-9:
            rows.append((*at, bulge))
        at = piece.end
    return Contour.from_rows(rows)


@dataclass(frozen=True)
class Shape:
    """A contour with its start hole; the wire leads onto the side after corner 0.

    Openings are listed clockwise, outlines counter-clockwise: material on the left.
    """

    id: str
    role: Role
    corners: tuple[Corner, ...]
    hole: Point
    lead_share: float = 0.5
    tab_mm: float = 2.0

    @property
    def part(self) -> PartContour:
        return PartContour(
            id=self.id,
            role=self.role,
            contour=contour_of(list(self.corners)),
            layer="0",
            entities=(),
        )


class Text:
    """Collects the lines of a program."""

    def __init__(self, *, decimals: int = 4) -> None:
        self.lines: list[str] = ["%", "G21 G90 G40"]
        self.decimals = decimals
        self.at: Point = (0.0, 0.0)

    def number(self, value: float) -> str:
        return f"{value:.{self.decimals}f}"

    def round(self, point: Point) -> Point:
        return round(point[0], self.decimals), round(point[1], self.decimals)

    def rapid(self, point: Point) -> None:
        self.at = self.round(point)
        self.lines.append(f"G00 X{self.number(point[0])} Y{self.number(point[1])}")

    def go(self, piece: Piece, feed: float) -> None:
        x, y = self.number(piece.end[0]), self.number(piece.end[1])
        if self.round(piece.end) == self.at:
            return
        if piece.centre is None:
            self.lines.append(f"G01 X{x} Y{y} F{feed:g}")
        else:
            i, j = (self.number(piece.centre[k] - self.at[k]) for k in (0, 1))
            self.lines.append(f"G0{3 if piece.turn > 0 else 2} X{x} Y{y} I{i} J{j} F{feed:g}")
        self.at = self.round(piece.end)

    def add(self, *lines: str) -> None:
        self.lines += lines

    def text(self) -> str:
        return "\n".join([*self.lines, "M30", "%"]) + "\n"


def cut(text: Text, shape: Shape, *, passes: tuple[int, ...] = (1, 2, 3)) -> None:
    """Write the passes of one contour: rough to the tab, cut off attended, skim all round."""
    for number in passes:
        corners = offset_corners(list(shape.corners), OFFSET[number])
        start, pieces = pieces_of(corners)
        first = pieces[0]
        length = math.dist(start, first.end)
        ux, uy = (first.end[0] - start[0]) / length, (first.end[1] - start[1]) / length
        along = length * shape.lead_share
        lead = (start[0] + ux * along, start[1] + uy * along)
        tab = (lead[0] - ux * shape.tab_mm, lead[1] - uy * shape.tab_mm)
        round_trip = [first, *pieces[1:], Piece(tab)]
        text.add(f"(CUT {shape.id} PASS {number} OFFSET {OFFSET[number]:.4f})")
        if number == passes[0]:
            text.rapid(shape.hole)
            text.add("M101")
        text.add(f"M103 P{number}")
        if number > 2 and shape.role is Role.OUTLINE:
            # Somebody watches a part that is skimmed after it was cut off: half an hour at most.
            text.add("M00")
        feed = 2.5 if number == 1 else 6.0
        text.go(Piece(lead), feed)
        for piece in round_trip:
            text.go(piece, feed)
        if number == 1:
            text.add(f"(CUT {shape.id} PASS 1 OFFSET {OFFSET[1]:.4f})", "M103 P1", "M00")
        text.go(Piece(lead), feed)
        text.go(Piece(shape.hole), feed)
        # A slug has to leave before the skims; a cut-off part is held since the stop before.
        if number == 1 and shape.role is Role.OPENING:
            text.add("M00")
    text.add("M102")


def cut_controller(text: Text, shape: Shape, *, passes: tuple[int, ...] = (1, 2, 3)) -> None:
    """Write the same with the wall as programmed path and the control's offset (G42)."""
    for number in passes:
        start, pieces = pieces_of(list(shape.corners))
        first = pieces[0]
        length = math.dist(start, first.end)
        ux, uy = (first.end[0] - start[0]) / length, (first.end[1] - start[1]) / length
        along = length * shape.lead_share
        lead = (start[0] + ux * along, start[1] + uy * along)
        tab = (lead[0] - ux * shape.tab_mm, lead[1] - uy * shape.tab_mm)
        over = (lead[0] + ux * 0.5, lead[1] + uy * 0.5)
        text.add(f"(CUT {shape.id} PASS {number} OFFSET {OFFSET[number]:.4f})")
        if number == passes[0]:
            text.rapid(shape.hole)
            text.add("M101")
        text.add(f"M103 P{number}")
        feed = 2.5 if number == 1 else 6.0
        text.add(f"G42 D{number}")
        for piece in [Piece(lead), first, *pieces[1:], Piece(tab)]:
            text.go(piece, feed)
        if number == 1:
            text.add("G40")
            beyond = (over[0] + uy * OFFSET[1], over[1] - ux * OFFSET[1])
            text.add(f"(CUT {shape.id} PASS 1 OFFSET {OFFSET[1]:.4f})", "M103 P1", "M00")
            text.go(Piece(beyond), feed)
            # Home through the open lead-in, not through the slug.  The control cut it slanting, to
            # where the shifted lead-in meets the shifted wall.
            share = OFFSET[1]
            entry = (lead[0] + (uy + ux) * share, lead[1] - (ux - uy) * share)
            text.go(Piece(entry), feed)
        else:
            text.go(Piece(over), feed)
            text.add("G40")
        text.go(Piece(shape.hole), feed)
        if number == 1:
            text.add("M00")
    text.add("M102")


def claim_for(shapes: list[Shape], *, machine: Machine | None = None) -> Claim:
    """Return the claim that the programs of these shapes fulfil."""
    return Claim(
        contours=tuple(s.part for s in shapes),
        cut_ids=frozenset(s.id for s in shapes),
        kerf_radius_mm=KERF,
        height_mm=20.0,
        density_kg_per_m3=STEEL,
        starts=tuple(StartPlace(x_mm=s.hole[0], y_mm=s.hole[1], diameter_mm=1.0) for s in shapes),
        stock=None,
        machine=machine or load_machine("generic-mm"),
        wire_diameter_mm=0.25,
        tolerance_um=0.25,
        offset_mm={(s.id, n): mm for s in shapes for n, mm in OFFSET.items()},
        feed_mm_per_min={(s.id, n): feed for s in shapes for n, feed in FEED.items()},
        condition={(s.id, n): n for s in shapes for n in (1, 2, 3)},
    )


def box(
    x0: float, y0: float, x1: float, y1: float, *, radius: float, clockwise: bool
) -> tuple[Corner, ...]:
    """Return a rectangle, first side upwards (clockwise) or to the right."""
    ring = [(x0, y0, radius), (x1, y0, radius), (x1, y1, radius), (x0, y1, radius)]
    return tuple([ring[0], ring[3], ring[2], ring[1]] if clockwise else ring)


WINDOW = Shape("H1", Role.OPENING, box(0, 0, 20, 12, radius=1.0, clockwise=True), (6.0, 6.0))
SHARP = Shape("H1", Role.OPENING, box(0, 0, 16, 12, radius=0.0, clockwise=True), (5.0, 6.0))
PUNCH = Shape("P1", Role.OUTLINE, box(0, 0, 24, 15, radius=2.0, clockwise=False), (12.0, -4.0))
KEY = Shape(
    "H2",
    Role.OPENING,
    (
        (40, 0, 0.8),
        (40, 20, 0.8),
        (50, 20, 0.8),
        (50, 10, 1.2),
        (62, 10, 0.5),
        (62, 0, 0.8),
    ),
    (45.0, 8.0),
)


@dataclass(frozen=True)
class Program:
    """A name, a text and its claim."""

    name: str
    text: str
    claim: Claim


def good_programs() -> tuple[Program, ...]:
    """Return programs that must pass."""
    found = []
    for name, shapes in (
        ("window", [WINDOW]),
        ("sharp", [SHARP]),
        ("punch", [PUNCH]),
        ("key", [KEY]),
        ("window-and-key", [WINDOW, KEY]),
    ):
        text = Text()
        for shape in shapes:
            cut(text, shape)
        found.append(Program(name, text.text(), claim_for(shapes)))
    found.append(Program("controller", controller_text(WINDOW), claim_for([WINDOW])))
    return tuple(found)


def controller_text(shape: Shape) -> str:
    """Return the program of a shape in the form in which the control applies the offset."""
    text = Text()
    for number, offset in OFFSET.items():
        text.add(f"G10 L1 P{number} R{offset:.4f}")
    cut_controller(text, shape)
    return text.text()


def with_claim(claim: Claim, **changes: object) -> Claim:
    """Return a claim with some fields changed."""
    return replace(claim, **changes)  # type: ignore[arg-type]
