"""How ``kerfwright record`` is told that an offset was set, and shows those that were."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, TypedDict

import click

from kerfwright.cli.options import together
from kerfwright.cli.output import Page
from kerfwright.foundation.counts import counted
from kerfwright.foundation.units import both
from kerfwright.learning.batch import OffsetSaid

_NAME = 12
"""Digits of a hash that are shown."""

offset_options = together(
    click.option(
        "--offset-set",
        metavar="NAME",
        help='Say that an offset was set: "machine / material / wire / pass" as a finding names '
        "it. Sizes recorded so far count as if cut with it.",
    ),
    click.option("--smaller", metavar="LENGTH", help="By how much it was set smaller: 5.4um."),
    click.option("--larger", metavar="LENGTH", help="By how much it was set larger: 0.0002in."),
    click.option(
        "--cut-since",
        multiple=True,
        metavar="JOB",
        help="A job cut with it already: its sizes stay as they are. May be given again.",
    ),
    click.option(
        "--sure", is_flag=True, help="With --offset-set: it is so, whatever the sizes say."
    ),
)


class OffsetBy(TypedDict):
    """By how much an offset was set, which jobs were cut with it, and whether that is sure."""

    by: str
    is_larger: bool
    cut_since: tuple[str, ...]
    is_sure: bool


def offset_said(offset_set: str | None, said: Mapping[str, Any]) -> OffsetBy:
    """Return what was said beside ``--offset-set``.

    Raises
    ------
    UsageError
        Where it says nothing or too much, or is said without it.
    """
    ways = [one for one in (said["smaller"], said["larger"]) if one is not None]
    if offset_set is None:
        if ways or said["cut_since"] or said["sure"]:
            raise click.UsageError(
                "--smaller, --larger, --cut-since and --sure go with --offset-set."
            )
        return OffsetBy(by="", is_larger=False, cut_since=(), is_sure=False)
    if len(ways) != 1:
        raise click.UsageError("--offset-set goes with one of --smaller and --larger.")
    return OffsetBy(
        by=ways[0],
        is_larger=said["larger"] is not None,
        cut_since=tuple(said["cut_since"]),
        is_sure=said["sure"],
    )


def show_offsets(page: Page, offsets: Sequence[OffsetSaid]) -> None:
    """Show which offsets were said to be set."""
    if not offsets:
        return
    page.heading("Offsets set")
    page.table(
        ("batch", "offset of", "set", "sizes from before", "why", "taken back"),
        [
            (
                one.name[:_NAME],
                one.of,
                f"{both(abs(one.smaller_um))} {'smaller' if one.smaller_um > 0 else 'larger'}",
                counted(len(one.sizes), "size"),
                one.reason,
                one.withdrawn,
            )
            for one in offsets
        ],
        left=(0, 1, 2, 4, 5),
    )
