"""Taking a text of the drawing over never loosens what is asked, and says what stands."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from kerfwright.adapters.fit_tables import load_fits
from kerfwright.app.drawing_says import Saying, what_drawing_says
from kerfwright.app.taking_over import Offer, TakingOver
from kerfwright.foundation.findings import Place
from kerfwright.geometry.contour import Contour
from kerfwright.trade.annotation import Annotation, AnnotationKind, Dimensioned, Measures
from kerfwright.trade.part import Part, Role


@pytest.fixture
def arbor_plate(make_part: Any) -> Part:
    """A plate with a slot of 12 x 30 and four circles Ø6."""
    outline = Contour.from_rows([(0, 0), (80, 0), (80, 50), (0, 50)])
    slot = Contour.from_rows([(34, 10), (46, 10), (46, 40), (34, 40)])
    holes = [(10, 10), (70, 10), (10, 40), (70, 40)]
    return make_part(
        [
            (Role.OUTLINE, outline, None),
            (Role.OPENING, slot, "P1"),
            *((Role.OPENING, Contour.circle(at, radius_mm=3), "P1") for at in holes),
        ]
    )


def size(words: str, drawn_mm: float, *points: tuple[float, float]) -> Annotation:
    return Annotation(
        kind=AnnotationKind.DIMENSION,
        text=words,
        points_mm=points,
        size=Dimensioned(measures=Measures.LENGTH, drawn_mm=drawn_mm),
    )


def note(words: str) -> Annotation:
    return Annotation(kind=AnnotationKind.TEXT, text=words, where=Place(entity="TEXT 1"))


WIDE = size("12 ±0.04", 12, (34, 20), (46, 20))
CLOSE = size("30 ±0.01", 30, (40, 10), (40, 40))


class Job:
    """What a drawing says, and what is asked: offers are taken as on the page."""

    def __init__(self, part: Part, tables: Any, *annotations: Annotation) -> None:
        noted = replace(part, annotations=annotations)
        self.part = part
        self.says = what_drawing_says(noted, catalogue=tables.catalogue, fits=load_fits())
        self.asked: dict[str, str] = {}

    def offer(self, text: str, number: int = 0) -> Offer:
        said = next(one for one in self.says if one.statement.text == text)
        taking = TakingOver(self.says, self.asked, self.part, fits=load_fits())
        return taking.offer(said.statement.readings[number])

    def take(self, text: str, number: int = 0) -> None:
        self.asked |= self.offer(text, number).lines


def test_the_closer_of_two_sizes_of_a_contour_stands_whichever_is_taken_first(
    arbor_plate: Part, tables: Any
) -> None:
    for first, second in (("12 ±0.04", "30 ±0.01"), ("30 ±0.01", "12 ±0.04")):
        job = Job(arbor_plate, tables, WIDE, CLOSE)
        job.take(first)
        job.take(second)
        # Half of the closer size's zone for each of its two walls.
        assert job.asked == {"contour H1": "tolerance=±0.005mm"}
        assert job.offer("30 ±0.01").is_taken
        wider = job.offer("12 ±0.04")
        assert not wider.is_taken
        assert not wider.lines
        (stands,) = wider.stays
        assert stands.metric == "H1: ±5 µm stands, which is closer, from “30 ±0.01”"
        assert "0.000196 in" in stands.inch
        # On purpose the looser one can be asked, and then the closer says what it would replace.
        assert wider.looser == {"contour H1": "tolerance=±0.02mm"}
        job.asked |= wider.looser
        (instead,) = job.offer("30 ±0.01").instead
        assert instead.metric == "H1: ±20 µm, from “12 ±0.04”"


def test_what_a_contour_asks_beside_stays(arbor_plate: Part, tables: Any) -> None:
    job = Job(arbor_plate, tables, CLOSE)
    job.asked = {"contour H1": "finish=Ra 0.4 µm"}
    job.take("30 ±0.01")
    assert job.asked == {"contour H1": "tolerance=±0.005mm, finish=Ra 0.4 µm"}


def test_a_size_looser_than_what_the_whole_job_is_asked_does_not_loosen_its_contour(
    arbor_plate: Part, tables: Any
) -> None:
    job = Job(arbor_plate, tables, WIDE, note("WALLS ±0.005"))
    job.take("WALLS ±0.005")
    assert job.asked == {"tolerance": "±0.005mm"}
    assert job.offer("WALLS ±0.005").is_taken
    offer = job.offer("12 ±0.04")
    assert not offer.lines
    assert offer.stays[0].metric.startswith("H1: ±5 µm stands, which is closer, from “WALLS")
    job.asked = {"tolerance": "0.005 mm"}
    assert job.offer("12 ±0.04").stays[0].metric.endswith("from the line Tolerance of the job")


def test_a_demand_that_no_text_of_the_drawing_asks_any_more_is_said_to_be_one(
    arbor_plate: Part, tables: Any
) -> None:
    job = Job(arbor_plate, tables, WIDE)
    job.asked = {"contour H1": "tolerance=±0.003mm"}
    (stands,) = job.offer("12 ±0.04").stays
    assert "which no text of this drawing asks: ask which holds" in stands.metric


def test_a_demand_on_a_group_is_taken_once_each_contour_of_it_has_it(
    arbor_plate: Part, tables: Any
) -> None:
    job = Job(arbor_plate, tables, note("4x Ø6 ±0.02"))
    assert set(job.offer("4x Ø6 ±0.02").lines) == {f"contour H{n}" for n in (2, 3, 4, 5)}
    job.asked = {"contour H3": "tolerance=±0.002mm"}
    job.take("4x Ø6 ±0.02")
    # One of them is asked closer and stays so.
    assert job.asked["contour H3"] == "tolerance=±0.002mm"
    assert job.asked["contour H2"] == "tolerance=±0.01mm"
    offer = job.offer("4x Ø6 ±0.02")
    assert not offer.lines
    assert [one.metric.partition(":")[0] for one in offer.stays] == ["H3"]
    job.asked |= offer.looser
    assert job.offer("4x Ø6 ±0.02").is_taken


def test_limits_of_a_size_that_is_not_drawn_are_asked_of_picked_contours_only(
    arbor_plate: Part, tables: Any
) -> None:
    for words in ("25.000/25.013", "25 ±0.01", "25 H7"):
        job = Job(arbor_plate, tables, note(words))
        job.asked = {"contour H2": "tolerance=±0.001mm"}
        offer = job.offer(words)
        assert not offer.lines
        assert set(offer.of_picked) == {"tolerance"}
        assert offer.closer == ("H2",)
        assert not any(r.option for r in job.says[0].statement.readings)
    # So it is for a dimension on no contour.
    job = Job(arbor_plate, tables, size("25 ±0.01", 25, (200, 0), (225, 0)))
    assert job.offer("25 ±0.01").of_picked == {"tolerance": "±0.005mm"}
    job.asked = {"contour H1": "tolerance=±0.005mm"}
    assert job.offer("25 ±0.01").is_taken


def test_a_material_or_a_quantity_says_what_it_stands_in_place_of(
    arbor_plate: Part, tables: Any
) -> None:
    job = Job(arbor_plate, tables, note("4 REQ'D"))
    job.asked = {"quantity": "40"}
    offer = job.offer("4 REQ'D")
    assert offer.lines == {"quantity": "4"}
    assert [one.metric for one in offer.instead] == ["“40”"]
    job.take("4 REQ'D")
    assert job.offer("4 REQ'D").is_taken


def test_a_general_tolerance_offers_what_keeps_a_size_between_two_walls(
    arbor_plate: Part, tables: Any
) -> None:
    job = Job(arbor_plate, tables, note("UNLESS OTHERWISE STATED TOL ±0.1"))
    job.take("TOL ±0.1")
    assert job.asked == {"tolerance": "±0.05mm"}
    said: Saying = next(one for one in job.says if one.statement.text == "TOL ±0.1")
    assert "each wall ±50 µm" in said.statement.readings[0].words
