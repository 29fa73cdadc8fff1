"""What drawings that are written here have in common."""

from __future__ import annotations

import io
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Final

from kerfwright.adapters.dxf.layers import USE_PREFIX
from kerfwright.geometry.contour import Contour

if TYPE_CHECKING:
    from ezdxf.document import Drawing
    from ezdxf.layouts.layout import Modelspace

_MILLIMETRES: Final = 4


@contextmanager
def new_drawing() -> Iterator[Drawing]:
    """Give an empty drawing in millimetres.

    While it is open ezdxf writes no time and no fresh identifiers: the same contours give the
    same bytes.
    """
    import ezdxf
    from ezdxf._options import options

    before = options.write_fixed_meta_data_for_testing
    options.write_fixed_meta_data_for_testing = True
    try:
        document = ezdxf.new("R2010", units=_MILLIMETRES)  # type: ignore[attr-defined,unused-ignore]
        document.header["$INSUNITS"] = _MILLIMETRES
        yield document
    finally:
        options.write_fixed_meta_data_for_testing = before


def declare_use(document: Drawing, layer: str, use: str) -> None:
    """Have the drawing say what a layer is for."""
    document.header.custom_vars.append(f"{USE_PREFIX}{layer}", use)


def add_loop(space: Modelspace, contour: Contour, layer: str) -> None:
    """Draw a closed contour, its lines and arcs exact."""
    space.add_lwpolyline(
        contour.vertices.tolist(), format="xyb", close=True, dxfattribs={"layer": layer}
    )


def text_of(document: Drawing) -> str:
    """Return the file's text."""
    stream = io.StringIO()
    document.write(stream)
    return stream.getvalue()
