"""Lines of an enquiry held to the tables, by the server itself: an edit waits for no worker.

Apart from :mod:`kerfwright.wiring`, which loads all that computes: the first line that is written
after a start would wait for that.
"""

from __future__ import annotations

from pathlib import Path

from kerfwright.adapters.fit_tables import load_fits
from kerfwright.adapters.own_machines import machine_called
from kerfwright.adapters.tables import load_tables
from kerfwright.app.enquiry_lines import check_line


def check_asked(
    name: str, text: str, *, tables: Path | None = None, takes_paths: bool = True
) -> None:
    """Refuse a text that a line of an enquiry cannot mean; the message says why.

    Parameters
    ----------
    name, text : str
    tables : Path or None
        Of the shop.
    takes_paths : bool
        Whether a machine may be named by the path of its file.

    Raises
    ------
    KerfwrightError
    """
    catalogue = load_tables(tables).catalogue
    check_line(
        name,
        text,
        catalogue=catalogue,
        machine_of=lambda said: machine_called(said, tables, takes_paths=takes_paths),
        fits=load_fits(),
    )
