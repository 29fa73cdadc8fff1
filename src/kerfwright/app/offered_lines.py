"""What a drawing says about itself, as lines that a person may take over."""

from __future__ import annotations

import shlex

from kerfwright.app.enquiries import CONTOUR, LINES
from kerfwright.trade.statements import Reading

Lines = dict[str, str]


def lines_of(reading: Reading) -> Lines:
    """Return the lines that would ask for a reading; empty where there is nothing to take over.

    A reading names what to add to ``kerfwright plan``; the lines of an enquiry have the same
    names, and a demand on single contours is a line of its own.
    """
    words = shlex.split(reading.option)
    if not words or not words[0].startswith("--"):
        return {}
    name, sign, value = words[0].removeprefix("--").partition("=")
    said = value if sign else " ".join(words[1:])
    if name == "contour":
        ids, _, demands = said.partition(":")
        return {f"{CONTOUR}{ids.strip()}": demands.strip()} if demands.strip() else {}
    return {name: said} if name in LINES and said else {}
