"""From the folders of a shop to its numbers."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from pathlib import Path

from kerfwright.adapters.cut_files import measured_files
from kerfwright.adapters.enquiry_folder import OUR_CUTS, OUR_TABLES, EnquiryFolder
from kerfwright.adapters.quoted_jobs import quoted_jobs
from kerfwright.app.shop_numbers import ShopNumbers, numbers_of
from kerfwright.foundation.findings import Finding
from kerfwright.wiring import job_outcomes


def shop_numbers(
    jobs: Path,
    *,
    end: datetime,
    begin: datetime | None = None,
    tables: Path | None = None,
    shop: Path | None = None,
    progress: Callable[[str, float], None] = lambda _step, _share: None,
) -> tuple[ShopNumbers, tuple[Finding, ...]]:
    """Return the numbers of a shop, and what of its jobs could not be read.

    Parameters
    ----------
    jobs : Path
        Folder of the jobs.
    end, begin : datetime
        Period for the use of machines, by the clock on the wall; without a begin from the first
        mark.
    tables, shop : Path, optional
        The shop's own tables and measured cuts, where not among the jobs.
    progress : callable, optional
    """
    own = tables or jobs / OUR_TABLES
    cuts = shop or jobs / OUR_CUTS
    remarks: list[Finding] = []

    def measured(place: Path) -> tuple[float, float] | None:
        if not measured_files(place) or not cuts.is_dir():
            return None
        found = job_outcomes(place, shop=cuts, tables=own if own.is_dir() else None)
        if not found:
            return None
        return sum(o.predicted_min.likely for o in found), sum(o.measured_min for o in found)

    every = quoted_jobs(
        EnquiryFolder(folder=jobs), measured=measured, remarks=remarks, progress=progress
    )
    return numbers_of(every, begin=begin, end=end), tuple(remarks)
