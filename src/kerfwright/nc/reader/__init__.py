"""Read ISO 6983 text into a time line.

An interpreter of its own: it shares no code with the writer and knows nothing of plans.  The
rules are those of T. Kramer, F. Proctor, E. Messina, *The NIST RS274NGC Interpreter, Version 3*,
NISTIR 6556, 2000, as far as a two-axis wire machine has the words.
"""

from __future__ import annotations

from kerfwright.nc.reader.interpreter import read_program

__all__ = ["read_program"]
