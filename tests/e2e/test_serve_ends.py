"""A server that is ended while it starts says nothing of it: no trace of it or of its workers."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest


@pytest.mark.skipif(sys.platform == "win32", reason="no signals of a group")
@pytest.mark.parametrize("whole_group", [True, False])
@pytest.mark.parametrize(
    ("number", "after_s"),
    [(signal.SIGINT, 0.0), (signal.SIGINT, 0.6), (signal.SIGTERM, 0.3), (signal.SIGTERM, 1.0)],
)
def test_a_server_that_is_ended_as_it_begins_ends_quietly(
    tmp_path: Path, *, whole_group: bool, number: signal.Signals, after_s: float
) -> None:
    words = ["serve", "--jobs", str(tmp_path), "--port", "0", "--no-browser"]
    with subprocess.Popen(  # noqa: S603 our own program
        [sys.executable, "-m", "kerfwright", *words],
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        start_new_session=True,
    ) as server:
        assert server.stdout is not None
        lines = iter(server.stdout.readline, "")
        first = next(line for line in lines if line.strip())
        assert "http://127.0.0.1:" in first
        # Its workers begin to load meanwhile.
        time.sleep(after_s)
        (os.killpg if whole_group else os.kill)(server.pid, number)
        # What it started holds the pipe too: it ends when all of them have.
        rest = server.stdout.read()
        ended = server.wait()
    assert "Traceback" not in rest
    assert "Error" not in rest
    # A signal to one process is heard by the server, which puts its workers away.
    assert ended in {0, 130, -number}
