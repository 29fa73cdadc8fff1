"""Offsets that a shop said it set, one file each beside its measured cuts."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

from kerfwright.adapters.owned_files import digest
from kerfwright.adapters.whole_files import read_whole, write_whole
from kerfwright.foundation.errors import InputError
from kerfwright.learning.batch import OffsetSaid, SizeKey
from kerfwright.learning.records import MeasuredCut

_NAME: Final = 32
"""Digits of the hash that names one."""


def size_key(cut: MeasuredCut) -> SizeKey:
    """Return which size a cut has."""
    return cut.batch, cut.place, cut.job, cut.pass_number, cut.size_error_um


@dataclass(frozen=True, slots=True, kw_only=True)
class SetOffsets:
    """What a shop said of its offsets: ``<hash>.json`` each, never changed.

    Attributes
    ----------
    folder : Path
    rules : LearningRules
    """

    folder: Path

    def keep(self, said: OffsetSaid, cuts: Sequence[MeasuredCut]) -> str:
        """Keep what was said, with the sizes from before, and return its name.

        Parameters
        ----------
        said : OffsetSaid
        cuts : sequence of MeasuredCut
            Those from before.
        """
        document = {
            "of": said.of,
            "smaller_um": said.smaller_um,
            "reason": said.reason,
            # A second setting by as much is another one.
            "after": len(list(self._files())),
            "sizes": sorted(size_key(cut) for cut in cuts if cut.size_error_um is not None),
        }
        text = json.dumps(document, ensure_ascii=False) + "\n"
        name = digest(text)[:_NAME]
        write_whole(self.folder / f"{name}.json", text)
        return name

    def every(self) -> tuple[OffsetSaid, ...]:
        """Return all that was said, by its name, also what was taken back.

        Raises
        ------
        InputError
            Code ``cuts-damaged``.
        """
        return tuple(self._read(path) for path in self._files())

    def live(self, name: str) -> OffsetSaid | None:
        """Return the one that counts and has a name that begins so; None where there is not one."""
        found = [s for s in self.every() if name and s.name.startswith(name) and not s.withdrawn]
        return found[0] if len(found) == 1 else None

    def withdraw(self, said: OffsetSaid, reason: str) -> None:
        """Let it count no more; it stays on file."""
        write_whole(self._note(said.name), reason + "\n")

    def applied(self, cuts: Sequence[MeasuredCut]) -> list[MeasuredCut]:
        """Return cuts with what their offsets were set by since they were measured."""
        since: dict[SizeKey, float] = {}
        for one in self.every():
            if not one.withdrawn:
                for key in one.sizes:
                    since[key] = since.get(key, 0.0) + one.smaller_um
        if not since:
            return list(cuts)
        return [
            replace(cut, offset_set_um=um) if (um := since.get(size_key(cut), 0.0)) else cut
            for cut in cuts
        ]

    def _files(self) -> Iterator[Path]:
        return iter(sorted(self.folder.glob("*.json")))

    def _note(self, name: str) -> Path:
        return self.folder / "withdrawn" / f"{name}.txt"

    def _read(self, path: Path) -> OffsetSaid:
        text, note = read_whole(path), self._note(path.stem)
        if digest(text)[:_NAME] != path.stem:
            raise _damaged(path)
        try:
            said = json.loads(text)
            return OffsetSaid(
                of=str(said["of"]),
                smaller_um=float(said["smaller_um"]),
                reason=str(said["reason"]),
                sizes=tuple(
                    (str(batch), str(place), str(job), int(number), float(um))
                    for batch, place, job, number, um in said["sizes"]
                ),
                name=path.stem,
                withdrawn=read_whole(note).strip() if note.exists() else "",
            )
        except (ValueError, KeyError, TypeError) as fault:
            raise _damaged(path) from fault


def _damaged(path: Path) -> InputError:
    return InputError(
        "what was said of an offset cannot be read, or was changed since",
        code="cuts-damaged",
        where=str(path),
        remedy="Put the copy of a backup back, or delete it and say again that the offset was set.",
    )
