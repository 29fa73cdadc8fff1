"""Small holes on the command line: words in, files, words and exit codes out."""

from __future__ import annotations

import json
import math
import shutil
from pathlib import Path

import pytest

from hole_samples import PLATE, SAMPLES, SLEEVE
from kerfwright.cli.reasons import PLAIN, unit_of
from kerfwright.cli.run import run
from pdf_pages import text_of

Capture = pytest.CaptureFixture[str]
FILES = {
    "job.toml", "plan.json", "program.nc", "proof.json", "estimate.json", "plan.svg",
    "tables.json", ".kerfwright-files",
}  # fmt: skip


@pytest.fixture(scope="module")
def sleeve(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("sleeve")
    assert run(["holes", str(SLEEVE), "--material", "D2", "-o", str(folder / "job")]) == 0
    return folder / "job"


def document(capsys: Capture) -> dict:  # type: ignore[type-arg]
    return json.loads(capsys.readouterr().out)


def test_a_sleeve_with_angled_entries_is_planned_and_proved_into_a_folder(sleeve: Path) -> None:
    assert {p.name for p in sleeve.iterdir() if p.is_file()} == FILES
    proof = json.loads((sleeve / "proof.json").read_text())
    assert (proof["passed"], proof["holes"]) == (True, 28)
    plan = json.loads((sleeve / "plan.json").read_text())
    assert {h["kind"] for h in plan["holes"]} == {"through"}
    assert len({tuple(h["angles_deg"]) for h in plan["holes"]}) == 28
    assert all(p.stat().st_mode & 0o077 == 0 for p in sleeve.iterdir() if p.is_file())


def test_the_same_words_give_the_same_files(sleeve: Path, tmp_path: Path) -> None:
    assert run(["holes", str(SLEEVE), "--material", "D2", "-o", str(tmp_path / "job")]) == 0
    for name in ("plan.json", "program.nc", "proof.json", "estimate.json", "plan.svg"):
        assert (tmp_path / "job" / name).read_bytes() == (sleeve / name).read_bytes()


def test_prove_price_why_and_papers_work_on_the_folder(sleeve: Path, capsys: Capture) -> None:
    program = str(sleeve / "program.nc")
    assert run(["prove", program, "--job", str(sleeve), "--json"]) == 0
    assert document(capsys)["passed"]
    assert run(["price", str(sleeve), "--quantity", "1,20", "--json"]) == 0
    prices = document(capsys)["estimate"]["prices"]
    assert [p["quantity"] for p in prices] == [1, 20]
    assert float(prices[1]["each"]) < float(prices[0]["each"])
    assert run(["why", str(sleeve), "hole", "feed", "way"]) == 0
    assert "lip + L (1 + k) + run-on" in capsys.readouterr().out
    assert run(["why", str(sleeve), "price", "for", "1"]) == 0
    assert "sum of its lines" in capsys.readouterr().out


def test_the_paper_of_a_hole_job_is_its_hole_sheet_only(sleeve: Path, tmp_path: Path) -> None:
    pytest.importorskip("typst")
    assert run(["papers", str(sleeve), "--only", "quote"]) == 2
    assert run(["papers", str(sleeve), "-o", str(tmp_path / "paper"), "--date", "2026-03-02"]) == 0
    text = text_of(tmp_path / "paper" / "holes.pdf")
    assert "Small holes" in text
    assert "V1-12" in text
    assert "touch off again in the same place" in " ".join(text.split())


def test_commands_for_wire_jobs_refuse_the_folder_with_a_clear_word(
    sleeve: Path, tmp_path: Path, capsys: Capture
) -> None:
    words = ["record", "--shop", str(tmp_path / "shop"), "--job", str(sleeve), "--pass", "1"]
    assert run([*words, "--time", "2 h"]) == 2
    assert "job of small holes" in capsys.readouterr().err
    assert run(["price", str(sleeve), "--finish", "Ra0.8um"]) == 2
    assert run(["holes", "--from-job", str(sleeve), "-o", str(tmp_path / "j")]) == 2


def test_a_program_with_a_hole_struck_out_fails_against_the_folder(
    sleeve: Path, tmp_path: Path, capsys: Capture
) -> None:
    text = (sleeve / "program.nc").read_text()
    begin = text.index("(HOLE V2-3 ")
    end = text.index("(HOLE", begin + 1)
    (tmp_path / "less.nc").write_text(text[:begin] + text[end:])
    assert run(["prove", str(tmp_path / "less.nc"), "--job", str(sleeve), "--json"]) == 1
    assert {f["code"] for f in document(capsys)["findings"]} == {"hole-missing"}


def test_an_edited_plan_proves_nothing(sleeve: Path, tmp_path: Path, capsys: Capture) -> None:
    job = sleeve.parent / "edited"
    shutil.copytree(sleeve, job, dirs_exist_ok=True)
    plan = (job / "plan.json").read_text()
    (job / "plan.json").write_text(plan.replace('"depth_mm": 7.0', '"depth_mm": 6.0', 1))
    assert run(["prove", str(job / "program.nc"), "--job", str(job), "--json"]) == 1
    assert "plan-edited" in {f["code"] for f in document(capsys)["findings"]}


def test_bad_rows_are_named_and_the_others_drilled(tmp_path: Path, capsys: Capture) -> None:
    table = tmp_path / "t.csv"
    table.write_text(PLATE.read_text() + "X1,5,5,0.6,throgh,,,,,\nX2,a,5,0.6,,,,,,\n")
    words = ["holes", str(table), "--material", "C270", "--height", "8mm"]
    assert run([*words, "-o", str(tmp_path / "job"), "--json"]) == 1
    found = document(capsys)
    assert found["proof"]["passed"]
    assert [u["text"] for u in found["plan"]["unused_rows"]] == [
        "X1,5,5,0.6,throgh,,,,,", "X2,a,5,0.6,,,,,,"
    ]  # fmt: skip
    assert "LEFT OUT: 2" in (tmp_path / "job" / "program.nc").read_text()


def test_a_table_without_one_usable_row_is_refused_and_shown(
    tmp_path: Path, capsys: Capture
) -> None:
    table = tmp_path / "t.csv"
    table.write_text("id,x_mm,y_mm,diameter_mm\nA,0,zero,0.6\n")
    words = ["holes", str(table), "--material", "D2", "--height", "8mm", "-o", str(tmp_path / "j")]
    assert run(words) == 1
    shown = capsys.readouterr().out
    assert "Line 2 is no hole" in shown
    assert "No program" in shown
    assert not (tmp_path / "j" / "program.nc").exists()
    assert run(["price", str(tmp_path / "j")]) == 1
    assert run(["prove", str(PLATE), "--job", str(tmp_path / "j")]) == 2


def test_the_tables_of_small_holes_are_shown_with_their_sources(capsys: Capture) -> None:
    for name, word in (("holes", "guide_gap_mm"), ("drills", "generic-drill-inch")):
        assert run(["tables", name]) == 0
        assert word in capsys.readouterr().out


def test_without_a_program_earlier_results_stay(tmp_path: Path, capsys: Capture) -> None:
    table = tmp_path / "t.csv"
    table.write_text("id,x_mm,y_mm,diameter_mm\nA,0,0,0.6\n")
    words = ["holes", str(table), "--material", "D2", "--height", "8mm", "-o", str(tmp_path / "j")]
    assert run(words) == 0
    before = (tmp_path / "j" / "program.nc").read_bytes()
    table.write_text("id,x_mm,y_mm,diameter_mm\nA,0,0,0.6\nB,900,0,0.6\n")
    assert run(words) == 1
    assert (tmp_path / "j" / "program.nc").read_bytes() == before
    assert "Nothing written" in capsys.readouterr().out
    # The source is no longer the one that was planned.
    assert run(["price", str(tmp_path / "j")]) == 2


def test_start_holes_of_a_wire_job_become_a_drilling_job(tmp_path: Path, capsys: Capture) -> None:
    wire, drill = tmp_path / "wire", tmp_path / "drill"
    drawing = str(SAMPLES / "escape_wheel.dxf")
    assert run(["plan", drawing, "--material", "C270", "--height", "6mm", "-o", str(wire)]) == 0
    capsys.readouterr()
    assert run(["holes", "--from-job", str(wire), "-o", str(drill), "--json"]) == 0
    starts = {
        s["id"]: s
        for s in json.loads((wire / "plan.json").read_text())["start_holes"]
        if s["kind"] == "drilled"
    }
    holes = document(capsys)["plan"]["holes"]
    assert {h["id"] for h in holes} == set(starts)
    for one in holes:
        assert one["mouth_mm"][:2] == [starts[one["id"]]["x_mm"], starts[one["id"]]["y_mm"]]
        assert one["diameter_mm"] == starts[one["id"]]["diameter_mm"]
        assert one["depth_mm"] == 6.0
    assert run(["price", str(drill)]) == 0
    (wire / "plan.json").write_text((wire / "plan.json").read_text().replace("6.0", "6.5", 1))
    assert run(["holes", "--from-job", str(wire), "-o", str(tmp_path / "again")]) == 2


def test_an_inch_machine_and_inch_words_are_equals(tmp_path: Path, capsys: Capture) -> None:
    table = tmp_path / "t.csv"
    table.write_text("id,x_in,y_in,diameter_in\nA,0,0,0.020\nB,0.5,0.25,0.020\n")
    words = ["holes", str(table), "--material", "D2", "--height", "0.25in"]
    words += ["--machine", "generic-drill-inch", "-o", str(tmp_path / "j")]
    assert run(words) == 0
    shown = capsys.readouterr().out
    assert "tube in" in shown
    program = (tmp_path / "j" / "program.nc").read_text()
    assert "G20 G90" in program
    assert "X0.5000 Y0.2500" in program


@pytest.mark.parametrize(
    ("words", "code"),
    [
        ([], 2),
        ([str(PLATE), "--from-job", "."], 2),
        ([str(PLATE)], 2),
        ([str(PLATE), "--material", "D2", "--height", "8"], 2),
        ([str(PLATE), "--material", "D2", "--machine", "generic-mm"], 2),
        ([str(SLEEVE), "--material", "D2", "--centre", "0mm,0mm"], 2),
        ([str(SLEEVE), "--material", "D2", "--diameters", "1mm"], 0),
        ([str(SAMPLES / "escape_wheel.dxf"), "--material", "D2"], 2),
        ([str(SAMPLES / "escape_wheel.dxf"), "--material", "D2", "--height", "6mm",
          "--diameters", "3mm..1mm"], 2),
    ],
)  # fmt: skip
def test_a_wrong_call_is_refused_and_writes_nothing(
    tmp_path: Path, words: list[str], code: int
) -> None:
    assert run(["holes", *words, "-o", str(tmp_path / "job")]) == code
    assert (tmp_path / "job").exists() == (code == 0)


def test_what_is_drilled_left_out_and_not_through_is_said_in_words_of_holes(
    tmp_path: Path, capsys: Capture
) -> None:
    table = tmp_path / "t.csv"
    rows = [f"B{n},{n},9,9,through,8" for n in range(12)]
    rows += ["A,0,0,0.6,through,50", "C,10,0,1,through,8", "D,20,0,0.6,through,8"]
    table.write_text("id,x_mm,y_mm,diameter_mm,kind,depth_mm\n" + "\n".join(rows) + "\n")
    run(["holes", str(table), "--material", "D2", "-o", str(tmp_path / "job")])
    shown = " ".join(capsys.readouterr().out.split())
    assert "for what is drilled; 12 holes or rows (" in shown
    assert "contours" not in shown
    assert "tube by tube" in shown
    assert "with 2 tubes taken up; as listed 20.000 mm with 3 tubes taken up" in shown
    assert "at a wear that nine cases in ten stay below" in shown
    assert "at the most wear" not in shown
    assert "without deepening what more wear leaves short, up to about one case in 11" in " ".join(
        json.loads((tmp_path / "job" / "estimate.json").read_text())["times"][3]["basis"].split()
    )
    sheet = (tmp_path / "job" / "plan.svg").read_text()
    assert "Is it through?" in sheet
    assert "about one case in 11" in sheet
    assert "3 tubes" in sheet
    proof = json.loads((tmp_path / "job" / "proof.json").read_text())
    assert round(1 / proof["most_not_through"]) == 11


ASKED = {
    "number", "mouth_mm", "into", "outward", "diameter_mm", "depth_mm", "room_mm", "tolerance_um",
    "position_um", "max_recast_um", "line", "tube", "condition",
}  # fmt: skip
"""As wanted, or a count."""
OWN = {"at_mm": "at_x_mm", "angles_deg": "angle_a_deg"}
"""Lists, and the reason of their first."""


@pytest.fixture(scope="module")
def odd_job(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("odd")
    table = folder / "t.csv"
    table.write_text(
        "id,x_mm,y_mm,diameter_mm,kind,depth_mm,lean_deg,heading_deg,recast_um\n"
        "A,0,0,0.6,through,50,0,0,25\nJ,10,0,0.6,through,50,0,0,25\n"
        "B,20,0,0.6,blind,5,20,0,25\n"
    )
    words = ["--tolerance", "±0.04mm", "--position", "±0.03mm", "-o", str(folder / "job")]
    assert run(["holes", str(table), "--material", "D2", *words]) == 0
    return folder / "job"


def test_every_number_of_a_hole_in_the_plan_has_its_reason(odd_job: Path, capsys: Capture) -> None:
    assert run(["why", str(odd_job), "--json"]) == 0
    told = document(capsys)["reasons"]
    by_path = {r["path"]: r for r in told if r["path"]}
    quantities = {r["quantity"] for r in told}
    assert {q for q in quantities if not unit_of(q)} <= set(PLAIN)
    plan = json.loads((odd_job / "plan.json").read_text())
    for one in plan["holes"]:
        if one["id"] == "J":
            continue  # answered with A
        for name, value in one.items():
            if name in ASKED or isinstance(value, str):
                continue
            if name in OWN:
                assert OWN[name] in quantities
                continue
            path = f"plan/holes/{one['id']}/{name}"
            assert path in by_path, path
            if name != "rise_k":
                said = by_path[path]["value"]
                assert said == pytest.approx(value, rel=1e-5, abs=1e-6), path


@pytest.mark.parametrize(
    "asked",
    [
        "tolerance", "depth limit", "lip", "run-on", "breakthrough", "heat", "position",
        "chances miss", "chance of a miss", "feed", "angle A", "program X", "not coming through",
    ],
)  # fmt: skip
def test_a_figure_of_a_hole_is_told_whichever_of_those_alike_is_named(
    odd_job: Path, asked: str, capsys: Capture
) -> None:
    for name in ("A", "J"):
        assert run(["why", str(odd_job), "hole", name, *asked.split()]) == 0
        assert "hole A" in capsys.readouterr().out


def test_the_chance_of_a_miss_that_is_told_is_that_of_the_normal_distribution(
    odd_job: Path, capsys: Capture
) -> None:
    assert run(["why", str(odd_job), "hole", "A", "miss", "diameter", "--json"]) == 0
    (told,) = document(capsys)["reasons"]
    # ±40 µm of a zone of ±50 that is two deviations: 1.6 of them.
    assert told["value"] == pytest.approx(math.erfc(1.6 / math.sqrt(2)), rel=1e-4)


def test_the_height_of_the_work_is_that_of_what_is_drilled(tmp_path: Path) -> None:
    rows = tmp_path / "pivot.csv"
    rows.write_text(
        "id,x_mm,y_mm,diameter_mm,kind,depth_mm\nA,0,0,1.0,through,8\nE,30,0,1.0,through,5000\n"
    )
    assert run(["holes", str(rows), "--material", "D2", "-o", str(tmp_path / "job")]) == 1
    plan = json.loads((tmp_path / "job" / "plan.json").read_text())
    assert "height-beyond-machine" not in {f["code"] for f in plan["findings"]}
    assert "(LEFT OUT: 1 hole or row E;" in (tmp_path / "job" / "program.nc").read_text()


@pytest.mark.parametrize("kind", ["through", "blind"])
def test_a_row_that_no_tube_can_drill_leaves_the_other_holes_to_be_drilled(
    kind: str, tmp_path: Path
) -> None:
    rows = tmp_path / "pivot.csv"
    rows.write_text(
        f"id,x_mm,y_mm,diameter_mm,kind,depth_mm\nA,0,0,1.0,through,40\nE,40,0,0.3,{kind},220\n"
    )
    assert run(["holes", str(rows), "--material", "D2", "-o", str(tmp_path / "job")]) == 1
    plan = json.loads((tmp_path / "job" / "plan.json").read_text())
    assert [h["id"] for h in plan["holes"]] == ["A"]
    (closed,) = (f for f in plan["findings"] if f["code"] == "hole-narrows-to-nothing")
    assert (closed["severity"], closed["where"]["line"]) == ("refusal", 3)
    assert "(LEFT OUT: 1 hole or row E;" in (tmp_path / "job" / "program.nc").read_text()


def test_why_of_a_refused_hole_says_what_by_which_limit_and_what_to_do(
    tmp_path: Path, capsys: Capture
) -> None:
    table, folder = tmp_path / "h.csv", str(tmp_path / "job")
    table.write_text(
        "id,x_mm,y_mm,diameter_mm,depth_mm\nA,0,0,1,20\nB,5,0,0.3,200\nC,9,0,0.3,250\nA1,14,0,9,5\n"
    )
    assert run(["holes", str(table), "--material", "D2", "-o", folder]) == 1
    capsys.readouterr()
    # C is the worst of those alike, so that B stands in no finding with its own numbers.
    assert run(["why", folder, "hole", "B", "--json"]) == 0
    told = document(capsys)
    assert told["reasons"] == []
    assert {f["where"]["entity"] for f in told["refusals"]} == {"hole B"}
    (deep,) = (f for f in told["refusals"] if f["code"] == "hole-too-deep")
    assert deep["data"]["depth_mm"] == 200
    assert "30 mm is as deep as is routine" in deep["message"]
    assert deep["remedy"]
    assert run(["why", folder, "A1"]) == 0
    out = " ".join(capsys.readouterr().out.split())
    assert "refused: Hole A1: 9 mm" in out
    assert "remedy: Put a tube thicker than 3 mm" in out
    assert run(["why", folder, "refused", "--json"]) == 0
    named = {f["where"]["entity"] for f in document(capsys)["refusals"]}
    assert named == {"hole B", "hole C", "hole A1"}
    assert run(["why", folder, "hole", "A", "feed", "way", "--json"]) == 0
    assert "refusals" not in document(capsys)
    assert run(["why", folder]) == 0
    assert "Refused, and why: B, C, A1" in capsys.readouterr().out
