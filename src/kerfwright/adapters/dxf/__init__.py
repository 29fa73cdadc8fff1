"""Drawings in the open DXF format, R12 to 2018, ASCII and binary."""

from kerfwright.adapters.dxf.reader import layer_names, read_drawing

__all__ = ["layer_names", "read_drawing"]
