"""What a job holds already, told as a tighter limit for measuring alone: that of all its walls."""

from __future__ import annotations

import re
from dataclasses import replace

from tests.conftest import PartMaker
from tests.unit.app.test_what_if import asked, demands

from kerfwright.adapters.tables import Tables
from kerfwright.geometry.contour import Contour
from kerfwright.trade.part import Role
from kerfwright.trade.requirement import Demand, Requirement


def test_a_job_promises_no_more_than_its_coarsest_wall_holds(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    """Each wall has a finish of its own, and so its own passes; the tolerance is the job's."""
    part = make_part(
        [
            (Role.OPENING, Contour.circle((15, 20), radius_mm=4), None),
            (Role.OPENING, Contour.circle((40, 20), radius_mm=8), None),
        ]
    )
    first, second = (one.id for one in part.contours)
    wanted = replace(
        requirement,
        tolerance_um=20.0,
        ra_um=None,
        contours={first: Demand(ra_um=0.5), second: Demand(ra_um=1.9)},
    )
    told = [a.sentence for a in demands(asked(part, wanted, tables), "tolerance")]
    (free,) = [one for one in told if "costs nothing more" in one]
    # Roughing and one skim, which is all that the second wall has, hold 10 µm.
    assert free.startswith("A tolerance of ±10 µm")
    assert not [one for one in told if "±2.5 µm" in one]


def test_the_finish_told_as_free_is_the_tightest_that_the_passes_promise(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    part = make_part([(Role.OPENING, Contour.circle((15, 20), radius_mm=4), None)])
    # The tolerance needs skims that leave a far finer finish than is asked.
    wanted = replace(requirement, tolerance_um=2.5, ra_um=3.0, max_recast_um=None)

    def free(ra_um: float) -> list[float]:
        told = demands(asked(part, replace(wanted, ra_um=ra_um), tables), "finish")
        said = [a.sentence for a in told if "costs nothing more" in a.sentence]
        return [float(re.match(r"A finish of Ra ([\d.]+) µm", one)[1]) for one in said]  # type: ignore[index]

    (tightest_um,) = free(3.0)
    assert tightest_um < 3.0
    # Once that is asked, nothing tighter is free.
    assert free(tightest_um) == []
    # 8 µin are a hair more than the finest passes leave: 7.9 are no step that anybody asks for.
    assert free(0.2032) == free(0.225) == []
