"""A tolerance that could be read two ways says how it was read."""

from __future__ import annotations

import pytest

from kerfwright.foundation.errors import InputError
from kerfwright.foundation.units import tolerance


def test_a_bare_tolerance_says_that_it_was_read_as_plus_or_minus() -> None:
    assert tolerance("0.01 mm").note.startswith("“0.01 mm” is read as ±10 µm (0.000393 in)")
    assert "“0.01 mm total”" in tolerance("0.01 mm").note
    assert tolerance("±0.01 mm").note == ""
    assert tolerance("+/-0.01 mm").note == ""
    assert tolerance("0.01 mm total").half_um == 5.0


@pytest.mark.parametrize("text", ["±0", "0", "+/-0.0", "± 0 mm"])
def test_nought_is_refused_because_it_leaves_no_zone(text: str) -> None:
    with pytest.raises(InputError, match="leaves no zone"):
        tolerance(text)
