"""The command line: reads arguments, calls the use cases, shows what came out."""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from typing import NoReturn

from kerfwright.foundation.one_thread import ONE_THREAD


def main(arguments: Sequence[str] | None = None) -> NoReturn:
    """Run the command line and leave with its exit code.

    Parameters
    ----------
    arguments : sequence of str, optional
        Words after the program's name; by default those of the process.
    """
    # Before numpy is loaded, which reads them once; what a person set stays.
    for name, count in ONE_THREAD.items():
        os.environ.setdefault(name, count)
    from kerfwright.cli.run import run

    sys.exit(run(list(sys.argv[1:] if arguments is None else arguments)))
