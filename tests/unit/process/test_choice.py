"""Which contour's passes stand for those of the job."""

from __future__ import annotations

from dataclasses import replace

import pytest
from tests.unit.process.samples import requirement

from kerfwright.adapters.tables import load_tables
from kerfwright.process.choice import choose_by_contour
from kerfwright.trade.requirement import Demand

TABLES = load_tables()
FINE = Demand(tolerance_um=None, ra_um=0.3, max_recast_um=None)
THIN = Demand(tolerance_um=None, ra_um=None, max_recast_um=0.9)


@pytest.mark.parametrize("order", [("F1", "T1"), ("T1", "F1")])
def test_of_contours_with_as_many_passes_the_one_that_leaves_more_stock_stands_for_the_job(order):
    # A limit on recast sets the skims by the hurt layer, which takes more than the table does.
    wanted = requirement(TABLES)
    wanted = replace(wanted, contours={"F1": FINE, "T1": THIN})
    job = choose_by_contour(wanted, order, technology=TABLES.technology, catalogue=TABLES.catalogue)
    fine, thin = job.of("F1"), job.of("T1")
    assert len(fine.passes) == len(thin.passes)
    assert sum(p.stock_um for p in thin.passes) > sum(p.stock_um for p in fine.passes)
    assert job.most.passes == thin.passes
    assert job.most_of(order).passes == thin.passes
