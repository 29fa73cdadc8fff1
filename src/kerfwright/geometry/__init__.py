"""Contours of lines and arcs: millimetres and radians, +Y up, counter-clockwise positive."""
