"""What an offer of the what-if asks for, written as lines, asks for just that."""

from __future__ import annotations

from dataclasses import replace

from kerfwright.adapters.machines import load_machine
from kerfwright.adapters.tables import load_tables
from kerfwright.app.asks import differing
from kerfwright.foundation.units import tolerance
from kerfwright.trade.requirement import Requirement
from kerfwright.wiring import check_asked


def requirement() -> Requirement:
    catalogue = load_tables().catalogue
    return Requirement(
        material=catalogue.material("D2"), height_mm=25.0, machine=load_machine(), tolerance_um=5.0
    )


def test_a_limit_is_rounded_up_never_down() -> None:
    wanted = requirement()
    ((name, text),) = differing(wanted, replace(wanted, tolerance_um=7.00049))
    assert name == "tolerance"
    assert tolerance(text).half_um >= 7.00049


def test_what_is_asked_can_be_read_again() -> None:
    wanted = requirement()
    wire = next(w for w in load_tables().catalogue.wires if w.diameter_mm == 0.2)
    asks = differing(wanted, replace(wanted, ra_um=1.4, max_recast_um=6.1, wire=wire))
    assert [name for name, _ in asks] == ["finish", "recast", "wire"]
    for name, text in asks:
        check_asked(name, text)


def test_another_height_is_no_line_that_a_page_could_set() -> None:
    wanted = requirement()
    assert differing(wanted, replace(wanted, height_mm=50.0)) == ()
