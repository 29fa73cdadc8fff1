"""Killed at random moments while two seats work: nothing lost, nothing half-written."""

from __future__ import annotations

import contextlib
import json
import os
import random
import shutil
import signal
import subprocess
import sys
import threading
import time
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa
from tests.killed_shop import SHARED, contents
from tests.soak import SOAK

from kerfwright.adapters.backup.restoring import check_backup
from kerfwright.adapters.enquiry_store import EnquiryStore, open_store
from kerfwright.adapters.index.query import Query
from kerfwright.adapters.index.schema import files, jobs, removed, versions
from kerfwright.adapters.job_folder import write_job
from kerfwright.adapters.owned_files import is_cut_short, made
from kerfwright.adapters.removed_jobs import REMOVED, removed_jobs
from kerfwright.adapters.versions import Version, files_of, place_of, versions_of
from kerfwright.app.enquiries import Enquiry

KILLS = 100 if SOAK else 3
SEATS = ("a", "b")
PROGRAM = Path(__file__).parents[1] / "killed_shop.py"
_LONGEST_S = 2.0 if SOAK else 0.7
Line = tuple[str, str, str, str, dict[str, Any]]


@dataclass
class Known:
    """What must be there of one job, by what a seat said when it was through."""

    customer: str = ""
    mark: str = ""
    where: str = "listed"
    versions: dict[int, str] = field(default_factory=dict)
    begun: Line | None = None


@dataclass
class Told:
    """What all seats said."""

    jobs: dict[str, Known] = field(default_factory=dict)
    shared: set[str] = field(default_factory=set)
    backups: list[str] = field(default_factory=list)
    deeds: int = 0

    def take(self, lines: list[str]) -> None:
        """Take over what one seat said until it was killed."""
        for text in lines:
            if not text.endswith("\n"):
                # The last line was cut: what it would have said is as if it had not been said.
                break
            when, what, job, mark, more = json.loads(text)
            if when == "begin":
                if what == "add":
                    self.jobs[job] = Known(where="adding")
                if job in self.jobs:
                    self.jobs[job].begun = (when, what, job, mark, more)
                continue
            self.deeds += 1
            self._done(what, job, mark, more)

    def _done(self, what: str, job: str, mark: str, more: dict[str, Any]) -> None:
        if what == "share":
            self.shared.add(mark)
        elif what == "back up":
            self.backups.append(mark)
        else:
            one = self.jobs[job]
            one.begun = None
            if what == "change":
                one.customer = mark
            elif what == "write":
                one.mark = mark
                one.versions[more["version"]] = mark
            elif what == "take back":
                # Which mark an earlier version has is looked up when all is read.
                one.mark = one.customer = "?"
            elif what in {"add", "bring back"}:
                one.where = "listed"
            elif what in {"remove", "delete"}:
                one.where = f"{what}d"


def killed(folder: Path, seed: int) -> Told:
    """Let two seats work and kill both at a moment that nobody chose."""
    dice = random.Random(seed)  # noqa: S311 no secret
    said: dict[str, list[str]] = {seat: [] for seat in SEATS}
    seats = {
        seat: subprocess.Popen(  # noqa: S603 our own program
            [sys.executable, str(PROGRAM), str(folder), seat, str(dice.randrange(10**9))],
            stdout=subprocess.PIPE,
            text=True,
            env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)},
        )
        for seat in SEATS
    }

    def listen(seat: str) -> None:
        stream = seats[seat].stdout
        assert stream is not None
        with stream:
            said[seat].extend(stream)

    ears = [threading.Thread(target=listen, args=(seat,)) for seat in SEATS]
    for ear in ears:
        ear.start()
    # Not before the load is on: an interpreter that starts has nothing to lose.
    while not all(len(lines) > 3 for lines in _so_far(folder)):
        assert all(one.poll() is None for one in seats.values())
        time.sleep(0.01)
    time.sleep(dice.uniform(0, _LONGEST_S))
    for seat in sorted(SEATS, key=lambda _: dice.random()):
        seats[seat].send_signal(signal.SIGKILL)
    for one, ear in zip(seats.values(), ears, strict=True):
        ear.join()
        assert one.wait() == -signal.SIGKILL
    told = Told()
    for lines in said.values():
        told.take(lines)
    return told


def _so_far(folder: Path) -> list[list[str]]:
    """Return the jobs that each seat has made so far."""
    return [[p.name for p in folder.iterdir() if p.name.startswith(seat)] for seat in SEATS]


def look(store: EnquiryStore, told: Told) -> None:
    """Hold the folder to what the seats said."""
    listed = store.listed(Query())
    assert not listed.unreadable
    every = list(store.all())
    assert all(isinstance(one, Enquiry) for one in every)
    on_list = {one.id: one for one in every if isinstance(one, Enquiry)}
    off_list = {one.id for one in removed_jobs(store.folder)}
    assert not on_list.keys() & off_list
    assert {one.id for one in listed.enquiries} == on_list.keys()
    # No folder without an enquiry: nothing came in by half.
    folders = {p.name for p in store.folder.iterdir() if p.is_dir() and p.name[0] != "."}
    assert folders == on_list.keys()
    assert {f"layer {mark}" for mark in told.shared} <= on_list[SHARED].asked.keys()
    for job, one in told.jobs.items():
        begun = one.begun[1] if one.begun else ""
        places = {
            "adding": {"listed", "none"},
            "listed": {"listed"} | ({"removed"} if begun == "remove" else set()),
            "removed": {"removed"}
            | ({"listed"} if begun == "bring back" else {"none"} if begun == "delete" else set()),
            "deleted": {"none"},
        }[one.where]
        found = "listed" if job in on_list else "removed" if job in off_list else "none"
        assert found in places, (job, one)
        if found != "none":
            place = store.folder / job if found == "listed" else store.folder / REMOVED / job
            look_at_job(place, on_list.get(job), one, begun)


def look_at_job(place: Path, enquiry: Enquiry | None, one: Known, begun: str) -> None:
    next_mark = one.begun[3] if one.begun else ""
    if enquiry is not None and one.customer != "?" and begun != "take back":
        allowed = {one.customer} | ({next_mark} if begun == "change" else set())
        assert enquiry.asked.get("customer", "") in allowed
    assert len((place / f"{place.name}.dxf").read_bytes()) == 3000 * len(place.name)
    kept = list(versions_of(place))
    assert all(isinstance(version, Version) for version in kept), kept
    marks: dict[int, str] = {}
    for version in kept:
        assert isinstance(version, Version)
        whole = files_of(place, version.number)
        mark = whole["plan.json"].split()[0].decode()
        assert {n: t for n, t in whole.items() if n != "quote.pdf"} == {
            n: t.encode() for n, t in contents(mark).items()
        }
        marks[version.number] = mark
    assert {n: marks.get(n) for n in one.versions} == one.versions
    if enquiry is None or not marks:
        return
    # All files are of one run: that of the last word, or of the deed that was cut.
    assert not is_cut_short(place)
    lying = {n for n in made(place) if (place / n).is_file()} - {"quote.pdf"}
    mark = (place / "plan.json").read_text().split()[0] if lying else ""
    assert {n: (place / n).read_text() for n in lying} == (contents(mark) if lying else {})
    if one.mark != "?" and begun not in {"take back", "papers"}:
        allowed = {one.mark} | ({next_mark} if begun == "write" else set())
        assert mark in allowed


def rows(store: EnquiryStore) -> list[list[tuple[Any, ...]]]:
    """Return what the index holds, its stamps aside."""
    with store.index.reading() as connection:
        return [
            sorted(
                map(
                    tuple,
                    connection.execute(sa.select(*(c for c in one.c if c.name != "stamp"))),
                ),
                key=repr,
            )
            for one in (jobs, versions, files, removed)
        ]


def test_nothing_is_lost_or_half_written_at_any_moment(tmp_path: Path) -> None:
    seed = int.from_bytes(os.urandom(4)) if SOAK else 20270131
    deeds = 0
    for kill in range(KILLS):
        folder = tmp_path / f"jobs{kill}"
        store = open_store(folder)
        store.ready()
        store.add(f"{SHARED}.dxf", b"x", added=datetime.now(UTC))
        store.index.close()
        told = killed(folder, seed + kill)
        deeds += told.deeds
        try:
            look(store, told)
            with store.index.reading() as connection:
                assert connection.execute(sa.text("PRAGMA integrity_check")).scalar() == "ok"
            store.index.catch_up()
            kept = rows(store)
            store.index.rebuild()
            assert rows(store) == kept
            for mark in told.backups:
                check_backup(folder.parent / f"{mark}.zip")
            work_on(store)
        except BaseException as fault:
            fault.add_note(f"seed {seed}, kill {kill}, folder {folder}")
            raise
        store.index.close()
        shutil.rmtree(folder)
        for archive in tmp_path.glob("*.zip"):
            archive.unlink()
    # Under load indeed.
    assert deeds > 10 * KILLS


def work_on(store: EnquiryStore) -> None:
    """Whatever was left behind stands in nobody's way."""
    for one in list(store.listed(Query()).enquiries)[:5]:
        store.change(one.id, lambda now: now.with_lines({"customer": "after"}))
        write_job(store.place_of(one.id), contents("after"), asked={})
        store.remove(one.id)
        store.bring_back(one.id)
        assert (store.place_of(one.id) / "plan.json").read_text() == contents("after")["plan.json"]


def test_a_store_that_writes_in_place_would_be_found_out(tmp_path: Path) -> None:
    """The check is no blank: half a file, a lost version and a stray folder are each noticed."""
    harms = {
        "half": lambda f, j: (f / j / "enquiry.json").write_bytes(b'{"format'),
        "lost": lambda f, j: place_of(f / j, max(told.jobs[j].versions)).unlink(),
        "stray": lambda f, _: (f / "half-a-job").mkdir(),
        "mixed": lambda f, j: (f / j / "program.nc").write_text("other"),
    }
    store = open_store(tmp_path / "jobs")
    store.ready()
    store.add(f"{SHARED}.dxf", b"x", added=datetime.now(UTC))
    told = killed(store.folder, 7)
    look(store, told)
    job = next(
        j for j, k in told.jobs.items() if k.where == "listed" and k.versions and not k.begun
    )
    store.index.close()
    for harm, do in harms.items():
        copy = tmp_path / harm
        shutil.copytree(store.folder, copy)
        do(copy, job)
        other = open_store(copy)
        with pytest.raises(AssertionError):  # noqa: PT012 one after the other
            look(other, told)
            raise ValueError(f"{harm} was not noticed")
        other.index.close()
    with contextlib.suppress(FileNotFoundError):
        shutil.rmtree(tmp_path / "jobs")
