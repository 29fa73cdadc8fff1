"""``kerfwright record``: measured cuts into the shop's folder, and what they moved."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any, BinaryIO

import click

from kerfwright.adapters import json_shapes
from kerfwright.adapters.measured_cuts import decoded, typed_cut
from kerfwright.app.record_cuts import Recorded
from kerfwright.cli import report
from kerfwright.cli.offset_said import offset_options, offset_said, show_offsets
from kerfwright.cli.options import FOLDER, TABLES, show_options, together
from kerfwright.cli.output import Page, put_json
from kerfwright.cli.words import Show, minutes
from kerfwright.foundation.counts import counted
from kerfwright.foundation.ranges import Range
from kerfwright.learning.batch import KeptBatch, OffsetSaid
from kerfwright.learning.moved import Moved
from kerfwright.learning.outcome import PassOutcome
from kerfwright.learning.records import SIZE_ERROR_IS
from kerfwright.process.experience import jobs_words
from kerfwright.process.offset_advice import advice_words, in_shop
from kerfwright.process.technology import Flushing
from kerfwright.trade.part import LengthUnit
from kerfwright.wiring import cut_batches, job_outcomes, record_cuts, withdraw_cuts
from kerfwright.wiring.measured import (
    JobPrices,
    confirm_sizes,
    job_prices,
    mend_sizes,
    offsets_said,
    set_offset,
)

_NAME = 12
"""Digits of a hash that are shown; it may be given back by its beginning."""

_SHOWN = 12
"""Combinations said before and after; the others are counted."""
_HOURS = 100
"""Breaks are shown for as many hours: rarer things than one an hour read badly by the hour."""

_typed = together(
    click.option("--pass", help="One cut by hand: its pass, 1 or rough, 2 or 'skim 1'."),
    click.option("--time", help="Time the wire sparked: 2 h 50 min, 0:34:12, 95 s."),
    click.option("--length", help="Length cut; with --job that of the whole pass, of one piece."),
    click.option("--finish", help="Measured finish: Ra3.1um, 32uin."),
    click.option(
        "--size-error",
        help=f"How far the wall is off {SIZE_ERROR_IS}: 4um, -0.0002in.",
    ),
    click.option("--wire-used", help="Wire run off: 0.72kg, 2oz."),
    click.option("--breaks", help="Wire breaks; 0 where none was counted."),
    click.option("--broke", is_flag=True, default=None, help="The wire broke once."),
    click.option("--flushing", help="sealed, one open or both open, where the job does not say."),
    click.option("--note", help="Tells apart two cuts that are alike in all else."),
    click.option(
        "--cut",
        "cuts",
        multiple=True,
        metavar="TEXT",
        help='Several cuts by hand, one each: "pass=1; time=2 h 50 min; length=412 mm".',
    ),
)
_ONE_CUT = (
    "pass",
    "time",
    "length",
    "finish",
    "size_error",
    "wire_used",
    "breaks",
    "flushing",
    "note",
)


@click.command("record")
@click.argument("table", type=click.File("rb"), metavar="[CSV|-]", required=False)
@click.option("--shop", type=FOLDER, required=True, help="Folder of the shop's cuts; made if new.")
@click.option("--job", type=FOLDER, help="Folder of the job that was cut; fills what rows lack.")
@click.option("--job-name", metavar="NAME", help="Job of rows that name none and have no folder.")
@click.option("--tables", type=TABLES, help="Folder with the shop's own tables.")
@click.option("--machine", help="Machine of rows that name none.")
@click.option("--material", help="Material of rows that name none.")
@click.option("--wire", help="Wire of rows that name none.")
@click.option("--height", help="Height of rows that give none.")
@_typed
@click.option(
    "--withdraw",
    multiple=True,
    metavar="HASH",
    help="Take a batch back, or that an offset was set; it stays on file. May be given again.",
)
@click.option(
    "--confirm",
    multiple=True,
    metavar="JOB:PASS|HASH",
    help="Say that a size, or a batch, in question is right; from then on it counts. May be given "
    "again.",
)
@click.option(
    "--mended",
    multiple=True,
    metavar="JOB:PASS",
    help="Say that a size was right and its cause is gone since; it counts no more. May be given "
    "again.",
)
@offset_options
@click.option(
    "--reason", default="", help="Why it is taken back or confirmed, or what was mended; kept."
)
@click.option("--list", "lists", is_flag=True, help="Show the batches of the shop.")
@show_options
def command(
    table: BinaryIO | None,
    shop: Path,
    job: Path | None,
    tables: Path | None,
    withdraw: tuple[str, ...],
    confirm: tuple[str, ...],
    mended: tuple[str, ...],
    offset_set: str | None,
    reason: str,
    lists: bool,  # noqa: FBT001 a flag of the command line
    shown: LengthUnit | None,
    as_json: bool,  # noqa: FBT001
    **said: Any,
) -> int:
    """Record measured cuts, from a table or typed, and show what they moved.

    The first line of a table names the columns: job, machine, material, wire, height, pass, length,
    time and, where measured, finish, size_error, wire_used, breaks, flushing, note.  Texts carry
    units; a unit in the column's name (length_mm, time_min, ra_um, size_error_um) makes its cells
    plain numbers.  A cut recorded before counts once, so that a table that grows can be given
    again.
    """
    if job is not None and said["job_name"] is not None:
        raise click.UsageError("--job names the job already; --job-name is for one without folder.")
    typed = _typed_cuts(said)
    answers = [withdraw, confirm, mended, offset_set, typed]
    if sum([table is not None, *map(bool, answers), lists]) != 1:
        raise click.UsageError(
            "give one of: a CSV table, typed cuts, --withdraw, --confirm, --mended, --offset-set, "
            "--list."
        )
    by = offset_said(offset_set, said)
    if lists:
        return _show_batches(cut_batches(shop), offsets_said(shop), as_json=as_json)
    head = ""
    if withdraw:
        done = withdraw_cuts(*withdraw, shop=shop, reason=reason, tables=tables)
        head = _taken_back(done)
    elif confirm:
        done = confirm_sizes(*confirm, shop=shop, reason=reason, tables=tables)
        head = _confirmed(done, confirm)
    elif mended:
        done = mend_sizes(*mended, shop=shop, reason=reason, tables=tables)
        count = counted(len(done.batch.cuts), "size")
        head = f"Mended: {count} of {', '.join(mended)} that no more count."
    elif offset_set is not None:
        done, told = set_offset(offset_set, shop=shop, reason=reason, tables=tables, **by)
        head = told.inch if shown is LengthUnit.INCH else told.metric
        head += f" Batch {done.name[:_NAME]}: --withdraw takes it back."
    else:
        done = record_cuts(
            typed if table is None else decoded(table.read(), name=Path(table.name).name),
            shop=shop,
            name="" if table is None else Path(table.name).name,
            job=job,
            tables=tables,
            usual=_usual(said),
        )
    compared: tuple[PassOutcome, ...] = ()
    prices = None
    if job is not None:
        compared = job_outcomes(job, shop=shop, tables=tables)
        prices = job_prices(job, done, shop=shop, tables=tables)
    found = in_shop(done.findings, shop=f"{shop}", tables=f"{tables or ''}")
    done = replace(done, findings=found)
    if as_json:
        put_json(_shape(done, compared, prices))
    else:
        page, words = Page(), Show(unit=shown or LengthUnit.MILLIMETRE)
        page.heading("Measured cuts")
        known = done.after.sha256[:_NAME] if done.after else "none"
        page.line(f"{head or _recorded(done)} Experience {known}.", indent=2)
        show_moved(page, done.moved, words)
        show_along(page, done.along, words)
        show_prices(page, prices)
        show_outcomes(page, compared, words)
        report.show_findings(page, done.findings, show=words)
    return int(bool(done.batch.refused))


def _usual(said: Mapping[str, Any]) -> dict[str, str]:
    names = ("machine", "material", "wire", "height")
    usual = {name: said[name] for name in names if said[name] is not None}
    return usual if said["job_name"] is None else usual | {"job": said["job_name"]}


def _typed_cuts(said: Mapping[str, Any]) -> list[dict[str, str]]:
    """Return what was typed, each cut by the names of the columns."""
    one = {name: said[name] for name in _ONE_CUT if said[name] is not None}
    if said["broke"]:
        if "breaks" in one:
            raise click.UsageError("--broke is --breaks 1; give one of them.")
        one["breaks"] = "1"
    several = [typed_cut(text) for text in said["cuts"]]
    if one and several:
        raise click.UsageError("a cut is either in --cut or in --pass, --time and so on.")
    return several or ([one] if one else [])


def _confirmed(done: Recorded, names: tuple[str, ...]) -> str:
    if ":" in names[0]:
        count = counted(len(done.batch.cuts), "size")
        return f"Confirmed: {count} of {', '.join(names)} that now count."
    count = counted(len(done.batch.cuts), "cut")
    return f"Confirmed: {_batches(names)} with {count}."


def _taken_back(done: Recorded) -> str:
    names = done.name.split(", ")
    text = _batches(names)
    return (
        f"{text[0].upper()}{text[1:]} taken back with {counted(len(done.batch.cuts), 'cut')}; "
        f"{'it stays' if len(names) == 1 else 'they stay'} on file. The shop has {done.total}."
    )


def _batches(names: Sequence[str]) -> str:
    return f"{'batch' if len(names) == 1 else 'batches'} {', '.join(names)}"


def _recorded(done: Recorded) -> str:
    text = f"{len(done.batch.cuts)} taken"
    if done.new != len(done.batch.cuts):
        text += f", {done.new} of them new"
    text += f", {len(done.batch.refused)} refused; the shop has {done.total}."
    if done.name:
        text += f" Batch {done.name[:_NAME]}: --withdraw takes it back."
    return text


def _shape(
    done: Recorded, compared: tuple[PassOutcome, ...], prices: JobPrices | None
) -> dict[str, Any]:
    return {
        "format": "kerfwright-recorded",
        "version": 1,
        "taken": len(done.batch.cuts),
        "new": done.new,
        "refused": len(done.batch.refused),
        "total": done.total,
        "batch": done.name,
        "experience": done.after.sha256 if done.after else "",
        "moved": [json_shapes.plain(row) for row in done.moved],
        "moved_along": [json_shapes.plain(row) for row in done.along],
        **_prices_shape(prices),
        "job": [{**json_shapes.plain(row), "is_inside": row.is_inside} for row in compared],
        "findings": [json_shapes.finding_shape(f) for f in done.findings],
    }


def _show_batches(
    batches: tuple[KeptBatch, ...], offsets: tuple[OffsetSaid, ...], *, as_json: bool
) -> int:
    if as_json:
        rows = [json_shapes.plain(one) for one in batches]
        said = [json_shapes.plain(one) for one in offsets]
        put_json({"format": "kerfwright-batches", "version": 1, "batches": rows, "offsets": said})
        return 0
    page = Page()
    page.heading("Batches of measured cuts")
    page.table(
        ("batch", "cuts", "from", "jobs", "taken back"),
        [
            (one.name[:_NAME], f"{one.cuts}", one.source, ", ".join(one.jobs), one.withdrawn)
            for one in batches
        ],
        left=(0, 2, 3, 4),
    )
    for one in batches:
        if one.is_edited:
            page.line(
                f"Batch {one.name[:_NAME]} was changed since it was recorded: what it holds is not "
                f"what was measured. {_EDITED if not one.withdrawn else ''}".rstrip(),
                indent=2,
                style="bold red",
            )
    show_offsets(page, offsets)
    return 0


_EDITED = (
    "Nothing is learned from this shop, and no plan uses it, until the copy of a backup is put "
    "back, or the file is taken out of cuts and recorded anew."
)


def show_moved(page: Page, moved: tuple[Moved, ...], words: Show) -> None:
    """Say before and after of each pass, with 10–90 % ranges."""
    if not moved:
        return
    page.heading("What moved, 10–90 % (before → after)")
    for row in sorted(moved, key=lambda row: -row.cuts)[:_SHOWN]:
        for number, text in enumerate(_sentences(row, words)):
            page.line(text, indent=2 if number == 0 else 6)
    if len(moved) > _SHOWN:
        page.line(f"… and {len(moved) - _SHOWN} more with fewer cuts; --json has all.", indent=2)


def show_along(page: Page, along: tuple[Moved, ...], words: Show) -> None:
    """Say of the passes without a new cut how far they moved with those that have one."""
    unit = "in/min" if words.unit is LengthUnit.INCH else "mm/min"
    groups: dict[str, list[str]] = {}
    for row in along:
        was, now = row.before, row.after
        which = "rough" if row.pass_number == 1 else f"pass {row.pass_number}"
        told = (
            f"{which} {words.feed(was.feed_mm_per_min.likely)} → "
            f"{words.feed(now.feed_mm_per_min.likely)} {unit} "
            f"({words.feed(now.feed_mm_per_min.low)}–{words.feed(now.feed_mm_per_min.high)})"
        )
        was_ra, now_ra = (words.roughness(s.ra_um.likely) for s in (was, now))
        if was_ra != now_ra:
            told += f", Ra {was_ra} → {now_ra} {words.roughness_unit}"
        holds = [words.held(s.tolerance_um) for s in (was, now)]
        if holds[0] != holds[1]:
            told += f", holds ±{holds[0]} → ±{holds[1]}"
        of = f"{row.material}, {row.wire}, {words.size(row.height_mm)}, {row.machine}"
        groups.setdefault(of, []).append(told)
    for of, told_of in [*groups.items()][:_SHOWN]:
        page.line(f"Moved with them, no cut in this batch: {of}: {'; '.join(told_of)}", indent=2)
    if len(groups) > _SHOWN:
        page.line(f"… and {len(groups) - _SHOWN} more; --json has all.", indent=2)


def show_prices(page: Page, prices: JobPrices | None) -> None:
    """Say what the job's price was before the batch and is now."""
    if prices is None:
        return
    if prices.before is None or prices.after is None:
        page.line(f"The job cannot be priced anew: {prices.why_not}", indent=2)
        return
    was, now = prices.before, prices.after
    page.line(
        f"Price of this job: {prices.currency} {was.each} → {now.each} each for {prices.quantity} "
        f"(all together {was.low}–{was.high} → {now.low}–{now.high})",
        indent=2,
    )
    if prices.quoted is not None and prices.quoted != (prices.currency, was.each):
        currency, each = prices.quoted
        page.line(
            f"It was quoted at {currency} {each} each, with the figures and cuts of then.", indent=2
        )
    if prices.refused:
        since = "now" if prices.is_refused_anew else "before and now"
        page.line(f"The job as asked is refused {since}: {prices.refused}", indent=2)


def _prices_shape(prices: JobPrices | None) -> dict[str, Any]:
    if prices is None:
        return {}
    told = {
        name: None
        if one is None
        else {k: json_shapes.plain(getattr(one, k)) for k in ("each", "low", "likely", "high")}
        for name, one in (("before", prices.before), ("after", prices.after))
    }
    rest = {
        "quantity": prices.quantity,
        "currency": prices.currency,
        "why_not": prices.why_not,
        "quoted": None
        if prices.quoted is None
        else {"currency": prices.quoted[0], "each": json_shapes.plain(prices.quoted[1])},
        "refused": prices.refused,
        "is_refused_anew": prices.is_refused_anew,
    }
    return {"job_price": rest | told}


def _sentences(row: Moved, words: Show) -> tuple[str, ...]:
    was, now = row.before, row.after
    unit = "in/min" if words.unit is LengthUnit.INCH else "mm/min"

    ranges = [
        f"{words.feed(s.feed_mm_per_min.low)}–{words.feed(s.feed_mm_per_min.high)}"
        for s in (was, now)
    ]
    which = "rough" if row.pass_number == 1 else f"pass {row.pass_number}"
    if row.nozzles is not Flushing.SEALED:
        which += f", nozzles {row.nozzles.replace('-', ' ')}"
    finishes = [words.roughness(s.ra_um.likely) for s in (was, now)]
    sizes = [words.small(s.tolerance_um) for s in (was, now)]
    breaks = [f"{_HOURS * s.breaks_per_h.likely:.2g}" for s in (was, now)]
    ends = f"{_HOURS * now.breaks_per_h.low:.2g}–{_HOURS * now.breaks_per_h.high:.2g}"
    first = (
        f"{row.material}, {row.wire}, {words.size(row.height_mm)}, {which}, {row.machine}: "
        f"{words.feed(was.feed_mm_per_min.likely)} → {words.feed(now.feed_mm_per_min.likely)} "
        f"{unit}, range {ranges[0]} → {ranges[1]}, "
        f"from {counted(row.known_cuts, 'cut')} of {counted(row.known_jobs, 'job')}"
        f"{f': {jobs_words(row.few)} moved it so far' if row.few else ''}"
    )
    measured = row.measured_feed_mm_per_min
    least, most = row.measured_least_mm_per_min, row.measured_most_mm_per_min
    told = "" if measured is None else f"measured {words.feed(measured)} {unit}"
    if least is not None and most is not None and words.feed(least) != words.feed(most):
        told += f", length over time, single cuts {words.feed(least)}–{words.feed(most)}"
    full = row.measured_full_mm_per_min
    if measured is not None and full is not None and words.feed(full) != words.feed(measured):
        told += (
            f", over all moves of the job; {words.feed(full)} {unit} at full feed, as the figures "
            "before and after are: slow corners, lead-ins and moves in the open taken out"
        )
    offset = ""
    if now.offset is not None:
        offset = (
            f"; by {counted(now.sizes, 'size')} of {counted(now.size_jobs, 'job')} "
            f"{advice_words(now.offset)}"
        )
    elif now.is_offset_asked_of_more:
        offset = (
            f"; by {counted(now.sizes, 'size')} of one job the wall lies "
            f"{words.small(abs(now.size_bias_um))} off: measure a second job before setting an "
            "offset"
        )
    second = (
        f"{told and f'{told}; '}"
        f"Ra {finishes[0]} → {finishes[1]} {words.roughness_unit}; holds ±{sizes[0]} → "
        f"±{sizes[1]}"
        f"{offset}; breaks in {_HOURS} h of usual cuts {breaks[0]} → {breaks[1]} ({ends}); a "
        "plan has them times its own heat and dirt"
    )
    if row.closed_feed_mm_per_min is None:
        return first, second
    before, after = (words.feed(feed) for feed in row.closed_feed_mm_per_min)
    third = (
        f"no cut with closed nozzles tells whether the rate or what open ones cost was off: each "
        f"takes its part, and closed ones are now expected at {before} → {after} {unit}; one job "
        "with them would tell"
    )
    return first, second, third


def show_outcomes(page: Page, rows: tuple[PassOutcome, ...], words: Show) -> None:
    """Show the passes of a job as predicted and as measured."""
    if not rows:
        return
    page.heading("This job: predicted by its quote (10–90 %) and measured")
    page.table(
        ("pass", "cuts", "length", "minutes", "measured", "range", "Ra", "is", "holds", "worst"),
        [
            (
                f"{row.number}",
                f"{row.cuts}",
                words.length(row.length_mm),
                minutes(row.predicted_min),
                minutes(Range.exact(row.measured_min)).partition(" (")[0],
                "inside" if row.is_inside else "outside",
                words.roughness(row.predicted_ra_um),
                "–" if row.measured_ra_um is None else words.roughness(row.measured_ra_um),
                f"±{words.held(row.tolerance_um)}",
                "–" if row.size_error_um is None else words.small(row.size_error_um),
            )
            for row in rows
        ],
    )
    for row in rows:
        if row.breaks:
            page.line(
                f"Pass {row.number}: the wire broke, {counted(row.breaks, 'time')}.", indent=2
            )
