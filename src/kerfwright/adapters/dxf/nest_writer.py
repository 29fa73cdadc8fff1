"""A nested sheet as a drawing that ``kerfwright plan`` takes as it is."""

from __future__ import annotations

import io
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Final

from kerfwright.adapters.dxf.layers import USE_PREFIX
from kerfwright.app.nest import UsedSheet
from kerfwright.geometry.contour import Contour

if TYPE_CHECKING:
    from ezdxf.layouts.layout import Modelspace

STOCK_LAYER: Final = "STOCK"
CLAMP_LAYER: Final = "CLAMPS"
GONE_LAYER: Final = "GONE"
_MILLIMETRES: Final = 4


def sheet_dxf(used: UsedSheet) -> str:
    """Return the drawing of one sheet, the same for the same nest.

    Every part is on a layer of its own, named after it; lines and arcs are exact.  The edge of the
    sheet, clamps and old holes lie on layers whose use the file itself declares.
    """
    import ezdxf

    with _without_times():
        document = ezdxf.new("R2010", units=_MILLIMETRES)  # type: ignore[attr-defined,unused-ignore]
        document.header["$INSUNITS"] = _MILLIMETRES
        space = document.modelspace()
        for layer, contours, use in (
            (STOCK_LAYER, (used.sheet.outline,), "stock"),
            (CLAMP_LAYER, used.sheet.clamps, "ignore"),
            (GONE_LAYER, used.sheet.holes, "ignore"),
        ):
            if not contours:
                continue
            document.layers.add(layer)
            document.header.custom_vars.append(f"{USE_PREFIX}{layer}", use)
            for contour in contours:
                _loop(space, contour, layer)
        for place, kind in used.parts:
            layer = f"PART-{place.kind}-{place.copy}"
            document.layers.add(layer)
            for contour in (kind.outline, *kind.openings, *kind.islands):
                _loop(space, contour, layer)
        stream = io.StringIO()
        document.write(stream)
    return stream.getvalue()


def _loop(space: Modelspace, contour: Contour, layer: str) -> None:
    space.add_lwpolyline(
        contour.vertices.tolist(), format="xyb", close=True, dxfattribs={"layer": layer}
    )


@contextmanager
def _without_times() -> Iterator[None]:
    """Have ezdxf write no time and no fresh identifiers: the same nest gives the same bytes."""
    from ezdxf._options import options

    before = options.write_fixed_meta_data_for_testing
    options.write_fixed_meta_data_for_testing = True
    try:
        yield
    finally:
        options.write_fixed_meta_data_for_testing = before
