"""Real drawings into one table, beside a shell loop that plans them one by one.

The peer starts ``kerfwright plan`` for each drawing, one after the other, as a loop in a shell
does; it writes job folders too.  The ratio is its time over ours: above 1 we are quicker.  A
second row goes through all of them again with nothing changed.

``KERFWRIGHT_BATCH_MOST`` takes other than the first twelve drawings; a loop over all of them takes
minutes.  The drawings lie beside the checkout (``../shared/corpus``); where they do not, the
benchmark says so.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

CORPUS = Path(__file__).resolve().parents[2] / "shared" / "corpus" / "dxf"
MOST = int(os.environ.get("KERFWRIGHT_BATCH_MOST", "12"))
ASKED = ("--material", "D2", "--height", "10mm", "--units", "mm")


def rows() -> Iterator[dict[str, Any]]:
    """Yield the throughput and that of a second call; say so where there are no drawings."""
    drawings = sorted(CORPUS.glob("*.dxf"))[:MOST]
    if not drawings:
        print("batches: the corpus of real drawings is not beside this checkout")
        return
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch) / "drawings"
        folder.mkdir()
        for drawing in drawings:
            shutil.copy(drawing, folder)
        begin = time.perf_counter()
        for drawing in drawings:
            call("plan", str(drawing), *ASKED, "-o", str(Path(scratch) / drawing.stem))
        loop_s = time.perf_counter() - begin
        words = ("batch", str(folder), *ASKED, "-o", str(Path(scratch) / "out"), "--json")
        for name, wanted in (("drawings into a table", "planned"), ("again, unchanged", "known")):
            begin = time.perf_counter()
            done = json.loads(call(*words))
            took_s = time.perf_counter() - begin
            count = len(drawings)
            # Two drawings that are the same file are planned once.
            assert 0 < done[wanted] <= count
            states = ", ".join(f"{n} {state}" for state, n in done["states"].items())
            yield {
                "name": f"{count} {name}, {os.cpu_count()} processors",
                "ours": f"{count / took_s:.2f} /s",
                "peer": f"{count / loop_s:.2f} /s",
                "ratio": loop_s / took_s,
                "note": f"peer: plan in a loop; {states}",
            }


def call(*words: str) -> str:
    """Run the command line and return what it printed."""
    command = [sys.executable, "-m", "kerfwright", *words]
    return subprocess.run(command, check=False, capture_output=True, text=True).stdout  # noqa: S603
