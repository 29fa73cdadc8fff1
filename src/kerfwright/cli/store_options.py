"""Options of every command about the jobs that a shop keeps; loads nothing else."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, TypeVar

import click

if TYPE_CHECKING:
    from kerfwright.adapters.enquiry_store import EnquiryStore

_Command = TypeVar("_Command", bound=Callable[..., Any])

FOLDER: Final = click.Path(file_okay=False, path_type=Path)
INDEX_AT: Final = "KERFWRIGHT_INDEX"


def usual_jobs() -> Path:
    """Return where jobs are kept unless somebody says otherwise."""
    return Path.home() / "kerfwright-jobs"


def index_option(command: _Command) -> _Command:
    """Add the option that says where the index is."""
    return click.option(
        "--index",
        "index_url",
        metavar="URL",
        envvar=INDEX_AT,
        help="Index of the jobs for several seats, postgresql://user@host/database; default: a "
        f"file among the jobs. {INDEX_AT} says it too; a password belongs into ~/.pgpass.",
    )(command)


def store_options(command: _Command) -> _Command:
    """Add the options that say where jobs and index are."""
    jobs = click.option(
        "--jobs", type=FOLDER, help="Folder of the jobs; default: as serve keeps them."
    )
    return jobs(index_option(command))


def store_of(jobs: Path | None, index_url: str | None) -> EnquiryStore:
    """Return the store that the options mean, which must be there; closed with the command.

    Raises
    ------
    FileError
        Code ``jobs-none``.
    """
    from kerfwright.adapters.enquiry_store import open_store
    from kerfwright.foundation.errors import FileError

    folder = usual_jobs() if jobs is None else jobs
    if not folder.is_dir():
        raise FileError(
            "there is no folder of jobs",
            code="jobs-none",
            where=str(folder),
            remedy="Name it with --jobs; kerfwright serve makes one.",
        )
    store = open_store(folder, url=index_url)
    click.get_current_context().call_on_close(store.index.close)
    return store
