"""Strokes of the picture; every kind of line differs in dash or width as well as in colour.

Colours are the palette of M. Okabe and K. Ito, "Color Universal Design: how to make figures and
presentations that are friendly to colorblind people" (2008), recommended in B. Wong, "Points of
view: Color blindness", Nature Methods 8, 441 (2011); values from memory of both.  Yellow is left
out, it does not print on white.
"""

from __future__ import annotations

from kerfwright.adapters.svg.ink import Stroke

BLACK = "#000000"
GREY = "#666666"
PALE = "#ececec"
WHITE = "#ffffff"
BLUE = "#0072b2"
VERMILLION = "#d55e00"
GREEN = "#009e73"
PURPLE = "#cc79a7"
ORANGE = "#e69f00"
SKY = "#56b4e9"

WALL = Stroke(colour=BLACK, width_mm=0.35)
STOCK = Stroke(colour=GREY, width_mm=0.3, dash_mm=(4.0, 1.0, 0.6, 1.0))
CONSTRUCTION = Stroke(colour=GREY, width_mm=0.1, dash_mm=(0.6, 0.6))
START = Stroke(colour=BLACK, width_mm=0.2)
TAB = Stroke(colour=ORANGE, width_mm=1.5)
TAB_EDGE = Stroke(colour=BLACK, width_mm=0.25)
FRAME = Stroke(colour=BLACK, width_mm=0.25)
RULE = Stroke(colour=GREY, width_mm=0.1)
DETAIL = Stroke(colour=BLACK, width_mm=0.18, dash_mm=(1.4, 0.5))
WIRE = Stroke(colour=BLACK, width_mm=0.15, dash_mm=(0.5, 0.4))
CLAMP = Stroke(colour=VERMILLION, width_mm=0.35)
LEFT_STANDING = Stroke(colour=VERMILLION, width_mm=0.3)
NONE = Stroke(colour="none", width_mm=0.0)

_PASSES = (
    Stroke(colour=BLUE, width_mm=0.22),
    Stroke(colour=VERMILLION, width_mm=0.22, dash_mm=(1.8, 0.7)),
    Stroke(colour=GREEN, width_mm=0.22, dash_mm=(0.5, 0.5)),
    Stroke(colour=PURPLE, width_mm=0.26, dash_mm=(2.4, 0.5, 0.5, 0.5)),
    Stroke(colour=SKY, width_mm=0.26, dash_mm=(1.0, 0.4)),
    Stroke(colour=ORANGE, width_mm=0.26, dash_mm=(3.2, 0.5, 0.5, 0.5, 0.5, 0.5)),
)


def of_pass(number: int) -> Stroke:
    """Return the stroke of a pass, the rough pass being 1."""
    return _PASSES[(number - 1) % len(_PASSES)]


HATCH = (
    '<defs><pattern id="left-standing" width="0.8" height="0.8" patternUnits="userSpaceOnUse"'
    ' patternTransform="rotate(45)"><rect width="0.8" height="0.8" fill="#ffffff"/>'
    f'<rect width="0.4" height="0.8" fill="{VERMILLION}"/></pattern></defs>'
)
