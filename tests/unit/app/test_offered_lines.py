from __future__ import annotations

import pytest

from kerfwright.app.offered_lines import lines_of
from kerfwright.trade.statements import Reading, option
from kerfwright.workbench.asked import check_asked


@pytest.mark.parametrize(
    ("said", "lines"),
    [
        (option("tolerance", "±0.0002in"), {"tolerance": "±0.0002in"}),
        (option("material", "C270 brass"), {"material": "C270 brass"}),
        (
            option("contour", "H7,H8: tolerance=12 H7"),
            # What H8 asks beside it stays.
            {"contour H7": "tolerance=12 H7", "contour H8": "tolerance=12 H7, finish=Ra0.4um"},
        ),
        ("--tolerance ±5um", {"tolerance": "±5um"}),
        ("", {}),
        ("--tables here", {}),
    ],
)
def test_a_reading_becomes_the_lines_that_ask_for_it(said: str, lines: dict[str, str]) -> None:
    found = lines_of(
        Reading(words="", option=said), asked={"contour H8": "tolerance=±5um, finish=Ra0.4um"}
    )
    assert found == lines
    for name, text in found.items():
        check_asked(name, text)
