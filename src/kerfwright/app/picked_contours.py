"""Demands of which the drawing leaves open what contours they are meant for."""

from __future__ import annotations

import shlex
from dataclasses import replace
from typing import Final

from kerfwright.trade.statements import Reading

OF_CONTOURS: Final = ("tolerance", "finish", "recast")
"""Options that a demand on contours may hold too; their values need no quotes."""


def to_be_picked(reading: Reading) -> Reading:
    """Return a reading that asks nothing of the whole job, but of contours that a person picks.

    Parameters
    ----------
    reading : Reading
        With an option for the whole job.

    Examples
    --------
    >>> found = to_be_picked(Reading(words="", option="--tolerance ±0.005mm"))
    >>> found.option, found.of_picked
    ('', 'tolerance=±0.005mm')
    """
    name, *values = shlex.split(reading.option.removeprefix("--")) or [""]
    if name not in OF_CONTOURS:
        return reading
    return replace(reading, option="", of_picked=f"{name}={' '.join(values)}")
