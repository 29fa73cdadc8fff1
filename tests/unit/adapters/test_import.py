"""Jobs of an archive come into a shop whole or not at all, and replace nothing."""

from __future__ import annotations

import json
import shutil
import zipfile
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from kerfwright.adapters.backup.making import make_backup
from kerfwright.adapters.backup.merging import Fate, import_archive
from kerfwright.adapters.backup.note import NOTE
from kerfwright.adapters.enquiry_folder import EnquiryFolder
from kerfwright.adapters.enquiry_store import open_store
from kerfwright.adapters.index.query import Query
from kerfwright.adapters.owned_files import digest
from kerfwright.cli.run import run
from kerfwright.foundation.errors import InputError

NOW = datetime(2027, 1, 31, 7, 0, tzinfo=UTC)


def shop(place: Path, *names: str) -> Path:
    store = EnquiryFolder(folder=place)
    store.ready()
    for name in names:
        store.add(f"{name}.dxf", f"{place.name} {name}".encode() * 99, added=NOW)
    return place


@pytest.fixture
def archive(tmp_path: Path) -> Path:
    """Return an archive of another shop: two jobs, its own tables, a note of a person."""
    other = shop(tmp_path / "other", "wheel", "arm")
    (other / "wheel" / "Notiz – Räder.txt").write_text("by hand", encoding="utf-8")
    (other / "our-tables").mkdir()
    (other / "our-tables" / "rates.toml").write_text("x = 1\n", encoding="utf-8")
    (other / "park.toml").write_text("", encoding="utf-8")
    make_backup(other, tmp_path / "shop.zip")
    return tmp_path / "shop.zip"


def contents(folder: Path) -> dict[str, bytes]:
    return {
        str(p.relative_to(folder)): p.read_bytes()
        for p in folder.rglob("*")
        if p.is_file() and p.name != ".writing"
    }


def test_new_jobs_come_in_and_others_stay_as_they_are(archive: Path, tmp_path: Path) -> None:
    mine = shop(tmp_path / "mine", "wheel", "pawl")
    before = contents(mine)
    done = import_archive(archive, mine)
    assert done.fates == {
        "wheel": Fate.OTHER, "arm": Fate.NEW, "our-tables": Fate.NEW, "park.toml": Fate.NOT_OURS,
    }  # fmt: skip
    after = contents(mine)
    assert {name: after[name] for name in before} == before
    assert after["arm/arm.dxf"] == (tmp_path / "other" / "arm" / "arm.dxf").read_bytes()
    again = import_archive(archive, mine)
    assert again.named(Fate.SAME) == ("arm", "our-tables")
    assert contents(mine) == after


def test_what_came_in_is_on_the_list(archive: Path, tmp_path: Path) -> None:
    mine = shop(tmp_path / "mine", "pawl")
    store = open_store(mine)
    assert store.listed(Query()).total == 1
    import_archive(archive, mine)
    store.index.look_again()
    assert {e.id for e in store.listed(Query()).enquiries} == {"pawl", "wheel", "arm"}
    store.index.close()


def test_only_some_are_taken_and_a_look_takes_none(archive: Path, tmp_path: Path) -> None:
    mine = tmp_path / "mine"
    assert import_archive(archive, mine, is_look=True).named(Fate.NEW) == (
        "arm", "our-tables", "wheel",
    )  # fmt: skip
    assert not mine.exists()
    assert import_archive(archive, mine, only=["arm"]).fates == {"arm": Fate.NEW}
    assert not (mine / "wheel").exists()
    with pytest.raises(InputError) as refused:
        import_archive(archive, mine, only=["nobody"])
    assert refused.value.code == "import-unknown"


def test_what_was_removed_here_does_not_come_back_by_itself(archive: Path, tmp_path: Path) -> None:
    mine = shop(tmp_path / "mine", "arm")
    EnquiryFolder(folder=mine).remove("arm")
    assert import_archive(archive, mine).fates["arm"] is Fate.REMOVED
    assert not (mine / "arm").exists()


Edit = Callable[[dict[str, Any], dict[str, bytes]], None]


def forged(archive: Path, edit: Edit) -> Path:
    """Write an archive again after an edit of its note and its members."""
    with zipfile.ZipFile(archive) as old:
        members = {name: old.read(name) for name in old.namelist() if name != NOTE}
        note = json.loads(old.read(NOTE))
    edit(note, members)
    target = archive.with_name("forged.zip")
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as new:
        for name, content in members.items():
            new.writestr(name, content)
        new.writestr(NOTE, json.dumps(note))
    return target


def keep(note: dict[str, Any], members: dict[str, bytes], name: str, content: bytes) -> None:
    members[f"jobs/{name}"] = content
    note["files"][name] = [digest(content), len(content), 0]


def climbing(note: dict[str, Any], members: dict[str, bytes]) -> None:
    keep(note, members, "../outside", b"x")


def rooted(note: dict[str, Any], members: dict[str, bytes]) -> None:
    keep(note, members, "/etc/outside", b"x")


def backwards(note: dict[str, Any], members: dict[str, bytes]) -> None:
    keep(note, members, "wheel\\..\\..\\outside", b"x")


def unlisted(_note: dict[str, Any], members: dict[str, bytes]) -> None:
    members["jobs/wheel/more"] = b"x"


def changed(_note: dict[str, Any], members: dict[str, bytes]) -> None:
    members["jobs/arm/arm.dxf"] = b"another drawing"


def of_one_name(note: dict[str, Any], members: dict[str, bytes]) -> None:
    keep(note, members, "ARM/enquiry.json", b"{}")


def of_another_folder(note: dict[str, Any], members: dict[str, bytes]) -> None:
    keep(note, members, "arm/enquiry.json", members["jobs/wheel/enquiry.json"])


def no_job(note: dict[str, Any], members: dict[str, bytes]) -> None:
    keep(note, members, "zz/enquiry.json", b"{}")


def bad_name(note: dict[str, Any], members: dict[str, bytes]) -> None:
    text = members["jobs/arm/enquiry.json"].replace(b'"id": "arm"', b'"id": "A b"')
    keep(note, members, "A b/enquiry.json", text)


def bomb(note: dict[str, Any], members: dict[str, bytes]) -> None:
    keep(note, members, "arm/zeros", bytes(20_000_000))


@pytest.mark.parametrize(
    "edit",
    [climbing, rooted, backwards, unlisted, changed, of_one_name, of_another_folder, no_job,
     bad_name, bomb],
)  # fmt: skip
def test_an_archive_with_a_trick_is_refused_whole(
    archive: Path, tmp_path: Path, edit: Edit
) -> None:
    mine = shop(tmp_path / "mine", "pawl")
    before = contents(tmp_path)
    bad = forged(archive, edit)
    with pytest.raises(InputError) as refused:
        import_archive(bad, mine)
    assert refused.value.code in {"backup-damaged", "import-too-large"}
    after = contents(tmp_path)
    del after["forged.zip"]
    assert after == before


def test_a_link_in_an_archive_becomes_a_file_of_the_job(archive: Path, tmp_path: Path) -> None:
    def link(note: dict[str, Any], members: dict[str, bytes]) -> None:
        keep(note, members, "arm/link", b"/etc/passwd")

    bad = forged(archive, link)
    with zipfile.ZipFile(bad, "a") as closed:
        # As `zip -y` marks a symbolic link (POSIX S_IFLNK in the upper half).
        closed.getinfo("jobs/arm/link").external_attr = 0o120777 << 16
    import_archive(bad, tmp_path / "mine")
    found = tmp_path / "mine" / "arm" / "link"
    assert not found.is_symlink()
    assert found.read_bytes() == b"/etc/passwd"


def test_a_backup_of_the_page_is_what_a_shop_hands_over(
    archive: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    mine = tmp_path / "mine"
    assert run(["import", str(archive), "--jobs", str(mine), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["jobs"]["wheel"] == "new"
    (mine / "wheel" / "wheel.dxf").write_bytes(b"edited here")
    assert run(["import", str(archive), "--jobs", str(mine)]) == 1
    assert "another one of this name is there" in capsys.readouterr().out
    assert (mine / "wheel" / "wheel.dxf").read_bytes() == b"edited here"
    # And out again: the archive of a shop that imported is one itself.
    assert run(["backup", str(tmp_path / "again.zip"), "--jobs", str(mine)]) == 0
    shutil.rmtree(mine)
    assert run(["import", str(tmp_path / "again.zip"), "--jobs", str(mine)]) == 0
    assert (mine / "wheel" / "wheel.dxf").read_bytes() == b"edited here"
