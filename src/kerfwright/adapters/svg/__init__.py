"""The plan as a picture that hangs on the machine."""

from kerfwright.adapters.svg.sheet import render_plan

__all__ = ["render_plan"]
