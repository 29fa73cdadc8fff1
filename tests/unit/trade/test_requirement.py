from __future__ import annotations

import pytest
from tests.unit.process.samples import requirement

from kerfwright.adapters.tables import load_tables
from kerfwright.foundation.errors import InputError

TABLES = load_tables()


@pytest.mark.parametrize(
    "wrong",
    [
        {"height_mm": 0.0},
        {"height_mm": float("nan")},
        {"height_mm": float("inf")},
        {"tolerance_um": -5.0},
        {"ra_um": 0.0},
        {"max_recast_um": 0.0},
        {"stock_margin_mm": 0.0},
        {"quantities": ()},
        {"quantities": (0, 1)},
        {"quantities": (10, 1)},
        {"quantities": (1, 1)},
    ],
)
def test_a_demand_that_means_nothing_is_refused(wrong):
    with pytest.raises(InputError) as caught:
        requirement(TABLES, **wrong)
    assert caught.value.code == "requirement-value"


@pytest.mark.parametrize(
    ("field", "words"),
    [
        ("height_mm", "the height of the work is given as 0 mm"),
        ("tolerance_um", "the tolerance of the wall is given as 0 µm"),
        ("ra_um", "the finish is given as 0 µm Ra"),
        ("max_recast_um", "the recast layer allowed is given as 0 µm"),
    ],
)
def test_a_demand_of_nothing_is_refused_in_the_words_of_the_trade(field, words):
    with pytest.raises(InputError) as caught:
        requirement(TABLES, **{field: 0.0})
    assert words in str(caught.value)
    assert "_" not in str(caught.value)
