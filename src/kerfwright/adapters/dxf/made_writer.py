"""Drawings made from words, with their sizes as notes beside them."""

from __future__ import annotations

from typing import Final

from kerfwright.adapters.dxf.writing import add_loop, declare_use, new_drawing, text_of
from kerfwright.app.draw import Made

_NOTES: Final = "NOTES"
_LINES_MM: Final = 60.0
"""Size of a drawing, mm, whose notes are as high as they may be."""


def made_dxf(made: Made) -> str:
    """Return the drawing, the same for the same contours.

    The file itself declares what each layer is for; notes stand right of the contours.
    """
    with new_drawing() as document:
        space = document.modelspace()
        bounds = []
        for layer in made.layers:
            document.layers.add(layer.name)
            declare_use(document, layer.name, layer.use.value)
            for contour in layer.contours:
                add_loop(space, contour, layer.name)
                bounds.append(contour.bounds_mm)
        document.layers.add(_NOTES)
        right, top = max(b[2] for b in bounds), max(b[3] for b in bounds)
        high = min(max((top - min(b[1] for b in bounds)) / _LINES_MM * 2, 0.5), 2.5)
        for row, text in enumerate((made.title, *(f"{n}: {v}" for n, v in made.facts))):
            space.add_text(
                text,
                height=high,
                dxfattribs={"layer": _NOTES, "insert": (right + 4 * high, top - 1.8 * high * row)},
            )
        return text_of(document)
