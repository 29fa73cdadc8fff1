"""A seat of a shop at work until it is killed: ``python killed_shop.py JOBS SEAT SEED``.

Before each deed a line says what is about to be done, after it another that it is done: whoever
reads them knows what must be there when the seat is killed between any two of its instructions.
"""

from __future__ import annotations

import itertools
import json
import random
import sys
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from kerfwright.adapters.backup.making import make_backup
from kerfwright.adapters.enquiry_store import EnquiryStore, open_store
from kerfwright.adapters.enquiry_versions import take_back_job
from kerfwright.adapters.index.query import Query
from kerfwright.adapters.job_folder import write_job
from kerfwright.adapters.owned_files import add_files
from kerfwright.adapters.removed_jobs import delete_for_good
from kerfwright.adapters.versions import numbers_of, write_versioned

SHARED = "shared"
_MOST = 6
_MADE = ("job.toml", "plan.json", "program.nc", "proof.json", "estimate.json", "plan.svg")
_WEIGHTS = {
    "change": 6, "write": 6, "papers": 2, "take back": 2, "remove": 2, "bring back": 3,
    "delete": 1, "share": 3, "list": 2, "back up": 1,
}  # fmt: skip


def contents(mark: str) -> dict[str, str]:
    """Return files of one run: each begins with the mark, each long enough to be torn."""
    return {name: f"{mark} {name} {mark * 2000}" for name in _MADE}


class Seat:
    """A seat with jobs of its own."""

    def __init__(self, jobs: Path, seat: str, seed: int) -> None:
        self.store: EnquiryStore = open_store(jobs)
        self.seat, self.dice = seat, random.Random(seed)  # noqa: S311 no secret
        self.marks = (f"{seat}{number}" for number in itertools.count())
        self.listed: list[str] = []
        self.removed: list[str] = []
        self.written: set[str] = set()

    def work(self) -> None:
        """Do one thing after another."""
        while True:
            if len(self.listed) + len(self.removed) < _MOST:
                self.add()
                continue
            (what,) = self.dice.choices(list(_WEIGHTS), list(_WEIGHTS.values()))
            getattr(self, what.replace(" ", "_"))()

    def say(self, when: str, what: str, job: str, mark: str = "", **more: Any) -> None:
        """Write one line, at once."""
        print(json.dumps([when, what, job, mark, more]), flush=True)  # noqa: T201

    def one(self) -> str:
        """Return a job on the list, or nothing where there is none."""
        return self.dice.choice(self.listed) if self.listed else ""

    def add(self) -> None:
        mark = next(self.marks)
        self.say("begin", "add", mark, mark)
        now = datetime.now(UTC)
        made = self.store.add(f"{mark}.dxf", mark.encode() * 3000, added=now)
        self.say("done", "add", made.id, mark)
        self.listed.append(made.id)

    def change(self) -> None:
        if job := self.one():
            mark = next(self.marks)
            self.say("begin", "change", job, mark)
            self.store.change(job, lambda now: now.with_lines({"customer": mark}))
            self.say("done", "change", job, mark)

    def write(self) -> None:
        if job := self.one():
            mark = next(self.marks)
            self.say("begin", "write", job, mark)
            asked = self.store.read(job).asked
            write_job(self.store.place_of(job), contents(mark), asked=asked)
            self.say("done", "write", job, mark, version=numbers_of(self.store.place_of(job))[-1])
            self.written.add(job)

    def papers(self) -> None:
        job = self.one()
        if job in self.written:
            place, paper = self.store.place_of(job), {"quote.pdf": next(self.marks) * 5000}
            self.say("begin", "papers", job)
            write_versioned(place, lambda keep: add_files(place, paper, keep=keep), asked={})
            self.say("done", "papers", job)

    def take_back(self) -> None:
        job = self.one()
        if job in self.written:
            place = self.store.place_of(job)
            number = self.dice.choice(numbers_of(place))
            self.say("begin", "take back", job, version=number)
            take_back_job(place, number)
            self.say("done", "take back", job, version=number)

    def remove(self) -> None:
        if job := self.one():
            self.say("begin", "remove", job)
            self.store.remove(job)
            self.say("done", "remove", job)
            self.listed.remove(job)
            self.removed.append(job)

    def bring_back(self) -> None:
        if self.removed:
            job = self.dice.choice(self.removed)
            self.say("begin", "bring back", job)
            self.store.bring_back(job)
            self.say("done", "bring back", job)
            self.removed.remove(job)
            self.listed.append(job)

    def delete(self) -> None:
        if len(self.removed) > 1:
            job = self.removed[0]
            self.say("begin", "delete", job)
            delete_for_good(self.store.folder, job)
            self.say("done", "delete", job)
            self.removed.remove(job)

    def share(self) -> None:
        mark = next(self.marks)
        self.say("begin", "share", SHARED, mark)
        self.store.change(SHARED, lambda now: now.with_lines({f"layer {mark}": "ignore"}))
        self.say("done", "share", SHARED, mark)

    def list(self) -> None:
        self.store.listed(Query(search=self.seat, most=5))

    def back_up(self) -> None:
        mark = next(self.marks)
        self.say("begin", "back up", "", mark)
        make_backup(self.store.folder, self.store.folder.parent / f"{mark}.zip")
        self.say("done", "back up", "", mark)


if __name__ == "__main__":
    Seat(Path(sys.argv[1]), sys.argv[2], int(sys.argv[3])).work()
