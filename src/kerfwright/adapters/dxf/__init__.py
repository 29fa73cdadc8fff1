"""Drawings in the open DXF format, R12 to 2018, ASCII and binary."""

from kerfwright.adapters.dxf.reader import Sketch, layer_names, read_drawing, sketch_drawing

__all__ = ["Sketch", "layer_names", "read_drawing", "sketch_drawing"]
