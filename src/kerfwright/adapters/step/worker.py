"""The process in which Open CASCADE reads a solid: a request in, one JSON document out.

``python -m kerfwright.adapters.step.worker`` reads a JSON document from standard input and writes
one to the standard output that it was started with.  What the library prints goes to standard
error.  A damaged file may end the process; its memory and time are held where the system can.
"""

from __future__ import annotations

import contextlib
import ctypes
import json
import os
import signal
import sys
from typing import Any

from kerfwright.foundation.errors import KerfwrightError

MOST_BYTES = 3 * 1024**3
MOST_SECONDS = 240
_PR_SET_PDEATHSIG = 1
"""``prctl(2)``: the signal that this process gets when the one that began it ends."""


def main() -> None:
    """Answer the request of standard input."""
    asked = json.load(sys.stdin)
    answers = os.fdopen(os.dup(1), "w", encoding="utf-8")
    # The library prints banners.
    os.dup2(2, 1)
    _hold()
    with answers:
        json.dump(_answer(asked), answers)


def _hold() -> None:
    """Let the system end what takes too much, or what nobody waits for any more."""
    if sys.platform == "linux":
        ctypes.CDLL(None).prctl(_PR_SET_PDEATHSIG, signal.SIGKILL)
    with contextlib.suppress(ImportError, ValueError, OSError):
        import resource

        for kind, limit in (
            (resource.RLIMIT_DATA, MOST_BYTES),
            (resource.RLIMIT_CPU, MOST_SECONDS),
        ):
            _, most = resource.getrlimit(kind)
            mine = limit if most == resource.RLIM_INFINITY else min(limit, most)
            resource.setrlimit(kind, (mine, most))


def _answer(asked: dict[str, Any]) -> dict[str, Any]:
    from kerfwright.adapters.step.document import solid_document

    try:
        return {"solid": solid_document(asked)}
    except KerfwrightError as fault:
        return {"refused": {"message": fault.message, "code": fault.code, "remedy": fault.remedy}}
    except MemoryError:
        return {"failed": "it takes more memory than a drawing may have"}
    except Exception as fault:  # a barrier: docs/decisions/0030
        return {"failed": f"{type(fault).__name__}: {fault}"}


if __name__ == "__main__":
    main()
