"""A real PostgreSQL server of its own, in a scratch folder, reached by a socket only."""

from __future__ import annotations

import contextlib
import os
import pwd
import shutil
import signal
import subprocess
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

_PATIENCE_S = 60
_ACCOUNTS = ("postgres", "nobody")
"""The server refuses to run as root."""


def programs() -> Path | None:
    """Return where the programs of the newest server are; None where there is none."""
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin"), key=lambda p: float(p.parent.name))
    usable = [p for p in found if (p / "initdb").exists() and (p / "postgres").exists()]
    if usable:
        return usable[-1]
    on_path = shutil.which("initdb")
    return Path(on_path).parent if on_path else None


def _account() -> str | None:
    if os.geteuid() != 0:
        return None
    names = {one.pw_name for one in pwd.getpwall()}
    return next(name for name in _ACCOUNTS if name in names)


@contextlib.contextmanager
def running() -> Iterator[str]:
    """Run a server, and yield the address of its first database."""
    where = programs()
    if where is None:
        pytest.skip("no PostgreSQL server is installed here (Debian: postgresql)")
    account = _account()
    folder = Path(tempfile.mkdtemp(prefix="kw-pg-"))
    data, log = folder / "data", folder / "log"
    log.touch()
    if account:
        for place in (folder, log):
            shutil.chown(place, account)
    common = {"user": account, "cwd": folder} if account else {"cwd": folder}
    subprocess.run(  # noqa: S603 the distribution's program
        [where / "initdb", "-D", data, "-U", "kerfwright", "-A", "trust", "-N", "-E", "UTF8"],
        check=True,
        capture_output=True,
        **common,  # type: ignore[call-overload]
    )
    with log.open("ab") as said:
        server = subprocess.Popen(  # noqa: S603
            [
                *(where / "postgres", "-D", data, "-k", folder, "-F"),
                *("-c", "listen_addresses=", "-c", "max_connections=60"),
            ],
            stdout=said,
            stderr=said,
            **common,
        )
    try:
        _wait(server, where, folder, log)
        yield f"postgresql://kerfwright@/postgres?host={folder}"
    finally:
        # "Fast": it waits for no client that is still there.
        server.send_signal(signal.SIGINT)
        server.wait(_PATIENCE_S)
        shutil.rmtree(folder, ignore_errors=True)


def _wait(server: subprocess.Popen[bytes], where: Path, folder: Path, log: Path) -> None:
    end = time.monotonic() + _PATIENCE_S
    asking = [where / "pg_isready", "-q", "-h", folder, "-U", "kerfwright", "-d", "postgres"]
    while subprocess.run(asking, check=False).returncode != 0:  # noqa: S603
        assert server.poll() is None, log.read_text(errors="replace")
        assert time.monotonic() < end, log.read_text(errors="replace")
        time.sleep(0.05)


_FRESH = iter(range(1_000_000))


def fresh_database(server: str) -> str:
    """Make an empty database on a server and return its address."""
    import psycopg

    name = f"jobs_{os.getpid()}_{next(_FRESH)}"
    with psycopg.connect(server, autocommit=True) as connection:
        connection.execute(f"CREATE DATABASE {name}".encode())
    return server.replace("/postgres?", f"/{name}?")
