"""Standard output and standard error: one JSON document, or tables; progress for a terminal."""

from __future__ import annotations

import sys
import textwrap
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from kerfwright.cli.safe import safe

if TYPE_CHECKING:
    from rich.console import Console

_PIPE_WIDTH = 110
"""Columns where no terminal says how many it has."""


def put_json(document: Mapping[str, Any]) -> None:
    """Print one JSON document and nothing else."""
    from kerfwright.adapters.json_shapes import to_text

    sys.stdout.write(to_text(document))


def progress() -> Callable[[str, float], None]:
    """Return a reporter that draws on standard error where that is a terminal, else is silent."""
    if not sys.stderr.isatty():
        return lambda _step, _share: None

    def report(step: str, share: float) -> None:
        sys.stderr.write(f"\r\x1b[K{100 * share:3.0f} % {step}" if share < 1 else "\r\x1b[K")
        sys.stderr.flush()

    return report


def _console() -> Console:
    """Return a console that leaves a reader who went away to us."""
    from rich.console import Console

    class Plain(Console):
        def on_broken_pipe(self) -> None:
            # rich would end the program with its own exit code.
            raise BrokenPipeError

    width = None if sys.stdout.isatty() else _PIPE_WIDTH
    return Plain(width=width, markup=False, highlight=False, emoji=False, soft_wrap=False)


class Page:
    """Headings, lines and tables on standard output."""

    def __init__(self) -> None:
        self._console = _console()

    def heading(self, text: str) -> None:
        """Write a heading after an empty line."""
        self._console.print()
        self._console.print(safe(text), style="bold")

    def line(self, text: str = "", *, indent: int = 0, style: str | None = None) -> None:
        """Write a paragraph, wrapped at words."""
        from rich.text import Text

        room = max(self._console.width - indent, 20)
        for row in textwrap.wrap(safe(text), room) or [""]:
            self._console.print(Text(" " * indent + row, style=style or ""), soft_wrap=True)

    def whole(self, text: str, *, indent: int = 0) -> None:
        """Write a line that is not wrapped."""
        self._console.print(" " * indent + safe(text), soft_wrap=True)

    def table(
        self,
        columns: Sequence[str],
        rows: Iterable[Sequence[str]],
        *,
        left: Iterable[int] = (0,),
        whole: Iterable[int] = (),
        most: int | None = None,
        rest: str = "",
    ) -> None:
        """Write a table; columns are right-aligned unless named in ``left``.

        A table without rows says nothing and is not written.

        Parameters
        ----------
        columns : sequence of str
        rows : iterable of sequences of str
        left : iterable of int
            Columns of words.
        whole : iterable of int
            Columns whose words are not broken, however narrow the screen: the others give way.
        most : int, optional
            Rows to show; the others are counted in a last line.
        rest : str
            Where the others are found.
        """
        from rich import box
        from rich.table import Table

        words = frozenset(left)
        every = list(rows)
        if not every:
            return
        table = Table(box=box.SIMPLE_HEAD, pad_edge=False, show_edge=False)
        unbroken = frozenset(whole)
        for number, name in enumerate(columns):
            longest = None
            if number in unbroken:
                cells = (name, *(safe(row[number]) for row in every))
                longest = max((len(word) for cell in cells for word in cell.split()), default=None)
            table.add_column(
                name,
                justify="left" if number in words else "right",
                overflow="fold",
                min_width=longest,
            )
        shown = every if most is None else every[:most]
        for row in shown:
            table.add_row(*(safe(cell) for cell in row))
        if self._console.is_terminal:
            self._console.print(table)
        else:
            with self._console.capture() as captured:
                self._console.print(table)
            for row_text in captured.get().splitlines():
                self._console.print(row_text.rstrip(), soft_wrap=True)
        if len(shown) < len(every):
            self.line(f"… and {len(every) - len(shown)} more {rest}".rstrip(), indent=2)
