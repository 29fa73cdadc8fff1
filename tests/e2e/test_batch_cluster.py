"""A batch on a real Dask scheduler with two workers: the same table, also where a worker dies."""

from __future__ import annotations

import contextlib
import json
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from importlib.resources import files
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import pytest

from kerfwright.cli.run import run

pytestmark = [
    pytest.mark.skipif(find_spec("distributed") is None, reason="Dask is not installed"),
    # Of the client's own threads and sockets at its end.
    pytest.mark.filterwarnings("ignore::ResourceWarning"),
]

CLICK = Path(str(files("kerfwright") / "data/samples/click.dxf"))
ASKED = ("--material", "C270 brass", "--height", "2.5mm", "--no-proof")
LONGEST_S = 240.0
LOCAL = ("--host", "127.0.0.1")


@dataclass(frozen=True)
class Cluster:
    address: str
    workers: tuple[subprocess.Popen[bytes], ...]


def wait_for(what: Callable[[], bool]) -> None:
    end = time.monotonic() + LONGEST_S
    while not what():
        assert time.monotonic() < end
        time.sleep(0.05)


@pytest.fixture(scope="module")
def cluster(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Cluster]:
    folder = tmp_path_factory.mktemp("cluster")
    place = folder / "scheduler.json"

    def begun(program: str, *words: str) -> subprocess.Popen[bytes]:
        command = [sys.executable, "-m", f"distributed.cli.{program}", *words]
        command += ["--scheduler-file", str(place), "--no-dashboard", *LOCAL]
        quiet = subprocess.DEVNULL
        return stack.enter_context(
            subprocess.Popen(command, cwd=folder, stdout=quiet, stderr=quiet)  # noqa: S603
        )

    with contextlib.ExitStack() as stack:
        processes = [begun("dask_scheduler", "--port", "0")]
        try:
            wait_for(lambda: place.exists() and place.read_text().rstrip().endswith("}"))
            processes += [begun("dask_worker", "--nthreads", "1", "--no-nanny") for _ in range(2)]
            address = json.loads(place.read_text())["address"]
            wait_for(lambda: workers_at(address) == 2)
            yield Cluster(address=address, workers=tuple(processes[1:]))
        finally:
            for process in reversed(processes):
                process.kill()


def workers_at(address: str) -> int:
    from distributed import Client

    with Client(address, set_as_default=False) as client:
        return len(client.nthreads())


@pytest.fixture
def many(tmp_path: Path) -> Path:
    folder = tmp_path / "many"
    folder.mkdir()
    text = CLICK.read_text("utf-8")
    for n in range(10):
        (folder / f"click {n:02}.dxf").write_text(f"999\n{n}\n{text}", encoding="utf-8")
    (folder / "cut short.dxf").write_bytes(CLICK.read_bytes()[:3000])
    return folder


def call(capsys: pytest.CaptureFixture[str], *words: str | Path) -> tuple[int, dict[str, Any]]:
    capsys.readouterr()
    code = run(["batch", *map(str, words), "--json"])
    return code, json.loads(capsys.readouterr().out)


def test_a_cluster_of_another_version_is_refused_before_a_drawing_goes_out(
    cluster: Cluster,
    many: Path,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("kerfwright.adapters.batch.cluster.__version__", "9.9.9")
    words = (many, *ASKED, "-o", tmp_path / "out", "--cluster", cluster.address)
    code, done = call(capsys, *words)
    assert (code, done["broken_off"]["code"]) == (2, "cluster-other-version")
    assert "here are kerfwright 9.9.9" in done["broken_off"]["message"]
    assert done["states"] == {"not done": 11}


def test_a_cluster_gives_the_table_of_this_machine_though_a_worker_dies(
    cluster: Cluster, many: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "out"
    words = [sys.executable, "-m", "kerfwright", "batch", str(many), *ASKED, "-o", str(out)]
    words += ["--cluster", cluster.address, "--json"]
    with subprocess.Popen(words, stdout=subprocess.PIPE, text=True) as process:  # noqa: S603
        journal = out / "batch.journal"
        wait_for(lambda: journal.exists() and len(journal.read_bytes().splitlines()) > 1)
        cluster.workers[0].kill()
        text, _ = process.communicate(timeout=LONGEST_S)
    done = json.loads(text)
    assert done["states"] == {"priced": 10, "refused": 1}
    assert done["planned"] == 11
    assert process.returncode == 1
    code, here = call(capsys, many, *ASKED, "-o", tmp_path / "here", "--jobs", "1")
    assert (code, here["totals"]) == (1, done["totals"])
    assert (out / "batch.csv").read_bytes() == (tmp_path / "here" / "batch.csv").read_bytes()


def test_an_address_that_does_not_answer_is_said_and_nothing_is_lost(
    many: Path,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("kerfwright.adapters.batch.cluster._ANSWER_S", 0.3)
    words = (many, *ASKED, "-o", tmp_path / "out", "--cluster", "tcp://127.0.0.1:9")
    code, done = call(capsys, *words)
    assert (code, done["broken_off"]["code"]) == (2, "cluster-silent")
    assert done["states"] == {"not done": 11}


def test_without_dask_it_says_how_to_get_it(
    many: Path,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("kerfwright.adapters.batch.cluster.find_spec", lambda _name: None)
    words = (many, *ASKED, "-o", tmp_path / "out", "--cluster", "tcp://127.0.0.1:9")
    code, fault = call(capsys, *words)
    assert (code, fault["code"]) == (2, "batch-needs-dask")
    assert "kerfwright[cluster]" in fault["remedy"]
