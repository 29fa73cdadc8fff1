"""A child of a batch that does what its drawing says: hang, die, print, or answer."""

from __future__ import annotations

import os
import pickle
import signal
import sys
import time


def say(line: str) -> None:
    """Write a line at once."""
    sys.stdout.write(f"{line}\n")
    sys.stdout.flush()


def main() -> None:
    """Answer tasks, given as plain words."""
    say("ready")
    while len(head := sys.stdin.buffer.read(8)) == 8:
        word = pickle.loads(sys.stdin.buffer.read(int.from_bytes(head, "big")))  # noqa: S301
        if word == "hang":
            time.sleep(600)
        elif word == "killed":
            os.kill(os.getpid(), signal.SIGKILL)
        elif word == "segfault":
            os.kill(os.getpid(), signal.SIGSEGV)
        elif word == "leave":
            sys.exit(3)
        say(f"answer {word} {os.getpid()}")


if __name__ == "__main__":
    main()
