"""Comments of a program say what they say, and nothing in them is a word of the program."""

from __future__ import annotations

import pytest

from kerfwright.nc.lines import comment_lines


@pytest.mark.parametrize(
    "title",
    [
        "part) M30 (",
        "part)\nM30\n(",
        "part)\r\nG01 X100",
        "part;G0 X1",
        "(((part",
        "part\x00)M30",
        "part\uff09 M30 \uff08",
        "part\u207e M30 \u207d",
        "part\x1b[2J",
    ],
)
def test_no_word_of_a_stranger_ends_a_comment(title: str) -> None:
    lines = list(comment_lines(title, longest=80))
    assert lines
    for line in lines:
        assert (line[0], line[-1]) == ("(", ")")
        inside = line[1:-1]
        assert not set(inside) & set("()\r\n\x00\x1b"), line
        assert inside.isascii()
