"""STEP files: a solid read in a process of its own."""

from kerfwright.adapters.step.reader import is_solid_file, read_solid

__all__ = ["is_solid_file", "read_solid"]
