"""A job taken off the list is kept whole, brought back whole, and deleted only on purpose."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from kerfwright.adapters.enquiry_store import EnquiryStore, open_store
from kerfwright.adapters.index.query import Query
from kerfwright.adapters.job_folder import write_job
from kerfwright.adapters.removed_jobs import delete_for_good, removed_jobs
from kerfwright.foundation.errors import FileError, InputError, UnknownNameError

NOW = datetime(2027, 1, 31, 7, 0, tzinfo=UTC)


@pytest.fixture
def store(tmp_path: Path) -> Iterator[EnquiryStore]:
    found = open_store(tmp_path / "jobs")
    found.ready()
    yield found
    found.index.close()


def names(store: EnquiryStore) -> list[str]:
    return [one.id for one in store.listed(Query()).enquiries]


def whole(place: Path) -> dict[str, bytes]:
    return {
        str(p.relative_to(place)): p.read_bytes()
        for p in sorted(place.rglob("*"))
        if p.is_file() and p.name != ".writing"
    }


def test_a_delete_is_undone_whole(store: EnquiryStore) -> None:
    one = store.add("wheel.dxf", b"x", added=NOW)
    store.change(one.id, lambda now: now.with_lines({"customer": "Ada"}))
    write_job(store.place_of(one.id), {"plan.json": "{}"}, refused=True)
    before = whole(store.folder / one.id)
    store.remove(one.id)
    assert names(store) == []
    (kept,) = removed_jobs(store.folder)
    assert (kept.name, kept.id, kept.title, kept.customer) == ("wheel", "wheel", "wheel.dxf", "Ada")
    assert datetime.fromisoformat(kept.removed).tzinfo is not None
    assert store.bring_back("wheel") == "wheel"
    assert whole(store.folder / one.id) == before
    assert names(store) == ["wheel"]
    assert not list(removed_jobs(store.folder))


def test_a_name_is_free_for_its_job_only(store: EnquiryStore) -> None:
    first = store.add("wheel.dxf", b"x", added=NOW)
    store.remove(first.id)
    assert store.add("wheel.dxf", b"y", added=NOW).id == "wheel-2"
    store.bring_back("wheel")
    store.remove("wheel")
    delete_for_good(store.folder, "wheel")
    assert not list(removed_jobs(store.folder))
    # Measured cuts still name the one that was deleted.
    assert store.add("wheel.dxf", b"z", added=NOW).id == "wheel-3"


def test_a_job_is_not_brought_back_onto_another(store: EnquiryStore) -> None:
    one = store.add("wheel.dxf", b"x", added=NOW)
    store.remove(one.id)
    (store.folder / "wheel").mkdir()
    with pytest.raises(InputError) as caught:
        store.bring_back("wheel")
    assert caught.value.code == "job-there"
    assert [one.name for one in removed_jobs(store.folder)] == ["wheel"]


@pytest.mark.parametrize("name", ["nobody", "..", ".", "", "wheel/..", ".going-x", "a" * 300])
def test_what_was_not_removed_is_refused(store: EnquiryStore, name: str) -> None:
    store.add("wheel.dxf", b"x", added=NOW)
    for deed in (store.bring_back, lambda n: delete_for_good(store.folder, n)):
        with pytest.raises(UnknownNameError):
            deed(name)
    assert names(store) == ["wheel"]


def test_a_delete_that_was_cut_short_leaves_no_half_a_job(
    store: EnquiryStore, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in ("wheel.dxf", "arm.dxf"):
        store.remove(store.add(name, b"x", added=NOW).id)

    rmtree = shutil.rmtree

    def torn(place: Path, **more: Any) -> None:
        if Path(place).name.startswith(".going-"):
            raise OSError(5, "Input/output error")
        rmtree(place, **more)

    with monkeypatch.context() as patched:
        patched.setattr("shutil.rmtree", torn)
        with pytest.raises(FileError, match="delete all"):
            delete_for_good(store.folder, "wheel")
    assert [one.name for one in removed_jobs(store.folder)] == ["arm"]
    delete_for_good(store.folder, "arm")
    assert not [p for p in (store.folder / ".removed").iterdir() if p.is_dir()]


def test_a_job_that_cannot_be_read_is_brought_back_all_the_same(store: EnquiryStore) -> None:
    one = store.add("wheel.dxf", b"x", added=NOW)
    store.remove(one.id)
    (store.folder / ".removed" / "wheel" / "enquiry.json").write_text("{")
    assert store.bring_back("wheel") == "wheel"
    assert len(store.listed(Query()).unreadable) == 1
