"""Which outlines become a string, where its channels run, and what keeps them apart."""

from __future__ import annotations

import itertools
from dataclasses import replace

import pytest
import shapely
from tests.conftest import PartMaker, box
from tests.part_strings import click, planned, row, strung

from kerfwright.adapters.tables import Tables
from kerfwright.geometry.contour import Contour
from kerfwright.geometry.regions import flattened
from kerfwright.planning.plan import OperationKind, Plan, Span, StartKind
from kerfwright.planning.strings import hindrance, with_strings
from kerfwright.trade.machine import OffsetForm
from kerfwright.trade.part import Role
from kerfwright.trade.requirement import Requirement


def order(plan: Plan, kind: OperationKind, span: Span | None = None) -> list[str]:
    return [
        o.contour_id
        for o in plan.operations
        if o.kind is kind and (span is None or o.span is span) and o.contour_id.startswith("P")
    ]


def test_a_row_of_clicks_is_one_string_with_one_hole(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    job = strung(row(make_part, [click()] * 4), requirement, tables)
    assert job.ids in {(("P1", "P2", "P3", "P4"),), (("P4", "P3", "P2", "P1"),)}
    kinds = [c.start.kind for c in job.plan.contours]
    assert kinds == [StartKind.DRILLED, *[StartKind.CHANNEL] * 3]
    assert sum(c.start.kind is StartKind.DRILLED for c in job.alone.contours) == 4
    assert len(job.claim.starts) == 1


def test_channels_keep_the_rough_offset_and_a_margin_off_every_wall_but_that_they_leave(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    job = strung(row(make_part, [click(), click(9.0, 15.0), click()]), requirement, tables)
    offset = job.plan.contours[0].passes[0].offset_mm
    walls = {
        c.id: shapely.Polygon(flattened(c.contour, chord_error_mm=1e-5))
        for c in job.plan.part.contours
    }
    for channel in (c for s in job.plan.strings for c in s.channels):
        line = shapely.LineString([channel.branch_mm, channel.end_mm])
        for name, wall in walls.items():
            least = offset if name == channel.from_id else offset + 0.1
            assert line.distance(wall) >= least - 2e-4


def test_the_kerf_of_a_string_leaves_one_piece_of_waste_with_every_part_on_it(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    job = strung(row(make_part, [click()] * 4), requirement, tables)
    radius = job.claim.kerf_radius_mm[1]
    roughs = [c for c in job.path.cuts if c.kind == "rough"]
    lines = [
        shapely.LineString([c.moves.start_mm, *c.moves.end_mm]) for c in roughs
    ]  # Only straight moves and small rolled corners: chords do.
    kerf = shapely.union_all([line.buffer(radius) for line in lines])
    assert job.plan.stock is not None
    stock = shapely.Polygon(job.plan.stock.vertices[:, :2])
    assert isinstance(kerf, shapely.Polygon)
    assert len(kerf.interiors) == 0
    assert len(shapely.get_parts(stock.difference(kerf))) == 1


def test_roughs_go_out_skims_come_back_and_cut_offs_go_out_again(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    job = strung(row(make_part, [click()] * 3), requirement, tables)
    (ids,) = job.ids
    assert order(job.plan, OperationKind.ROUGH) == list(ids)
    assert order(job.plan, OperationKind.SKIM, Span.BODY) == list(ids[::-1])
    assert order(job.plan, OperationKind.CUT_OFF) == list(ids)


def test_with_bores_between_the_string_is_threaded_anew_and_cut_off_from_its_far_end(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    job = strung(row(make_part, [click()] * 3, bores=True), requirement, tables)
    (ids,) = job.ids
    assert order(job.plan, OperationKind.SKIM, Span.BODY) == list(ids)
    assert order(job.plan, OperationKind.CUT_OFF) == list(ids[::-1])


def test_parts_further_apart_than_the_longest_channel_are_not_strung(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    most = tables.rules.string_channel_most_mm
    far = planned(row(make_part, [click()] * 2, web_mm=most + 1), requirement, tables)
    assert hindrance(far) == ""
    assert with_strings(far, technology=tables.technology) is None


def test_a_string_ends_at_the_most_parts_and_at_its_longest(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    part = row(make_part, [click()] * 5)
    alone = planned(part, requirement, tables)
    few = replace(alone, rules=replace(tables.rules, string_most_parts=2))
    short = replace(alone, rules=replace(tables.rules, string_longest_mm=40.0))
    for plan in (few, short):
        found = with_strings(plan, technology=tables.technology)
        assert found is not None
        assert [len(s.contour_ids) for s in found.strings] == [2, 2]


def test_a_string_never_turns_back(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    shapes = [
        (Role.OUTLINE, box(10 + 15 * i, 10 + 15 * j, 22 + 15 * i, 22 + 15 * j), None)
        for i in range(3)
        for j in range(2)
    ]
    part = make_part(shapes, stock=box(0, 0, 64, 47))
    found = with_strings(planned(part, requirement, tables), technology=tables.technology)
    assert found is not None
    by_id = {c.id: c.contour for c in part.contours}
    for string in found.strings:
        boxes = [by_id[name].bounds_mm for name in string.contour_ids]
        for axis in (0, 1):
            steps = [b[axis] - a[axis] for a, b in itertools.pairwise(boxes)]
            if all(s > 0 for s in steps) or all(s < 0 for s in steps):
                break
        else:
            pytest.fail(f"{string.contour_ids} turns back")


@pytest.mark.parametrize(
    ("change", "why"),
    [
        ("controller", "the control applies the offset"),
        ("one", "fewer than two outlines are cut"),
        ("edge", "mm of frame to the edge of the stock"),
    ],
)
def test_what_hinders_a_string_is_said(
    change: str, why: str, make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    wanted, part = requirement, row(make_part, [click()] * 2)
    if change == "controller":
        machine = requirement.machine
        dialect = replace(machine.dialect, offset_form=OffsetForm.CONTROLLER)
        wanted = replace(requirement, machine=replace(machine, dialect=dialect))
    if change == "one":
        part = row(make_part, [click()])
    if change == "edge":
        part = row(make_part, [click()] * 2, frame_mm=4.0)
    plan = planned(part, wanted, tables)
    assert why in hindrance(plan)
    assert with_strings(plan, technology=tables.technology) is None


def test_round_parts_are_strung_too(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    disc = Contour.circle((0.0, 0.0), radius_mm=8.0)
    job = strung(row(make_part, [disc] * 3), requirement, tables)
    assert len(job.ids) == 1
