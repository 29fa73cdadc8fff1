"""Straight land, then relief: asked, planned, written and proved in one program, and faults."""

from __future__ import annotations

import json
import math
import re
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest
from tests.conftest import PartMaker
from tests.leaning_jobs import codes, good, leaning_job, rounded, square, tool_steel

from kerfwright.adapters.json_shapes import plan_shape, to_text
from kerfwright.adapters.plan_claims import claim_from
from kerfwright.adapters.tables import Tables
from kerfwright.app.papers.lands import lands_of
from kerfwright.app.records import JobResult
from kerfwright.cli.run import run
from kerfwright.geometry.contour import Contour
from kerfwright.motion.moves import CutKind
from kerfwright.nc.writer import write_program
from kerfwright.proof.picture import picture_of
from kerfwright.proof.prove import prove_program
from kerfwright.trade.part import Part, Role
from kerfwright.trade.requirement import Requirement
from kerfwright.trade.walls import SplitWall, WallPart
from pdf_pages import text_of

USUAL = "land=3mm, relief=0.5°"
TAN = math.tan(math.radians(0.5))


@pytest.fixture(scope="module")
def die_part(make_part: PartMaker) -> Part:
    return make_part([(Role.OPENING, rounded(0, 0, 24, 16, 2), None)])


@pytest.fixture(scope="module")
def wanted(tables: Tables) -> Requirement:
    return tool_steel(tables, tolerance_um=5.0)


@pytest.fixture(scope="module")
def die(die_part: Part, wanted: Requirement, tables: Tables) -> JobResult:
    return leaning_job(die_part, wanted, tables, {"H1": USUAL})


def order_of(result: JobResult) -> list[tuple[str, int]]:
    """Return contour and pass of the cuts in their order, each once."""
    assert result.path is not None
    return list(dict.fromkeys((c.contour_id, c.pass_number) for c in result.path.cuts))


# -- plan ------------------------------------------------------------------------------------


def test_the_relief_comes_first_and_the_land_is_skimmed_only(die: JobResult) -> None:
    good(die)
    # By hand: 3 mm x tan 0.5 degrees is 26.2 um, less than the 35 and 12 um the skims take.
    (land,) = die.plan.seconds
    assert land.follows is not None
    assert land.follows.left_um == pytest.approx(3000 * TAN)
    assert land.follows.skims_take_um == pytest.approx(
        sum(p.stock_um for p in die.plan.contours[0].passes[1:])
    )
    assert land.follows.first_pass == 2
    assert order_of(die) == [("H1", 1), ("H1", 2), ("H1", 3), ("H1-LAND", 2), ("H1-LAND", 3)]
    (told,) = [f for f in die.findings if f.code == "land-and-relief"]
    for word in ("relief first", "26.2 µm", "nothing comes loose", "One cut through full metal"):
        assert word in told.message


def test_one_slug_one_tab_one_start_and_no_threading_for_the_land(
    die: JobResult, die_part: Part, wanted: Requirement, tables: Tables
) -> None:
    taper = leaning_job(die_part, wanted, tables, {"H1": "taper=0.5° out downwards from 17mm"})
    assert die.proof is not None
    assert taper.proof is not None
    assert die.path is not None
    assert taper.path is not None
    for kind in ("piece-free", "stop", "thread"):
        one, other = (
            sum(e.kind.value == kind for e in r.proof.events if r.proof) for r in (die, taper)
        )
        assert one == other
    assert all(e.is_attended for e in die.proof.events if e.kind.value == "piece-free")
    assert [c.kind for c in die.path.cuts].count(CutKind.CUT_OFF) == 1
    assert len(die.plan.contours) == 1


def test_a_wedge_thicker_than_the_skims_take_is_roughed_too(
    die: JobResult, die_part: Part, wanted: Requirement, tables: Tables
) -> None:
    thick = leaning_job(die_part, wanted, tables, {"H1": "land=5mm, relief=1°"})
    good(thick)
    assert order_of(thick)[-3:] == [("H1-LAND", 1), ("H1-LAND", 2), ("H1-LAND", 3)]
    assert [c.kind for c in thick.path.cuts if c.contour_id == "H1-LAND"] == [  # type: ignore[union-attr]
        CutKind.ROUGH, CutKind.SKIM, CutKind.SKIM,
    ]  # fmt: skip
    (told,) = [f for f in thick.findings if f.code == "land-and-relief"]
    assert "Two cuts at full power" in told.message
    asked = leaning_job(die_part, wanted, tables, {"H1": USUAL + ", cuts=two"})
    good(asked)
    assert die.estimate is not None
    assert asked.estimate is not None
    # The land roughed as well: as long again as a rough pass, and dearer.
    rough = [
        sum(t.minutes.likely for t in r.estimate.times if t.operation == "rough pass")
        for r in (die, asked)
        if r.estimate
    ]
    assert rough[1] == pytest.approx(2 * rough[0], rel=0.1)
    assert asked.estimate.prices[0].each > die.estimate.prices[0].each
    refused = leaning_job(die_part, wanted, tables, {"H1": "land=5mm, relief=1°, cuts=one"})
    assert codes(refused) == {"land-needs-two-cuts"}
    assert refused.program is None


def test_price_and_time_hold_the_passes_of_both(
    die: JobResult, die_part: Part, wanted: Requirement, tables: Tables
) -> None:
    taper = leaning_job(die_part, wanted, tables, {"H1": "taper=0.5° out downwards from 17mm"})
    assert die.estimate is not None
    assert taper.estimate is not None
    for skim in ("skim pass 2", "skim pass 3"):
        both, one = (
            next(t for t in r.estimate.times if t.operation == skim)
            for r in (die, taper)
            if r.estimate
        )
        assert both.minutes.likely == pytest.approx(2 * one.minutes.likely, rel=0.05)
        assert both.minutes.low < both.minutes.likely < both.minutes.high
    assert die.estimate.prices[0].each > taper.estimate.prices[0].each + Decimal(1)


@pytest.mark.parametrize(
    ("text", "word"),
    [
        ("land=3mm, relief=8°", "Take a land lower than 2.348 mm"),
        ("land=12mm, relief=2°", "first=land"),
        ("land=3mm, relief=2°, first=land", "first=relief"),
    ],
)
def test_a_ring_that_would_come_loose_is_refused_with_what_to_do(
    text: str, word: str, die_part: Part, wanted: Requirement, tables: Tables
) -> None:
    result = leaning_job(die_part, wanted, tables, {"H1": text})
    assert codes(result) == {"ring-comes-loose"}
    assert result.program is None
    (found,) = [f for f in result.findings if f.code == "ring-comes-loose"]
    assert word in found.remedy


def test_what_cannot_be_is_refused_by_itself(
    die_part: Part, wanted: Requirement, tables: Tables, make_part: PartMaker
) -> None:
    low = leaning_job(die_part, wanted, tables, {"H1": "land=20mm, relief=1°"})
    assert codes(low) == {"land-beyond-work"}
    punch = make_part([(Role.OUTLINE, square(16), None)])
    assert codes(leaning_job(punch, wanted, tables, {"P1": USUAL})) == {"land-on-outline"}
    assert wanted.machine.tilt is not None
    stiff = replace(
        wanted,
        machine=replace(wanted.machine, tilt=replace(wanted.machine.tilt, max_angle_deg=0.4)),
    )
    for more in ("", ", first=land"):
        result = leaning_job(die_part, stiff, tables, {"H1": USUAL + more})
        assert codes(result) == {"angle-beyond-machine"}
        assert result.program is None


L_SHAPE = Contour.from_rows([(0, 0), (20, 0), (20, 8), (8, 8), (8, 20), (0, 20)])


@pytest.mark.parametrize(
    ("contour", "text"),
    [
        (rounded(0, 0, 24, 16, 2), "land=3mm at bottom, relief=0.5°"),
        (rounded(0, 0, 24, 16, 2), "land=3mm, relief=1°, first=land"),
        (rounded(0, 0, 24, 16, 2), "land=12mm at bottom, relief=1°, first=land"),
        (rounded(0, 0, 24, 16, 2), "land=5mm, relief=3.7°"),
        (square(16), "land=3mm, relief=1°, corners=constant"),
        (square(16), USUAL),
        (L_SHAPE, "land=3mm, relief=1°, cuts=two"),
        (Contour.circle((0, 0), radius_mm=8.0), USUAL),
        (Contour.from_rows([(0, 0), (20, 0), (20, 1), (0, 1)]), "land=3mm, relief=1°"),
    ],
)
def test_openings_of_many_kinds_are_proved(
    contour: Contour, text: str, make_part: PartMaker, wanted: Requirement, tables: Tables
) -> None:
    part = make_part([(Role.OPENING, contour, None)])
    result = leaning_job(part, wanted, tables, {"H1": text})
    _, claim = good(result)
    assert result.proof is not None
    assert result.proof.leaning is not None
    heights = {d.height_mm for d in result.proof.leaning.by_height}
    (split,) = claim.splits
    assert {0.0, split.edge_mm, 20.0} <= heights
    for d in result.proof.leaning.by_height:
        low, high = split.stands_mm(d.contour_id)
        assert low <= d.height_mm <= high
        assert max(d.max_gouge_um, d.max_leftover_um) < 0.7


def test_one_pass_a_cut_where_nothing_finer_is_asked(
    die_part: Part, wanted: Requirement, tables: Tables
) -> None:
    result = leaning_job(die_part, replace(wanted, tolerance_um=50.0), tables, {"H1": USUAL})
    good(result)
    assert order_of(result) == [("H1", 1), ("H1-LAND", 1)]


def test_other_contours_are_cut_as_ever(
    make_part: PartMaker, wanted: Requirement, tables: Tables
) -> None:
    part = make_part(
        [
            (Role.OUTLINE, Contour.from_rows([(-8, -8), (60, -8), (60, 24), (-8, 24)]), None),
            (Role.OPENING, rounded(0, 0, 24, 16, 2), "P1"),
            (Role.OPENING, Contour.circle((40, 8), radius_mm=6.0), "P1"),
        ]
    )
    result = leaning_job(part, wanted, tables, {"H1": USUAL})
    good(result)
    names = [name for name, _ in order_of(result)]
    assert names.index("H1-LAND") > names.index("H1")
    # The part comes free last of all.
    assert names[-1] == "P1"


def test_the_picture_of_the_program_shows_one_slug(die: JobResult) -> None:
    program, claim = good(die)
    pieces = picture_of(program, claim).pieces
    assert [p.event.contour_id for p in pieces] == ["H1"]


# -- papers and documents ----------------------------------------------------------------------


def test_the_plan_document_gives_back_the_claim(die: JobResult) -> None:
    program, claim = good(die)
    again = claim_from(json.loads(to_text(plan_shape(die.plan, claim=claim))))
    assert again.splits == claim.splits
    assert again.cut_ids == claim.cut_ids
    assert again.pass_numbers == claim.pass_numbers
    assert again.offset_mm == pytest.approx(claim.offset_mm)
    assert again.feed_mm_per_min == pytest.approx(claim.feed_mm_per_min)
    assert codes(prove_program(program, again)) == set()


def test_papers_have_heights_angle_and_passes(die: JobResult) -> None:
    (facts,) = lands_of(die.plan)
    assert (facts.first, facts.second) == (WallPart.RELIEF, WallPart.LAND)
    assert facts.land_mm == (17.0, 20.0)
    assert facts.relief_mm == (0.0, 17.0)
    assert facts.angle_deg == pytest.approx(0.5)
    assert facts.opens_mm == pytest.approx(17 * TAN)
    assert facts.first_passes == (1, 2, 3)
    assert facts.second_passes == (2, 3)
    program, _ = good(die)
    assert "(H1-LAND IS THE LAND, 17 TO 20 MM UP; H1 THE RELIEF, 0 TO 17 MM UP;" in program


def test_the_command_line_from_drawing_to_job_folder(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    import ezdxf

    drawing = ezdxf.new()
    drawing.units = 4
    drawing.modelspace().add_lwpolyline([(0, 0), (20, 0), (20, 12), (0, 12)], close=True)
    path, job = tmp_path / "die.dxf", tmp_path / "job"
    drawing.saveas(path)
    call = ["plan", str(path), "--material", "D2", "--height", "20mm", "--tolerance", "±5um"]
    call += ["--role", "P1: opening", "--taper", "P1: land=0.125in, relief=0.5°"]
    assert run([*call, "-o", str(job)]) == 0
    said = capsys.readouterr().out
    assert "P1-LAND, 16.825 to 20.000 mm up: gouge up to" in said
    assert "the relief first, which takes the slug" in " ".join(said.split())
    plan = json.loads((job / "plan.json").read_text())
    (split,) = plan["splits"]
    assert split["edge_mm"] == pytest.approx(20 - 3.175)
    assert [c.get("first_pass") for c in plan["contour_passes"]] == [None, 2]
    proof = json.loads((job / "proof.json").read_text())
    assert {d["contour_id"] for d in proof["leaning"]["by_height"]} == {"P1", "P1-LAND"}
    assert run(["prove", "--job", str(job), str(job / "program.nc")]) == 0
    assert run(["price", str(job)]) == 0
    capsys.readouterr()
    into = [*call[:-1], "P1: land=3mm, relief=0.5° in"]
    assert run([*into, "-o", str(tmp_path / "other")]) == 2
    assert "into the part" in " ".join(capsys.readouterr().err.split())


def test_papers_name_both_cuts_and_where_the_size_holds(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    pytest.importorskip("typst")
    import ezdxf

    drawing = ezdxf.new()
    drawing.units = 4
    drawing.modelspace().add_lwpolyline([(0, 0), (20, 0), (20, 12), (0, 12)], close=True)
    drawing.saveas(tmp_path / "die.dxf")
    call = ["plan", str(tmp_path / "die.dxf"), "--material", "D2", "--height", "20mm"]
    call += ["--tolerance", "±5um", "--role", "P1: opening", "-o", str(tmp_path / "job")]
    assert run([*call, "--taper", "P1: land=5mm, relief=1°"]) == 0
    assert run(["papers", str(tmp_path / "job")]) == 0
    capsys.readouterr()
    sheet, inspection = (
        " ".join(text_of(tmp_path / "job" / name).split())
        for name in ("set-up.pdf", "inspection.pdf")
    )
    assert "first P1 is the relief, 1.000°, 0 mm to 15 mm up, passes 1 to 3" in sheet
    assert "then P1-LAND is the land, straight, 15 mm to 20 mm up, passes 1 to 3" in sheet
    assert "Rough P1: The mouths lean with the wire, at most by 1.41°" in sheet
    assert "Rough P1-LAND: Both nozzles about 0.1 mm off the faces" in sheet
    assert "LAND0" not in sheet
    assert (
        "P1: its sizes are those of the land, from 15 mm to 20 mm above the underside" in inspection
    )
    assert run(["why", str(tmp_path / "job"), "stock left by the first cut"]) == 0
    said = capsys.readouterr().out
    # By hand: 5 mm x tan 1 degree.
    assert "P1-LAND stock left by the first cut: 87.28 µm" in said


# -- planted faults --------------------------------------------------------------------------


@pytest.mark.parametrize(
    "put", ["M104 P0.0000 Q20.5000", "M104 P0.5000 Q20.0000", "M104 P1.0000 Q21.0000"]
)
def test_planes_at_the_wrong_height_are_caught(put: str, die: JobResult) -> None:
    program, claim = good(die)
    assert "M104 P0.0000 Q20.0000" in program
    assert not prove_program(program.replace("M104 P0.0000 Q20.0000", put), claim).passed


def test_a_taper_of_the_wrong_sign_is_caught(die: JobResult) -> None:
    program, claim = good(die)
    turned = re.sub(
        r" ([UV])(-?)([0-9.]+)", lambda m: f" {m[1]}{'' if m[2] else '-'}{m[3]}", program
    )
    assert codes(prove_program(turned, claim)) & {"gouge", "uncut-wall", "path-in-part"}


@pytest.mark.parametrize(
    ("other", "found"),
    [
        # The relief begins inside the land, and below its end.
        ("land=2mm, relief=0.5°", {"gouge", "stock-taken"}),
        ("land=3.5mm, relief=0.5°", {"uncut-wall", "off-path"}),
        ("land=3mm, relief=0.52°", {"gouge", "uncut-wall", "stock-taken"}),
        ("land=3mm at bottom, relief=0.5°", {"gouge", "uncut-wall", "path-in-part"}),
        ("land=3mm, relief=0.5°, first=land", {"unknown-contour"}),
        ("taper=0.5° out downwards from 17mm", {"missing-pass"}),
    ],
)
def test_a_program_of_another_wall_is_caught(
    other: str,
    found: set[str],
    die: JobResult,
    die_part: Part,
    wanted: Requirement,
    tables: Tables,
) -> None:
    _, claim = good(die)
    program, _ = good(leaning_job(die_part, wanted, tables, {"H1": other}))
    assert codes(prove_program(program, claim)) & found


@pytest.mark.parametrize("text", [USUAL, USUAL + ", cuts=two", USUAL + ", first=land"])
def test_cuts_in_another_order_are_caught(
    text: str, die_part: Part, wanted: Requirement, tables: Tables
) -> None:
    result = leaning_job(die_part, wanted, tables, {"H1": text})
    _, claim = good(result)
    path = result.path
    assert path is not None
    (split,) = claim.splits
    firsts = [c for c in path.cuts if c.contour_id == split.first_id]
    seconds = [c for c in path.cuts if c.contour_id == split.second_id]
    slug_out = [c for c in firsts if c.pass_number == 1]
    skims = [c for c in firsts if c.pass_number > 1]
    for cuts in ([*seconds, *firsts], [*slug_out, *seconds, *skims]):
        alone = tuple(replace(c, threads=True, cuts_wire=True) for c in cuts)
        program = write_program(
            replace(path, cuts=alone), machine=wanted.machine, title="T", remarks=()
        )
        found = codes(prove_program(program, claim))
        assert "second-wall-first" in found
        if cuts[0] is seconds[0]:
            # With no tab left the slug falls with nobody by.
            assert found & {"piece-falls-unattended", "cut-through-solid"}


def test_a_land_left_out_or_set_off_wrongly_is_caught(die: JobResult) -> None:
    program, claim = good(die)
    at = program.index("(CUT H1-LAND")
    assert "missing-pass" in codes(prove_program(program[:at] + "M102\nM02\n%\n", claim))
    # Its last pass three micrometres off, the whole of it.
    last = program.rindex("(CUT H1-LAND")
    moved = program[:last] + re.sub(
        r"Y(-?[0-9.]+)", lambda m: f"Y{float(m[1]) + 0.003:.4f}", program[last:]
    )
    assert codes(prove_program(moved, claim)) & {"gouge", "uncut-wall"}


def test_a_wire_that_leans_along_the_land_is_caught(
    make_part: PartMaker, wanted: Requirement, tables: Tables
) -> None:
    part = make_part([(Role.OPENING, square(16), None)])
    result = leaning_job(part, wanted, tables, {"H1": USUAL})
    program, claim = good(result)
    begin = program.rindex("(CUT H1-LAND")
    lines = program[begin:].splitlines()
    first = next(k for k, line in enumerate(lines) if line.startswith("G01"))
    arcs = [k for k, line in enumerate(lines) if line.startswith("G02")]
    walls = [k for k, line in enumerate(lines) if arcs[0] < k < arcs[-1]]
    lines[walls[0]] += " U0.0020 V0.0000"
    lines[walls[-1]] += " U0.0000 V0.0000"
    assert first < walls[0]
    found = codes(prove_program(program[:begin] + "\n".join(lines) + "\n", claim))
    assert "leans-along-upright-wall" in found


def test_a_ring_is_seen_by_the_proof_where_the_plan_overlooks_it(
    die_part: Part, wanted: Requirement, tables: Tables, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(SplitWall, "left_mm", property(lambda _: 0.06))
    result = leaning_job(die_part, wanted, tables, {"H1": "land=12mm, relief=2°"})
    assert result.program is None
    (ring,) = [f for f in result.findings if f.code == "ring-comes-loose"]
    # By hand: 12 mm x tan 2 degrees less the kerf of 0.33 mm leave 0.09 mm at the face.
    assert ring.where.contour_id == "H1-LAND"
    assert 10 < int(re.search(r"about (\d+) µm", ring.message)[1]) < 120  # type: ignore[index]
