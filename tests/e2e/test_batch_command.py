"""Many drawings into one table: nothing stops the others, and nothing that was done is lost."""

from __future__ import annotations

import csv
import json
import os
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest

from kerfwright.adapters.job_result import read_request
from kerfwright.app.records import JobRequest
from kerfwright.cli.run import run
from kerfwright.wiring import plan_job

SAMPLES = Path(str(files("kerfwright") / "data/samples"))
CLICK = SAMPLES / "click.dxf"
ASKED = ("--material", "C270 brass", "--height", "2.5mm")
LONGEST_S = 240.0
MANY = 32
"""Enough for some to be left when the first are done."""


def table_of(out: Path) -> list[dict[str, str]]:
    text = (out / "batch.csv").read_bytes().decode("utf-8-sig")
    return list(csv.DictReader(text.splitlines()))


def call(capsys: pytest.CaptureFixture[str], *words: str | Path) -> tuple[int, dict[str, Any]]:
    capsys.readouterr()
    code = run(["batch", *map(str, words), "--json"])
    return code, json.loads(capsys.readouterr().out)


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a place with a folder of drawings that was planned once, job folders kept."""
    place = tmp_path_factory.mktemp("shop")
    old = place / "old"
    (old / "below" / ".hidden").mkdir(parents=True)
    (old / "planned-job").mkdir()
    shutil.copy(CLICK, old / "click.dxf")
    shutil.copy(SAMPLES / "pawl_punch.dxf", old / "below" / "punch.DXF")
    shutil.copy(CLICK, old / "below" / ".hidden" / "no.dxf")
    # The way of a wire in a job folder is no drawing of a part.
    shutil.copy(CLICK, old / "planned-job" / "path.dxf")
    (old / "planned-job" / "job.toml").write_text("", encoding="utf-8")
    (old / "cut short.dxf").write_bytes(CLICK.read_bytes()[:3000])
    (old / "notes.txt").write_text("no drawing", encoding="utf-8")
    words = ["batch", old, "--deep", *ASKED, "--quantity", "1,5", "--keep-jobs", "--jobs", "2"]
    words += ["--parquet", "-o", place / "out", "--json"]
    assert run([str(word) for word in words]) == 1
    return place


def test_each_drawing_is_a_row_and_the_damaged_one_says_why(shop: Path) -> None:
    rows = table_of(shop / "out")
    assert [row["drawing"] for row in rows] == ["below/punch.DXF", "click.dxf", "cut short.dxf"]
    assert [row["state"] for row in rows] == ["priced", "priced", "refused"]
    assert rows[2]["code"] == "drawing-cut-short"
    assert rows[2]["price"] == ""
    assert rows[2]["remedy"]
    assert rows[0]["proved"] == "yes"


def test_a_row_has_what_plan_says_and_its_job_folder_too(shop: Path) -> None:
    row = table_of(shop / "out")[1]
    request = JobRequest(drawing=CLICK, material="C270 brass", height="2.5mm", quantities=(1, 5))
    result = plan_job(request)
    estimate = result.estimate
    assert estimate is not None
    one, five = estimate.prices
    assert (row["price_low"], row["price"], row["price_high"]) == tuple(
        str(amount) for amount in (one.low, one.likely, one.high)
    )
    assert row["prices"] == f"1: {one.each}; 5: {five.each}"
    assert float(row["machine_min"]) == pytest.approx(60 * one.hours.likely, abs=1e-3)
    assert int(row["passes"]) == len(result.plan.passes)
    assert 0 < float(row["attended_min"]) < float(row["machine_min"])
    job = shop / "out" / "jobs" / row["job"]
    assert (job / "program.nc").read_text("utf-8") == result.program
    kept = read_request(job)
    assert kept.drawing.resolve() == (shop / "old" / "click.dxf").resolve()
    again = plan_job(kept).estimate
    assert again is not None
    assert again.prices == estimate.prices


def test_the_parquet_has_the_table_of_the_csv(shop: Path) -> None:
    parquet = pytest.importorskip("pyarrow.parquet", reason="pyarrow is not installed")
    rows = parquet.read_table(shop / "out" / "batch.parquet").to_pylist()
    for row, text in zip(rows, table_of(shop / "out"), strict=True):
        assert list(row) == list(text)
        assert row["drawing"] == text["drawing"]
        assert ("" if row["price"] is None else str(row["price"])) == text["price"]
        assert (row["passes"] or "") == (int(text["passes"]) if text["passes"] else "")


def test_the_same_command_plans_only_what_changed(
    shop: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    old, out = tmp_path / "old", tmp_path / "out"
    shutil.copytree(shop / "old", old)
    shutil.copytree(shop / "out", out)
    before = (out / "batch.csv").read_bytes()
    # Without --keep-jobs and --parquet: what is there answers all the same.
    words = (old, "--deep", *ASKED, "--quantity", "1,5", "-o", out, "--jobs", "1")
    _, done = call(capsys, *words)
    assert (done["planned"], done["known"]) == (0, 3)
    assert (out / "batch.csv").read_bytes() == before
    shutil.copy(SAMPLES / "pawl_punch.dxf", old / "click.dxf")
    (old / "cut short.dxf").unlink()
    code, done = call(capsys, *words)
    assert (code, done["planned"], done["known"]) == (0, 1, 1)
    (old / "below" / "punch.DXF").unlink()
    _, done = call(capsys, *words, "--no-proof", "--limit-seconds", "0.1")
    assert (done["planned"], done["states"]) == (1, {"timed out": 1})
    # As long as it is given no more time, nothing says that it would be done now.
    _, done = call(capsys, *words, "--no-proof", "--limit-seconds", "0.1")
    assert (done["planned"], done["known"]) == (0, 1)
    _, done = call(capsys, *words, "--no-proof")
    assert (done["planned"], done["states"]) == (1, {"priced": 1})
    assert {row["proved"] for row in table_of(out)} == {""}


def test_a_table_that_somebody_edited_is_left_alone_before_any_work(
    shop: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    shutil.copytree(shop / "out", tmp_path / "out")
    (tmp_path / "out" / "batch.csv").write_text("our remarks", encoding="utf-8")
    code, fault = call(capsys, shop / "old", *ASKED, "-o", tmp_path / "out")
    assert (code, fault["code"]) == (2, "file-not-ours")
    assert (tmp_path / "out" / "batch.csv").read_text("utf-8") == "our remarks"


ROWS = """drawing;material;height;quantity;finish;contour;remark
click.dxf;D2;0.125in;1,5;Ra0.8um;;=SUM(A1:A9)
click.dxf;;;;;P1: tolerance=±0.0025mm | H1: finish=Ra0.4um;with demands of contours
click.dxf;;25;;;;
click.dxf;D22;;;;;
click.dxf;;;1,x;;;
click.dxf;;;;;P1 finer;
gone.dxf;;;;;;
;D2;;;;;
click.dxf;D2
click.dxf;D2;0.125in;1,5;Ra0.8um;;the same as the first
"""
WRONG = {
    4: ("unit-missing", "line 4, column height: height '25' has no unit"),
    5: ("material-unknown", "line 5, column material: material 'D22'"),
    6: ("batch-row", "line 6, column quantity: '1,x'"),
    7: ("batch-row", "line 7, column contour: 'P1 finer'"),
    8: ("drawing-not-found", "line 8: there is no such file"),
    9: ("batch-row", "line 9, column drawing: no drawing is named"),
    10: ("batch-row", "line 10: the row has not as many cells"),
}


def test_a_wrong_row_is_refused_by_line_and_column_and_the_others_go_on(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    shutil.copy(CLICK, tmp_path / "click.dxf")
    (tmp_path / "rows.csv").write_text(ROWS, encoding="utf-8")
    words = (tmp_path / "rows.csv", *ASKED, "--no-proof")
    code, done = call(capsys, *words, "--jobs", "1", "-o", tmp_path / "one")
    assert code == 1
    # The first row and the last ask the same: planned once.
    assert done["planned"] == 2
    assert done["states"] == {"priced": 3, "row not usable": 7}
    rows = {int(row["line"]): row for row in table_of(tmp_path / "one")}
    assert list(rows) == list(range(2, 12))
    for line, (wrong, said) in WRONG.items():
        assert rows[line]["code"] == wrong
        assert rows[line]["reason"].startswith(said)
    # A spreadsheet must not take a remark for a formula.
    assert rows[2]["remark"] == "'=SUM(A1:A9)"
    assert rows[2]["price"] == rows[11]["price"]
    assert rows[2]["height_mm"] == "3.175"
    assert rows[3]["height_mm"] == "2.5"
    call(capsys, *words, "--jobs", "3", "-o", tmp_path / "three")
    tables = [(tmp_path / name / "batch.csv").read_bytes() for name in ("one", "three")]
    assert tables[0] == tables[1]


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        ((), "wrong-call", "--material and --height"),
        (("--material", "D2", "--height", "25"), "unit-missing", "25"),
        (("--material", "D22", "--height", "25mm"), "material-unknown", "D22"),
        ((*ASKED, "--deep", "--jobs", "0"), "wrong-call", "--jobs"),
        ((*ASKED, "--cluster", "tcp://h:1", "--shop", "cuts"), "cluster-without-shop", "--shop"),
    ],
)
def test_what_is_wrong_for_all_is_refused_before_any_drawing(
    shop: Path,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    words: tuple[str, ...],
    code: str,
    said: str,
) -> None:
    exit_code, fault = call(capsys, shop / "old", *words, "-o", tmp_path / "out")
    assert (exit_code, fault["code"]) == (2, code)
    assert said in fault["message"] + fault.get("remedy", "")
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize(
    ("name", "text", "code"),
    [
        ("rows.csv", "drawing,hieght\na.dxf,2mm\n", "columns-unknown"),
        ("rows.csv", "material,height\nD2,2mm\n", "columns-missing"),
        ("rows.csv", "drawing,height,height\na.dxf,1mm,2mm\n", "columns-twice"),
        ("rows.csv", "drawing,height\n", "batch-empty"),
        ("empty/none.txt", "", "batch-empty"),
    ],
)
def test_a_table_or_folder_without_a_drawing_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], name: str, text: str, code: str
) -> None:
    place = tmp_path / name
    place.parent.mkdir(exist_ok=True)
    place.write_text(text, encoding="utf-8")
    source = place if place.suffix == ".csv" else place.parent
    exit_code, fault = call(capsys, source, *ASKED, "-o", tmp_path / "out")
    assert (exit_code, fault["code"]) == (2, code)


@pytest.fixture
def many(tmp_path: Path) -> Path:
    """Return a folder of drawings that differ by a comment only."""
    folder = tmp_path / "many"
    folder.mkdir()
    text = CLICK.read_text("utf-8")
    for n in range(MANY):
        (folder / f"click {n:02}.dxf").write_text(f"999\n{n}\n{text}", encoding="utf-8")
    return folder


def children_of(pid: int) -> list[str]:
    """Return the processes below one that are there still, by the system's own list."""
    found = []
    for place in Path("/proc").glob("[0-9]*/stat"):
        try:
            words = place.read_text().rpartition(")")[2].split()
        except OSError:
            continue
        if int(words[1]) == pid and words[0] != "Z":
            found.append(place.parent.name)
    return found


def wait_for(what: Callable[[], bool]) -> None:
    end = time.monotonic() + LONGEST_S
    while not what():
        assert time.monotonic() < end
        time.sleep(0.05)


@pytest.fixture
def begun(many: Path, tmp_path: Path) -> Iterator[subprocess.Popen[str]]:
    """Return a batch in a process of its own that has planned a drawing or two."""
    words = [sys.executable, "-m", "kerfwright", "batch", str(many), *ASKED, "--no-proof"]
    words += ["--jobs", "2", "-o", str(tmp_path / "out")]
    with subprocess.Popen(  # noqa: S603 our own program
        words, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    ) as process:
        journal = tmp_path / "out" / "batch.journal"
        wait_for(lambda: journal.exists() and len(journal.read_bytes().splitlines()) > 1)
        yield process
        process.kill()


@pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="lists processes by /proc")
@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGKILL])
def test_a_batch_that_is_stopped_goes_on_where_it_was(
    many: Path,
    tmp_path: Path,
    begun: subprocess.Popen[str],
    number: signal.Signals,
    capsys: pytest.CaptureFixture[str],
) -> None:
    children = children_of(begun.pid)
    scratch = [
        Path(Path("/proc", child, "cmdline").read_bytes().split(b"\0")[-2].decode())
        for child in children
    ]
    assert any(folder.is_dir() for folder in scratch)
    os.kill(begun.pid, number)
    said, faults = begun.communicate(timeout=LONGEST_S)
    # What planned does not outlive the batch, however that ended.
    wait_for(lambda: not any(Path("/proc", child).exists() for child in children))
    wait_for(lambda: not any(folder.exists() for folder in scratch))
    done = len((tmp_path / "out" / "batch.journal").read_bytes().splitlines()) - 1
    assert 1 <= done < MANY
    if number is signal.SIGINT:
        assert begun.returncode == 130
        assert "the same command goes on from there" in " ".join(said.split())
        assert not faults
        states = [row["state"] for row in table_of(tmp_path / "out")]
        assert (states.count("priced"), states.count("not done")) == (done, MANY - done)
    words = (many, *ASKED, "--no-proof", "--jobs", "1", "-o", tmp_path / "out")
    code, again = call(capsys, *words)
    assert (code, again["planned"], again["known"]) == (0, MANY - done, done)
    assert again["states"] == {"priced": MANY}


def test_a_child_whose_batch_is_gone_before_it_is_ready_takes_its_folder_away(
    tmp_path: Path,
) -> None:
    scratch = tmp_path / "scratch"
    scratch.mkdir()
    nobody, answers = os.pipe()
    words = [sys.executable, "-m", "kerfwright.wiring.batch_child", str(scratch)]
    child = subprocess.Popen(  # noqa: S603 our own module
        words, stdin=subprocess.DEVNULL, stdout=answers, stderr=subprocess.DEVNULL
    )
    os.close(answers)
    os.close(nobody)
    child.wait(timeout=LONGEST_S)
    assert not scratch.exists()
