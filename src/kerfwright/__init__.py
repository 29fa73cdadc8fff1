"""kerfwright: from a drawing to a proved wire-EDM program and an honest price."""

__version__ = "0.1.0"
