"""Exact offset of contours of lines and arcs."""
