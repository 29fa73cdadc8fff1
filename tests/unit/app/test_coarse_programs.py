"""Digits that eat the tolerance are named before anybody cuts."""

from __future__ import annotations

from dataclasses import replace

import pytest

from kerfwright.app.plan_job import _coarse_findings
from kerfwright.foundation.findings import Severity
from kerfwright.trade.part import LengthUnit
from kerfwright.trade.requirement import Requirement


@pytest.mark.parametrize(("decimals", "is_named"), [(4, True), (5, False)])
def test_four_decimals_of_an_inch_do_not_hold_two_micrometres(
    requirement: Requirement, decimals: int, is_named: bool
) -> None:
    dialect = replace(requirement.machine.dialect, unit=LengthUnit.INCH, decimals=decimals)
    machine = replace(requirement.machine, dialect=dialect)
    found = _coarse_findings(replace(requirement, machine=machine, tolerance_um=2.0))
    assert [f.code for f in found] == (["program-too-coarse"] if is_named else [])
    for finding in found:
        assert finding.severity is Severity.WARNING
        assert finding.data["digit_um"] == pytest.approx(2.54)
