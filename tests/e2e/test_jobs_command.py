"""`kerfwright jobs`: what a shop keeps, from the command line."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from pathlib import Path

import pytest
from tests.postgres_server import fresh_database

from kerfwright.adapters.enquiry_store import EnquiryStore, open_store
from kerfwright.cli.run import run

NOW = datetime(2027, 1, 31, 7, 0, tzinfo=UTC)


@pytest.fixture
def store(tmp_path: Path) -> EnquiryStore:
    found = open_store(tmp_path / "jobs")
    found.ready()
    for name, customer in (("wheel", "Observatory"), ("pinion", "Tower clocks"), ("arm", "")):
        one = found.add(f"{name}.dxf", name.encode(), added=NOW)
        found.change(one.id, lambda now, c=customer: now.with_lines({"customer": c}))
    found.index.close()
    return found


def call(capsys: pytest.CaptureFixture[str], *words: object) -> tuple[int, str]:
    code = run([str(word) for word in words])
    shown = capsys.readouterr()
    return code, shown.out + shown.err


def test_jobs_are_listed_searched_and_sorted(
    store: EnquiryStore, capsys: pytest.CaptureFixture[str]
) -> None:
    code, said = call(capsys, "jobs", "list", "--jobs", store.folder)
    assert code == 0
    assert "3 jobs" in said
    _, said = call(capsys, "jobs", "list", "TOWER", "--jobs", store.folder, "--json")
    found = json.loads(said)
    assert [one["id"] for one in found["jobs"]] == ["pinion"]
    words = ("--by", "customer", "--rising", "--most", "2")
    _, said = call(capsys, "jobs", "list", *words, "--jobs", store.folder)
    assert said.index("wheel") < said.index("pinion")
    assert "1 more" in said
    assert "arm" not in said


@pytest.mark.parametrize("kind", ["file", "postgresql"])
def test_the_index_is_built_anew_by_one_command(
    store: EnquiryStore,
    capsys: pytest.CaptureFixture[str],
    request: pytest.FixtureRequest,
    monkeypatch: pytest.MonkeyPatch,
    kind: str,
) -> None:
    if kind == "postgresql":
        server = request.getfixturevalue("postgres_server")
        monkeypatch.setenv("KERFWRIGHT_INDEX", fresh_database(server))
    code, said = call(capsys, "jobs", "index", "--rebuild", "--jobs", store.folder)
    assert code == 0
    assert "3 job folders read" in said
    assert ("postgresql" in said) == (kind == "postgresql")


def test_a_folder_that_is_not_there_is_refused_and_not_made(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, said = call(capsys, "jobs", "list", "--jobs", tmp_path / "none")
    assert code == 2
    assert "there is no folder of jobs" in said
    assert not (tmp_path / "none").exists()


def test_an_index_that_does_not_answer_is_refused_in_words(
    store: EnquiryStore, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    url = f"postgresql://a:secret@/none?host={tmp_path}"
    code, said = call(capsys, "jobs", "list", "--jobs", store.folder, "--index", url)
    assert code == 2
    assert "does not answer" in said
    assert "Traceback" not in said
    assert "secret" not in said
