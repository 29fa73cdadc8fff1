"""The command line as a person meets it: words in, files, words and exit codes out."""

from __future__ import annotations

import hashlib
import json
import shutil
import subprocess
import sys
from pathlib import Path

import ezdxf
import pytest

import kerfwright
from kerfwright.adapters import job_folder, json_shapes
from kerfwright.cli.run import run

SAMPLES = Path(kerfwright.__file__).parent / "data" / "samples"
WHEEL = SAMPLES / "escape_wheel.dxf"
DIE = SAMPLES / "hand_die.dxf"
JOB = ["--material", "C270 brass", "--height", "6mm"]
FILES = {
    "job.toml",
    "plan.json",
    "program.nc",
    "proof.json",
    "estimate.json",
    "plan.svg",
    "tables.json",
    ".kerfwright-files",
}
PAPERS = {"quote.pdf", "set-up.pdf", "inspection.pdf", "holes.pdf", "path.dxf", "path.svg"}

Capture = pytest.CaptureFixture[str]


def documents(text: str) -> object:
    """Parse standard output that must be one JSON document and nothing else."""
    return json.loads(text)


def two_circles(folder: Path, **more: object) -> Path:
    """Draw a ring of 40 and 20 mm."""
    drawing = ezdxf.new("R2010", units=more.get("units", 4))  # type: ignore[arg-type]
    drawing.modelspace().add_circle((0, 0), 20.0)
    drawing.modelspace().add_circle((0, 0), 10.0)
    drawing.saveas(folder / "ring.dxf")
    return folder / "ring.dxf"


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("planned")
    drawing = two_circles(folder)
    assert (
        run(["plan", str(drawing), *JOB, "--tolerance", "±0.01mm", "-o", str(folder / "job")]) == 0
    )
    return folder / "job"


def test_the_demo_makes_a_proved_job(tmp_path: Path, capsys: Capture) -> None:
    assert run(["demo", "-o", str(tmp_path / "out")]) == 0
    assert {p.name for p in (tmp_path / "out").iterdir()} == FILES | PAPERS
    assert json.loads((tmp_path / "out" / "proof.json").read_text())["passed"] is True
    shown = capsys.readouterr().out
    for word in ("Escape", "escape_wheel.dxf", "rough", "skim", "Price", "Proof", "passed"):
        assert word.casefold() in shown.casefold()
    assert "manual" in shown
    assert all(line == line.rstrip() for line in shown.splitlines() if "│" not in line)


def test_the_die_plate_in_inches_is_planned_whole(tmp_path: Path, capsys: Capture) -> None:
    layers = ["--layer", "STOCK=stock", "--layer", "START=start", "--layer", "DIE=opening"]
    call = ["plan", str(DIE), "--material", "D2", "--height", "1in", *layers]
    assert run([*call, "--tolerance", "0.0002in", "-o", str(tmp_path / "job"), "--json"]) == 0
    document = documents(capsys.readouterr().out)
    assert len(document["plan"]["contours"]) == 7  # type: ignore[index]
    given = [s for s in document["plan"]["start_holes"] if s["kind"] == "given"]  # type: ignore[index]
    assert [(s["x_mm"], s["y_mm"]) for s in given] == [(88.9, 45.72)]


def test_json_is_one_document_and_the_plan_can_be_used_without_us(planned: Path) -> None:
    plan = json.loads((planned / "plan.json").read_text())
    assert (plan["format"], plan["version"], plan["units"]) == ("kerfwright-plan", 2, "mm")
    # A ring of radii 20 and 10 mm: lengths from the circle itself.
    lengths = sorted(c["length_mm"] for c in plan["contours"])
    assert lengths == pytest.approx([62.831853, 125.663706], abs=1e-5)
    assert {c["kind"] for c in plan["contours"]} == {"opening", "outline"}


def test_the_same_call_again_gives_the_same_bytes(planned: Path) -> None:
    before = {p.name: p.read_bytes() for p in planned.iterdir()}
    drawing = planned.parent / "ring.dxf"
    assert run(["plan", str(drawing), *JOB, "--tolerance", "±0.01mm", "-o", str(planned)]) == 0
    assert {p.name: p.read_bytes() for p in planned.iterdir()} == before


def test_the_program_of_a_job_proves_again_from_its_folder(planned: Path, capsys: Capture) -> None:
    assert run(["prove", str(planned / "program.nc"), "--job", str(planned), "--json"]) == 0
    again = documents(capsys.readouterr().out)
    assert again == json.loads((planned / "proof.json").read_text())


def test_an_edited_plan_or_drawing_is_refused_loudly(
    planned: Path, tmp_path: Path, capsys: Capture
) -> None:
    # A copy, drawing included: the other tests read the same job.
    planned = Path(shutil.copytree(planned.parent, tmp_path / "copy")) / planned.name
    call = ["prove", str(planned / "program.nc"), "--job", str(planned), "--json"]
    written = (planned / "plan.json").read_text()
    document = json.loads(written)
    # A hundredfold tolerance: the number is worked out again, and the change is named.
    tolerance_um = document["proof_tolerance_um"]
    (planned / "plan.json").write_text(
        written.replace(f'"proof_tolerance_um": {tolerance_um}', '"proof_tolerance_um": 100.0')
    )
    assert json_shapes.claim_from(job_folder.read_plan(planned)).tolerance_um == pytest.approx(
        tolerance_um, abs=1e-6
    )
    assert run(call) == 1
    (finding,) = documents(capsys.readouterr().out)["findings"]  # type: ignore[misc]
    assert (finding["code"], finding["severity"]) == ("plan-edited", "refusal")  # type: ignore[index]
    (planned / "plan.json").write_text(written)
    assert run(call) == 0
    capsys.readouterr()
    drawing = planned.parent / "ring.dxf"
    drawing.write_bytes(drawing.read_bytes() + b"999\nlater\n")
    assert run(call) == 1
    (finding,) = documents(capsys.readouterr().out)["findings"]  # type: ignore[misc]
    assert "drawing" in finding["message"]  # type: ignore[index]


def test_a_program_proves_against_the_bare_drawing(planned: Path, capsys: Capture) -> None:
    plan = json.loads((planned / "plan.json").read_text())
    gaps = [w for p in plan["passes"] for w in ("--gap", f"{p['number']}={p['gap_um']}um")]
    starts = [
        w
        for s in plan["start_holes"]
        for w in ("--start", f"{s['x_mm']}mm,{s['y_mm']}mm,{s['diameter_mm']}mm")
    ]
    call = ["prove", str(planned / "program.nc"), "--drawing", str(planned.parent / "ring.dxf")]
    assert run([*call, *JOB, "--wire", "0.25mm", *gaps, *starts]) == 0
    assert "passed" in capsys.readouterr().out


def test_a_spoilt_program_fails_its_proof_with_the_place(
    planned: Path, tmp_path: Path, capsys: Capture
) -> None:
    text = (planned / "program.nc").read_text()
    lines = text.splitlines()
    # One digit of one arc end in the last pass moves by a tenth of a millimetre.
    spoilt = max(
        i for i, line in enumerate(lines) if line.startswith(("G02", "G03")) and "X" in line
    )
    words = lines[spoilt].split()
    x = next(i for i, w in enumerate(words) if w.startswith("X"))
    words[x] = f"X{float(words[x][1:]) + 0.1:.4f}"
    lines[spoilt] = " ".join(words)
    (tmp_path / "program.nc").write_text("\n".join(lines) + "\n")
    assert run(["prove", str(tmp_path / "program.nc"), "--job", str(planned)]) == 1
    out, err = capsys.readouterr()
    assert "line" in out + err
    assert "Traceback" not in out + err


def test_other_quantities_are_priced_from_the_job_folder(planned: Path, capsys: Capture) -> None:
    before = {p.name: p.read_bytes() for p in planned.iterdir()}
    assert run(["price", str(planned), "--quantity", "50,2", "--json"]) == 0
    prices = documents(capsys.readouterr().out)["estimate"]["prices"]  # type: ignore[index]
    assert [p["quantity"] for p in prices] == [2, 50]
    assert float(prices[1]["each"]) < float(prices[0]["each"])
    assert {p.name: p.read_bytes() for p in planned.iterdir()} == before


def test_a_drawing_is_priced_without_a_folder(planned: Path, capsys: Capture) -> None:
    assert run(["price", str(planned.parent / "ring.dxf"), *JOB]) == 0
    assert "Price" in capsys.readouterr().out


def test_check_names_roles_and_what_was_left_out(capsys: Capture) -> None:
    assert run(["check", str(WHEEL), "--json"]) == 0
    document = documents(capsys.readouterr().out)
    roles = [c["kind"] for c in document["contours"]]  # type: ignore[index]
    assert (roles.count("outline"), roles.count("opening")) == (1, 7)
    assert document["left_out"]  # type: ignore[index]


@pytest.mark.parametrize(
    "table", ["materials", "wires", "machines", "passes", "planning", "rates", "roughness"]
)
def test_every_table_shows_each_value_with_its_source(table: str, capsys: Capture) -> None:
    assert run(["tables", table, "--json"]) == 0
    values = documents(capsys.readouterr().out)["values"]  # type: ignore[index]
    assert values
    assert all(v["source"] for v in values)
    assert run(["tables", table]) == 0
    assert "source" in capsys.readouterr().out


@pytest.mark.parametrize(
    "call",
    [
        ["plan"],
        ["plan", "no-such.dxf", *JOB],
        ["plan", str(WHEEL), "--material", "cheese", "--height", "6mm"],
        ["plan", str(WHEEL), "--material", "D2", "--height", "6"],
        ["plan", str(WHEEL), *JOB, "--quantity", "1,two"],
        ["plan", str(WHEEL), *JOB, "--quantity", "0"],
        ["plan", str(WHEEL), *JOB, "--layer", "PROFILE"],
        ["plan", str(WHEEL), *JOB, "--layer", "PROFILE=hole"],
        ["plan", str(WHEEL), *JOB, "--layer", "NONE-SUCH=ignore"],
        ["plan", str(WHEEL), *JOB, "--layer", "NOTES=ignore", "--layer", "NOTES=stock"],
        ["plan", str(WHEEL), *JOB, "--machine", "no-such"],
        ["plan", str(WHEEL), *JOB, "--units", "furlong"],
        ["plan", str(WHEEL), *JOB, "--tables", "no-such-folder"],
        ["price", str(WHEEL)],
        ["prove", str(WHEEL)],
        ["prove", str(WHEEL), "--drawing", str(WHEEL), *JOB, "--wire", "0.25mm", "--gap", "35"],
        ["tables", "spoons"],
        ["tables", "wires", "no-such-wire"],
        ["dance"],
        ["--dance"],
    ],
    ids=lambda call: " ".join(Path(w).name for w in call),
)
def test_a_wrong_call_is_2_with_a_reason_and_no_files(
    call: list[str], tmp_path: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    assert run(call) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.strip()
    assert "Traceback" not in err
    assert not list(tmp_path.iterdir())


def test_a_failure_with_json_is_a_document_too(capsys: Capture) -> None:
    assert run(["plan", str(WHEEL), "--material", "cheese", "--height", "6mm", "--json"]) == 2
    document = documents(capsys.readouterr().out)
    assert document["format"] == "kerfwright-error"  # type: ignore[index]
    assert document["code"] == "material-unknown"  # type: ignore[index]


def test_a_file_that_is_no_drawing_is_refused(tmp_path: Path, capsys: Capture) -> None:
    (tmp_path / "x.dxf").write_bytes(b"\x00\x01 no drawing")
    assert run(["check", str(tmp_path / "x.dxf")]) in (1, 2)
    assert "Traceback" not in capsys.readouterr().err


def test_a_refused_run_keeps_an_earlier_job_and_says_so(
    planned: Path, tmp_path: Path, capsys: Capture
) -> None:
    job = tmp_path / "job"
    drawing = two_circles(tmp_path)
    assert run(["plan", str(drawing), *JOB, "-o", str(job)]) == 0
    before = {p.name: p.read_bytes() for p in job.iterdir()}
    # Higher than any shipped machine takes.
    tall = ["--material", "C270 brass", "--height", "2000mm"]
    assert run(["plan", str(drawing), *tall, "-o", str(job)]) == 1
    assert "keeps its earlier results" in capsys.readouterr().out
    assert {p.name: p.read_bytes() for p in job.iterdir()} == before


def test_a_file_of_the_same_name_is_never_taken(tmp_path: Path, capsys: Capture) -> None:
    (tmp_path / "program.nc").write_text("mine")
    assert run(["plan", str(two_circles(tmp_path)), *JOB, "-o", str(tmp_path)]) == 2
    assert (tmp_path / "program.nc").read_text() == "mine"
    assert "program.nc" in capsys.readouterr().err


def test_a_fault_of_ours_is_one_line_without_a_traceback(
    capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: object, **__: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr("kerfwright.cli.check.check_drawing", broken)
    monkeypatch.delenv("KERFWRIGHT_DEBUG", raising=False)
    assert run(["check", str(WHEEL)]) == 70
    err = capsys.readouterr().err
    assert "internal fault (ZeroDivisionError)" in err
    assert "report" in err
    assert len(err.splitlines()) == 1
    monkeypatch.setenv("KERFWRIGHT_DEBUG", "1")
    assert run(["check", str(WHEEL)]) == 70
    assert "Traceback" in capsys.readouterr().err


def test_names_in_a_drawing_do_not_command_the_terminal(tmp_path: Path, capsys: Capture) -> None:
    drawing = ezdxf.new("R2010", units=4)
    drawing.modelspace().add_circle((0, 0), 10.0, dxfattribs={"layer": "a\x1b[31mb"})
    drawing.saveas(tmp_path / "ring.dxf")
    run(["check", str(tmp_path / "ring.dxf")])
    out, err = capsys.readouterr()
    assert "\x1b" not in out + err


def child(*arguments: str) -> subprocess.Popen[bytes]:
    return subprocess.Popen(  # noqa: S603 our own program
        [sys.executable, "-m", "kerfwright", *arguments],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    )


def test_a_reader_that_goes_away_leaves_no_noise() -> None:
    process = child("tables", "materials")
    assert process.stdout is not None
    process.stdout.close()
    assert process.wait(timeout=60) == 141
    assert process.stderr is not None
    assert process.stderr.read() == b""
    process.stderr.close()


INTERRUPTED = """
import os, signal, sys
from pathlib import Path
from kerfwright.cli import main

true_replace = Path.replace

def interrupted(self, target):
    done = true_replace(self, target)
    if Path(target).name == "program.nc":
        os.kill(os.getpid(), signal.SIGINT)
    return done

Path.replace = interrupted
main(["demo", "-o", sys.argv[1]])
"""


def test_ctrl_c_between_two_files_puts_the_earlier_ones_back(tmp_path: Path) -> None:
    job = tmp_path / "job"
    assert run(["demo", "-o", str(job)]) == 0
    # Something of ours that another run would change, with its digest listed as ours.
    (job / "plan.svg").write_text("earlier")
    listed = (job / ".kerfwright-files").read_text()
    earlier = f"{hashlib.sha256(b'earlier').hexdigest()}  plan.svg\n"
    (job / ".kerfwright-files").write_text(listed + earlier)
    before = {p.name: p.read_bytes() for p in job.iterdir() if p.name != ".kerfwright-files"}
    done = subprocess.run(  # noqa: S603 our own text
        [sys.executable, "-c", INTERRUPTED, str(job)], capture_output=True, text=True, check=False
    )
    assert done.returncode == 130
    assert done.stdout == ""
    assert done.stderr.strip().startswith("kerfwright: stopped")
    assert "Traceback" not in done.stderr
    assert {
        p.name: p.read_bytes() for p in job.iterdir() if p.name != ".kerfwright-files"
    } == before


def test_the_version_is_printed_by_the_module_too() -> None:
    process = child("--version")
    out, err = process.communicate(timeout=60)
    assert process.returncode == 0
    assert out.decode().strip() == f"kerfwright, version {kerfwright.__version__}"
    assert err == b""


def test_progress_stays_off_a_stderr_that_is_no_terminal(tmp_path: Path) -> None:
    process = child("demo", "-o", str(tmp_path / "job"))
    _, err = process.communicate(timeout=60)
    assert process.returncode == 0
    assert err == b""


def test_explain_names_formula_inputs_and_source(planned: Path, capsys: Capture) -> None:
    drawing = planned.parent / "ring.dxf"
    assert run(["plan", str(drawing), *JOB, "--explain", "-o", str(planned.parent / "why")]) == 0
    shown = capsys.readouterr().out
    assert "Why" in shown
    assert "no source" in shown
    assert "pass 1 offset" in shown
    assert "o_n = d/2" in shown
    assert "10–90 %" in shown
    assert "price for 1 each" in shown
    assert "tab safety" in shown


def test_why_answers_one_question_lists_what_can_be_asked_and_refuses_the_rest(
    planned: Path, capsys: Capture
) -> None:
    assert run(["why", str(planned), "pass", "1", "gap"]) == 0
    shown = capsys.readouterr().out
    assert "pass 1 gap: 40 µm" in shown
    assert "by gap in this material" in shown
    assert "pass 2" not in shown
    assert run(["why", str(planned)]) == 0
    assert "price for 1" in capsys.readouterr().out
    assert run(["why", str(planned), "colour"]) == 2
    shown = capsys.readouterr().err
    assert "colour" in shown
    assert "tab width" in shown


def test_why_and_explain_give_the_same_reasons_as_json(planned: Path, capsys: Capture) -> None:
    assert run(["why", str(planned), "--json"]) == 0
    asked = documents(capsys.readouterr().out)["reasons"]  # type: ignore[index]
    assert run(["price", str(planned), "--explain", "--json"]) == 0
    assert documents(capsys.readouterr().out)["reasons"] == asked  # type: ignore[index]
    assert run(["why", str(planned), "H1", "tab", "safety", "--json"]) == 0
    (one,) = documents(capsys.readouterr().out)["reasons"]  # type: ignore[index]
    assert one["name"] == "H1 tab safety"
    assert one["range"]["low"] < one["value"] < one["range"]["high"]
    assert sum(one["shares"].values()) == pytest.approx(1, abs=1e-5)


@pytest.mark.parametrize("name", ["6061 aluminium", "aluminum 6061", "titanium grade 5"])
def test_the_tables_know_a_material_by_the_names_that_plan_takes(
    name: str, capsys: Capture
) -> None:
    assert run(["tables", "materials", name, "--json"]) == 0
    values = documents(capsys.readouterr().out)["values"]  # type: ignore[index]
    assert len({v["of"] for v in values}) == 1


def test_an_unknown_material_in_the_tables_is_answered_with_the_nearest(capsys: Capture) -> None:
    assert run(["tables", "materials", "6062 aluminium"]) == 2
    assert "6061" in capsys.readouterr().err
