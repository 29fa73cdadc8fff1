"""``kerfwright mark``: what is done of a job at its machine."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Any

import click

from kerfwright.adapters.job_folder import JOB
from kerfwright.adapters.marks_file import add_mark, mark_shape, read_marks, take_mark_back
from kerfwright.adapters.week_file import read_document
from kerfwright.app.marks import MarkKind
from kerfwright.cli.moments import Moment
from kerfwright.cli.output import Page, put_json
from kerfwright.foundation.errors import FileError, InputError

_MINUTES = click.FloatRange(0, 100_000)


@click.command("mark")
@click.argument("job", type=click.Path(exists=True, file_okay=False, path_type=Path))
@click.option("--begun", type=click.IntRange(1), help="Somebody is at this stage, from 1.")
@click.option("--done", type=click.IntRange(1), help="This stage and all before it are done.")
@click.option("--break", "why", help="The wire broke: why, as far as you know.")
@click.option("--where", default="", help="Of a break: contour and pass.")
@click.option("--ordered", type=click.IntRange(1), help="So many pieces are ordered.")
@click.option("--machine", help="Default: the machine of the week that was kept.")
@click.option("--at", type=Moment(), help="When; default: now.")
@click.option("--took", "took_min", type=_MINUTES, help="How long somebody was there, min.")
@click.option("--ran", "ran_min", type=_MINUTES, help="How long it ran alone before, min.")
@click.option("--stood", "stood_min", type=_MINUTES, help="How long it stood after a break, min.")
@click.option("--wire", "wire_kg", type=click.FloatRange(0, 1000), help="Wire of the job, kg.")
@click.option("--take-back", "taken", help="Name of a mark that was wrong.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON document only.")
def command(
    job: Path,
    begun: int | None,
    done: int | None,
    why: str | None,
    ordered: int | None,
    machine: str | None,
    at: datetime | None,
    taken: str | None,
    as_json: bool,  # noqa: FBT001 a flag of the command line
    **said: Any,
) -> int:
    """Mark what is begun or done of JOB, a wire break, or how many pieces were ordered.

    Stages are numbered as the kept week has them (`schedule --keep`); the next `schedule` goes on
    from what is marked.  Without an option the marks are listed.
    """
    if not (job / JOB).is_file():
        raise FileError("is no job folder", code="job-missing", where=str(job), remedy="Name one.")
    when = at or datetime.now().replace(second=0, microsecond=0)  # noqa: DTZ005 the wall
    place = {"at": when, "machine": machine or ""}
    if taken is not None:
        take_mark_back(job, taken, when=when)
    for kind, number in ((MarkKind.BEGUN, begun), (MarkKind.DONE, done)):
        if number is not None:
            add_mark(job, kind=kind, **_stage(job, number, machine), at=when, **said)
            said = {name: None if name != "where" else "" for name in said}
    if why is not None:
        if machine is None:
            place["machine"] = _booking(job)["machine"]
        add_mark(job, kind=MarkKind.BREAK, why=why, **place, **said)
    if ordered is not None:
        add_mark(job, kind=MarkKind.ORDERED, quantity=ordered, at=when)
    marks = [mark_shape(m) for m in read_marks(job)]
    if as_json:
        put_json({"format": "kerfwright-marks", "version": 1, "marks": marks})
        return 0
    page = Page()
    page.heading(f"Marks of {job.resolve().name}")
    if not marks:
        page.line("none", indent=2)
        return 0
    page.table(
        ("mark", "at", "what", "machine", "stage", "said"),
        [
            (
                m["id"], m["at"], m["kind"], m.get("machine", ""),
                f"{m['stage'] + 1} {m['name']}" if "stage" in m else "",
                "; ".join(_words(m)),
            )
            for m in marks
        ],
        left=range(6),
    )  # fmt: skip
    return 0


def _booking(job: Path) -> dict[str, Any]:
    """Return where the kept week has a job."""
    week = read_document(job.resolve().parent)
    for one in () if week is None else week["bookings"]:
        if one["job"] == job.resolve().name:
            found: dict[str, Any] = one
            return found
    raise InputError(
        "is in no week that was kept, so its stages have no numbers",
        code="mark-not-in-week", where=str(job),
        remedy="Keep the week with `schedule --keep`.",
    )  # fmt: skip


def _stage(job: Path, number: int, machine: str | None) -> dict[str, Any]:
    booking = _booking(job)
    behind, ahead = booking["first_stage"], booking["stages"]
    count = behind + len(ahead)
    if not behind < number <= count:
        raise InputError(
            f"stage {number} is not one of {behind + 1} to {count} that the week has ahead",
            code="mark-odd", where=str(job), remedy="See the stages with `schedule --json`.",
        )  # fmt: skip
    return {
        "machine": machine or booking["machine"],
        "stage": number - 1,
        "stages": count,
        "moments": booking.get("moments", 0),
        "name": ahead[number - 1 - behind]["name"],
    }


def _words(mark: dict[str, Any]) -> list[str]:
    units = {
        "quantity": "pieces", "took_min": "min there", "ran_min": "min alone",
        "stood_min": "min stood", "wire_kg": "kg of wire",
    }  # fmt: skip
    return [
        *(mark[name] for name in ("why", "where") if name in mark),
        *(f"{mark[name]:g} {unit}" for name, unit in units.items() if name in mark),
    ]
