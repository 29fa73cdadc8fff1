"""Tables of the command line on a narrow terminal."""

from __future__ import annotations

import io

from rich.console import Console

from kerfwright.cli.output import Page

COLUMNS = ("passes", "wire mm", "of", "each", "± µm", "Ra µm", "machine time", "")
ROW = ("3", "0.25", "diffusion-annealed coated", "742.57", "6.001", "1.10", "11 h 58 min",
       "price as asked")  # fmt: skip


def shown(width: int, **how: tuple[int, ...]) -> str:
    page = Page()
    screen = Console(file=io.StringIO(), width=width, force_terminal=True, color_system=None)
    page._console = screen
    page.table(COLUMNS, [ROW], **how)
    return screen.file.getvalue()  # type: ignore[attr-defined, no-any-return]


def test_the_name_of_a_wire_is_whole_on_eighty_columns() -> None:
    text = shown(80, whole=(2,))
    assert "diffusion-annealed" in text
    assert max(len(line) for line in text.splitlines()) <= 80
    # Without it the name is broken: the table is too narrow for every word.
    assert "diffusion-annealed" not in shown(80)


def test_a_wide_screen_shows_the_row_in_one_line() -> None:
    assert any(all(cell in line for cell in ROW) for line in shown(140, whole=(2,)).splitlines())
