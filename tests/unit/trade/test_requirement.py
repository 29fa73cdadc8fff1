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
