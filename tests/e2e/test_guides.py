"""The guides are true: their commands run in the order they stand, and print what is shown."""

from __future__ import annotations

import json
import re
import shlex
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from importlib.resources import files
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import pytest
from tests.browser.serving import ended, started

from kerfwright.adapters.hooks.event import signature
from kerfwright.cli.run import run

DOCS = Path(__file__).parents[2] / "docs"
SAMPLES = Path(str(files("kerfwright") / "data" / "samples"))
BLOCK = re.compile(r"^( *)```(sh|text|toml|python)\n(.*?)^\1```", re.MULTILINE | re.DOTALL)
FILE_BEFORE = re.compile(r"`([\w./-]+)`[^`]*\Z")


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """A fenced block of a document, and the file that the words before it name."""

    language: str
    text: str
    names_file: str


def blocks(document: Path) -> Iterator[Block]:
    text = document.read_text(encoding="utf-8")
    for found in BLOCK.finditer(text):
        before = text[: found.start()].rstrip()
        named = FILE_BEFORE.search(before) if before.endswith((":", ".")) else None
        inner = "\n".join(line.removeprefix(found[1]) for line in found[3].splitlines())
        yield Block(language=found[2], text=inner, names_file=named[1] if named else "")


def holds(printed: str, line: str) -> bool:
    """Return whether a line was printed; tables are as wide as the screen is."""
    return " ".join(line.split()) in " ".join(printed.split())


def test_the_receiver_of_a_call_that_is_shown_checks_it() -> None:
    (example,) = [b for b in blocks(DOCS / "hand-over.md") if b.language == "python"]
    names: dict[str, Any] = {}
    exec(example.text, names)  # noqa: S102 our own document
    body, moment, secret = b'{"a": 1}', str(int(time.time())), b"a secret of the office"
    good = {"Kerfwright-Timestamp": moment,
            "Kerfwright-Signature": f"sha256={signature(secret, moment, body)}"}  # fmt: skip
    assert names["is_ours"](good, body, secret)
    assert not names["is_ours"](good, body + b" ", secret)
    assert not names["is_ours"](good, body, b"another")
    old = good | {"Kerfwright-Timestamp": "1000"}
    old["Kerfwright-Signature"] = f"sha256={signature(secret, '1000', body)}"
    assert not names["is_ours"](old, body, secret)


@pytest.mark.parametrize("name", ["first-job", "owner"])
def test_the_commands_of_a_guide_run_and_print_what_it_shows(
    name: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "200")
    shutil.copy(SAMPLES / "click.dxf", tmp_path)
    printed, ran, compared = "", 0, 0
    for block in blocks(DOCS / "guide" / f"{name}.md"):
        if block.language == "sh":
            printed = ""
            for call in block.text.replace("\\\n", " ").splitlines():
                program, *words = shlex.split(call)
                assert program == "kerfwright", call
                assert run(words) == 0, f"{call}: {capsys.readouterr()}"
                printed += capsys.readouterr().out
                ran += 1
        elif block.names_file.endswith((".toml", ".csv")):
            target = tmp_path / block.names_file
            target.parent.mkdir(exist_ok=True)
            target.write_text(block.text + "\n", encoding="utf-8")
        else:
            for line in block.text.splitlines():
                assert holds(printed, line), f"{line!r} is not in:\n{printed}"
                compared += 1
    assert ran >= 6
    assert compared >= 3


def test_the_example_of_the_http_api_runs(tmp_path: Path) -> None:
    shutil.copy(SAMPLES / "click.dxf", tmp_path)
    server, address = started(tmp_path / "jobs")
    examples = [b.text for b in blocks(DOCS / "reference" / "http-api.md")]
    script = "\n".join(examples).replace("http://127.0.0.1:8733", address)
    assert address in script
    try:
        done = subprocess.run(  # noqa: S603 our own text
            [sys.executable, "-c", script],
            cwd=tmp_path, capture_output=True, text=True, check=False, timeout=120,
        )  # fmt: skip
    finally:
        ended(server)
    assert done.returncode == 0, done.stderr
    one, ten, program, refused, touch, numbers = done.stdout.splitlines()
    assert (one.split()[0], ten.split()[0]) == ("1", "10")
    assert float(one.split()[1]) > float(ten.split()[1]) > 0
    assert "click.dxf" in program
    assert refused.split()[0] == "409"
    assert touch.startswith("2027-03-01 07:00")
    assert touch.endswith("set-up")
    assert numbers.split() == ["40.0", "1"]


def test_every_file_of_a_job_is_in_the_reference(tmp_path: Path) -> None:
    job = tmp_path / "job"
    assert run(["plan", str(SAMPLES / "click.dxf"), "--material", "C270", "--height", "2mm",
                "-o", str(job)]) == 0  # fmt: skip
    reference = (DOCS / "reference" / "files.md").read_text(encoding="utf-8")
    for path in job.iterdir():
        assert f"`{path.name}`" in reference, path.name
    for path in job.glob("*.json"):
        found = json.loads(path.read_text("utf-8"))
        assert f"| `{found['format']}` {found['version']} |" in reference, path.name


@pytest.mark.skipif(find_spec("myst_parser") is None, reason="Sphinx is not installed: make docs")
def test_the_documents_build_without_a_warning(tmp_path: Path) -> None:
    done = subprocess.run(  # noqa: S603 our own documents
        [sys.executable, "-m", "sphinx", "-q", "-W", "--keep-going", "-b", "html",
         str(DOCS), str(tmp_path)],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    page = (tmp_path / "reference" / "http-api.html").read_text(encoding="utf-8")
    assert "/api/jobs/{job}/proof" in page
    assert not re.search(r'(src|href)="https?://(?!127)[^"]*\.(js|css|woff2?)"', page)
