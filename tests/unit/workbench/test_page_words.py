"""Remedies in the words of the page."""

from __future__ import annotations

import pytest

from kerfwright.workbench.page_words import on_page


@pytest.mark.parametrize(
    ("remedy", "shown"),
    [
        ("Say which: --units in or --units mm.", "Say in or mm in the line Drawing is in."),
        ("If so, say --layer A-1=stock; if not, wait.",
         "If so, say in the line of layer A-1: stock; if not, wait."),
        ('Ask for it by name, --coreless "H3: always", and look at the time.',
         "Ask for it by name, “always” in the line Inside of H3, and look at the time."),
        ("Leave more stock around the parts (--stock-margin), draw it.",
         "Leave more stock around the parts (the line Stock around), draw it."),
        ("Ask for a start of its own for each with --strings never.",
         "Ask for a start of its own for each with “never” in the line Threading."),
        ("Draw contours that do not cross.", "Draw contours that do not cross."),
    ],
)  # fmt: skip
def test_no_option_of_the_command_line_is_left(remedy: str, shown: str) -> None:
    assert on_page(remedy) == shown
    assert "--" not in on_page(remedy)
