"""Statements with their places: which contour, what contradicts the lines, what counts."""

from __future__ import annotations

import shlex
from dataclasses import replace
from typing import Any

import pytest

import handmade
from kerfwright.adapters.fit_tables import load_fits
from kerfwright.app.drawing_doubts import contradicted_sizes, untaken_demands
from kerfwright.app.drawing_says import Saying, what_drawing_says
from kerfwright.foundation.findings import Place, Severity
from kerfwright.geometry.contour import Contour
from kerfwright.trade.annotation import Annotation, AnnotationKind, Dimensioned, Measures
from kerfwright.trade.part import LengthUnit, Part, Role
from kerfwright.trade.requirement import Demand, Requirement
from kerfwright.trade.statements import Asks


@pytest.fixture
def plate(make_part: Any) -> Part:
    """A plate of 60 x 40 with three holes Ø6 and one of Ø12."""
    outline = Contour.from_rows([(0, 0), (60, 0), (60, 40), (0, 40)])
    holes = [((10, 10), 3), ((50, 10), 3), ((10, 30), 3), ((40, 25), 6)]
    return make_part(
        [
            (Role.OUTLINE, outline, None),
            *((Role.OPENING, Contour.circle(at, radius_mm=r), "P1") for at, r in holes),
        ]
    )


def says(part: Part, tables: Any, *annotations: Annotation) -> tuple[Saying, ...]:
    noted = replace(part, annotations=annotations)
    return what_drawing_says(noted, catalogue=tables.catalogue, fits=load_fits())


def text(words: str, **fields: Any) -> Annotation:
    where = Place(x_mm=1, y_mm=2, layer="NOTES", entity="TEXT 2A")
    return Annotation(kind=AnnotationKind.TEXT, text=words, where=where, **fields)


def dimension(words: str, drawn_mm: float, *points: Any, **fields: Any) -> Annotation:
    measures = fields.pop("measures", Measures.LENGTH)
    return Annotation(
        kind=AnnotationKind.DIMENSION,
        text=words,
        points_mm=points,
        size=Dimensioned(measures=measures, drawn_mm=drawn_mm, **fields),
    )


def contour_demand(option: str) -> tuple[str, str]:
    name, value = shlex.split(option)
    assert name == "--contour"
    ids, _, demand = value.partition(": ")
    return ids, demand


def test_a_note_belongs_to_the_whole_drawing_and_keeps_its_place(plate: Part, tables: Any) -> None:
    (said,) = says(plate, tables, text("QTY 4"))
    assert said.contour_ids == ()
    assert said.where == Place(x_mm=1, y_mm=2, layer="NOTES", entity="TEXT 2A")


def test_words_at_a_leader_are_marked_where_it_ends_at_a_contour(plate: Part, tables: Any) -> None:
    where = Place(x_mm=80, y_mm=50, entity="MTEXT 4C")

    def at(tip: tuple[float, float]) -> Saying:
        words = Annotation(kind=AnnotationKind.LEADER, text="Ø12 H7", where=where, points_mm=(tip,))
        (said,) = says(plate, tables, words)
        return said

    marked = at((46.0, 25.0)).where
    assert (marked.x_mm, marked.y_mm, marked.contour_id) == (46.0, 25.0, "H4")
    assert marked.entity == "MTEXT 4C"
    # A leader into the air says nothing of a place.
    assert (at((70.0, 45.0)).where.x_mm, at((70.0, 45.0)).where.y_mm) == (80, 50)


def test_a_diameter_belongs_to_the_circle_between_its_points(plate: Part, tables: Any) -> None:
    mark = dimension("Ø12 H7", 12, (34, 25), (46, 25), measures=Measures.DIAMETER)
    (said,) = says(plate, tables, mark)
    assert said.statement.asks is Asks.FIT
    assert said.contour_ids == ("H4",)
    assert said.where.contour_id == "H4"
    (reading,) = said.statement.readings
    ids, demand = contour_demand(reading.option)
    assert (ids, demand) == ("H4", "tolerance=12 H7")


def drawn(
    tables: Any, *annotations: Annotation, unit: LengthUnit = LengthUnit.MILLIMETRE
) -> tuple[Saying, ...]:
    """A plate of 60 x 40 with a bore of 12 mm and a slot 8 wide, and a pin of 12 mm."""
    slot = Contour.from_rows([(10, 10), (30, 10), (30, 18), (10, 18)])
    part = handmade.part(
        handmade.outline("P1", Contour.from_rows([(0, 0), (60, 0), (60, 40), (0, 40)])),
        handmade.opening("H1", Contour.circle((40, 25), radius_mm=6.0), "P1"),
        handmade.opening("H2", slot, "P1"),
        handmade.outline("P2", Contour.circle((90, 0), radius_mm=6.0)),
    )
    return says(replace(part, drawing_unit=unit), tables, *annotations)


@pytest.mark.parametrize(
    ("words", "option"),
    [
        ("12 H7", "--contour 'H1: tolerance=12 H7'"),
        ("Ø12 H7", "--contour 'H1: tolerance=12 H7'"),
        ("12 h6", "--contour 'P2: tolerance=12 h6'"),
        # Between the walls of the slot: of no circle.
        ("8 H7", "--contour 'H2: tolerance=8 H7'"),
    ],
)
@pytest.mark.parametrize("unit", list(LengthUnit))
def test_a_fit_is_offered_as_it_is_written_for_the_contour_whose_size_it_is(
    words: str, option: str, unit: LengthUnit, tables: Any
) -> None:
    (said,) = drawn(tables, text(words), unit=unit)
    first, *others = said.statement.readings
    # In inches first or last: the size that is drawn leads, and 304.8 mm can not be taken.
    assert first.option == option
    assert [r.option for r in others] == [""] * len(others)
    assert said.contour_ids == (option.split("'")[1].partition(":")[0],)


@pytest.mark.parametrize(
    "note", [text("25 H7"), dimension("Ø25 H7", 12, (34, 25), (46, 25), measures=Measures.DIAMETER)]
)
def test_a_fit_of_no_size_that_is_drawn_is_never_asked_of_the_whole_job(
    note: Annotation, tables: Any
) -> None:
    for unit in LengthUnit:
        (said,) = drawn(tables, note, unit=unit)
        assert [r.option for r in said.statement.readings if r.option] == []
        assert "pick the contour that it is meant for" in said.statement.remark


def test_a_hole_and_its_shaft_are_each_offered_where_they_are_cut(tables: Any) -> None:
    (said,) = drawn(tables, text("12 H7/g6"))
    assert [r.option for r in said.statement.readings] == [
        "--contour 'H1: tolerance=12 H7'",
        "--contour 'P2: tolerance=12 g6'",
    ]


def test_a_distance_of_centres_belongs_to_both_circles(plate: Part, tables: Any) -> None:
    (said,) = says(plate, tables, dimension("40.000 ±0.01", 40, (10, 10), (50, 10)))
    assert said.contour_ids == ("H1", "H2")
    assert said.where.contour_id is None


def test_a_hole_callout_finds_its_circles_and_counts_them(plate: Part, tables: Any) -> None:
    (right,) = says(plate, tables, text("3X Ø6.0 THRU"))
    assert right.contour_ids == ("H1", "H2", "H3")
    assert right.statement.remark == ""
    (wrong,) = says(plate, tables, text("4X Ø6.0 THRU"))
    assert "3 circles of that size are drawn" in wrong.statement.remark
    (absent,) = says(plate, tables, text("4X Ø7.0 THRU"))
    assert "no circle of that size is drawn" in absent.statement.remark


def test_a_leader_belongs_to_the_wall_that_it_points_at(plate: Part, tables: Any) -> None:
    leader = Annotation(kind=AnnotationKind.LEADER, text="Ra 0.8", points_mm=((60.2, 20),))
    (said,) = says(plate, tables, leader)
    assert said.contour_ids == ("P1",)
    (far,) = says(
        plate, tables, Annotation(kind=AnnotationKind.LEADER, text="Ra 0.8", points_mm=((70, 20),))
    )
    assert far.contour_ids == ()


def test_a_size_that_contradicts_its_line_says_so(plate: Part, tables: Any) -> None:
    (said,) = says(plate, tables, dimension("59.5", 60, (0, 0), (60, 0)))
    assert "written 59.5000 mm where 60.0000 mm is drawn" in said.statement.remark
    (rounded,) = says(plate, tables, dimension("60.0", 60.004, (0, 0), (60, 0)))
    assert rounded.statement.remark == ""


def test_a_size_of_a_part_drawn_at_a_scale_is_compared_at_that_scale(
    plate: Part, tables: Any
) -> None:
    (said,) = says(plate, tables, dimension("6", 60, (0, 0), (60, 0), factor=0.1))
    assert "drawn" not in said.statement.remark


def test_a_dimension_in_the_other_unit_is_read_in_that_unit(plate: Part, tables: Any) -> None:
    mark = dimension("2.3622 ±.0002", 60, (0, 0), (60, 0), shown_unit_mm=25.4)
    (said,) = says(plate, tables, mark)
    (reading,) = said.statement.readings
    assert reading.data["nominal_mm"] == pytest.approx(60, abs=1e-3)
    assert reading.option == "--contour 'P1: tolerance=±0.0001in'"


def test_frames_and_kinds_that_are_not_read_are_listed(plate: Part, tables: Any) -> None:
    frame = Annotation(kind=AnnotationKind.FRAME, text="position | Ø0.05 | A")
    table = Annotation(kind=AnnotationKind.UNREAD, text="ACAD_TABLE")
    first, second = says(plate, tables, frame, table)
    assert (first.statement.asks, first.statement.text) == (Asks.FRAME, "position | Ø0.05 | A")
    assert second.statement.asks is Asks.NOT_UNDERSTOOD


def test_a_thousand_equal_texts_are_each_offered_with_their_own_place(
    plate: Part, tables: Any
) -> None:
    many = [text("Ra 0.8") for _ in range(1000)]
    assert len(says(plate, tables, *many)) == 1000


@pytest.mark.parametrize(
    ("words", "ids"),
    [
        # As many as are named are drawn, though it stands at one.
        ("3X Ø6.0 +0.01/0", ("H1", "H2", "H3")),
        ("3X Ø6 H7", ("H1", "H2", "H3")),
        ("Ø6.0 +0.01/0", ("H1",)),
        ("1X Ø6.0 +0.01/0", ("H1",)),
        # Two of three: which ones nobody can say.
        ("2X Ø6.0 +0.01/0", ("H1",)),
        ("4X Ø6 H7", ("H1",)),
    ],
)
def test_a_dimension_goes_to_as_many_contours_as_it_names(
    words: str, ids: tuple[str, ...], plate: Part, tables: Any
) -> None:
    mark = dimension(words, 6, (7, 10), (13, 10), measures=Measures.DIAMETER, override=words)
    (said,) = says(plate, tables, mark)
    (reading,) = said.statement.readings
    assert contour_demand(reading.option)[0] == ",".join(ids)
    assert said.contour_ids == ids
    count = int(words.partition("X")[0]) if "X" in words else 1
    is_open = count > len(ids)
    assert ("left open" in said.statement.remark) is is_open
    if is_open:
        assert f"{count} are named and 3 of that size are drawn" in said.statement.remark
        assert "to the 1 at which it stands, and 2 are left open" in said.statement.remark


def test_a_size_in_a_note_goes_to_the_contours_of_that_size(plate: Part, tables: Any) -> None:
    (slot,) = drawn(tables, text("8 +0,01"))
    ids, demand = contour_demand(slot.statement.readings[0].option)
    assert (ids, demand) == ("H2", "tolerance=+0.005/+0mm")
    (bores,) = says(plate, tables, text("Ø6 (+0.02/0)"))
    assert bores.contour_ids == ("H1", "H2", "H3")
    assert "ask whether all are meant" in bores.statement.remark
    (none,) = says(plate, tables, text("33 +0.02/0"))
    assert "no contour of that size is drawn" in none.statement.remark


def test_a_size_that_contradicts_its_line_is_a_warning_of_the_job(plate: Part, tables: Any) -> None:
    wrong = dimension("12.25 ±0.02", 12, (34, 25), (46, 25), override="12.25 ±0.02")
    right = dimension("60.0", 60.004, (0, 0), (60, 0), override="60.0")
    (found,) = contradicted_sizes(says(plate, tables, wrong, right))
    assert (found.code, found.severity) == ("dimension-contradicts-line", Severity.WARNING)
    assert "“12.25 ±0.02” at H4 where 12 mm (0.4724 in) is drawn" in found.message
    assert "0.25 mm (0.0098 in) smaller than written" in found.message
    assert found.where.contour_id == "H4"
    assert found.data["written_mm"] == pytest.approx(12.25)


def test_own_words_of_a_dimension_are_not_multiplied_by_the_factor_of_its_style(
    plate: Part, tables: Any
) -> None:
    fields = {"factor": 100.0, "override": "12.0 ±0.02"}
    (own,) = says(plate, tables, dimension("12.0 ±0.02", 12, (34, 25), (46, 25), **fields))
    assert (own.drawn_mm, "drawn" in own.statement.remark) == (None, False)
    fields["override"] = "12.7 ±0.02"
    (off,) = says(plate, tables, dimension("12.7 ±0.02", 12, (34, 25), (46, 25), **fields))
    assert "written 12.7000 mm where 12.0000 mm is drawn" in off.statement.remark
    # What the program itself writes is.
    measured = dimension("1200", 12, (34, 25), (46, 25), factor=100.0, override="<>")
    assert says(plate, tables, measured)[0].drawn_mm is None


def test_what_the_drawing_asks_closer_than_is_planned_is_said(
    plate: Part, tables: Any, requirement: Requirement
) -> None:
    def closer(
        plate: Part, tables: Any, *annotations: Annotation, **demands: Any
    ) -> list[tuple[str, str]]:
        planned = replace(requirement, **demands)
        found = untaken_demands(says(plate, tables, *annotations), plate, planned)
        return [(f.code, f.message) for f in found]

    bore = dimension("Ø12 ±0.01", 12, (34, 25), (46, 25), measures=Measures.DIAMETER)
    ((code, message),) = closer(plate, tables, bore, tolerance_um=25.0)
    assert code == "drawing-asks-closer"
    assert "“Ø12 ±0.01” at H4, ±5 µm" in message
    assert "±25 µm" in message
    ((_, message),) = closer(plate, tables, bore, tolerance_um=None)
    assert "nothing of the kind is asked" in message
    assert closer(plate, tables, bore, tolerance_um=5.0) == []
    own = {"H4": Demand(tolerance_um=5.0)}
    assert closer(plate, tables, bore, tolerance_um=25.0, contours=own) == []
    ((_, message),) = closer(plate, tables, text("Ra 0.4 µm"), tolerance_um=5.0, ra_um=0.8)
    assert "Ra 0.4 µm" in message
    # A fit with its limits beside it is one demand, written twice.
    fit = text("Ø12 H7 = 12.0000 to 12.0180 mm")
    ((_, message),) = closer(plate, tables, fit, tolerance_um=25.0)
    assert "±4.5 µm (0.000177 in) of each wall" in message


def test_two_limits_are_asked_as_written_of_the_contour_between_them(
    plate: Part, tables: Any
) -> None:
    for words in ("Ø12.000/12.018", "Ø12.000-12.018"):
        (said,) = says(plate, tables, text(words))
        assert contour_demand(said.statement.readings[0].option) == (
            "H4",
            "tolerance=12.000/12.018mm",
        )
    # Between two centres there is no size of a contour.
    (apart,) = says(plate, tables, dimension("39.99/40.01", 40, (10, 10), (50, 10)))
    assert (apart.statement.asks, apart.statement.readings[0].option) == (Asks.POSITION, "")


@pytest.mark.parametrize(
    ("mark", "ids", "ties"),
    [
        (dimension("40 ±0.005", 40, (10, 10), (50, 10)), ("H1", "H2"), "the centres of H1 and H2"),
        (
            dimension("1.5748 ±.0002", 40, (10, 10), (50, 10), shown_unit_mm=25.4),
            ("H1", "H2"),
            "the centres of H1 and H2",
        ),
        (
            dimension("10 +0.01/-0", 10, (0, 20), (10, 10)),
            ("P1", "H1"),
            "a wall of P1 and the centre of H1",
        ),
        (
            dimension("10 ±0.01", 0, (10, 10), measures=Measures.ORDINATE),
            ("H1",),
            "the centre of H1",
        ),
    ],
)
def test_a_distance_to_a_centre_is_a_position_and_no_zone_of_walls(
    mark: Annotation, ids: tuple[str, ...], ties: str, plate: Part, tables: Any,
    requirement: Requirement,
) -> None:  # fmt: skip
    (said,) = says(plate, tables, mark)
    assert (said.statement.asks, said.contour_ids) == (Asks.POSITION, ids)
    (reading,) = said.statement.readings
    assert reading.option == ""
    assert "wall_half_um" not in reading.data
    assert f"ties {ties}: no zone of a wall" in said.statement.remark
    assert "not by skims" in said.statement.remark
    assert list(untaken_demands((said,), plate, requirement)) == []


def test_the_ends_of_a_slot_are_centres_too_and_its_own_length_is_a_size(tables: Any) -> None:
    slot = Contour.from_rows([(20, 17, 0), (40, 17, 1), (40, 23, 0), (20, 23, 1)])
    part = handmade.part(
        handmade.outline("P1", Contour.from_rows([(0, 0), (60, 0), (60, 40), (0, 40)])),
        handmade.opening("H1", slot, "P1"),
        handmade.opening("H2", Contour.circle((50, 20), radius_mm=3.0), "P1"),
    )
    (apart,) = says(part, tables, dimension("10 ±0.01", 10, (40, 20), (50, 20)))
    assert (apart.statement.asks, apart.contour_ids) == (Asks.POSITION, ("H1", "H2"))
    (own,) = says(part, tables, dimension("20 ±0.01", 20, (20, 20), (40, 20)))
    assert contour_demand(own.statement.readings[0].option) == ("H1", "tolerance=±0.005mm")


def test_a_distance_of_centres_that_contradicts_its_line_still_says_so(
    plate: Part, tables: Any
) -> None:
    mark = dimension("41 ±0.005", 40, (10, 10), (50, 10), override="41 ±0.005")
    (said,) = says(plate, tables, mark)
    assert "written 41.0000 mm where 40.0000 mm is drawn" in said.statement.remark
    assert said.statement.asks is Asks.POSITION


@pytest.mark.parametrize(
    ("first", "second"),
    [
        ("4 REQ'D", "QTY: 12"),
        ("THICKNESS 25 mm", "Dicke 20"),
        ("MATERIAL: D2", "MATL: M2"),
        ("REV A", "REV B"),
    ],
)
def test_two_texts_that_contradict_each_other_name_one_another(
    first: str, second: str, plate: Part, tables: Any
) -> None:
    one, other = says(plate, tables, text(first), text(second))
    assert f"the drawing also says “{second}” (TEXT 2A): ask which holds" in one.statement.remark
    assert f"the drawing also says “{first}” (TEXT 2A): ask which holds" in other.statement.remark


@pytest.mark.parametrize(
    ("first", "second"),
    [
        ("4 REQ'D", "QTY: 4"),
        ("25.4 mm THK", "1.000 in THK"),
        ("MATERIAL: D2", "1.2379"),
        # One of the two meanings is the other text's, and an alternative is none.
        ("2 SETS OF 6", "12 REQ'D"),
        ("MATERIAL: D2", "ALTERNATE MATERIAL: A2"),
        ("MATERIAL: D2 OR A2", "MATL: A2"),
    ],
)
def test_texts_that_agree_have_no_such_remark(
    first: str, second: str, plate: Part, tables: Any
) -> None:
    for said in says(plate, tables, text(first), text(second)):
        assert "also says" not in said.statement.remark


def test_one_contour_of_a_size_is_one_contour(plate: Part, tables: Any) -> None:
    (said,) = says(plate, tables, text("Ø12 G6 (2x)"))
    assert "1 contour of that size is drawn" in said.statement.remark


@pytest.mark.parametrize(
    ("words", "line"),
    [("Ra 0.4 µm", "finish"), ("±0.002", "tolerance"), ("RECAST MAX 2 µm", "recast")],
)
def test_what_is_not_taken_over_names_the_line_that_would_ask_it(
    words: str, line: str, plate: Part, tables: Any, requirement: Requirement
) -> None:
    (said,) = says(plate, tables, text(words))
    planned = replace(requirement, tolerance_um=25.0, ra_um=None, max_recast_um=None)
    (found,) = untaken_demands((said,), plate, planned)
    assert (found.data["line"], found.data["text"]) == (line, said.statement.text)
    assert f"into the line '{line}'" in found.remedy
    assert said.statement.readings[0].option.startswith(f"--{line} ")


def test_no_text_of_the_whole_job_is_missed_where_every_contour_is_asked_closer_by_itself(
    plate: Part, requirement: Requirement, tables: Any
) -> None:
    said = says(plate, tables, text("TOL ±0.02"))
    (missed,) = untaken_demands(said, plate, replace(requirement, tolerance_um=None, contours={}))
    assert "nothing of the kind is asked" in missed.message
    own = {c.id: Demand(tolerance_um=5.0) for c in plate.contours}
    closer = replace(requirement, tolerance_um=None, contours=own)
    assert not list(untaken_demands(said, plate, closer))
    # One that asks nothing is enough to speak of it again.
    open_one = replace(closer, contours={k: v for k, v in own.items() if k != "H2"})
    assert len(list(untaken_demands(said, plate, open_one))) == 1
    # One asked looser by itself is named, unless a text at it says so.
    looser = replace(closer, contours=own | {"H2": Demand(tolerance_um=30.0)})
    (found,) = untaken_demands(said, plate, looser)
    assert "at H2" in found.message
    at_h2 = dimension("6 ±0.06", 6, (47, 10), (53, 10))
    both = says(plate, tables, text("TOL ±0.02"), at_h2)
    assert not list(untaken_demands(both, plate, looser))


def test_limits_that_fit_no_size_are_missed_until_some_contour_is_asked_as_close(
    plate: Part, requirement: Requirement, tables: Any
) -> None:
    said = says(plate, tables, text("25.000/25.013"))
    free = replace(requirement, tolerance_um=None, contours={})
    (missed,) = untaken_demands(said, plate, free)
    assert missed.remedy.startswith("Pick the contours that it is meant for")
    taken = replace(free, contours={"H2": Demand(tolerance_um=3.25)})
    assert not list(untaken_demands(said, plate, taken))
