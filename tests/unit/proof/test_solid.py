"""Pieces that only the whole solid shows, and cuts in pieces that are free already."""

from __future__ import annotations

from dataclasses import replace

import pytest
from tests.planted_faults import stop_far_ahead
from tests.small_programs import PUNCH, WINDOW, Shape, Text, box, claim_for, cut, good_programs

from kerfwright.geometry.contour import Contour
from kerfwright.proof.prove import prove_program
from kerfwright.proof.records import Claim
from kerfwright.trade.part import Role


def program(*shapes: Shape) -> str:
    text = Text()
    for shape in shapes:
        cut(text, shape)
    return text.text()


def codes(text: str, claim: Claim) -> set[str]:
    return {f.code for f in prove_program(text, claim).findings}


def test_a_stop_before_a_whole_contour_is_no_attendance() -> None:
    window = good_programs()[0]
    (fault,) = stop_far_ahead(window.text, window.claim)
    found = prove_program(fault.text, window.claim).findings
    (fall,) = [f for f in found if f.code == "piece-falls-unattended"]
    # The whole pass since the stop: one unit in one sentence.
    assert "in the 15 min before; the last is 2" in fall.message
    assert fall.message.endswith(" min earlier")


def test_an_opening_cut_after_its_part_is_free_is_refused() -> None:
    hole = Shape("H1", Role.OPENING, box(7, 4, 17, 11, radius=1.0, clockwise=True), (10.0, 7.0))
    claim = claim_for([PUNCH, hole])
    assert "cut-in-free-piece" in codes(program(PUNCH, hole), claim)
    assert codes(program(hole, PUNCH), claim) == set()


def test_a_part_whose_tab_lies_in_the_kerf_of_its_neighbour_falls() -> None:
    first = Shape("P1", Role.OUTLINE, box(0, 20, 20, 40, radius=0.0, clockwise=False), (10.0, 16.0))
    x0, x1 = 20.55, 40.0
    ring = ((x0, 40.0, 0.0), (x0, 0.0, 0.0), (x1, 0.0, 0.0), (x1, 40.0, 0.0))
    second = Shape("P2", Role.OUTLINE, ring, (16.0, 17.0), lead_share=20.1 / 40, tab_mm=8.0)
    proof = prove_program(program(first, second), claim_for([first, second]))
    falls = [f for f in proof.findings if f.code == "piece-falls-unattended"]
    assert [f.where.contour_id for f in falls if f.where] == ["P2"]


@pytest.mark.parametrize(("margin", "falls"), [(0.1, True), (0.3, True), (8.0, False)])
def test_a_tab_on_a_frame_that_the_kerf_eats_holds_nothing(margin: float, falls: bool) -> None:
    x1, y1 = 24.0 + margin, 15.0 + margin
    stock = Contour.from_rows([(-margin, -margin), (x1, -margin), (x1, y1), (-margin, y1)])
    claim = replace(claim_for([PUNCH]), stock=stock)
    assert ("piece-falls-unattended" in codes(program(PUNCH), claim)) is falls


def test_what_is_apart_is_not_looked_at_twice() -> None:
    far = replace(WINDOW, id="H9", corners=box(60, 0, 80, 12, radius=1.0, clockwise=True))
    far = replace(far, hole=(66.0, 6.0))
    assert codes(program(WINDOW, far), claim_for([WINDOW, far])) == set()
