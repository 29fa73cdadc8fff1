"""Run every benchmark there is and print one table: ``python -m benchmarks [name ...]``.

A row compares us with a peer, or with a goal where there is no peer, in one run on one machine:
ratios travel between machines, seconds do not.
"""

from __future__ import annotations

import os
import sys
from importlib import import_module
from importlib.util import find_spec

from kerfwright.foundation.one_thread import ONE_THREAD

# As the command line does before numpy is loaded.
os.environ |= ONE_THREAD

BENCHMARKS = (
    "offset",
    "proof",
    "pipeline",
    "edits",
    "learning",
    "ranges",
    "holes",
    "nests",
    "weeks",
    "batches",
    "coreless",
    "four_axes",
    "store",
    "page",
)


def main(names: list[str]) -> int:
    """Print the rows of the named benchmarks, or of all."""
    unknown = [name for name in names if name not in BENCHMARKS]
    if unknown:
        print(f"no benchmark {', '.join(unknown)}; there are {', '.join(BENCHMARKS)}")
        return 2
    head = f"{'what':<58} {'ours':>10} {'peer':>10} {'ratio':>7}  note"
    print(head, "-" * len(head), sep="\n")
    for name in names or BENCHMARKS:
        if find_spec(f"benchmarks.{name}") is None:
            print(f"{name}: not here")
            continue
        for row in import_module(f"benchmarks.{name}").rows():
            # What is no time says itself how it is written.
            ours, peer = (
                row[side] if side in row else f"{float(row[f'{side}_s']) * 1000:.1f} ms"
                for side in ("ours", "peer")
            )
            print(
                f"{row['name']:<58} {ours:>10} {peer:>10} {float(row['ratio']):6.2f}x"
                f"  {row['note']}",
                flush=True,
            )
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
