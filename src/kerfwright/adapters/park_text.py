"""The file of the park as a text; what reads it is :mod:`kerfwright.adapters.park_file`."""

from __future__ import annotations

from importlib import resources
from pathlib import Path
from typing import Final

from kerfwright.foundation.errors import FileError

PARK: Final = "park.toml"


def park_text(folder: Path) -> str | None:
    """Return the text of the park of a folder of jobs; None where there is none.

    Raises
    ------
    FileError
        Code ``park-unreadable``.
    """
    place = folder / PARK
    try:
        return place.read_text(encoding="utf-8")
    except FileNotFoundError:
        return None
    except (OSError, UnicodeDecodeError) as fault:
        raise FileError(
            f"cannot read: {fault}", code="park-unreadable", where=str(place),
            remedy="Check the path.",
        ) from fault  # fmt: skip


def sample_text() -> str:
    """Return a park to begin with: the sample's machines and hours, without its jobs."""
    whole = (resources.files("kerfwright") / "data" / "samples" / PARK).read_text(encoding="utf-8")
    head = whole.partition("# What is said of a job")[0]
    # Comments about the sample, and what stood in the week of the sample.
    lines = [
        line
        for line in head.splitlines()
        if not line.startswith(("down =", "# The machines and hours", "# for `kerfwright"))
        and "holidays" not in line
    ]
    return "\n".join(lines).strip() + "\n"
