"""`kerfwright jobs`: what a shop keeps, from the command line."""

from __future__ import annotations

import hashlib
import io
import json
import shutil
import sys
from datetime import UTC, datetime
from importlib import resources
from pathlib import Path

import pytest
from tests.postgres_server import fresh_database

from kerfwright.adapters.enquiry_store import EnquiryStore, open_store
from kerfwright.cli.run import run

WHEEL = resources.files("kerfwright") / "data" / "samples" / "escape_wheel.dxf"
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


def test_a_job_is_removed_brought_back_and_deleted_only_on_purpose(
    store: EnquiryStore, capsys: pytest.CaptureFixture[str]
) -> None:
    where = ("--jobs", store.folder)
    assert call(capsys, "jobs", "remove", "wheel", "arm", *where)[0] == 0
    assert "1 job\n" in call(capsys, "jobs", "list", *where)[1]
    shown = json.loads(call(capsys, "jobs", "removed", *where, "--json")[1])
    assert [(one["name"], one["customer"]) for one in shown["jobs"]] == [
        ("arm", ""),
        ("wheel", "Observatory"),
    ]
    assert call(capsys, "jobs", "bring-back", "wheel", *where)[0] == 0
    assert "2 jobs\n" in call(capsys, "jobs", "list", *where)[1]
    code, said = call(capsys, "jobs", "delete", "--all", *where)
    assert code == 2
    assert "would delete for good: arm" in said
    assert call(capsys, "jobs", "delete", "wheel", "--for-good", *where)[0] == 2
    assert call(capsys, "jobs", "delete", "--for-good", *where)[0] == 2
    assert call(capsys, "jobs", "delete", "--all", "--for-good", *where)[0] == 0
    assert json.loads(call(capsys, "jobs", "removed", *where, "--json")[1])["jobs"] == []
    assert "2 jobs\n" in call(capsys, "jobs", "list", *where)[1]


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a job that was planned twice, with another height."""
    jobs = tmp_path_factory.mktemp("jobs")
    for height in ("6mm", "7mm"):
        words = [
            "plan",
            WHEEL,
            "--material",
            "C270 brass",
            "--height",
            height,
            "-o",
            jobs / "wheel",
        ]
        assert run([str(word) for word in words]) == 0
    return jobs / "wheel"


def test_earlier_plans_and_quotes_are_shown_compared_found_and_taken_back(
    planned: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    capsys.readouterr()
    now = {p.name: p.read_bytes() for p in planned.iterdir() if p.suffix in {".nc", ".json"}}
    listed = json.loads(call(capsys, "versions", "list", planned, "--json")[1])["versions"]
    assert [one["number"] for one in listed] == [1, 2]
    prices = [one["prices"]["1"] for one in listed]
    assert prices[0] < prices[1]
    assert listed[1]["files"]["program.nc"] == hashlib.sha256(now["program.nc"]).hexdigest()
    said = json.loads(call(capsys, "versions", "compare", planned, 1, 2, "--json")[1])["changes"]
    by_name = {one["name"]: (one["before"], one["after"]) for one in said}
    assert by_name["height"] == ("6mm", "7mm")
    assert by_name["each of 1"] == tuple(f"{each} EUR" for each in prices)
    assert call(capsys, "versions", "show", planned, 1, "-o", tmp_path / "out")[0] == 0
    assert call(capsys, "versions", "show", planned, 1, "-o", tmp_path / "out")[0] == 2
    assert call(capsys, "versions", "take-back", planned, 1)[0] == 0
    program = (planned / "program.nc").read_bytes()
    assert program == (tmp_path / "out" / "program.nc").read_bytes() != now["program.nc"]
    # What was taken back is a job as any other.
    assert call(capsys, "prove", planned / "program.nc", "--job", planned)[0] == 0
    assert prices[0] in call(capsys, "price", planned)[1]
    assert call(capsys, "versions", "take-back", planned, 2)[0] == 0
    assert (planned / "program.nc").read_bytes() == now["program.nc"]
    assert call(capsys, "versions", "show", planned, 9)[0] == 2


def test_a_file_in_the_mail_is_found_by_its_bytes(
    store: EnquiryStore, planned: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    capsys.readouterr()
    shutil.copytree(planned / "versions", store.folder / "wheel" / "versions")
    stick = tmp_path / "O1234.nc"
    shutil.copy(planned / "program.nc", stick)
    code, said = call(capsys, "versions", "find", stick, "--jobs", store.folder)
    assert code == 0
    assert "wheel: version 2, program.nc" in said
    stick.write_text("edited")
    code, said = call(capsys, "versions", "find", stick, "--jobs", store.folder)
    assert code == 1
    assert "no version" in said


def test_a_shop_is_backed_up_and_restored_by_one_command_each(
    store: EnquiryStore, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    archive, back = tmp_path / "shop.zip", tmp_path / "back"
    code, said = call(capsys, "backup", archive, "--jobs", store.folder, "--json")
    assert code == 0
    made = json.loads(said)
    assert (made["jobs"], made["removed"]) == (3, 0)
    assert made["sha256"] == hashlib.sha256(archive.read_bytes()).hexdigest()
    code, said = call(capsys, "backup", archive, "--jobs", store.folder)
    assert code == 2
    assert "replaces nothing" in said
    assert call(capsys, "restore", archive, "--check")[0] == 0
    assert call(capsys, "restore", archive)[0] == 2
    code, said = call(capsys, "restore", archive, back)
    assert code == 0
    assert "3 jobs" in said
    assert "pinion" in call(capsys, "jobs", "list", "--jobs", back)[1]
    assert call(capsys, "restore", archive, back)[0] == 2
    archive.write_bytes(archive.read_bytes()[:-100])
    code, said = call(capsys, "restore", archive, tmp_path / "other")
    assert code == 2
    assert "damaged" in said
    assert "Traceback" not in said


def test_a_job_is_sealed_opened_and_sealed_again(
    store: EnquiryStore, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    at = ("--jobs", store.folder)

    def typed(text: str, *words: str) -> tuple[int, str]:
        monkeypatch.setattr(sys, "stdin", io.StringIO(text + "\n"))
        return call(capsys, "jobs", *words, "--passphrase-stdin", *at)

    words = "six words that do not belong"
    assert typed("weak", "seal", "wheel")[0] == 2
    code, said = typed(words, "seal", "wheel")
    assert code == 0
    assert "lost is lost" in said
    assert not (store.folder / "wheel").exists()
    assert "wheel" not in call(capsys, "jobs", "list", *at)[1]
    code, said = typed("another passphrase", "unseal", "wheel")
    assert code == 2
    assert "nobody can open the job without it" in said
    assert typed(words, "unseal", "wheel")[0] == 0
    assert (store.folder / "wheel" / "wheel.dxf").read_bytes() == b"wheel"
    found = json.loads(call(capsys, "jobs", "sealed", "--json", *at)[1])["jobs"]
    assert found == [{"id": "wheel", "is_open": True}]
    assert call(capsys, "jobs", "seal", "wheel", *at)[0] == 0
    assert "sealed" in call(capsys, "jobs", "sealed", *at)[1]
    assert typed(words, "unseal", "wheel", "--for-good")[0] == 0
    assert "wheel" in call(capsys, "jobs", "list", *at)[1]
    assert call(capsys, "jobs", "seal", "nothing", *at)[0] == 2
