"""The commands, found by name and imported only when one is called."""

from __future__ import annotations

from collections import Counter
from importlib import import_module

import click

from kerfwright.foundation.version import __version__

COMMANDS = {
    "plan": "kerfwright.cli.plan",
    "check": "kerfwright.cli.check",
    "draw": "kerfwright.cli.draw",
    "prove": "kerfwright.cli.prove",
    "price": "kerfwright.cli.price",
    "batch": "kerfwright.cli.batch",
    "why": "kerfwright.cli.why",
    "holes": "kerfwright.cli.holes",
    "stack": "kerfwright.cli.stack",
    "nest": "kerfwright.cli.nest",
    "remnants": "kerfwright.cli.remnants",
    "schedule": "kerfwright.cli.schedule",
    "mark": "kerfwright.cli.mark",
    "numbers": "kerfwright.cli.numbers",
    "papers": "kerfwright.cli.papers",
    "tables": "kerfwright.cli.tables",
    "record": "kerfwright.cli.record",
    "jobs": "kerfwright.cli.jobs",
    "versions": "kerfwright.cli.versions",
    "backup": "kerfwright.cli.backup",
    "restore": "kerfwright.cli.restore",
    "seats": "kerfwright.cli.seats",
    "import": "kerfwright.cli.import_jobs",
    "hooks": "kerfwright.cli.hooks",
    "serve": "kerfwright.cli.serve",
    "demo": "kerfwright.cli.demo",
}
_SHORT = {
    "plan": "From a drawing to a proved program and a price.",
    "check": "Read a drawing and say what it holds.",
    "draw": "Draw what a customer describes in words: gears, bores, slots, punch and die.",
    "prove": "Check a program against a drawing or a job.",
    "price": "Price a drawing or a job at other quantities.",
    "batch": "Plan and price many drawings into one table; goes on where it was stopped.",
    "why": "Say why a number of a job has its value, and how sure it is.",
    "holes": "Drill small holes by tube: from a table or drawing to a proved program.",
    "stack": "What a piece costs by how many sheets are cut at once.",
    "nest": "Lay parts in sheets and remnants, for one plan of the whole sheet.",
    "remnants": "List what is left of sheets, and book what a nest left.",
    "schedule": "Put kept jobs on the machines around the attendant's hours; promise a day.",
    "mark": "Mark what is done of a job at its machine, or a wire break.",
    "numbers": "Say how quotes compare with what was marked, and how many were won.",
    "papers": "Print quote, set-up, inspection and hole sheet of a job.",
    "tables": "Show the tables that plans and prices look up.",
    "record": "Record measured cuts and show what they moved.",
    "jobs": "List and search the jobs that a shop keeps; remove them and bring them back.",
    "versions": "Show, compare and take back earlier plans and quotes of a job.",
    "backup": "Write all that the shop keeps into one file, and check it.",
    "restore": "Put a backup back, every file held to its digest.",
    "seats": "Say who may log in to the page, and as what; read who did what.",
    "import": "Take the jobs of another shop or of a backup in; nothing is replaced.",
    "hooks": "List who is told of quoted and ordered jobs, and tell them now.",
    "serve": "Open the workbench page in the browser.",
    "demo": "Plan a sample: an escape wheel, a stack of forty, a nest of clock parts, or a week.",
}


_KEEPS = frozenset({"record", "mark"})
"""What these are told is kept: of two answers one would be lost.  Of any other command the last of
two options counts, as scripts use it to say one of their usual words otherwise."""


def refuse_repeated(
    command: click.Command, args: list[str], *, parent: click.Context, name: str | None
) -> None:
    """Refuse a call in which an option that is taken once is given again.

    Nothing tells which of the two was meant.

    Parameters
    ----------
    command : click.Command
    args : list of str
        What stands behind its name.
    parent : click.Context
    name : str or None

    Raises
    ------
    UsageError
    """
    ctx = click.Context(command, parent=parent, info_name=name)
    try:
        _, _, given = command.make_parser(ctx).parse_args(list(args))
    except click.UsageError:
        # Said better where the call is read.
        return
    for one, count in Counter(given).items():
        takes_one = isinstance(one, click.Option) and not (one.multiple or one.is_flag or one.count)
        if takes_one and count > 1:
            raise click.UsageError(
                f"{max(one.opts, key=len)} is given {count} times; it is taken once. Give the one "
                "that is meant.",
                ctx=ctx,
            )


class _OnDemand(click.Group):
    """A group whose commands are modules with a ``command``."""

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002 click's signature
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:  # noqa: ARG002
        module = COMMANDS.get(cmd_name)
        if module is None:
            return None
        command: click.Command = import_module(module).command
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Find a command, and refuse answers given twice of which it would keep the last."""
        name, command, rest = super().resolve_command(ctx, args)
        if command is not None and name in _KEEPS:
            refuse_repeated(command, rest, parent=ctx, name=name)
        return name, command, rest

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:  # noqa: ARG002
        """List the commands without importing them."""
        with formatter.section("Commands"):
            formatter.write_dl(list(_SHORT.items()))


@click.command(
    cls=_OnDemand,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
    no_args_is_help=True,
)
@click.version_option(__version__, prog_name="kerfwright")
def kerfwright() -> None:
    """From a drawing to a proved wire-EDM program and an honest price.

    Exit codes: 0 done, 1 refused with findings, 2 wrong call or unusable input.
    """
