"""What an offer of the what-if asks for, written as lines, asks for just that."""

from __future__ import annotations

from dataclasses import replace

from kerfwright.adapters.fit_tables import load_fits
from kerfwright.adapters.machines import load_machine
from kerfwright.adapters.tables import load_tables
from kerfwright.app.asks import asks_of, differing
from kerfwright.app.changes import Change
from kerfwright.app.enquiries import CONTOUR, Enquiry
from kerfwright.app.enquiry_lines import texts_of
from kerfwright.app.requirements import read_contour_demands
from kerfwright.foundation.units import tolerance
from kerfwright.trade.requirement import Demand, Requirement
from kerfwright.workbench.asked import check_asked


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


def test_demands_of_single_contours_are_lines_too_those_alike_in_one() -> None:
    wanted = requirement()
    fine = Demand(tolerance_um=2.5, ra_um=0.4)
    after = replace(
        wanted, tolerance_um=12.0, contours={"H1": fine, "H2": fine, "H3": Demand(tolerance_um=8)}
    )
    change = Change(
        demand="one shape only",
        asked="",
        instead="",
        wording="",
        requirement=after,
        quantity=1,
    )
    asks = asks_of(wanted, change, 1)
    assert [name for name, _ in asks] == ["tolerance", "contour H1,H2", "contour H3"]
    blank = Enquiry(id="a", title="", drawing="", drawing_sha256="", added="")
    asked = blank.with_lines(dict(asks)).asked
    for name, text in asked.items():
        check_asked(name, text)
    demands, _ = read_contour_demands(texts_of(asked, CONTOUR), fits=load_fits())
    assert demands == dict(after.contours)
    # What is asked already is not asked again.
    assert asks_of(after, replace(change, requirement=after), 1) == ()
