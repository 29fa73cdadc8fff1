"""What a worker hands back; loads nothing, so that the server starts at once."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import asdict, dataclass
from typing import Any

from kerfwright.app.taken_lines import are_taken, stand_instead

Document = dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Drafted:
    """A draft, and what is sent as bytes."""

    draft: Document
    geometry: bytes
    wire: bytes

    def show_free(self, asked: Mapping[str, str], names: Collection[str]) -> None:
        """Show lines as they read now, in the ledger and in what the drawing says of them.

        They change no number.

        Parameters
        ----------
        asked : mapping of str to str
        names : collection of str
            Of those lines.
        """
        for line in self.draft["ledger"]:
            if line["name"] in names:
                line["asked"] = asked.get(line["name"], "")
        for reading in (r for one in self.draft["says"] for r in one["readings"]):
            lines = reading["asks"]
            if lines and set(lines) <= set(names):
                reading["is_taken"] = are_taken(lines, asked)
                reading["instead"] = [asdict(one) for one in stand_instead(lines, asked)]


@dataclass(frozen=True, slots=True, kw_only=True)
class Proved:
    """A verdict, the reasons of its numbers, and what is sent as bytes.

    The bytes are empty where no program was written, those of the space also where no wall leans.
    """

    verdict: Document
    reasons: dict[str, Document]
    path: bytes
    pieces: bytes
    deviations: bytes
    space: bytes = b""
    walls: bytes = b""
