"""``kerfwright serve``: the page, on this machine only unless somebody says more."""

from __future__ import annotations

from importlib.util import find_spec
from pathlib import Path

import click

from kerfwright.cli.store_options import index_option, usual_jobs
from kerfwright.foundation.errors import InputError

# Not taken from the options of other commands, which load what plans: the page opens first.
_FOLDER = click.Path(file_okay=False, path_type=Path)
_FILE = click.Path(exists=True, dir_okay=False, path_type=Path)
_NEEDED = (
    "fastapi", "uvicorn", "websockets", "python_multipart", "tomlkit", "sqlalchemy", "alembic",
    "argon2",
)  # fmt: skip
_DEFAULT_PORT = 8733
_HIGHEST_PORT = 65535


@click.command("serve")
@click.option(
    "--jobs", type=_FOLDER, help="Folder of the jobs; default: kerfwright-jobs in your home folder."
)
@click.option(
    "--port",
    type=click.IntRange(0, _HIGHEST_PORT),
    default=_DEFAULT_PORT,
    show_default=True,
    help="0 for any free one.",
)
@click.option("--no-browser", is_flag=True, help="Do not open a browser.")
@click.option(
    "--tables",
    type=_FOLDER,
    help="Folder with the shop's own tables; default: our-tables beside the jobs.",
)
@click.option(
    "--shop",
    type=_FOLDER,
    help="Folder with the shop's measured cuts, see record; default: our-cuts beside the jobs.",
)
@index_option
@click.option("--host", default="127.0.0.1", show_default=True, help="Address to listen at.")
@click.option(
    "--name",
    "names",
    multiple=True,
    help="Name by which browsers reach this server; may be given again.",
)
@click.option("--certificate", type=_FILE, help="TLS: certificate with its chain, PEM.")
@click.option("--key", type=_FILE, help="TLS: key of the certificate, PEM, not encrypted.")
@click.option(
    "--behind-proxy",
    "proxy",
    metavar="ADDRESS",
    help="Address of a proxy that does the TLS; nobody else is answered.",
)
def command(
    jobs: Path | None,
    port: int,
    host: str,
    names: tuple[str, ...],
    certificate: Path | None,
    key: Path | None,
    proxy: str | None,
    no_browser: bool,  # noqa: FBT001 a flag of the command line
    tables: Path | None,
    shop: Path | None,
    index_url: str | None,
) -> int:
    """Open the workbench page in the browser, served from this machine to itself only.

    Nothing is fetched from anywhere, and no other machine can reach it.  Stop it with Ctrl-C.

    With --host others reach it: then people log in (see kerfwright seats), and what goes over the
    line is encrypted, by --certificate and --key or by a proxy of yours.
    """
    missing = [name for name in _NEEDED if find_spec(name) is None]
    if missing:
        raise InputError(
            f"the page needs {', '.join(missing)}, which {'is' if len(missing) == 1 else 'are'}"
            " not installed",
            code="workbench-not-installed",
            remedy='Install "kerfwright[workbench]", or run `make serve` in a clone.',
        )
    from kerfwright.workbench.app import Settings
    from kerfwright.workbench.reach import Reach, expect_owner
    from kerfwright.workbench.serve import Place, serve

    reach = Reach(host=host, names=names, certificate=certificate, key=key, proxy=proxy)
    reach.check()
    folder = usual_jobs() if jobs is None else jobs
    if reach.is_beyond:
        expect_owner(folder, index_url)
    settings = Settings(
        jobs=folder,
        tables=tables,
        shop=shop,
        index=index_url,
        hosts=reach.hosts,
        always_asks=reach.is_beyond,
        is_secure=reach.is_secure,
        proxy=proxy,
    )
    serve(
        settings,
        Place(host=host, port=port, certificate=certificate, key=key),
        opens_browser=not no_browser,
        tell=lambda address: click.echo(
            f"The workbench is open at {address}\nJobs: {settings.jobs}\nCtrl-C stops it."
        ),
    )
    return 0
