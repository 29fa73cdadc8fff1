from __future__ import annotations

import json
import threading
from datetime import UTC, datetime
from pathlib import Path

import pytest

from kerfwright.adapters.enquiry_folder import ENQUIRY, EnquiryFolder
from kerfwright.app.enquiries import Enquiry, Stage
from kerfwright.foundation.errors import FileError, InputError, UnknownNameError

NOW = datetime(2027, 1, 31, 7, 0, tzinfo=UTC)


@pytest.fixture
def folder(tmp_path: Path) -> EnquiryFolder:
    found = EnquiryFolder(folder=tmp_path / "jobs")
    found.ready()
    return found


def test_a_drawing_is_kept_as_it_came_for_its_owner_only(folder: EnquiryFolder) -> None:
    added = folder.add("Räder für Turmuhr.DXF", b"0\nEOF\n", added=NOW)
    assert added.id == "rader-fur-turmuhr"
    assert added.title == "Räder für Turmuhr.DXF"
    drawing = folder.drawing_of(added)
    assert drawing.read_bytes() == b"0\nEOF\n"
    assert drawing.stat().st_mode & 0o077 == 0
    assert drawing.parent.stat().st_mode & 0o077 == 0


def test_what_is_saved_is_read_again(folder: EnquiryFolder) -> None:
    one = folder.add("wheel.dxf", b"x", added=NOW)
    changed = one.with_lines({"material": "D2", "layer A": "ignore"}).at_stage(Stage.QUOTED)
    folder.save(changed)
    assert folder.read(one.id) == changed


def test_the_same_name_twice_is_two_jobs(folder: EnquiryFolder) -> None:
    ids = [folder.add("wheel.dxf", b"x", added=NOW).id for _ in range(2)]
    assert ids == ["wheel", "wheel-2"]


@pytest.mark.parametrize("name", ["../../etc/passwd.dxf", r"..\..\wheel.dxf", "/x/\0.dxf", "….dxf"])
def test_a_name_never_leads_out_of_the_folder(folder: EnquiryFolder, name: str) -> None:
    added = folder.add(name, b"x", added=NOW)
    place = folder.drawing_of(added).resolve()
    assert place.parent.parent == folder.folder.resolve()


@pytest.mark.parametrize("name", ["..", ".", "", "wheel/../..", "nobody", ".removed"])
def test_a_job_that_is_not_there_is_refused(folder: EnquiryFolder, name: str) -> None:
    folder.add("wheel.dxf", b"x", added=NOW)
    with pytest.raises(UnknownNameError):
        folder.read(name)


def test_a_removed_job_is_kept_aside(folder: EnquiryFolder) -> None:
    one = folder.add("wheel.dxf", b"x", added=NOW)
    aside = folder.remove(one.id)
    assert (aside / one.drawing).read_bytes() == b"x"
    assert list(folder.all()) == []
    assert folder.remove(folder.add("wheel.dxf", b"y", added=NOW).id).name == "wheel-2"


@pytest.mark.parametrize(
    "text", ["{", "[]", "{}", '{"format": "kerfwright-enquiry", "version": 2}', '"x"']
)
def test_a_broken_file_is_said_and_does_not_hide_the_others(
    folder: EnquiryFolder, text: str
) -> None:
    good = folder.add("good.dxf", b"x", added=NOW)
    bad = folder.add("bad.dxf", b"x", added=NOW)
    (folder.folder / bad.id / ENQUIRY).write_text(text, encoding="utf-8")
    found = list(folder.all())
    assert [e.id for e in found if isinstance(e, Enquiry)] == [good.id]
    assert sum(isinstance(e, InputError) for e in found) == 1


def test_an_enquiry_that_names_another_file_is_refused(folder: EnquiryFolder) -> None:
    one = folder.add("wheel.dxf", b"x", added=NOW)
    place = folder.folder / one.id / ENQUIRY
    document = json.loads(place.read_text(encoding="utf-8"))
    place.write_text(json.dumps(document | {"drawing": "../other/secret"}), encoding="utf-8")
    with pytest.raises(InputError) as caught:
        folder.read(one.id)
    assert caught.value.code == "enquiry-broken"


def test_a_folder_that_cannot_be_made_is_said(tmp_path: Path) -> None:
    (tmp_path / "taken").write_text("", encoding="utf-8")
    with pytest.raises(FileError) as caught:
        EnquiryFolder(folder=tmp_path / "taken" / "jobs").ready()
    assert caught.value.code == "jobs-unwritable"


def test_a_job_comes_in_whole_or_not_at_all(
    folder: EnquiryFolder, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("kerfwright.adapters.enquiry_folder.enquiry_text", full)
    with pytest.raises(FileError, match="No space left"):
        folder.add("wheel.dxf", b"x", added=NOW)
    assert not list(folder.folder.iterdir())


def test_two_that_change_one_job_at_once_lose_nothing(folder: EnquiryFolder) -> None:
    one = folder.add("wheel.dxf", b"x", added=NOW)

    def work(seat: int) -> None:
        for number in range(10):
            folder.change(one.id, lambda now, n=number: now.with_lines({f"layer {seat}-{n}": "x"}))

    seats = [threading.Thread(target=work, args=(seat,)) for seat in range(3)]
    for seat in seats:
        seat.start()
    for seat in seats:
        seat.join()
    assert len(folder.read(one.id).asked) == 30


def test_an_edit_that_changes_nothing_writes_nothing(folder: EnquiryFolder) -> None:
    one = folder.add("wheel.dxf", b"x", added=NOW)
    before = (folder.folder / one.id / ENQUIRY).stat().st_ino
    assert folder.change(one.id, lambda now: now) == one
    assert (folder.folder / one.id / ENQUIRY).stat().st_ino == before
