"""What a drawing says about itself, as lines that a person may take over."""

from __future__ import annotations

import shlex
from collections.abc import Mapping
from types import MappingProxyType

from kerfwright.app.enquiries import LINES
from kerfwright.app.enquiry_lines import own_lines
from kerfwright.app.requirements import DEMANDS, named_demands
from kerfwright.trade.statements import Reading

Lines = dict[str, str]


def lines_of(reading: Reading, *, asked: Mapping[str, str] = MappingProxyType({})) -> Lines:
    """Return the lines that would ask for a reading; empty where there is nothing to take over.

    A reading names what to add to ``kerfwright plan``; the lines of an enquiry have the same
    names, and a demand on single contours is a line of each.

    Parameters
    ----------
    reading : Reading
    asked : mapping of str to str
        The lines as they are: what a contour asks beside a demand stays.
    """
    name, said = _option_of(reading)
    if name == "contour":
        ids, demands = demands_of(reading)
        return dict(own_lines(asked, ids, demands)) if demands else {}
    return {name: said} if name in LINES and said else {}


def demands_of(reading: Reading) -> tuple[tuple[str, ...], dict[str, str]]:
    """Return the contours of which a reading demands something, and what by its name.

    No contour stands for the whole job; nothing is demanded by a material or a quantity.

    Parameters
    ----------
    reading : Reading

    Examples
    --------
    >>> demands_of(Reading(words="", option="--contour 'H1,H2: tolerance=12 H7'"))
    (('H1', 'H2'), {'tolerance': '12 H7'})
    """
    name, said = _option_of(reading)
    if name == "contour":
        ids, _, demands = said.partition(":")
        names = tuple(one.strip() for one in ids.split(","))
        return names, named_demands(demands, ids) if demands else {}
    return (), {name: said} if name in DEMANDS and said else {}


def _option_of(reading: Reading) -> tuple[str, str]:
    """Return name and value of the option of a reading."""
    words = shlex.split(reading.option)
    if not words or not words[0].startswith("--"):
        return "", ""
    name, sign, value = words[0].removeprefix("--").partition("=")
    return name, value if sign else " ".join(words[1:])
