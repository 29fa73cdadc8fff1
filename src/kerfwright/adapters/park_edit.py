"""Keep a park that somebody wrote on the page, and note that a machine stands."""

from __future__ import annotations

from pathlib import Path
from typing import Final

from kerfwright.adapters.park_file import read_park, span_of
from kerfwright.adapters.park_text import PARK, park_text
from kerfwright.adapters.whole_files import one_writer, write_whole
from kerfwright.foundation.errors import InputError

MOST_LETTERS: Final = 200_000
"""A park of a thousand machines and jobs has fewer."""


def keep_park(folder: Path, text: str, *, instead_of: str | None) -> None:
    """Keep a text as the park, if it can be used and nobody changed the file meanwhile.

    Parameters
    ----------
    folder : Path
        Of the jobs.
    text : str
    instead_of : str or None
        What stood there when it was written; None for no file.

    Raises
    ------
    InputError
        Codes ``park-changed``, ``park-too-long``, and those of reading a park.
    FileError
    """
    if len(text) > MOST_LETTERS:
        raise InputError(
            f"the text has more than {MOST_LETTERS} letters", code="park-too-long",
            where=str(folder / PARK), remedy="A park is shorter: see docs/scheduling.md.",
        )  # fmt: skip
    read_park(folder / PARK, text)
    with one_writer(folder):
        if park_text(folder) != instead_of:
            raise InputError(
                "the file was changed meanwhile", code="park-changed", where=str(folder / PARK),
                remedy="Look at it as it is now, and make your change again.",
            )  # fmt: skip
        write_whole(folder / PARK, text)


def add_down(folder: Path, machine: str, span: str) -> None:
    """Note in the park that a machine stands; all else in the file stays as it is.

    Parameters
    ----------
    folder : Path
        Of the jobs.
    machine : str
    span : str
        ``2026-12-01 08:00 to 2026-12-01 12:00, spindle``.

    Raises
    ------
    InputError
        Codes ``schedule-down-text``, ``park-missing`` and those of reading a park.
    FileError
    """
    import tomlkit

    span_of(span)
    with one_writer(folder):
        text = park_text(folder)
        park = read_park(folder / PARK, text)
        if machine not in {one.id for one in park.machines}:
            raise InputError(
                f"there is no machine {machine!r} in the park", code="schedule-down-text",
                remedy=f"Name one of {', '.join(one.id for one in park.machines)}.",
            )  # fmt: skip
        document = tomlkit.parse(text or "")
        for row in document["machine"]:
            if row["id"] == machine:
                row.setdefault("down", tomlkit.array()).append(span.strip())
        after = tomlkit.dumps(document)
        read_park(folder / PARK, after)
        write_whole(folder / PARK, after)
