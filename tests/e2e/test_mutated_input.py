"""Whatever is fed in, there is an answer: an exit code, words, no traceback, nothing lost.

Ten thousand of each in ``make soak``; each case has its seed in the failure.
"""

from __future__ import annotations

import json
import resource
import shutil
from importlib.resources import files
from pathlib import Path

import pytest
from tests.mutants import mutants
from tests.soak import SOAK

from kerfwright.cli.run import run

SAMPLES = Path(str(files("kerfwright") / "data" / "samples"))
CORPUS = Path(__file__).parents[3] / "shared" / "corpus" / "dxf"
JOB = ("--material", "C270", "--height", "2mm")
TRIES = 10_000 if SOAK else 24
GROUPS = 4
MOST_GROWTH_KB = 400_000
"""How much the largest resident set may rise over a soak: a leak of 40 kB a case is caught."""

Capture = pytest.CaptureFixture[str]


class Answers:
    """Commands run one after another; what was no answer is kept with its seed."""

    def __init__(self, capsys: Capture) -> None:
        self._capsys = capsys
        self.faults: list[str] = []

    def run(self, *words: str, where: str) -> int:
        """Return the exit code of a command, which must end in words and in no traceback."""
        self._capsys.readouterr()
        code = -1
        try:
            code = run(list(words))
            fault = ""
        except Exception as broken:
            fault = repr(broken)
        out, err = self._capsys.readouterr()
        if code not in {0, 1, 2}:
            fault = fault or f"exit code {code}: {err.strip()[-300:]}"
        elif "Traceback" in out + err:
            fault = err[-300:]
        elif not (out + err).strip():
            fault = "not a word"
        elif "--json" in words:
            try:
                json.loads(out)
            except ValueError:
                fault = f"no JSON: {out[:200]!r}"
        if fault:
            self.faults.append(f"{' '.join(words[:1])} {where}: {fault}")
        return code


def drawings() -> list[Path]:
    found = [SAMPLES / "click.dxf", SAMPLES / "pawl_punch.dxf"]
    if CORPUS.is_dir():
        small = sorted(CORPUS.glob("*.dxf"), key=lambda p: p.stat().st_size)
        found += [p for p in small if p.stat().st_size < 150_000][:: 1 if SOAK else 6]
    return found


@pytest.mark.parametrize("group", range(GROUPS))
def test_mutated_drawings_are_planned_or_refused(
    group: int, tmp_path: Path, capsys: Capture
) -> None:
    all_of_them = drawings()
    share = TRIES // GROUPS
    answers = Answers(capsys)
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    for number, seed in enumerate(range(group * share, (group + 1) * share)):
        drawing = all_of_them[(seed * GROUPS + group) % len(all_of_them)]
        sound = drawing.read_bytes().decode("utf-8", "surrogateescape")
        ((_, text),) = mutants(sound, seed=seed, count=1)
        target = tmp_path / "changed.dxf"
        target.write_bytes(text.encode("utf-8", "surrogateescape"))
        where = f"{drawing.name}, seed {seed}"
        if number % 2:
            answers.run("check", str(target), "--json", "--units", "mm", where=where)
        else:
            job = tmp_path / "job"
            shutil.rmtree(job, ignore_errors=True)
            words = ("plan", str(target), *JOB, "--units", "mm", "--json", "-o", str(job))
            code = answers.run(*words, where=where)
            assert (job / "program.nc").exists() or code != 0, where
    grown = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before
    assert not answers.faults
    assert grown < MOST_GROWTH_KB or not SOAK


@pytest.fixture(scope="module")
def job(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("sound") / "job"
    assert run(["plan", str(SAMPLES / "click.dxf"), *JOB, "-o", str(folder)]) == 0
    return folder


def test_mutated_programs_are_proved_or_refused(job: Path, tmp_path: Path, capsys: Capture) -> None:
    sound = (job / "program.nc").read_text("utf-8")
    changed, answers = tmp_path / "changed.nc", Answers(capsys)
    passed = []
    for seed, text in mutants(sound, seed=0, count=TRIES):
        changed.write_text(text, encoding="utf-8", newline="")
        words = ("prove", str(changed), "--job", str(job), "--json")
        code = answers.run(*words, where=f"seed {seed}")
        if code == 0:
            passed.append(text)
    assert not answers.faults
    # Most changes of a program are none that a proof may pass.
    assert len(passed) < TRIES / 2


@pytest.mark.parametrize("name", ["job.toml", "plan.json", "estimate.json", "tables.json"])
def test_mutated_job_files_are_read_or_refused(
    name: str, job: Path, tmp_path: Path, capsys: Capture
) -> None:
    folder = tmp_path / "job"
    shutil.copytree(job, folder)
    sound = (folder / name).read_text("utf-8")
    asked = {
        "job.toml": [["price", str(folder), "--quantity", "3", "--json"]],
        "plan.json": [["prove", str(folder / "program.nc"), "--job", str(folder), "--json"]],
        "estimate.json": [["why", str(folder), "pass", "1", "feed"]],
        "tables.json": [["price", str(folder), "--json"], ["why", str(folder), "price"]],
    }[name]
    answers = Answers(capsys)
    for seed, text in mutants(sound, seed=0, count=TRIES // 4):
        (folder / name).write_text(text, encoding="utf-8", newline="")
        for words in asked:
            answers.run(*words, where=f"{name}, seed {seed}")
    assert not answers.faults


@pytest.mark.parametrize("name", ["rates", "materials", "passes", "planning", "learning"])
def test_mutated_tables_are_taken_or_refused(name: str, tmp_path: Path, capsys: Capture) -> None:
    own = tmp_path / "our-tables"
    assert run(["tables", name, "--copy-to", str(own)]) == 0
    sound = (own / f"{name}.toml").read_text("utf-8")
    answers = Answers(capsys)
    for seed, text in mutants(sound, seed=0, count=TRIES // 5):
        (own / f"{name}.toml").write_text(text, encoding="utf-8", newline="")
        words = ("tables", name, "--tables", str(own), "--json")
        answers.run(*words, where=f"{name}.toml, seed {seed}")
    assert not answers.faults
