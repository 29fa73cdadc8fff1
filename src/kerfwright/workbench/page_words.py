"""Remedies that speak of options of the command line, in the words of the page."""

from __future__ import annotations

import re
from typing import Final

_OPTIONS: Final = (
    (re.compile(r"Say which: --units in or --units mm"), "Say in or mm in the line Drawing is in"),
    (re.compile(r"say --units\b"), "say the unit in the line Drawing is in"),
    (re.compile(r"say --layer (\S+)=(\w+)"), r"say in the line of layer \1: \2"),
    (re.compile(r'--coreless "([^":]+): (\w+)"'), r"“\2” in the line Inside of \1"),
    (re.compile(r"--coreless (\w+)"), r"“\1” in the line Insides"),
    (re.compile(r"Give --stack with"), "Write into the line Stack"),
    (re.compile(r"compare with --stack\b"), "compare in the picture of stacks"),
    (re.compile(r"\(--stack\)"), "(the line Stack)"),
    (re.compile(r'"H1: (?=taper|land|top)'), '"'),
    (re.compile(r', "(land=[^"]*)", or "top=H1, match=corners"'), r', or "\1"'),
    (re.compile(r"--strings (\w+)"), r"“\1” in the line Threading"),
    (
        re.compile(r"( are left out| is left out by its name)(?: with|:) --role '[^']+'"),
        r"\1, below",
    ),
    (re.compile(r"Say which: --solid 1"), "Say which in the line Solid, such as 1"),
    (re.compile(r"refused without --solid"), "refused without a number"),
    (re.compile(r": --wire-along x, -y or 0 0\.5 1"), " in the line Wire along: x, -y or 0 0.5 1"),
    (re.compile(r", --wire-along;"), ", in the line Wire along;"),
    (re.compile(r"with --wire-along|: --wire-along"), "in the line Wire along"),
    (re.compile(r"Say it: --units mm or --units in"), "Say mm or in in the line Drawing is in"),
    (re.compile(r"Leave --units out"), "Leave the line Drawing is in empty"),
    (re.compile(r"--units mm or in sets another"), "the line Drawing is in sets another"),
    (re.compile(r"Leave --height out"), "Leave the line Height empty"),
    (re.compile(r"Leave --taper out"), "Take the lines of tapers away"),
    (re.compile(r": --tolerance, --finish, --contour"), " in the lines of the ledger"),
    (re.compile(r"\(record --offset-set\)"), "(with the button below)"),
    (
        re.compile(r"Jobs that were cut with it are named as cut since \(--cut-since\)"),
        "Where jobs were cut with it already, plan this one anew: its finding names them",
    ),
    (re.compile(r"say it once more with --sure"), "press “I am sure”"),
    (re.compile(r"\(--stock-margin\)"), "(the line Stock around)"),
    (
        re.compile(r"Correct it, or delete it to use the shipped value\."),
        "Write another value. As shipped takes the shop's own away, where there is one.",
    ),
)


def on_page(text: str) -> str:
    """Return a remedy with the lines of the ledger in place of options.

    Examples
    --------
    >>> on_page("If the inside leaves, say --layer WINDOWS=opening.")
    'If the inside leaves, say in the line of layer WINDOWS: opening.'
    >>> on_page("Correct it, or delete it to use the shipped value.")
    "Write another value. As shipped takes the shop's own away, where there is one."
    """
    for option, words in _OPTIONS:
        text = option.sub(words, text)
    return text
