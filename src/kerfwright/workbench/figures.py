"""When the shop's own figures changed last: what was computed before stands no longer."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Final

from kerfwright.app.enquiries import Enquiry, Stage

if TYPE_CHECKING:
    from kerfwright.workbench.desk import Desk

MOVING: Final = frozenset({Stage.OPEN, Stage.QUOTED})
"""Stages in which a price follows the shop's figures."""
Stamp = tuple[tuple[str, int], ...]


def stamp_of(folders: Iterable[Path | None], files: Iterable[Path] = ()) -> Stamp:
    """Return the files of some folders, and single ones, with when each was written last, ns.

    Parameters
    ----------
    folders : iterable of Path or None
        Looked through whole; None, or one that is not there yet, holds nothing.
    files : iterable of Path
    """
    places = [p for folder in folders if folder is not None for p in sorted(folder.rglob("*"))]
    return tuple((str(p), p.stat().st_mtime_ns) for p in (*places, *files) if p.is_file())


def is_of_before(enquiry: Enquiry, figures: str) -> bool:
    """Return whether the price of a job on the list is not by the shop's figures of now.

    One kept by a version that did not write by which figures is taken for those of its proof.
    """
    known = enquiry.outcome.get("figures", enquiry.figures)
    is_shown = bool(enquiry.outcome.get("each") or enquiry.outcome.get("not_offered"))
    return enquiry.stage in MOVING and is_shown and bool(known) and known != figures


def current(enquiry: Enquiry, desk: Desk) -> Enquiry:
    """Return a job as it stands by the shop's figures of now, computed anew if they changed.

    Whoever changed them: the page, the command line or an editor.  A job that was ordered keeps
    what it was ordered by until it is opened again.

    Parameters
    ----------
    enquiry : Enquiry
    desk : Desk
    """
    known = desk.computed_by(enquiry.id)
    if enquiry.stage not in MOVING or not (known or enquiry.proved_revision):
        return enquiry
    if (known or enquiry.figures) == desk.figures():
        return enquiry
    return desk.renew(enquiry)
