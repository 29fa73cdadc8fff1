"""``kerfwright schedule``: the week of a shop."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import click

from kerfwright.adapters.calendar_feed import calendar_text, require_calendar
from kerfwright.adapters.week_file import keep_week, week_shape
from kerfwright.adapters.whole_files import write_whole
from kerfwright.cli import week_report
from kerfwright.cli.interrupt import Interrupt
from kerfwright.cli.moments import Moment
from kerfwright.cli.options import Choice, show_options
from kerfwright.cli.output import Page, progress, put_json
from kerfwright.cli.words import Show
from kerfwright.scheduling.records import Goal
from kerfwright.trade.part import LengthUnit
from kerfwright.wiring.week import Engine, WeekRequest, week_of

_LONGEST_S = 3600


@click.command("schedule")
@click.argument("folder", type=click.Path(exists=True, file_okay=False, path_type=Path))
@click.option(
    "--park",
    type=click.Path(dir_okay=False, path_type=Path),
    help="File with machines and the attendant's hours; default: park.toml in FOLDER.",
)
@click.option("--from", "begin", type=Moment(), help="When the timetable begins; default: now.")
@click.option(
    "--down",
    "downs",
    multiple=True,
    help="A machine that stands: 'M2: 2026-12-01 08:00 to 2026-12-01 12:00'. May be repeated.",
)
@click.option(
    "--quote",
    type=click.Path(exists=True, file_okay=False, path_type=Path),
    help="Job folder of a quote: the earliest day that may be promised for it.",
)
@click.option("--goal", type=Choice(Goal), default=Goal.DUE, help="Default: due dates.")
@click.option(
    "--seconds",
    "budget_s",
    type=click.FloatRange(0.1, _LONGEST_S),
    default=10.0,
    show_default=True,
    help="Time for the search; Ctrl-C ends it with what there is.",
)
@click.option(
    "--steps",
    type=click.IntRange(1),
    help="End after so many steps in place of the time: the same timetable on any machine.",
)
@click.option("--seed", type=click.IntRange(0), default=0, show_default=True)
@click.option("--engine", type=Choice(Engine), default=Engine.AUTO, help="Default: auto.")
@click.option(
    "--list-days",
    type=click.IntRange(1),
    default=2,
    show_default=True,
    help="Days of the attendant's list to print; --json has all.",
)
@click.option(
    "--calendar",
    type=click.Path(dir_okay=False, path_type=Path),
    help="Write the attendant's list as a calendar (iCalendar, .ics) as well.",
)
@click.option("--keep", is_flag=True, help="Keep it in FOLDER as what people work by.")
@click.option(
    "--by-marks",
    "is_by_marks",
    is_flag=True,
    help="What nobody marked as done is not done; else it has gone as told.",
)
@click.option("--anew", is_flag=True, help="Do not mind what was kept before.")
@show_options
def command(
    folder: Path,
    begin: datetime | None,
    list_days: int,
    calendar: Path | None,
    keep: bool,  # noqa: FBT001 a flag of the command line
    anew: bool,  # noqa: FBT001
    shown: LengthUnit | None,
    as_json: bool,  # noqa: FBT001
    **options: Any,
) -> int:
    """Put the kept jobs in FOLDER on the machines of the park, around the attendant's hours.

    Where a timetable was kept before, what has begun stays, other jobs move as little as they
    can, and what moved is said.  The timetable is checked by code that made none of it.  Exit code
    1: a job goes on no machine, or the timetable does not hold.
    """
    request = WeekRequest(
        folder=folder,
        begin=begin or datetime.now().replace(second=0, microsecond=0),  # noqa: DTZ005 the wall
        is_anew=anew,
        **options,
    )
    if calendar is not None:
        require_calendar()
    with Interrupt() as stop:
        result = week_of(request, tell=progress(), stop=stop)
    kept = keep_week(result, folder) if keep and result.holds else None
    written = calendar if result.holds else None
    if written is not None:
        now = datetime.now(UTC)
        write_whole(written, calendar_text(result, shop=folder.resolve().name, written=now))
    if as_json:
        files = {"kept": kept, "calendar": written}
        named = {name: None if file is None else str(file) for name, file in files.items()}
        put_json(week_shape(result) | named)
    else:
        show = Show(unit=shown or LengthUnit.MILLIMETRE)
        week_report.show(result, show=show, kept=kept, days=list_days)
        if written is not None:
            Page().line(f"Calendar written to {written}")
    return int(result.is_refused)
