"""What the proof says of strings: good ones pass, each planted fault is named."""

from __future__ import annotations

import itertools
import re
from collections.abc import Callable
from dataclasses import replace

import pytest
from tests.conftest import PartMaker, box
from tests.part_strings import Strung, blocks, click, joined, name_of, row, strung

from kerfwright.adapters.tables import Tables
from kerfwright.foundation.findings import Severity
from kerfwright.geometry.contour import Contour
from kerfwright.proof.prove import prove_program
from kerfwright.proof.records import Claim, EventKind
from kerfwright.trade.requirement import Requirement

Fault = Callable[[Strung], tuple[str, Claim]]


@pytest.fixture
def job(make_part: PartMaker, requirement: Requirement, tables: Tables) -> Strung:
    return strung(row(make_part, [click()] * 3), requirement, tables)


def codes(text: str, claim: Claim) -> set[str]:
    proof = prove_program(text, claim)
    return {f.code for f in proof.findings if f.severity is Severity.REFUSAL}


@pytest.mark.parametrize("bores", [False, True])
@pytest.mark.parametrize("tolerance_um", [10.0, 5.0, 30.0])
def test_a_string_passes_and_frees_every_part_once_with_somebody_there(
    bores: bool,
    tolerance_um: float,
    make_part: PartMaker,
    requirement: Requirement,
    tables: Tables,
) -> None:
    wanted = replace(requirement, tolerance_um=tolerance_um)
    job = strung(row(make_part, [click()] * 3, bores=bores), wanted, tables)
    proof = prove_program(job.text, job.claim)
    assert [f.message for f in proof.findings] == []
    assert proof.passed
    freed = [e for e in proof.events if e.kind is EventKind.PIECE_FREE]
    names = [e.contour_id for e in freed]
    assert sorted(names) == sorted(c.target.id for c in job.plan.contours)
    assert all(e.is_attended for e in freed)


def test_one_threading_serves_roughs_and_skims(job: Strung) -> None:
    threads = [c.contour_id for c in job.path.cuts if c.threads]
    # One for all roughs, skims and the first cut-off; one for each other cut-off, in the room of
    # the part that was taken out.
    assert len(threads) == 3
    assert job.path.cuts[0].threads


def detour(job: Strung, number: int, spot: tuple[float, float]) -> str:
    """Return the program with a way to a spot and back where a channel ends."""
    head, cuts = blocks(job.text)
    channel = job.plan.strings[0].channels[number]
    at = next(k for k, c in enumerate(cuts) if name_of(c) == (channel.to_id, 1))
    x, y = channel.end_mm
    end = f"X{x:.4f} Y{y:.4f}"
    cut = cuts[at]
    here = next(k for k, line in enumerate(cut) if end in line)
    there = f"G01 X{spot[0]:.4f} Y{spot[1]:.4f}"
    cuts[at] = [*cut[: here + 1], there, f"G01 {end}", *cut[here + 1 :]]
    return joined(head, cuts)


def through_a_part(job: Strung) -> tuple[str, Claim]:
    """The channel to the second part is led across the first."""
    x0, y0, x1, y1 = job.plan.contours[0].target.contour.bounds_mm
    return detour(job, 0, ((x0 + x1) / 2, (y0 + y1) / 2)), job.claim


def cut_off_too_early(job: Strung) -> tuple[str, Claim]:
    """The first part is let go, stops and all, before the others are skimmed."""
    claim = job.claim
    plan = job.plan
    (ids,) = job.ids
    steps = list(plan.operations)
    freeing = [o for o in steps if o.contour_id == ids[0] and o.span.value == "tab"]
    rest = [o for o in steps if o not in freeing]
    at = next(k for k, o in enumerate(rest) if o.kind.value == "skim")
    moved = [*rest[:at], *freeing, *rest[at:]]
    return program_of(job, moved), claim


def program_of(job: Strung, operations: list[object]) -> str:
    from kerfwright.nc.writer import write_program
    from kerfwright.wirepath.builder import build_path

    numbered = tuple(
        replace(o, number=k)  # type: ignore[type-var]
        for k, o in enumerate(operations, start=1)
    )
    path = build_path(replace(job.plan, operations=numbered), programs_wall=False)
    return write_program(path, machine=job.claim.machine, title="FAULT")


def order_swapped(job: Strung) -> tuple[str, Claim]:
    """The second and the third part change places in the text."""
    head, cuts = blocks(job.text)
    cuts[1], cuts[2] = cuts[2], cuts[1]
    return joined(head, cuts), job.claim


def wall_left_out(job: Strung) -> tuple[str, Claim]:
    """One straight wall of the second part is not roughed: the wire goes straight across."""
    head, cuts = blocks(job.text)
    number = next(k for k, c in enumerate(cuts) if name_of(c) == (job.ids[0][1], 2))
    cut = cuts[number]
    moves = [k for k, line in enumerate(cut) if re.search(r"[XY]-?\d", line)]
    middle = moves[len(moves) // 2]
    cuts[number] = [line for k, line in enumerate(cut) if k not in {middle, middle + 1}]
    return joined(head, cuts), job.claim


def part_never_cut_off(job: Strung) -> tuple[str, Claim]:
    """The last part stays on its tab."""
    name = job.ids[0][-1]
    kept = [o for o in job.plan.operations if not (o.contour_id == name and o.span.value == "tab")]
    return program_of(job, kept), job.claim


def frame_opened(job: Strung) -> tuple[str, Claim]:
    """The sheet is smaller than it was said to be."""
    x0, y0, x1, y1 = job.plan.stock.bounds_mm  # type: ignore[union-attr]
    return job.text, replace(job.claim, stock=box(x0, y0 + 5, x1, y1))


def tab_undercut(job: Strung) -> tuple[str, Claim]:
    """More metal is asked for than stands beside the channels."""
    return job.text, replace(job.claim, string_neck_mm=3.5)


def threaded_again(job: Strung) -> tuple[str, Claim]:
    """The wire is cut and threaded anew in the kerf on the way to the third part."""
    head, cuts = blocks(job.text)
    dialect = job.claim.machine.dialect
    second = cuts[1][-1]
    assert second
    cuts[1] = [*cuts[1], dialect.cut_wire]
    cuts[2] = [cuts[2][0], dialect.thread, *cuts[2][1:]]
    return joined(head, cuts), job.claim


FAULTS: list[tuple[Fault, set[str]]] = [
    (through_a_part, {"gouge", "channel-too-near"}),
    (cut_off_too_early, {"string-part-freed-early"}),
    (order_swapped, {"string-order"}),
    (wall_left_out, {"uncut-wall"}),
    (part_never_cut_off, {"string-part-not-freed"}),
    (frame_opened, {"string-opens-frame"}),
    (tab_undercut, {"tab-hangs-loose"}),
    (threaded_again, {"string-threaded-again", "thread-outside-start"}),
]


@pytest.mark.parametrize(("fault", "expected"), FAULTS, ids=lambda f: getattr(f, "__name__", ""))
def test_planted_faults_of_strings_are_named(fault: Fault, expected: set[str], job: Strung) -> None:
    assert codes(job.text, job.claim) == set()
    text, claim = fault(job)
    assert expected <= codes(text, claim)


def test_a_channel_that_takes_stock_left_for_skims_is_refused(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    """Nearer than the rough offset and still no gouge: only this check sees it."""
    job = strung(row(make_part, [click()] * 3), requirement, tables)
    channel = job.plan.strings[0].channels[0]
    target = next(c for c in job.plan.contours if c.target.id == channel.to_id)
    x0, _, x1, _ = target.target.contour.bounds_mm
    radius, offset = job.claim.kerf_radius_mm[1], target.passes[0].offset_mm
    # From the end of the channel along the wall and nearer to it, by half of that stock.
    beside = (radius + offset) / 2
    x = x0 - beside if channel.end_mm[0] < (x0 + x1) / 2 else x1 + beside
    found = codes(detour(job, 0, (x, channel.end_mm[1] + 0.3)), job.claim)
    assert "gouge" not in found
    assert "channel-too-near" in found or "stock-taken" in found


def without_stops_before_threading(job: Strung) -> str:
    """Return the program without the stops at which parts are taken out."""
    head, cuts = blocks(job.text)
    dialect = job.claim.machine.dialect
    for k, (cut, after) in enumerate(itertools.pairwise(cuts)):
        if cut[-1] == dialect.attended_stop and dialect.thread in after:
            cuts[k] = cut[:-1]
    return joined(head, cuts)


def test_the_wire_is_threaded_in_the_room_of_a_part_only_after_it_was_taken_out(
    job: Strung,
) -> None:
    text = without_stops_before_threading(job)
    assert text != job.text
    assert codes(text, job.claim) == {"thread-outside-start"}


def test_a_part_that_nobody_took_out_is_gouged_by_the_next_threading(job: Strung) -> None:
    text = without_stops_before_threading(job)
    head, cuts = blocks(text)
    dialect = job.claim.machine.dialect
    bare = [
        [line for line in cut if not (line == dialect.attended_stop and dialect.thread in cut)]
        for cut in cuts
    ]
    found = codes(joined(head, bare), job.claim)
    assert {"thread-outside-start", "piece-not-taken-out", "gouge"} <= found


def test_a_program_that_cuts_each_alone_does_not_pass_for_a_string(
    job: Strung, requirement: Requirement, tables: Tables
) -> None:
    from kerfwright.nc.writer import write_program
    from kerfwright.wirepath.builder import build_path

    text = write_program(
        build_path(job.alone, programs_wall=False), machine=job.claim.machine, title="ALONE"
    )
    assert "thread-outside-start" in codes(text, job.claim)


def test_round_parts_pass_as_well(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    disc = Contour.circle((0.0, 0.0), radius_mm=8.0)
    job = strung(row(make_part, [disc] * 4, bores=True), requirement, tables)
    assert prove_program(job.text, job.claim).passed
