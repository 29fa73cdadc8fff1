"""A nested sheet as a drawing that ``kerfwright plan`` takes as it is."""

from __future__ import annotations

from typing import Final

from kerfwright.adapters.dxf.writing import add_loop, declare_use, new_drawing, text_of
from kerfwright.app.nest import UsedSheet
from kerfwright.nesting.records import Placement

STOCK_LAYER: Final = "STOCK"
CLAMP_LAYER: Final = "CLAMPS"
GONE_LAYER: Final = "GONE"


def sheet_dxf(used: UsedSheet) -> str:
    """Return the drawing of one sheet, the same for the same nest.

    Every part is on a layer of its own, named after it; lines and arcs are exact.  The edge of the
    sheet, clamps and old holes lie on layers whose use the file itself declares.
    """
    with new_drawing() as document:
        space = document.modelspace()
        for layer, contours, use in (
            (STOCK_LAYER, (used.sheet.outline,), "stock"),
            (CLAMP_LAYER, used.sheet.clamps, "clamp"),
            (GONE_LAYER, used.sheet.holes, "ignore"),
        ):
            if not contours:
                continue
            document.layers.add(layer)
            declare_use(document, layer, use)
            for contour in contours:
                add_loop(space, contour, layer)
        for place, kind in used.parts:
            layer = layer_of(place)
            document.layers.add(layer)
            for contour in (kind.outline, *kind.openings, *kind.islands):
                add_loop(space, contour, layer)
        return text_of(document)


def layer_of(place: Placement) -> str:
    """Return the layer that one part is drawn on."""
    return f"PART-{place.kind}-{place.copy}"
