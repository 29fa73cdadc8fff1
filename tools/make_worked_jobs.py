"""Renew the made parts of docs/worked-jobs: ``make worked-jobs``."""

from __future__ import annotations

from tools.worked import PAGES, blocks, renewed
from tools.worked_jobs import JOBS


def main() -> None:
    """Run every job and put what it gives into its page."""
    for job in JOBS:
        path = PAGES / f"{job.name}.md"
        path.write_text(renewed(path.read_text("utf-8"), blocks(job)), "utf-8")


if __name__ == "__main__":
    main()
