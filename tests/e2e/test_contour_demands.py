"""The sample with a bore finer than the rest, from words to a program that anybody can prove."""

from __future__ import annotations

import json
import re
import tomllib
from pathlib import Path

import pytest
from tests.e2e.test_command_line import JOB, WHEEL, Capture

from kerfwright.adapters.job_result import read_request
from kerfwright.cli.run import run

OWN = {"H7": "tolerance=±0.0025mm, finish=Ra0.4um", "H1,H2,H3,H4,H5,H6": "tolerance=±0.03mm"}
OPTIONS = [
    word
    for ids, demands in OWN.items()
    for word in ("--contour", f"{ids}: {demands}")
]  # fmt: skip


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("own") / "job"
    call = ["plan", str(WHEEL), *JOB, "--tolerance", "±0.01mm", *OPTIONS, "-o", str(place)]
    assert run(call) == 0
    return place


def test_the_plan_says_what_each_contour_has(folder: Path) -> None:
    plan = json.loads((folder / "plan.json").read_text("utf-8"))
    counts = {c["contour_id"]: len(c["offsets_mm"]) for c in plan["contour_passes"]}
    assert counts == {"P1": 2, "H7": 5, **{f"H{n}": 1 for n in range(1, 7)}}
    assert plan["requirement"]["contours"]["H7"] == {
        "tolerance_um": 2.5, "ra_um": 0.4, "max_recast_um": None
    }  # fmt: skip
    program = (folder / "program.nc").read_text("utf-8")
    assert "(PASSES OF H7: 5)" in program
    assert "(CUT H1 PASS 2" not in program
    assert json.loads((folder / "proof.json").read_text("utf-8"))["passed"] is True
    assert "H7: ±2.5 µm" in (folder / "plan.svg").read_text("utf-8")


def test_the_job_file_keeps_the_words_and_reads_them_back(folder: Path) -> None:
    assert tomllib.loads((folder / "job.toml").read_text("utf-8"))["contours"] == OWN
    assert read_request(folder).contours == OWN


def test_the_program_is_proved_against_its_job_and_against_the_drawing(
    folder: Path, capsys: Capture
) -> None:
    program = str(folder / "program.nc")
    assert run(["prove", program, "--job", str(folder)]) == 0
    plan = json.loads((folder / "plan.json").read_text("utf-8"))
    call = ["prove", program, "--drawing", str(WHEEL), *JOB, "--wire", "0.25mm"]
    for one in plan["passes"]:
        call += ["--gap", f"{one['number']}={one['gap_um']}um"]
    for start in plan["start_holes"]:
        call += ["--start", f"{start['x_mm']}mm,{start['y_mm']}mm,{start['diameter_mm']}mm"]
    # Unless told, the proof asks every contour for every pass that has a gap.
    assert run(call) == 1
    counts = {c["contour_id"]: len(c["offsets_mm"]) for c in plan["contour_passes"]}
    told = [word for name, n in counts.items() for word in ("--passes", f"{name}={n}")]
    assert run([*call, *told]) == 0
    capsys.readouterr()


def test_a_price_asks_for_other_demands(folder: Path, capsys: Capture) -> None:
    capsys.readouterr()
    assert run(["price", str(folder), "--json"]) == 0
    own = json.loads(capsys.readouterr().out)["estimate"]["prices"][0]["each"]
    assert run(["price", str(folder), "--contour", "H1: recast=20um", "--json"]) == 0
    other = json.loads(capsys.readouterr().out)["estimate"]["prices"][0]["each"]
    assert own != other


def test_a_job_refused_as_a_whole_is_offered_what_lifts_it(tmp_path: Path, capsys: Capture) -> None:
    call = ["plan", str(WHEEL), *JOB, "--tolerance", "±0.001mm", "--what-if"]
    assert run([*call, "-o", str(tmp_path / "job"), "--json"]) == 1
    found = json.loads(capsys.readouterr().out)
    (lifts,) = found["what_if"]["alternatives"]
    assert lifts["instead"].startswith("±2.5 µm")
    assert f"lifts what is refused: EUR {lifts['offer']['each']} a piece" in lifts["sentence"]
    assert found["what_if_not_given"] == ""
    # Its price is that of the job which asks so.
    so = [
        "plan",
        str(WHEEL),
        *JOB,
        "--tolerance",
        "±0.0025mm",
        "-o",
        str(tmp_path / "so"),
        "--json",
    ]
    assert run(so) == 0
    planned = json.loads(capsys.readouterr().out)
    assert lifts["offer"]["each"] == planned["estimate"]["prices"][0]["each"]


def test_a_refused_job_shows_no_table_without_rows(tmp_path: Path, capsys: Capture) -> None:
    call = ["plan", str(WHEEL), *JOB, "--tolerance", "±0.001mm", "--what-if"]
    assert run([*call, "-o", str(tmp_path / "job")]) == 1
    lines = capsys.readouterr().out.splitlines()
    assert any("What could be cut instead" in line for line in lines)
    ruled = [n for n, line in enumerate(lines) if line.startswith("────")]
    assert ruled
    assert all(lines[n + 1].strip() for n in ruled)


def test_what_if_speaks_of_the_bore(tmp_path: Path, capsys: Capture) -> None:
    call = ["plan", str(WHEEL), *JOB, "--tolerance", "±0.01mm", *OPTIONS[:2], "--what-if"]
    assert run([*call, "-o", str(tmp_path / "job"), "--json"]) == 0
    found = json.loads(capsys.readouterr().out)["what_if"]
    sentences = [a["sentence"] for a in found["alternatives"]]
    assert any(" on H7 " in s for s in sentences)
    assert all(" mm (" not in s or " in)" in s for s in sentences)
    saved = [float(a["saved_each"]) for a in found["alternatives"]]
    assert saved == sorted(saved, reverse=True)


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (["--contour", "H9: finish=Ra0.4um"], 2, "it has P1, H1"),
        (["--contour", "H7: finish"], 2, "H7: tolerance=±0.0025mm, finish=Ra0.4um"),
        (["--contour", "H7 finish=Ra0.4um"], 2, "H7: tolerance=±0.0025mm, finish=Ra0.4um"),
    ],
)
def test_what_cannot_be_meant_is_refused_with_the_accepted_form(
    words: list[str], code: int, said: str, tmp_path: Path, capsys: Capture
) -> None:
    assert run(["plan", str(WHEEL), *JOB, *words, "-o", str(tmp_path / "job")]) == code
    assert said in capsys.readouterr().err.replace("\n", " ")


def test_stock_that_the_last_pass_of_a_short_contour_leaves_is_refused(
    folder: Path, tmp_path: Path, capsys: Capture
) -> None:
    # P1 has two passes where H7 has five: what pass 2 of P1 leaves, no pass takes.
    lines = (folder / "program.nc").read_text("utf-8").splitlines()
    begin = next(i for i, line in enumerate(lines) if line.startswith("(CUT P1 PASS 2"))
    end = next(i for i in range(begin + 1, len(lines)) if lines[i].startswith("(CUT "))
    middle = (begin + end) // 2
    place = next(
        i for i in range(middle, end) if re.search(r"G0?1\b", lines[i]) and " X" in f" {lines[i]}"
    )
    moved = re.sub(
        r"X(-?\d+\.\d+)", lambda m: f"X{float(m[1]) + 0.0015:.4f}", lines[place], count=1
    )
    assert moved != lines[place]
    faulty = tmp_path / "faulty.nc"
    faulty.write_text("\n".join([*lines[:place], moved, *lines[place + 1 :]]) + "\n", "utf-8")
    assert run(["prove", str(faulty), "--job", str(folder), "--json"]) == 1
    found = json.loads(capsys.readouterr().out)
    worst = max(found["deviations"], key=lambda d: max(d["max_leftover_um"], d["max_gouge_um"]))
    assert worst["contour_id"] == "P1"
    assert max(worst["max_leftover_um"], worst["max_gouge_um"]) > 0.5
    assert found["passed"] is False


def test_a_contour_with_a_recast_limit_has_its_own_stock_feed_and_offsets(
    tmp_path: Path, capsys: Capture
) -> None:
    place = tmp_path / "turbine"
    call = ["plan", str(WHEEL), *JOB, "--tolerance", "±0.0025mm"]
    assert run([*call, "--contour", "H7: recast=2.5um", "-o", str(place)]) == 0
    plan = json.loads((place / "plan.json").read_text("utf-8"))
    own = {c["contour_id"]: c for c in plan["contour_passes"]}
    # By hand: recast + 3 Ra of passes 3 and 4 in this steel against 5 and 2 µm of the table.
    assert own["H7"]["stock_by"] == "hurt layer"
    assert own["P1"]["stock_by"] == "pass table"
    table, layer = own["P1"]["stock_um"], own["H7"]["stock_um"]
    feeds, slow = own["P1"]["feeds_mm_per_min"], own["H7"]["feeds_mm_per_min"]
    assert len(table) == len(layer) == 5
    assert layer[:3] == table[:3]
    for k in (3, 4):
        assert layer[k] > table[k]
        assert slow[k] * layer[k] == pytest.approx(feeds[k] * table[k], rel=1e-5)
    more_mm = (sum(layer) - sum(table)) / 1000
    assert own["H7"]["offsets_mm"][0] - own["P1"]["offsets_mm"][0] == pytest.approx(more_mm)
    # The program keeps to them: proved from its text, and again from the job.
    assert json.loads((place / "proof.json").read_text("utf-8"))["passed"] is True
    assert run(["prove", str(place / "program.nc"), "--job", str(place)]) == 0
    capsys.readouterr()
    assert run(["why", str(place), "H7", "pass", "4", "stock"]) == 0
    assert "layer that stands before it" in capsys.readouterr().out


def test_a_contour_of_which_too_much_is_asked_is_left_out_and_the_others_keep_their_program(
    tmp_path: Path, capsys: Capture
) -> None:
    place = tmp_path / "fine"
    call = ["plan", str(WHEEL), *JOB, "--tolerance", "±0.01mm", "--what-if"]
    assert run([*call, "--contour", "H7: tolerance=±0.1um", "-o", str(place), "--json"]) == 1
    said = json.loads(capsys.readouterr().out)
    # The others alone are no offer of the job as asked: what lifts the refusal is.
    assert said["what_if"]["front"] == []
    (lifting,) = said["what_if"]["alternatives"]
    assert lifting["asked"].startswith("±0.1 µm")
    assert "lifts what is refused" in lifting["sentence"]
    program = (place / "program.nc").read_text("utf-8")
    assert "(NOT IN THIS PROGRAM: H7)" in program
    assert "(INCOMPLETE: 1 REFUSALS" in program
    assert "(CUT H7" not in program
    assert "(CUT H1" in program
    assert json.loads((place / "proof.json").read_text("utf-8"))["passed"] is True
    assert run(["price", str(place), "--json"]) == 1
    price = json.loads(capsys.readouterr().out)
    assert price["left_out"] == ["H7"]
    assert price["is_refused_whole"] is False
    assert run(["price", str(place)]) == 1
    out = capsys.readouterr().out
    assert "H7 is not in it" in " ".join(out.split())
    assert "NOT A PRICE TO OFFER" not in out


def test_where_no_contour_can_be_held_the_job_is_refused_whole(
    tmp_path: Path, capsys: Capture
) -> None:
    place = tmp_path / "none"
    call = ["plan", str(WHEEL), *JOB, "--tolerance", "±0.2um"]
    assert run([*call, "--contour", "H7: tolerance=±0.1um", "-o", str(place)]) == 1
    assert not (place / "program.nc").exists()
    capsys.readouterr()
    assert run(["price", str(place), "--json"]) == 1
    assert json.loads(capsys.readouterr().out)["is_refused_whole"] is True


def test_what_is_said_alike_of_several_contours_stands_once(
    tmp_path: Path, capsys: Capture
) -> None:
    # A height at which both start holes are deeper than is routine.
    call = ["plan", str(WHEEL), "--material", "D2", "--height", "249mm", "--wire", "0.25mm"]
    run([*call, "-o", str(tmp_path / "job")])
    told = " ".join(capsys.readouterr().out.split())
    deep = [part for part in told.split("warning: ") if "as deep as is routine" in part]
    run([*call, "-o", str(tmp_path / "again"), "--json"])
    findings = json.loads(capsys.readouterr().out)["findings"]
    same = [f for f in findings if "as deep as is routine" in f["message"]]
    assert len(same) > 1
    assert len({f["message"] for f in same}) == len(deep) < len(same)
    for one in same[:4]:
        assert one["where"]["contour_id"] in " ".join(deep)
