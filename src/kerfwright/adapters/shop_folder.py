"""A shop's measured cuts and what it learned, as files that a person can read and copy.

``cuts/<hash>.csv`` holds one batch each and ``learned/<hash>.json`` one posterior each, both named
by the hash of their content and never changed; ``learned/current`` names the last.  Recording one
cut twice therefore keeps it once, and every quote can be computed as it was.  A batch taken back
stays where it is, with a note beside it that says why.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

from kerfwright.adapters.cut_files import CutReader, Known, cuts_text, refused_text, rows_of
from kerfwright.adapters.owned_files import digest
from kerfwright.adapters.posterior_json import posterior_from, posterior_text
from kerfwright.adapters.set_offsets import SetOffsets, size_key
from kerfwright.adapters.whole_files import one_writer, read_whole, write_whole
from kerfwright.foundation.errors import FileError, InputError
from kerfwright.learning.batch import (
    Added,
    CutBatch,
    CutOfJob,
    KeptBatch,
    KeptCuts,
    OffsetSaid,
    RefusedRow,
)
from kerfwright.learning.posterior import Posterior
from kerfwright.learning.records import LearningRules, MeasuredCut
from kerfwright.trade.catalogue import Catalogue

_NAME: Final = 32
"""Digits of the hash that name a batch."""


_Size = tuple[str, int, float | None]


def _size_of(cut: MeasuredCut) -> _Size:
    return cut.job, cut.pass_number, cut.size_error_um


def _answer_name(size: _Size) -> str:
    """Return the name of the file of what somebody said of a size."""
    said = dict(zip(("job", "pass", "size_error_um"), size, strict=True))
    return f"{digest(json.dumps(said, sort_keys=True))[:_NAME]}.json"


@dataclass(frozen=True, slots=True, kw_only=True)
class ShopFolder:
    """The store of a shop as plain files.

    Attributes
    ----------
    folder : Path
        Made when first written to, for its owner only.
    catalogue : Catalogue
        Materials and wires that the cuts name.
    rules : LearningRules
    """

    folder: Path
    catalogue: Catalogue
    rules: LearningRules

    def one_writer(self) -> AbstractContextManager[None]:
        """Keep other processes from writing meanwhile."""
        return one_writer(self.folder)

    def add(self, batch: CutBatch) -> Added:
        """Keep the cuts of a batch that are not kept yet, and its refused rows."""
        if batch.refused:
            text = refused_text(batch)
            write_whole(self.folder / "cuts" / "refused" / f"{digest(text)[:16]}.txt", text)
        known = self.known()
        new, alike = known.new(batch.cuts)
        if not new:
            return Added(name="", cuts=())
        text = cuts_text(new)
        name = digest(text)[:_NAME]
        write_whole(self._batch(name), text)
        self._take_back_withdrawal(name)
        return Added(name=name, cuts=tuple(new), alike=tuple(alike))

    def known(self) -> Known:
        """Return which cuts are kept and count."""
        known = Known()
        for path in self._live():
            known.take(rows_of(path))
        return known

    def cuts(self) -> KeptCuts:
        """Return every cut that counts, in an order that depends on the cuts alone.

        Raises
        ------
        InputError
            Code ``cuts-damaged`` with file and line: a store that lost a cut must not go on.
        """
        found: list[MeasuredCut] = []
        aside: list[RefusedRow] = []
        reader = CutReader(catalogue=self.catalogue)
        for path in self._live():
            if self._is_edited(path):
                raise InputError(
                    "the file was changed since it was recorded",
                    code="cuts-damaged",
                    where=str(path),
                    remedy="Put the copy of a backup back, or rename it and record it anew.",
                )
            cuts, unknown = reader.read(path)
            found += cuts
            aside += unknown
        return KeptCuts(cuts=tuple(self._answered(found)), aside=tuple(aside))

    @property
    def _offsets(self) -> SetOffsets:
        return SetOffsets(folder=self.folder / "cuts" / "offsets")

    def set_offset(self, said: OffsetSaid, cuts: Sequence[MeasuredCut]) -> str:
        """Keep that an offset was set since these cuts were measured; return what it is called."""
        return self._offsets.keep(said, cuts)

    def offsets(self) -> tuple[OffsetSaid, ...]:
        """Return the offsets that were said to be set, also those taken back."""
        return self._offsets.every()

    def _answered(self, cuts: Sequence[MeasuredCut]) -> list[MeasuredCut]:
        """Return cuts with what a person said of their sizes and sheets."""
        answers, sheets = self._confirmed(), self._confirmed_sheets()
        cuts = [replace(c, is_sheet_confirmed=True) if c.batch in sheets else c for c in cuts]
        cuts = [
            cut
            if (is_mended := answers.get(_size_of(cut))) is None
            else replace(cut, is_size_confirmed=not is_mended, is_size_mended=is_mended)
            for cut in cuts
        ]
        return self._offsets.applied(cuts)

    def confirm_sheets(self, *names: str, reason: str) -> tuple[MeasuredCut, ...]:
        """Keep that a person looked batches up and says that their rows are right; return them.

        Parameters
        ----------
        *names : str
            Their hashes or beginnings of them.
        reason : str

        Raises
        ------
        InputError
            Code ``batch-unknown``; nothing is kept then.
        """
        found: list[MeasuredCut] = []
        for path in dict.fromkeys([self._live_batch(name) for name in names]):
            write_whole(self._sheet_note(path.stem), (reason or "no reason given") + "\n")
            found += CutReader(catalogue=self.catalogue).read(path)[0]
        return tuple(found)

    def _sheet_note(self, name: str) -> Path:
        return self._confirmations() / "sheets" / f"{name}.txt"

    def _confirmed_sheets(self) -> frozenset[str]:
        return frozenset(path.stem for path in (self._confirmations() / "sheets").glob("*.txt"))

    def confirm_sizes(
        self, cuts: Sequence[MeasuredCut], reason: str, *, is_mended: bool = False
    ) -> None:
        """Keep that a person says that the measured sizes of these cuts are right.

        Parameters
        ----------
        cuts : sequence of MeasuredCut
        reason : str
        is_mended : bool
            Whether their cause is gone since.
        """
        for cut in cuts:
            said = {"job": cut.job, "pass": cut.pass_number, "size_error_um": cut.size_error_um}
            said |= {"reason": reason or "no reason given"}
            if is_mended:
                said |= {"mended": True}
            text = json.dumps(said, ensure_ascii=False)
            write_whole(self._confirmations() / _answer_name(_size_of(cut)), text + "\n")

    def _confirmations(self) -> Path:
        return self.folder / "cuts" / "confirmed"

    def _take_back_answers(self, cuts: Sequence[MeasuredCut]) -> None:
        """Let what was said of sizes count no more, where no cut that counts has them."""
        if not self._confirmed():
            return
        left = {_size_of(cut) for cut in self.cuts().cuts}
        for size in {_size_of(cut) for cut in cuts} - left:
            answer = self._confirmations() / _answer_name(size)
            if answer.exists():
                kept = self._confirmations() / "withdrawn"
                kept.mkdir(exist_ok=True)
                count = len(list(kept.glob(f"{answer.stem}-*.json"))) + 1
                answer.replace(kept / f"{answer.stem}-{count}.json")

    def _confirmed(self) -> dict[_Size, bool]:
        """Return the sizes that somebody answered for, and whether their cause is mended.

        Raises
        ------
        InputError
            Code ``cuts-damaged``.
        """
        found: dict[_Size, bool] = {}
        for path in sorted(self._confirmations().glob("*.json")):
            try:
                said = json.loads(read_whole(path))
                size = said["job"], said["pass"], said["size_error_um"]
                found[size] = said.get("mended", False) is True
            except (ValueError, KeyError, TypeError, AttributeError) as fault:
                raise InputError(
                    "the confirmation of a size cannot be read",
                    code="cuts-damaged",
                    where=str(path),
                    remedy="Put the copy of a backup back, or delete it and confirm again.",
                ) from fault
        return found

    def basis(self) -> str:
        """Return a hash of what learning rests on: batches that count, answers, and the rules."""
        names = [path.stem for path in self._live()]
        answers = {_answer_name(size): is_mended for size, is_mended in self._confirmed().items()}
        names += [f"{name} mended" if answers[name] else name for name in sorted(answers)]
        names += [f"{name} looked up" for name in sorted(self._confirmed_sheets())]
        names += [f"{one.name} offset" for one in self.offsets() if not one.withdrawn]
        return digest("\n".join([*names, repr(self.rules)]))

    def batches(self) -> tuple[KeptBatch, ...]:
        """Return every batch, also those taken back, by its name."""
        return tuple(self._listed(path) for path in self._files())

    def cuts_of(self, job: str) -> tuple[CutOfJob, ...]:
        """Return the cuts of a job, also those taken back, in the order they were recorded.

        Raises
        ------
        InputError
            Code ``cuts-damaged``.
        """
        reader = CutReader(catalogue=self.catalogue)
        found: list[CutOfJob] = []
        for path in sorted(self._files(), key=lambda path: path.stat().st_mtime_ns):
            batch = self._listed(path)
            if job in batch.jobs:
                cuts, _ = reader.read(path)
                own = [cut for cut in cuts if cut.job == job]
                own = own if batch.withdrawn else self._answered(own)
                found += [CutOfJob(cut=cut, batch=batch) for cut in own]
        return tuple(found)

    def withdraw(self, *names: str, reason: str) -> tuple[MeasuredCut, ...]:
        """Take batches back, or that an offset was set, by their hashes or beginnings of them.

        Returns
        -------
        tuple of MeasuredCut
            Cuts of the batches, and those that count as measured again.

        Raises
        ------
        InputError
            Code ``batch-unknown`` if there is none, or more than one, that counts; nothing is taken
            back then.
        """
        reason = reason or "no reason given"
        said = [self._offsets.live(name) for name in names]
        paths = [self._live_batch(n) for n, one in zip(names, said, strict=True) if one is None]
        offsets = {one.name: one for one in said if one is not None}
        moved = {key for one in offsets.values() for key in one.sizes}
        gone = [cut for cut in self.cuts().cuts if size_key(cut) in moved] if moved else []
        for one in offsets.values():
            self._offsets.withdraw(one, reason)
        for path in dict.fromkeys(paths):
            cuts, _ = CutReader(catalogue=self.catalogue).read(path)
            write_whole(self._note(path.stem), reason + "\n")
            self._take_back_answers(cuts)
            # Recorded again it is asked about again.
            self._sheet_note(path.stem).unlink(missing_ok=True)
            gone += cuts
        return tuple(gone)

    def _live_batch(self, name: str) -> Path:
        """Return the file of a batch that counts, by its hash or the beginning of it."""
        found = [path for path in self._live() if name and path.stem.startswith(name)]
        if len(found) != 1:
            gone = any(path.stem.startswith(name) for path in self._files()) if name else False
            raise InputError(
                f"{len(found)} batches that count are called {name!r}"
                + (" (one was taken back)" if gone else ""),
                code="batch-unknown",
                where=str(self.folder / "cuts"),
                remedy="record --shop FOLDER --list shows the batches.",
            )
        return found[0]

    def _files(self) -> list[Path]:
        return sorted((self.folder / "cuts").glob("*.csv"))

    def _live(self) -> Iterator[Path]:
        return (path for path in self._files() if not self._note(path.stem).exists())

    def _batch(self, name: str) -> Path:
        return self.folder / "cuts" / f"{name}.csv"

    def _note(self, name: str) -> Path:
        return self.folder / "cuts" / "withdrawn" / f"{name}.txt"

    def _take_back_withdrawal(self, name: str) -> None:
        """Let a batch count again, its note kept under another name."""
        note = self._note(name)
        if not note.exists():
            return
        count = len(list(note.parent.glob(f"{name}-*.txt"))) + 1
        note.replace(note.with_stem(f"{name}-{count}-recorded-again"))

    @staticmethod
    def _is_edited(path: Path) -> bool:
        """Return whether a batch is not as it was recorded: its name is its digest."""
        return digest(read_whole(path))[:_NAME] != path.stem

    def _listed(self, path: Path) -> KeptBatch:
        rows, note = rows_of(path), self._note(path.stem)
        return KeptBatch(
            name=path.stem,
            cuts=len(rows),
            jobs=tuple(sorted({row.get("job") or "" for row in rows})),
            source=(rows[0].get("place") or "").rsplit(" ", 2)[0] if rows else "",
            withdrawn=read_whole(note).strip() if note.exists() else "",
            is_edited=self._is_edited(path),
        )

    def save(self, posterior: Posterior) -> Posterior:
        """Keep a posterior, make it the current one and return it with its hash."""
        text = posterior_text(posterior)
        sha256 = digest(text)
        target = self.folder / "learned" / f"{sha256}.json"
        if not target.exists():
            write_whole(target, text)
        write_whole(self.folder / "learned" / "current", sha256 + "\n")
        return replace(posterior, sha256=sha256)

    def current_sha256(self) -> str:
        """Return the hash of what was learned last; empty where nothing was."""
        named = self.folder / "learned" / "current"
        return read_whole(named).strip() if named.is_file() else ""

    def current(self) -> Posterior | None:
        """Return what was learned last."""
        sha256 = self.current_sha256()
        return self.posterior(sha256) if sha256 else None

    def posterior(self, sha256: str) -> Posterior:
        """Return what was learned at some time, by its hash or the beginning of it.

        Raises
        ------
        FileError
            Code ``shop-folder-missing`` if there is no such folder, as where it was moved after
            a quote, ``experience-unknown`` if there is none or more than one of that name, or
            ``experience-damaged`` if it is not what its name says.
        """
        if not self.folder.is_dir():
            raise FileError(
                "shop folder not found: the job was quoted with the measured cuts that it holds",
                code="shop-folder-missing",
                where=str(self.folder),
                remedy="Give its place now with --shop, or put it back where it was.",
            )
        found = (
            sorted((self.folder / "learned").glob(f"{sha256}*.json")) if sha256.isalnum() else []
        )
        if len(found) != 1:
            raise FileError(
                f"there are {len(found)} records of experience called {sha256!r}",
                code="experience-unknown",
                where=str(self.folder / "learned"),
                remedy="Give the hash that the quote names.",
            )
        text = read_whole(found[0])
        if digest(text) != found[0].stem:
            raise FileError(
                "the file is not what was written",
                code="experience-damaged",
                where=str(found[0]),
                remedy="Put the copy of a backup back, or record a cut to learn anew.",
            )
        return posterior_from(json.loads(text), sha256=found[0].stem, rules=self.rules)
