"""What a person says of nozzles and bath, as rules of the plan."""

from __future__ import annotations

from pathlib import Path

import pytest

from kerfwright.adapters.tables import load_tables
from kerfwright.app.records import JobRequest
from kerfwright.app.set_up import rules_of
from kerfwright.foundation.errors import InputError
from kerfwright.planning.rules import PlanningRules
from kerfwright.process.flushing import Bath
from kerfwright.process.technology import Flushing

TABLES = load_tables()


def rules(**said) -> PlanningRules:
    request = JobRequest(drawing=Path("any.dxf"), material="D2", height="20mm", **said)
    return rules_of(request, TABLES.rules, law=TABLES.technology.flushing)


@pytest.mark.parametrize(
    ("upper", "lower", "state"),
    [
        ("0.1mm", None, Flushing.SEALED),
        ("0.2mm", "0.2mm", Flushing.SEALED),
        ("0.5mm", None, Flushing.ONE_OPEN),
        (None, "0.02in", Flushing.ONE_OPEN),
        ("5mm", "2mm", Flushing.BOTH_OPEN),
    ],
)
def test_gaps_decide_which_nozzle_counts_as_closed(upper, lower, state) -> None:
    assert rules(upper_gap=upper, lower_gap=lower).nozzles is state


def test_a_gap_in_inches_is_kept_in_millimetres_and_the_bath_as_said() -> None:
    found = rules(lower_gap="0.02in", bath=Bath.OPEN_AIR)
    assert found.lower_gap_mm == pytest.approx(0.508)
    assert found.upper_gap_mm is None
    assert found.bath is Bath.OPEN_AIR


def test_nothing_said_is_the_usual_set_up() -> None:
    assert rules() == TABLES.rules


def test_a_state_and_gaps_that_do_not_agree_are_refused() -> None:
    with pytest.raises(InputError, match="one-open") as caught:
        rules(upper_gap="0.5mm", nozzles=Flushing.BOTH_OPEN)
    assert caught.value.code == "set-up-contradiction"
    assert rules(upper_gap="0.5mm", nozzles=Flushing.ONE_OPEN).nozzles is Flushing.ONE_OPEN


def test_a_gap_without_a_unit_is_refused() -> None:
    with pytest.raises(InputError):
        rules(upper_gap="0.5")
