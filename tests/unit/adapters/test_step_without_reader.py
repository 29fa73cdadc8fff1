"""Solids where what reads them is absent, and files that are none."""

from __future__ import annotations

import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import pytest

from kerfwright.adapters import solids_here
from kerfwright.adapters.step import is_solid_file, read_solid, reader
from kerfwright.cli.run import run
from kerfwright.foundation.errors import DrawingError, FileError, MissingPackageError

PATIENCE_S = 20
WHOLE = "ISO-10303-21;\nHEADER;\nENDSEC;\nDATA;\nENDSEC;\nEND-ISO-10303-21;\n"


@pytest.fixture
def whole(tmp_path: Path) -> Path:
    place = tmp_path / "part.STP"
    place.write_text(WHOLE)
    return place


def test_a_solid_is_told_by_its_name() -> None:
    assert is_solid_file(Path("a.STEP"))
    assert is_solid_file(Path("a.stp"))
    assert not is_solid_file(Path("a.dxf"))


def test_without_the_extra_it_is_refused_with_what_to_install(
    whole: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(solids_here, "PACKAGE", "no_such_module_is_there")
    with pytest.raises(MissingPackageError, match=r"kerfwright\[solids\]") as caught:
        read_solid(whole)
    assert caught.value.code == "solids-need-reader"
    assert run(["check", str(whole)]) != 0
    assert "kerfwright[solids]" in " ".join(capsys.readouterr().err.split())


@pytest.mark.parametrize(
    ("text", "code"),
    [("", "not-a-drawing"), ("0\nSECTION\n", "not-a-drawing"), (WHOLE[:40], "drawing-damaged")],
)
def test_what_is_no_whole_step_file_is_refused_before_anything_reads_it(
    text: str, code: str, tmp_path: Path
) -> None:
    place = tmp_path / "part.step"
    place.write_text(text)
    with pytest.raises(DrawingError) as caught:
        read_solid(place)
    assert caught.value.code == code
    with pytest.raises(FileError):
        read_solid(tmp_path / "absent.step")


def test_a_file_too_large_is_refused_by_its_size(
    whole: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(reader, "MOST_BYTES", 10)
    with pytest.raises(DrawingError) as caught:
        read_solid(whole)
    assert caught.value.code == "drawing-too-large"


@pytest.mark.parametrize(
    ("command", "seconds", "words"),
    [
        # Stand-ins for a reader that is ended, that says nothing sensible, and that never ends.
        (("-c", "import os; os.kill(os.getpid(), 11)"), 60.0, "ended with -11"),
        (("-c", "print('banner')"), 60.0, "ended with 0"),
        (("-c", "import time; time.sleep(60)"), 1.0, "takes more than"),
    ],
)
def test_a_reader_that_fails_is_a_refusal(
    command: Any, seconds: float, words: str, whole: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(reader, "has_reader", lambda: True)
    monkeypatch.setattr(reader, "_COMMAND", command)
    monkeypatch.setattr(reader, "MOST_SECONDS", seconds)
    with pytest.raises(DrawingError, match=words) as caught:
        read_solid(whole)
    assert caught.value.code == "drawing-damaged"


def test_the_child_is_ours_and_gets_no_shell(whole: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    seen: list[Any] = []

    def noted(command: Any, **options: Any) -> Any:
        seen.append((command, options))
        return subprocess.CompletedProcess(command, 0, '{"failed": "as told"}', "")

    monkeypatch.setattr(reader, "has_reader", lambda: True)
    monkeypatch.setattr(reader.subprocess, "run", noted)
    with pytest.raises(DrawingError, match="as told"):
        read_solid(whole)
    ((command, options),) = seen
    assert command[1:] == ["-m", "kerfwright.adapters.step.worker"]
    assert "shell" not in options


@pytest.mark.skipif(sys.platform != "linux", reason="the signal is Linux's")
def test_the_reader_ends_with_the_process_that_waits_for_it(tmp_path: Path) -> None:
    child = (
        "import os, time; from kerfwright.adapters.step.worker import _hold; _hold();"
        f"open({str(tmp_path / 'child')!r}, 'w').write(str(os.getpid())); time.sleep(60)"
    )
    waiting = f"import subprocess, sys; subprocess.run([sys.executable, '-c', {child!r}])"
    parent = subprocess.Popen([sys.executable, "-c", waiting])  # noqa: S603 our own words
    said = tmp_path / "child"
    while not (said.exists() and said.read_text()):
        assert parent.poll() is None
        time.sleep(0.02)
    proc = Path("/proc", said.read_text(), "stat")
    assert proc.exists()
    parent.kill()
    parent.wait()
    end = time.monotonic() + PATIENCE_S
    # A process that ended may wait as a zombie for whoever takes it over.
    while proc.exists() and proc.read_text().rpartition(")")[2].split()[0] != "Z":
        assert time.monotonic() < end, "it goes on"
        time.sleep(0.02)
