"""Renew the made parts of docs/worked-jobs: ``make worked-jobs``."""

from __future__ import annotations

from tools.worked import PAGES, blocks, outcome, renewed
from tools.worked_jobs import JOBS


def main() -> None:
    """Run every job and put what it gives into its page."""
    for job in JOBS:
        path = PAGES / f"{job.name}.md"
        made = blocks(job, outcome(job))
        path.write_text(renewed(path.read_text("utf-8"), made), "utf-8")


if __name__ == "__main__":
    main()
