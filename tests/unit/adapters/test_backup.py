"""A backup holds the whole shop, is held to its digests, and replaces nothing."""

from __future__ import annotations

import json
import random
import shutil
import stat
import threading
import zipfile
from datetime import UTC, datetime
from pathlib import Path

import pytest
from tests.soak import tries

from kerfwright.adapters.backup.making import make_backup
from kerfwright.adapters.backup.note import NOTE, safe_name
from kerfwright.adapters.backup.restoring import check_backup, restore_backup
from kerfwright.adapters.enquiry_store import EnquiryStore, open_store
from kerfwright.adapters.index.query import Query
from kerfwright.adapters.job_folder import write_job
from kerfwright.adapters.removed_jobs import removed_jobs
from kerfwright.adapters.versions import Version, files_of, versions_of
from kerfwright.foundation.errors import FileError, InputError

NOW = datetime(2027, 1, 31, 7, 0, tzinfo=UTC)


@pytest.fixture
def jobs(tmp_path: Path) -> Path:
    """Return a shop with versions, a removed job, tables, cuts and a file of a person's own."""
    store = open_store(tmp_path / "jobs")
    store.ready()
    for name in ("wheel", "arm", "gone"):
        one = store.add(f"{name}.dxf", name.encode() * 999, added=NOW)
        for height in ("6 mm", "7 mm"):
            now = store.change(one.id, lambda now, h=height: now.with_lines({"height": h}))
            write_job(store.place_of(one.id), {"plan.json": height}, refused=True, asked=now.asked)
    store.remove("gone")
    (store.folder / "wheel" / "Nachricht von Ada – Räder.txt").write_text("drawn by hand")
    for folder, name in (("our-tables", "rates.toml"), ("our-cuts", "cuts/a.csv")):
        place = store.folder / folder / name
        place.parent.mkdir(parents=True)
        place.write_text("x = 1\n")
    store.listed(Query())
    store.index.close()
    return store.folder


def whole(folder: Path) -> dict[str, tuple[bytes, int]]:
    """Return the files that count, with their times."""
    return {
        str(p.relative_to(folder)): (p.read_bytes(), p.stat().st_mtime_ns)
        for p in sorted(folder.rglob("*"))
        if p.is_file() and p.name != ".writing" and ".sqlite" not in p.name
    }


def test_a_shop_comes_back_as_it_was(jobs: Path, tmp_path: Path) -> None:
    note = make_backup(jobs, tmp_path / "b.zip")
    assert (note.jobs, note.removed, note.left_out) == (2, 1, ())
    assert restore_backup(tmp_path / "b.zip", tmp_path / "back").files == note.files
    assert whole(tmp_path / "back") == whole(jobs)
    modes = {stat.S_IMODE(p.stat().st_mode) for p in (tmp_path / "back").rglob("*")}
    assert modes == {0o600, 0o700}
    assert stat.S_IMODE((tmp_path / "b.zip").stat().st_mode) == 0o600
    store = open_store(tmp_path / "back")
    assert {one.id for one in store.listed(Query()).enquiries} == {"arm", "wheel"}
    store.bring_back("gone")
    assert files_of(store.place_of("gone"), 1)["plan.json"] == b"6 mm"
    store.index.close()


def test_a_backup_holds_no_index_no_locks_and_nothing_half_done(jobs: Path, tmp_path: Path) -> None:
    (jobs / ".kerfwright-abc").mkdir()
    (jobs / ".kerfwright-abc" / "half").write_text("x")
    (jobs / "wheel" / ".kerfwright-abc").mkdir()
    (jobs / ".removed" / ".going-x").mkdir()
    (jobs / ".removed" / ".going-x" / "half").write_text("x")
    (jobs / "arm" / "link").symlink_to(tmp_path)
    note = make_backup(jobs, tmp_path / "b.zip")
    assert note.left_out == ("arm/link",)
    odd = [n for n in note.files if "sqlite" in n or ".writing" in n or "half" in n]
    assert not odd
    assert "wheel/.kerfwright-files" in note.files
    assert ".kerfwright-shop" in note.files


def test_tables_and_cuts_kept_elsewhere_come_along(jobs: Path, tmp_path: Path) -> None:
    shutil.move(jobs / "our-tables", tmp_path / "tables")
    make_backup(jobs, tmp_path / "b.zip", tables=tmp_path / "tables")
    restore_backup(tmp_path / "b.zip", tmp_path / "back")
    assert (tmp_path / "back" / "our-tables" / "rates.toml").read_text() == "x = 1\n"
    with pytest.raises(InputError) as caught:
        make_backup(jobs, tmp_path / "c.zip", shop=tmp_path / "tables")
    assert caught.value.code == "backup-twice"


def test_nothing_is_replaced(jobs: Path, tmp_path: Path) -> None:
    archive = tmp_path / "b.zip"
    archive.write_text("mine")
    with pytest.raises(InputError) as caught:
        make_backup(jobs, archive)
    assert (caught.value.code, archive.read_text()) == ("backup-there", "mine")
    with pytest.raises(InputError) as caught:
        make_backup(jobs, jobs / "b.zip")
    assert caught.value.code == "backup-inside"
    archive.unlink()
    make_backup(jobs, archive)
    before = whole(jobs)
    with pytest.raises(InputError) as caught:
        restore_backup(archive, jobs)
    assert caught.value.code == "folder-not-empty"
    assert whole(jobs) == before
    (tmp_path / "empty").mkdir()
    restore_backup(archive, tmp_path / "empty")
    assert whole(tmp_path / "empty") == before


def test_one_byte_that_is_wrong_is_found_and_nothing_is_restored(
    jobs: Path, tmp_path: Path
) -> None:
    archive, bad = tmp_path / "b.zip", tmp_path / "bad.zip"
    make_backup(jobs, archive)
    data = archive.read_bytes()
    dice = random.Random(7)  # noqa: S311 no secret
    harmless = 0
    for _ in range(tries(300)):
        at = dice.randrange(len(data))
        bad.write_bytes(data[:at] + bytes([data[at] ^ (1 << dice.randrange(8))]) + data[at + 1 :])
        try:
            note = check_backup(bad)
        except (InputError, FileError) as fault:
            assert fault.code in {"backup-damaged", "backup-unreadable"}  # noqa: PT017
            with pytest.raises((InputError, FileError)):
                restore_backup(bad, tmp_path / "back")
            assert not (tmp_path / "back").exists()
            continue
        # Times and attributes of the archive itself are of no account: what counts is whole.
        harmless += 1
        restore_backup(bad, tmp_path / "back")
        assert {n: c[0] for n, c in whole(tmp_path / "back").items()} == {
            n: c[0] for n, c in whole(jobs).items()
        }
        assert note.jobs == 2
        shutil.rmtree(tmp_path / "back")
    assert harmless < tries(300) / 2
    assert not [p for p in tmp_path.iterdir() if p.name.startswith(".kerfwright-")]


@pytest.mark.parametrize("share", [0.0, 0.3, 0.99])
def test_a_backup_that_is_cut_short_is_refused(jobs: Path, tmp_path: Path, share: float) -> None:
    archive = tmp_path / "b.zip"
    make_backup(jobs, archive)
    data = archive.read_bytes()
    archive.write_bytes(data[: int(share * len(data))])
    with pytest.raises(InputError) as caught:
        restore_backup(archive, tmp_path / "back")
    assert caught.value.code == "backup-damaged"
    assert not (tmp_path / "back").exists()


def rewritten(archive: Path, note: dict[str, object], more: dict[str, bytes]) -> None:
    with zipfile.ZipFile(archive) as closed:
        members = {n: closed.read(n) for n in closed.namelist() if n != NOTE}
    with zipfile.ZipFile(archive, "w", zipfile.ZIP_DEFLATED) as closed:
        for name, data in (members | more).items():
            closed.writestr(name, data)
        closed.writestr(NOTE, json.dumps(note))


@pytest.mark.parametrize("name", ["../out", "/out", "a/../../out", "C:\\out", "a\\..\\out", ""])
def test_an_archive_that_would_write_elsewhere_is_refused(
    jobs: Path, tmp_path: Path, name: str
) -> None:
    archive = tmp_path / "b.zip"
    make_backup(jobs, archive)
    with zipfile.ZipFile(archive) as closed:
        note = json.loads(closed.read(NOTE))
    note["files"][name] = ["0" * 64, 1, 0]
    rewritten(archive, note, {f"jobs/{name}": b"x"})
    with pytest.raises(InputError) as caught:
        restore_backup(archive, tmp_path / "deep" / "back")
    assert caught.value.code == "backup-damaged"
    assert not (tmp_path / "out").exists()
    with pytest.raises(ValueError, match="elsewhere"):
        safe_name(name)


def test_an_archive_that_swells_is_refused_early(jobs: Path, tmp_path: Path) -> None:
    archive = tmp_path / "b.zip"
    make_backup(jobs, archive)
    with zipfile.ZipFile(archive) as closed:
        note = json.loads(closed.read(NOTE))
    note["files"]["wheel/bomb"] = ["0" * 64, 10, 0]
    rewritten(archive, note, {"jobs/wheel/bomb": bytes(50_000_000)})
    with pytest.raises(InputError, match="bomb is not what was kept"):
        restore_backup(archive, tmp_path / "back")


def test_a_backup_may_be_made_while_everybody_works(jobs: Path, tmp_path: Path) -> None:
    """Each job is in it once, as it was at one moment: what is asked and what came out agree."""
    stop = threading.Event()
    store = open_store(jobs)

    def work(seat: int) -> None:
        mine = open_store(jobs)
        number = 0
        while not stop.is_set():
            number += 1
            _work_once(mine, f"{seat}-{number}")
        mine.index.close()

    seats = [threading.Thread(target=work, args=(seat,)) for seat in range(2)]
    for seat in seats:
        seat.start()
    try:
        for count in range(tries(12)):
            make_backup(jobs, tmp_path / f"{count}.zip")
    finally:
        stop.set()
        for seat in seats:
            seat.join()
    store.index.close()
    for count in range(tries(12)):
        restore_backup(tmp_path / f"{count}.zip", tmp_path / f"back{count}")
        back = open_store(tmp_path / f"back{count}")
        listed = back.listed(Query())
        assert not listed.unreadable
        removed = [one.id for one in removed_jobs(back.folder)]
        assert sorted([one.id for one in listed.enquiries] + removed) == ["arm", "gone", "wheel"]
        for one in listed.enquiries:
            versions = list(versions_of(back.place_of(one.id)))
            assert all(isinstance(v, Version) for v in versions)
            now = (back.place_of(one.id) / "plan.json").read_bytes()
            assert files_of(back.place_of(one.id), len(versions))["plan.json"] == now
        back.index.close()


def _work_once(store: EnquiryStore, mark: str) -> None:
    try:
        now = store.change("wheel", lambda now: now.with_lines({"height": mark}))
        write_job(store.place_of("wheel"), {"plan.json": mark}, refused=True, asked=now.asked)
        store.remove("arm")
        store.bring_back("arm")
    except (LookupError, InputError):
        # The other seat was quicker.
        pass
