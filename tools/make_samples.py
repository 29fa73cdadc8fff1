"""Make the drawings that come with kerfwright, from formulas: ``python tools/make_samples.py``.

The scenario is our own: a workshop that restores tower clocks and observatory drives.

* ``escape_wheel.dxf``, mm: a dead-beat escape wheel of 30 teeth with six crossings and a keyed
  bore, drawn as lines and true arcs, with centre lines, text and a dimension on other layers.
* ``hand_die.dxf``, inch ($INSUNITS 1): a blanking die plate for clock hands, with a spade opening,
  a slot, pilots, a cam opening drawn as a spline, given start holes and the stock's edge.
* ``movement_plate.dxf``, ``back_cock.dxf``, ``rack_lever.dxf``, ``click.dxf``, ``spacer.dxf``, mm:
  plates and small parts of one movement, to be laid in one sheet; the plate has a window.
* ``pawl_punch.dxf``, mm: a carbide punch that blanks the click pawl of a winding ratchet, with the
  hole of its dowel, the blank it comes from and the start holes pressed into that.
"""

from __future__ import annotations

import math
from pathlib import Path

import ezdxf
from ezdxf.document import Drawing
from ezdxf.layouts import Modelspace
from ezdxf.math import global_bspline_interpolation

SAMPLES = Path(__file__).parents[1] / "src" / "kerfwright" / "data" / "samples"

Row = tuple[float, float, float]


def filleted(corners: list[tuple[float, float, float]]) -> list[Row]:
    """Return rows x, y, bulge of a polygon whose corners (x, y, radius) are rounded.

    A corner of interior angle ``a`` turns by ``pi - a``: its arc begins ``r tan((pi - a) / 2)``
    before the corner and its bulge is ``tan((pi - a) / 4)``, with the sign of the turn.
    """
    rows: list[Row] = []
    for i, (x, y, radius) in enumerate(corners):
        before, after = corners[i - 1], corners[(i + 1) % len(corners)]
        inward = math.atan2(y - before[1], x - before[0])
        outward = math.atan2(after[1] - y, after[0] - x)
        turn = math.remainder(outward - inward, 2 * math.pi)
        cut = radius * math.tan(abs(turn) / 2)
        if radius == 0:
            rows.append((x, y, 0.0))
            continue
        rows.append((x - cut * math.cos(inward), y - cut * math.sin(inward), math.tan(turn / 4)))
        rows.append((x + cut * math.cos(outward), y + cut * math.sin(outward), 0.0))
    return rows


def turned(rows: list[Row], angle: float) -> list[Row]:
    """Return rows turned about the zero point."""
    cos, sin = math.cos(angle), math.sin(angle)
    return [(x * cos - y * sin, x * sin + y * cos, b) for x, y, b in rows]


def polar(radius: float, angle: float) -> tuple[float, float]:
    """Return the point at a radius and an angle."""
    return radius * math.cos(angle), radius * math.sin(angle)


def tooth_gap(*, tip: float, root: float, fillet: float, pitch: float) -> list[Row]:
    """Return one pitch of a dead-beat wheel: land, back of the tooth, root, front of the next.

    The front leans 6 degrees ahead of the radius, so that only the tip meets the pallet (common
    practice, no source); the land is 4 % of a pitch.
    """
    land = 0.04 * pitch
    lean = math.radians(6.0) * (tip - root) / tip
    tip_front, tip_back = polar(tip, 0.0), polar(tip, land)
    heel = polar(root, land + 0.38 * pitch)
    toe = polar(root, pitch - lean)
    corners = [
        (*polar(root, -lean), 0.0),
        (*tip_front, 0.0),
        (*tip_back, 0.0),
        (*heel, fillet),
        (*toe, fillet),
        (*polar(tip, pitch), 0.0),
    ]
    # The first and the last corner belong to the neighbours.
    return filleted(corners)[1:-1]


def crossing(
    *, inner: float, outer: float, arm: float, fillet: float, arms: int, foot: float
) -> list[Row]:
    """Return the opening between two arms: arcs of rim and hub, joined by fillets.

    The arm's edge is ``arm / 2`` beside its axis.  A fillet that touches it lies ``arm / 2 + r``
    from the axis and, as it touches the rim from inside, ``outer - r`` from the centre (the hub
    from outside: ``inner + r``).
    """
    step = 2 * math.pi / arms

    def fillet_at(circle: float, radius: float, sign: int) -> tuple[float, float, float]:
        """Station along the arm, angle of touch on the circle, sweep of the fillet."""
        away = circle - sign * radius
        aside = arm / 2 + radius
        along = math.sqrt(away**2 - aside**2)
        return along, math.atan2(aside, along), math.pi / 2 + sign * math.atan2(aside, along)

    out_along, out_angle, out_sweep = fillet_at(outer, fillet, 1)
    in_along, in_angle, in_sweep = fillet_at(inner, foot, -1)
    ends = [
        (in_along, arm / 2, 0.0),
        (out_along, arm / 2, math.tan(out_sweep / 4)),
        (*polar(outer, out_angle), math.tan((step - 2 * out_angle) / 4)),
    ]
    mirrored = [_mirrored(x, y, step) for x, y, _ in reversed(ends)]
    return [
        ends[0],
        ends[1],
        ends[2],
        (*mirrored[0], math.tan(out_sweep / 4)),
        (*mirrored[1], 0.0),
        (*mirrored[2], math.tan(in_sweep / 4)),
        (*polar(inner, step - in_angle), -math.tan((step - 2 * in_angle) / 4)),
        (*polar(inner, in_angle), math.tan(in_sweep / 4)),
    ]


def _mirrored(x: float, y: float, step: float) -> tuple[float, float]:
    """Mirror a point in the middle of the opening."""
    radius, angle = math.hypot(x, y), math.atan2(y, x)
    return polar(radius, step - angle)


def escape_wheel() -> Drawing:
    """Return the wheel, mm."""
    document = ezdxf.new("R2010", setup=["linetypes"], units=4)
    document.header["$INSUNITS"] = 4
    space = document.modelspace()
    _layers(document, "PROFILE", "CENTRE", "NOTES")
    teeth = 30
    pitch = 2 * math.pi / teeth
    one = tooth_gap(tip=32.0, root=27.5, fillet=0.6, pitch=pitch)
    rim = [row for i in range(teeth) for row in turned(one, i * pitch)]
    _loop(space, rim, "PROFILE")
    window = crossing(inner=9.0, outer=23.5, arm=3.2, fillet=1.5, arms=6, foot=1.0)
    for i in range(6):
        _loop(space, turned(window, i * math.pi / 3), "PROFILE")
    _loop(space, keyed_bore(radius=4.0, key=2.0, depth=1.1, corner=0.3), "PROFILE")
    for angle in (0.0, math.pi / 2):
        x, y = polar(35.0, angle)
        space.add_line((-x, -y), (x, y), dxfattribs={"layer": "CENTRE", "linetype": "CENTER"})
    space.add_circle((0, 0), 30.0, dxfattribs={"layer": "CENTRE", "linetype": "CENTER"})
    note = space.add_text(
        "ESCAPE WHEEL 30 T  BRASS 6 MM  PAIR", height=2.5, dxfattribs={"layer": "NOTES"}
    )
    note.set_placement((-32.0, -41.0))
    space.add_linear_dim(
        base=(0, 38), p1=(-32, 0), p2=(32, 0), dimstyle="Standard", dxfattribs={"layer": "NOTES"}
    ).render()
    return document


def keyed_bore(*, radius: float, key: float, depth: float, corner: float) -> list[Row]:
    """Return a bore with a keyway at the top whose floor corners are rounded."""
    half = key / 2
    mouth = math.asin(half / radius)
    floor = radius + depth
    right = polar(radius, math.pi / 2 - mouth)
    bulge = math.tan(math.pi / 8)
    return [
        (-right[0], right[1], math.tan((2 * math.pi - 2 * mouth) / 4 / 2)),
        (0.0, -radius, math.tan((2 * math.pi - 2 * mouth) / 4 / 2)),
        (right[0], right[1], 0.0),
        (half, floor - corner, bulge),
        (half - corner, floor, 0.0),
        (-half + corner, floor, bulge),
        (-half, floor - corner, 0.0),
    ]


def hand_die() -> Drawing:
    """Return the die plate, inches."""
    document = ezdxf.new("R2000", setup=["linetypes"], units=1)
    document.header["$INSUNITS"] = 1
    space = document.modelspace()
    _layers(document, "DIE", "STOCK", "START", "NOTES")
    plate = [(0.0, 0.0, 0.0), (5.0, 0.0, 0.0), (5.0, 3.0, 0.0), (0.0, 3.0, 0.0)]
    _loop(space, plate, "STOCK")
    _loop(space, spade_hand(1.0, 1.5), "DIE")
    slot = [(2.6, 0.5, 0.0), (4.2, 0.5, 1.0), (4.2, 0.75, 0.0), (2.6, 0.75, 1.0)]
    _loop(space, slot, "DIE")
    for x in (0.4, 4.6):
        for y in (0.3, 2.7):
            space.add_circle((x, y), 0.125, dxfattribs={"layer": "DIE"})
    cam = [
        polar(0.45 + 0.12 * math.cos(2 * a) + 0.05 * math.cos(3 * a), a)
        for a in (2 * math.pi * i / 16 for i in range(16))
    ]
    points = [(3.5 + x, 1.8 + y, 0.0) for x, y in (*cam, cam[0])]
    # The cam's radius is stationary at angle 0: the seam runs straight up on both sides;
    # a derivative is as long as the whole curve, whose parameter runs from 0 to 1.
    curve = global_bspline_interpolation(points, degree=3, tangents=[(0, 2.8, 0), (0, 2.8, 0)])
    space.add_spline(dxfattribs={"layer": "DIE"}).apply_construction_tool(curve)
    # One given start hole; the planner places the others.
    space.add_circle((3.5, 1.8), 0.03, dxfattribs={"layer": "START"})
    note = space.add_text(
        "HAND DIE  D2  60 HRC  ONE PLATE", height=0.12, dxfattribs={"layer": "NOTES"}
    )
    note.set_placement((0.2, -0.3))
    return document


def spade_hand(x: float, y: float) -> list[Row]:
    """Return the outline of an hour hand: boss, stem and spade, as tangent fillets allow."""
    half = filleted(
        [
            (-0.16, -0.95, 0.10),
            (0.16, -0.95, 0.10),
            (0.16, -0.60, 0.06),
            (0.06, -0.50, 0.05),
            (0.06, 0.20, 0.05),
            (0.30, 0.45, 0.08),
            (0.22, 0.70, 0.08),
            (0.0, 1.15, 0.02),
            (-0.22, 0.70, 0.08),
            (-0.30, 0.45, 0.08),
            (-0.06, 0.20, 0.05),
            (-0.06, -0.50, 0.05),
            (-0.16, -0.60, 0.06),
        ]
    )
    return [(x + px, y + py, b) for px, py, b in half]


def pawl_punch() -> Drawing:
    """Return the punch, mm."""
    document = ezdxf.new("R2010", setup=["linetypes"], units=4)
    document.header["$INSUNITS"] = 4
    space = document.modelspace()
    _layers(document, "PUNCH", "BLANK", "START", "NOTES")
    blank = [(-16.0, -14.0, 0.0), (34.0, -14.0, 0.0), (34.0, 14.0, 0.0), (-16.0, 14.0, 0.0)]
    _loop(space, blank, "BLANK")
    # Round head about the dowel, straight back, hooked nose: the sharpest corners are those that
    # the pawl itself needs, rounded as far as its ratchet allows.
    pawl = filleted(
        [
            (-6.0, -6.0, 5.5),
            (6.0, -6.0, 4.0),
            (15.0, -1.5, 8.0),
            (22.5, -3.5, 0.15),
            (24.0, 2.5, 0.30),
            (14.0, 4.0, 10.0),
            (6.0, 6.0, 6.0),
            (-6.0, 6.0, 5.5),
        ]
    )
    _loop(space, pawl, "PUNCH")
    space.add_circle((0.0, 0.0), 2.0, dxfattribs={"layer": "PUNCH"})
    # Pressed in before sintering: at the dowel, and off the back, where the tab does no harm.
    space.add_circle((0.0, 0.0), 0.75, dxfattribs={"layer": "START"})
    space.add_circle((1.0, -9.5), 1.0, dxfattribs={"layer": "START"})
    note = space.add_text(
        "PAWL PUNCH  WC-10CO  H 30  EDGES SHARP", height=1.5, dxfattribs={"layer": "NOTES"}
    )
    note.set_placement((-16.0, -18.0))
    return document


def movement_plate() -> Drawing:
    """Return a plate with pillar holes, arbor holes and the window that shows the train, mm."""
    outline = [(-48.0, -32.0, 6.0), (48.0, -32.0, 6.0), (48.0, 32.0, 6.0), (-48.0, 32.0, 6.0)]
    window = [(-30.0, -20.0, 4.0), (8.0, -20.0, 4.0), (8.0, 14.0, 4.0), (-30.0, 14.0, 4.0)]
    pillars = [(x, y, 4.0) for x in (-42.0, 42.0) for y in (-26.0, 26.0)]
    arbors = [(18.0, -18.0, 5.0), (24.0, 0.0, 6.0), (34.0, 12.0, 4.5), (16.0, 22.0, 4.5)]
    return _plate([filleted(outline), filleted(window)], [*pillars, *arbors])


def back_cock() -> Drawing:
    """Return the cock that carries the pallet arbor, mm."""
    outline = [
        (-22.0, -7.0, 3.0), (22.0, -7.0, 3.0), (22.0, 5.0, 3.0), (7.0, 5.0, 2.0),
        (7.0, 26.0, 6.5), (-7.0, 26.0, 6.5), (-7.0, 5.0, 2.0), (-22.0, 5.0, 3.0),
    ]  # fmt: skip
    return _plate([filleted(outline)], [(-16.0, -1.0, 4.2), (16.0, -1.0, 4.2), (0.0, 19.0, 5.0)])


def rack_lever() -> Drawing:
    """Return a lever with a boss at its arbor and a hooked end, mm."""
    outline = [
        (-6.0, -6.0, 5.8), (6.0, -6.0, 4.0), (40.0, -3.0, 6.0), (52.0, 6.0, 2.0),
        (47.0, 9.0, 1.5), (38.0, 3.0, 5.0), (6.0, 6.0, 6.0), (-6.0, 6.0, 5.8),
    ]  # fmt: skip
    return _plate([filleted(outline)], [(0.0, 0.0, 5.0)])


def click() -> Drawing:
    """Return the click of a winding ratchet, mm."""
    outline = [
        (-5.0, -5.0, 4.6), (5.0, -5.0, 3.0), (17.0, -1.5, 1.0), (18.0, 2.0, 0.5),
        (11.0, 3.0, 6.0), (4.0, 5.0, 4.0), (-5.0, 5.0, 4.6),
    ]  # fmt: skip
    return _plate([filleted(outline)], [(0.0, 0.0, 4.0)])


def spacer() -> Drawing:
    """Return a spacing collar, mm."""
    return _plate([], [(0.0, 0.0, 12.0), (0.0, 0.0, 6.0)])


def _plate(loops: list[list[Row]], circles: list[tuple[float, float, float]]) -> Drawing:
    """Return a drawing of closed loops and of circles (x, y, diameter) on one layer."""
    document = ezdxf.new("R2010", units=4)
    document.header["$INSUNITS"] = 4
    _layers(document, "PROFILE")
    space = document.modelspace()
    for rows in loops:
        _loop(space, rows, "PROFILE")
    for x, y, diameter in circles:
        space.add_circle((x, y), diameter / 2, dxfattribs={"layer": "PROFILE"})
    return document


def _layers(document: Drawing, *names: str) -> None:
    for colour, name in enumerate(names, start=1):
        document.layers.add(name, color=colour)


def _loop(space: Modelspace, rows: list[Row], layer: str) -> None:
    space.add_lwpolyline(rows, format="xyb", close=True, dxfattribs={"layer": layer})


def main() -> None:
    """Write every sample; the geometry is the same each time."""
    # Without time stamps and fresh identifiers.
    ezdxf.options.write_fixed_meta_data_for_testing = True
    SAMPLES.mkdir(parents=True, exist_ok=True)
    makers = (
        escape_wheel, hand_die, pawl_punch, movement_plate, back_cock, rack_lever, click, spacer,
    )  # fmt: skip
    for make in makers:
        make().saveas(SAMPLES / f"{make.__name__}.dxf")


if __name__ == "__main__":
    main()
