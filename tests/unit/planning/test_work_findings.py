"""What the plan says of material, temperature and stress."""

from __future__ import annotations

import dataclasses

import pytest
from tests.conftest import box
from tests.unit.costing.test_estimate_with_experience import learned

from kerfwright.foundation.findings import Severity
from kerfwright.planning.planner import make_plan
from kerfwright.planning.work_findings import Size, work_findings
from kerfwright.process.choice import choose_passes
from kerfwright.process.experience import SizesKnown
from kerfwright.trade.part import Role
from kerfwright.trade.requirement import Demand


def sizes(requirement, length_mm):
    asked_um = requirement.tolerance_um
    return [] if asked_um is None else [Size(length_mm=length_mm, half_zone_um=asked_um)]


def said(requirement, tables, *, extent_mm=(100.0, 20.0), drilled_mm=(), **changes):
    if "material" in changes:
        changes["material"] = tables.catalogue.material(changes["material"])
    wanted = dataclasses.replace(requirement, **changes)
    choice = choose_passes(wanted, technology=tables.technology, catalogue=tables.catalogue)
    found = work_findings(
        wanted,
        choice=choice,
        sizes=sizes(wanted, max(extent_mm)),
        drilled_mm=drilled_mm,
        drilling=tables.technology.small_hole,
        rules=tables.rules,
    )
    return {f.code: f for f in found}, found


def test_the_notes_of_a_material_reach_the_plan_as_warnings(requirement, tables):
    _, found = said(requirement, tables, material="carbide")
    notes = [f for f in found if f.code == "material-note"]
    assert len(notes) == len(tables.catalogue.material("carbide").notes) >= 2
    assert all(f.severity is Severity.WARNING for f in notes)
    words = " ".join(f.message for f in notes)
    for word in ("µS/cm", "anti-electrolysis", "chip"):
        assert word in words
    assert not [f for f in said(requirement, tables)[1] if f.code == "material-note"]
    # Who asks for a recast layer needs no word that others do.
    for asked_um, is_told in ((None, True), (5.0, False)):
        _, found = said(requirement, tables, material="718", max_recast_um=asked_um)
        assert any("limit the recast layer" in f.message for f in found) is is_told


@pytest.mark.parametrize(("material", "word"), [("graphite", "grains"), ("PCD", "cobalt")])
def test_what_does_not_melt_is_said_to_leave_no_recast_layer(requirement, tables, material, word):
    for asked_um, severity in ((None, Severity.NOTE), (5.0, Severity.WARNING)):
        found, _ = said(requirement, tables, material=material, max_recast_um=asked_um)
        told = found["layer-is-no-recast"]
        assert told.severity is severity
        assert "no recast layer of it forms" in told.message
        assert word in told.message
        assert bool(told.remedy) is (asked_um is not None)
    assert "layer-is-no-recast" not in said(requirement, tables, material="carbide")[0]


def test_start_holes_in_carbide_are_told_what_they_cost(requirement, tables):
    found, _ = said(requirement, tables, material="carbide", drilled_mm=(1.5, 1.5))
    finding = found["start-holes-in-carbide"]
    # By hand, 1.5 mm through 20 mm: tube 1.41, travel 22.115, feed 25/4 in steel's table by the
    # carbide factor, 1.133 for the depth: 4.01 min each; wear 3 x 20 + 1.5 x 1.41 = 62.1 mm.
    assert finding.data["minutes"] == pytest.approx(2 * 4.01, abs=0.02)
    assert finding.data["tube_mm"] == pytest.approx(2 * 62.1, abs=0.1)
    assert "start-holes-in-carbide" not in said(requirement, tables, material="carbide")[0]
    assert "start-holes-in-carbide" not in said(requirement, tables, drilled_mm=(1.5,))[0]


def test_a_long_die_is_told_how_few_kelvin_use_up_its_tolerance(requirement, tables):
    found, _ = said(requirement, tables, extent_mm=(100.0, 20.0))
    finding = found["temperature-uses-tolerance"]
    # By hand: 10.4 µm/(m K) over 0.1 m is 1.04 µm/K, and 5 µm / 1.04 are 4.8 K.
    assert finding.data["growth_um_per_k"] == pytest.approx(1.04)
    assert finding.data["kelvin"] == pytest.approx(4.81, abs=0.005)


@pytest.mark.parametrize(
    ("material", "tolerance_um", "extent_mm"),
    [("D2", 5.0, (90.0, 20.0)), ("D2", 25.0, (300.0, 20.0)), ("D2", None, (300.0, 20.0)),
     ("carbide", 5.0, (150.0, 20.0)), ("PCD", 5.0, (300.0, 20.0))],
)  # fmt: skip
def test_short_loose_or_hardly_growing_work_is_not_told(
    requirement, tables, material, tolerance_um, extent_mm
):
    found, _ = said(
        requirement, tables, material=material, tolerance_um=tolerance_um, extent_mm=extent_mm
    )
    assert "temperature-uses-tolerance" not in found


def test_tight_tool_steel_is_told_to_be_released_between_rough_and_skim(requirement, tables):
    found, _ = said(requirement, tables)
    # By hand from the pass table: three passes leave 35 + 12 µm a side to the skims.
    assert found["work-may-move"].data["left_um"] == 47
    assert "work-may-move" not in said(requirement, tables, tolerance_um=25.0)[0]
    assert "work-may-move" not in said(requirement, tables, material="304")[0]


def test_the_tightest_contour_counts_over_its_own_length(make_part, tables, requirement):
    # A loose job of 200 mm with one tight hole of 60 mm: the hole's tolerance is at stake.
    part = make_part(
        [
            (Role.OUTLINE, box(0, 0, 200, 60), None),
            (Role.OPENING, box(20, 20, 80, 40), "P1"),
            (Role.OPENING, box(120, 20, 160, 40), "P1"),
        ]
    )
    loose = dataclasses.replace(requirement, tolerance_um=25.0, ra_um=None)
    tight = dataclasses.replace(loose, contours={"H1": Demand(tolerance_um=2.5)})

    def findings(wanted):
        made = make_plan(
            part,
            wanted,
            technology=tables.technology,
            catalogue=tables.catalogue,
            rules=tables.rules,
        )
        return {f.code: f for f in made.findings}

    assert not {"temperature-uses-tolerance", "work-may-move"} & findings(loose).keys()
    found = findings(tight)
    assert "work-may-move" in found
    # By hand: 10.4 µm/(m K) over 60 mm are 0.624 µm/K.
    assert found["temperature-uses-tolerance"].data["growth_um_per_k"] == pytest.approx(0.624)
    assert found["temperature-uses-tolerance"].where.contour_id == "H1"


def test_the_shipped_expansions_agree_with_the_trade_s_figure_for_steel(tables):
    # 100 mm of steel grows 1.15 µm per kelvin (trade notes, common practice); grades of tool
    # steel lie within a fifth of it.
    steels = [m for m in tables.catalogue.materials if m.family == "steel"]
    assert len(steels) == 6
    for steel in steels:
        assert steel.expansion_um_per_mk == pytest.approx(11.5, rel=0.2), steel.name
        assert steel.sources["expansion_um_per_mk"].citation


def test_a_finish_coarser_than_anybody_asks_is_asked_about(requirement, tables):
    by_code, _ = said(requirement, tables, ra_um=45.0)
    one = by_code["finish-coarser-than-usual"]
    assert one.severity is Severity.WARNING
    # 45 µin are 1.143 µm.
    assert "45 µin" in one.remedy
    assert "1.14 µm" in one.remedy
    for usual in (None, 0.8, 25.0):
        assert "finish-coarser-than-usual" not in said(requirement, tables, ra_um=usual)[0]
    own = {"H1": Demand(ra_um=50.0)}
    by_code, _ = said(requirement, tables, ra_um=0.8, contours=own)
    assert by_code["finish-coarser-than-usual"].where.contour_id == "H1"


def test_further_passes_leave_no_recast_of_what_does_not_melt(requirement, tables):
    for material, word in (("D2", "of recast"), ("graphite", "of hurt layer")):
        wanted = dataclasses.replace(requirement, material=tables.catalogue.material(material))
        choice = choose_passes(wanted, technology=tables.technology, catalogue=tables.catalogue)
        assert choice.further
        assert all(word in one for one in choice.further)


def test_a_finer_pass_that_holds_less_than_the_one_before_is_told(requirement, tables):
    wanted = dataclasses.replace(requirement, tolerance_um=3.0)
    choice = choose_passes(wanted, technology=tables.technology, catalogue=tables.catalogue)

    def told(passes):
        found = work_findings(
            wanted,
            choice=dataclasses.replace(choice, passes=passes),
            sizes=[],
            drilled_mm=(),
            drilling=tables.technology.small_hole,
            rules=tables.rules,
        )
        return [f for f in found if f.code == "finer-pass-holds-less"]

    assert len(choice.passes) > 2
    assert not told(choice.passes)
    *most, before, last = choice.passes
    off = dataclasses.replace(last, tolerance_um=1.5 * before.tolerance_um)
    (note,) = told((*most, before, off))
    assert note.severity is Severity.NOTE
    assert f"pass {last.number} holds ±" in note.message
    assert f"pass {before.number} before it" in note.message


@pytest.mark.parametrize(
    ("coarser", "finer", "why", "remedy"),
    [
        (2, 2, "Sizes that were measured after passes {0} and {1} make it so", "Look at its"),
        (0, 2, "Sizes that were measured after pass {1} make it so", "Look at its"),
        (2, 0, "Sizes that were measured after pass {0} make it so", "Measure sizes after it"),
        (0, 0, "So the tables have it, or what cuts of other work teach", "Look at its"),
    ],
)
def test_why_a_finer_pass_holds_less_is_told_by_the_sizes_that_were_measured(
    requirement, tables, coarser, finer, why, remedy
):
    wanted = dataclasses.replace(requirement, tolerance_um=3.0)
    choice = choose_passes(wanted, technology=tables.technology, catalogue=tables.catalogue)

    def known(sizes):
        # Five cuts with their times, of which some have a size.
        of_sizes = SizesKnown(held_um=5.0, tables_um=5.0, count=sizes, jobs=sizes)
        return dataclasses.replace(learned(()), records=5, sizes=of_sizes)

    *most, before, last = choice.passes
    before = dataclasses.replace(before, learned=known(coarser))
    last = dataclasses.replace(last, tolerance_um=1.5 * before.tolerance_um, learned=known(finer))
    found = work_findings(
        wanted,
        choice=dataclasses.replace(choice, passes=(*most, before, last)),
        sizes=[],
        drilled_mm=(),
        drilling=tables.technology.small_hole,
        rules=tables.rules,
    )
    (note,) = (f for f in found if f.code == "finer-pass-holds-less")
    assert f". {why.format(before.number, last.number)}; what it is" in note.message
    assert note.remedy.startswith(remedy)
