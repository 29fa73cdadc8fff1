"""Every plan and quote is kept as it was made."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import zipfile
from datetime import UTC, datetime
from pathlib import Path

import pytest

from kerfwright.adapters import versions as module
from kerfwright.adapters.enquiry_folder import EnquiryFolder
from kerfwright.adapters.enquiry_versions import take_back_job
from kerfwright.adapters.job_folder import write_job
from kerfwright.adapters.owned_files import MADE, add_files, sweep
from kerfwright.adapters.version_changes import changes
from kerfwright.adapters.versions import (
    NOTE,
    Version,
    files_of,
    finish,
    place_of,
    read_version,
    take_back,
    versions_of,
    write_versioned,
)
from kerfwright.foundation.errors import FileError, InputError, UnknownNameError

NOW = datetime(2027, 1, 31, 7, 0, tzinfo=UTC)


def contents(height: str = "6 mm", each: str = "12.50", program: str = "M02\n") -> dict[str, str]:
    found = {
        "job.toml": f'format = "kerfwright-job"\nversion = 1\nheight = "{height}"\n',
        "plan.json": json.dumps({"height": height}),
        "estimate.json": json.dumps(
            {"currency": "EUR", "prices": [{"quantity": 5, "each": each, "likely": "62.50"}]}
        ),
        "tables.json": json.dumps({"tables": {"rates": {"hour": len(each)}}, "machine": {}}),
    }
    return found | ({"program.nc": program} if program else {})


def numbers(folder: Path) -> list[int]:
    return [one.number for one in versions_of(folder) if isinstance(one, Version)]


def test_each_plan_is_kept_as_it_was_made_for_its_owner_only(tmp_path: Path) -> None:
    for height in ("6 mm", "7 mm"):
        write_job(tmp_path, contents(height), asked={"height": height})
    first, second = (one for one in versions_of(tmp_path) if isinstance(one, Version))
    assert (first.number, first.asked, first.prices) == (1, {"height": "6 mm"}, {5: "12.50"})
    assert second.has_program
    assert files_of(tmp_path, 1)["plan.json"] == contents("6 mm")["plan.json"].encode()
    assert files_of(tmp_path, 2) == {n: t.encode() for n, t in contents("7 mm").items()}
    assert place_of(tmp_path, 1).stat().st_mode & 0o077 == 0
    assert datetime.fromisoformat(first.made).tzinfo is not None


def test_what_comes_out_alike_is_kept_once(tmp_path: Path) -> None:
    for _ in range(3):
        write_job(tmp_path, contents())
    assert numbers(tmp_path) == [1]


def test_papers_are_kept_with_what_they_were_made_of(tmp_path: Path) -> None:
    write_job(tmp_path, contents())
    papers = {"quote.pdf": b"%PDF-", "path.svg": b"<svg/>"}
    write_versioned(tmp_path, lambda keep: add_files(tmp_path, papers, keep=keep))
    assert numbers(tmp_path) == [1, 2]
    assert read_version(tmp_path, 2).papers == ("path.svg", "quote.pdf")
    assert set(files_of(tmp_path, 2)) == set(contents()) | set(papers)
    # Proved once more with the same outcome: no third.
    write_job(tmp_path, contents())
    assert not (tmp_path / "quote.pdf").exists()
    assert numbers(tmp_path) == [1, 2]


def test_losing_the_program_is_a_version_of_its_own(tmp_path: Path) -> None:
    write_job(tmp_path / "a", contents())
    take = contents(program="")
    write_versioned(
        tmp_path / "a", lambda keep: module.write_files(tmp_path / "a", take, keep=keep)
    )
    assert numbers(tmp_path / "a") == [1, 2]
    assert not read_version(tmp_path / "a", 2).has_program


def test_a_version_is_there_before_anything_is_replaced(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write_job(tmp_path, contents("6 mm"))

    def killed(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("kerfwright.adapters.owned_files._replace_all", killed)
    with pytest.raises(KeyboardInterrupt):
        write_job(tmp_path, contents("7 mm"))
    assert numbers(tmp_path) == [1, 2]
    assert (tmp_path / "plan.json").read_text() == contents("6 mm")["plan.json"]


def test_a_run_that_is_refused_because_of_a_foreign_file_is_no_version(tmp_path: Path) -> None:
    write_job(tmp_path, contents("6 mm"))
    (tmp_path / "program.nc").write_text("edited at the machine\n")
    with pytest.raises(FileError) as caught:
        write_job(tmp_path, contents("7 mm"))
    assert caught.value.code == "file-not-ours"
    assert numbers(tmp_path) == [1]
    # The program as it was made is still to be had.
    assert files_of(tmp_path, 1)["program.nc"] == b"M02\n"


def test_an_earlier_version_taken_back_is_the_newest(tmp_path: Path) -> None:
    for height in ("6 mm", "7 mm"):
        write_job(tmp_path, contents(height))
    back = take_back(tmp_path, 1)
    assert (back.number, back.taken_from) == (3, 1)
    assert (tmp_path / "plan.json").read_text() == contents("6 mm")["plan.json"]
    take_back(tmp_path, 2)
    assert (tmp_path / "plan.json").read_text() == contents("7 mm")["plan.json"]
    assert numbers(tmp_path) == [1, 2, 3, 4]
    assert read_version(tmp_path, 1).files == read_version(tmp_path, 3).files


def test_taking_back_never_replaces_what_somebody_edited(tmp_path: Path) -> None:
    for height in ("6 mm", "7 mm"):
        write_job(tmp_path, contents(height))
    (tmp_path / "plan.json").write_text("mine")
    with pytest.raises(FileError) as caught:
        take_back(tmp_path, 1)
    assert caught.value.code == "file-not-ours"
    assert (tmp_path / "plan.json").read_text() == "mine"


def test_what_was_asked_comes_back_with_a_version_and_can_be_undone(tmp_path: Path) -> None:
    jobs = EnquiryFolder(folder=tmp_path)
    one = jobs.add("wheel.dxf", b"x", added=NOW)
    for height in ("6 mm", "7 mm"):
        now = jobs.change(one.id, lambda now, h=height: now.with_lines({"height": h}))
        write_job(jobs.place_of(one.id), contents(height), asked=now.asked)
    take_back_job(jobs.place_of(one.id), 1)
    back = jobs.read(one.id)
    assert back.asked == {"height": "6 mm"}
    assert back.proved_revision == 0
    assert back.undone().asked == {"height": "7 mm"}


def test_what_differs_is_said(tmp_path: Path) -> None:
    write_job(tmp_path, contents("6 mm", "12.50"))
    write_job(tmp_path, contents("7 mm", "9.00", program=""))
    write_job(tmp_path / "b", contents("7 mm", "9.00", program=""))
    assert changes(tmp_path, 1, 1) == ()
    assert numbers(tmp_path) == [1, 2]
    found = {(c.kind, c.name): (c.before, c.after) for c in changes(tmp_path, 1, 2)}
    assert found["asked", "height"] == ("6 mm", "7 mm")
    assert found["price", "each of 5"] == ("12.50 EUR", "9.00 EUR")
    assert found["figure", "rates.hour"] == ("5", "4")
    assert found["file", "program.nc"] == ("4 bytes", "")


@pytest.mark.parametrize("harm", ["cut", "flip", "other", "swapped", "outside", "empty"])
def test_a_version_that_is_not_as_it_was_made_is_said_and_hides_no_other(
    tmp_path: Path, harm: str
) -> None:
    for height in ("6 mm", "7 mm", "8 mm"):
        write_job(tmp_path, contents(height))
    place = place_of(tmp_path, 2)
    data = place.read_bytes()
    if harm == "cut":
        place.write_bytes(data[: len(data) // 2])
    elif harm == "empty":
        place.write_bytes(b"")
    elif harm == "flip":
        middle = data.index(b"plan.json") + len("plan.json") + 10
        place.write_bytes(data[:middle] + bytes([data[middle] ^ 0xFF]) + data[middle + 1 :])
    elif harm == "swapped":
        place.write_bytes(place_of(tmp_path, 1).read_bytes())
    else:
        with zipfile.ZipFile(place) as closed:
            members = {name: closed.read(name) for name in closed.namelist()}
        note = json.loads(members["version.json"])
        if harm == "other":
            members["plan.json"] = b"{}"
        else:
            note["files"]["../../outside"] = note["files"]["plan.json"]
        members["version.json"] = json.dumps(note).encode()
        with zipfile.ZipFile(place, "w") as closed:
            for name, text in members.items():
                closed.writestr(name, text)
    with pytest.raises(InputError) as caught:
        files_of(tmp_path, 2)
    assert caught.value.code == "version-damaged"
    with pytest.raises(InputError):
        take_back(tmp_path, 2)
    assert {1, 3} <= set(numbers(tmp_path))
    assert (tmp_path / "plan.json").read_text() == contents("8 mm")["plan.json"]
    # A damaged last one does not keep the next from being kept.
    place.replace(place_of(tmp_path, 3))
    write_job(tmp_path, contents("9 mm"))
    assert 4 in numbers(tmp_path)


def test_a_version_that_is_not_there_is_refused(tmp_path: Path) -> None:
    write_job(tmp_path, contents())
    with pytest.raises(UnknownNameError) as caught:
        read_version(tmp_path, 7)
    assert caught.value.code == "version-unknown"


KILLED = """
import os, pathlib, sys
from kerfwright.adapters.job_folder import write_job
left = int(sys.argv[2])
replace = pathlib.Path.replace
def counted(self, target):
    global left
    if not left:
        os._exit(9)
    left -= 1
    return replace(self, target)
pathlib.Path.replace = counted
names = ("job.toml", "plan.json", "program.nc", "plan.svg")
write_job(pathlib.Path(sys.argv[1]), {name: f"new {name}" for name in names})
"""


def test_a_run_killed_at_any_rename_is_all_old_or_all_new(tmp_path: Path) -> None:
    names = ("job.toml", "plan.json", "program.nc", "estimate.json")
    finished = []
    for count in range(20):
        job = tmp_path / str(count)
        write_job(job, {name: f"old {name}" for name in names})
        done = subprocess.run(  # noqa: S603 our own text
            [sys.executable, "-c", KILLED, str(job), str(count)], check=False
        )
        finished.append(finish(job))
        lying = {p.name: p.read_text() for p in job.iterdir() if p.is_file() and p.name[0] != "."}
        assert len({text.split()[0] for text in lying.values()}) == 1
        assert len(lying) == 4
        assert not finish(job)
        assert all(isinstance(one, Version) for one in versions_of(job))
        if done.returncode == 0:
            break
    # Some of them had been caught in the middle.
    assert done.returncode == 0
    assert sum(finished) >= len(names)


def test_a_cut_run_is_not_finished_over_what_somebody_edited(tmp_path: Path) -> None:
    write_job(tmp_path, contents("6 mm"))
    listed = (tmp_path / MADE).read_text()
    (tmp_path / MADE).write_text(f"{'0' * 64}  .kerfwright-swapping\n{listed}")
    (tmp_path / "program.nc").write_text("edited at the machine")
    with pytest.raises(FileError):
        finish(tmp_path)
    assert (tmp_path / "program.nc").read_text() == "edited at the machine"


def test_what_a_killed_run_left_aside_is_swept_when_it_is_old(tmp_path: Path) -> None:
    for name in (".kerfwright-new", ".kerfwright-old", "mine"):
        (tmp_path / name).mkdir()
    for name in (".kerfwright-old", "mine"):
        os.utime(tmp_path / name, (0, 0))
    sweep(tmp_path)
    assert {p.name for p in tmp_path.iterdir()} == {".kerfwright-new", "mine"}


def test_a_note_that_holds_the_price_of_all_pieces_says_that_of_one(tmp_path: Path) -> None:
    write_job(tmp_path, contents(each="12.50"), asked=None)
    place = place_of(tmp_path, 1)
    with zipfile.ZipFile(place) as closed:
        held = {name: closed.read(name) for name in closed.namelist()}
    held[NOTE] = held[NOTE].replace(b'"12.50"', b'"62.50"')
    with zipfile.ZipFile(place, "w") as closed:
        for name, data in held.items():
            closed.writestr(name, data)
    assert read_version(tmp_path, 1).prices == {5: "12.50"}
