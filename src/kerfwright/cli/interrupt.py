"""Ctrl-C as a wish to end a search with what there is."""

from __future__ import annotations

import signal
import threading
from collections.abc import Callable
from typing import Any


class Interrupt:
    """Turns the first Ctrl-C into a wish to stop; the second ends the program as usual."""

    def __init__(self) -> None:
        self._asked = False
        self._before: Any = None

    def __enter__(self) -> Callable[[], bool]:
        if threading.current_thread() is threading.main_thread():
            self._before = signal.signal(signal.SIGINT, self._ask)
        return lambda: self._asked

    def _ask(self, _number: int, _frame: object) -> None:
        self._asked = True
        signal.signal(signal.SIGINT, self._before)

    def __exit__(self, *_fault: object) -> None:
        if self._before is not None:
            signal.signal(signal.SIGINT, self._before)
