"""What drawings say in every kind of entity that says something, written for the purpose."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import ezdxf
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from kerfwright.adapters.dxf import read_drawing
from kerfwright.adapters.dxf.annotation_text import frame_text, line_text, paragraph_text
from kerfwright.adapters.dxf.annotations import MOST_LETTERS, MOST_TEXTS
from kerfwright.adapters.fit_tables import load_fits
from kerfwright.adapters.tables import load_tables
from kerfwright.foundation.errors import DrawingError
from kerfwright.trade.annotation import Annotation, AnnotationKind, Measures
from kerfwright.trade.callouts import interpret
from kerfwright.trade.part import LayerUse, LengthUnit, Part

Build = Callable[[Any], None]


@pytest.fixture
def draw(tmp_path: Path) -> Callable[..., Part]:
    """Write a square of 40 with what ``build`` adds, and read it."""

    def write(build: Build, *, insunits: int = 4, uses: Any = None) -> Part:
        document = ezdxf.new("R2010", setup=True)
        document.header["$INSUNITS"] = insunits
        document.header["$MEASUREMENT"] = int(insunits == 4)
        square = [(0, 0), (40, 0), (40, 40), (0, 40)]
        document.modelspace().add_lwpolyline(square, close=True)
        build(document)
        path = tmp_path / "drawing.dxf"
        document.saveas(path)
        return read_drawing(path, layer_uses=uses)

    return write


def one(part: Part) -> Annotation:
    (annotation,) = part.annotations
    return annotation


@pytest.mark.parametrize(
    ("raw", "plain"),
    [
        ("%%c12 %%p0.01 45%%d", "Ø12 ±0.01 45°"),
        ("%%C12 %%P0.01", "Ø12 ±0.01"),
        ("%%uNOTES%%u", "NOTES"),
        ("\\U+220512", "\N{EMPTY SET}12"),
    ],
)
def test_the_codes_of_a_line_of_text_become_their_signs(raw: str, plain: str) -> None:
    assert line_text(raw) == plain


@pytest.mark.parametrize(
    ("raw", "plain"),
    [
        # The form of the issue, with the caret before a sign, and the form with a blank.
        (r"12{\H0.7x;\S+0.01^-0.00;}", "12 +0.01/-0.00"),
        (r"12{\H0.7x;\S+0.01^ -0.00;}", "12 +0.01/-0.00"),
        (r"1\S1/2;", "1 1/2"),
        (r"\A1;%%c6 {\fArial|b0|i0|c0|p34;THRU}", "Ø6 THRU"),
        (r"{\Fgdt;n}12", "Ø12"),
        (r"FIRST\PSECOND\~LINE", "FIRST\nSECOND LINE"),
        (r"\C1;{\W0.8;RED \{BRACES\}}", "RED {BRACES}"),
        ("{" * 300 + "deep", "deep"),
    ],
)
def test_the_codes_of_a_paragraph_are_taken_out(raw: str, plain: str) -> None:
    assert paragraph_text(raw) == plain


def test_what_stands_below_the_line_of_a_dimension_is_a_line_of_its_own() -> None:
    assert paragraph_text("\\A1;12.00\\X2 PLACES") == "12.00\n2 PLACES"
    # An escaped backslash is a letter, and what follows it as well.
    assert "X7" in paragraph_text("A\\\\X7")


def test_a_tolerance_frame_is_shown_in_words() -> None:
    raw = r"{\Fgdt;j}%%v{\Fgdt;n}0.05{\Fgdt;m}%%vA%%vB"
    assert frame_text(raw) == "position | Ø0.05(M) | A | B"


@settings(deadline=None)
@example("", "\\A")
@example("", "77%d%{3}C\\S8\\")
@given(st.text(max_size=60), st.text(alphabet="\\{};SHPUfFgdtA^ /#%c0123456789", max_size=60))
def test_no_codes_make_the_reader_fall_over(text: str, codes: str) -> None:
    for raw in (text, codes):
        line_text(raw)
        paragraph_text(raw)
        frame_text(raw)


@pytest.mark.parametrize("raw", ["Ra 16\\A", "12 H7 \\S8\\"])
def test_a_text_whose_codes_are_cut_short_comes_as_it_is_written(raw: str) -> None:
    assert paragraph_text(raw) == raw


def test_a_text_has_its_words_its_entity_its_layer_and_its_place(draw: Callable[..., Part]) -> None:
    def build(document: Any) -> None:
        document.modelspace().add_text(
            "QTY 4", dxfattribs={"insert": (1, 2), "layer": "NOTES", "handle": "FFF"}
        )

    text = one(draw(build, insunits=1))
    assert (text.kind, text.text) == (AnnotationKind.TEXT, "QTY 4")
    assert text.where.entity == "TEXT FFF"
    assert text.where.layer == "NOTES"
    assert (text.where.x_mm, text.where.y_mm) == (25.4, 50.8)


def test_what_is_on_hidden_layers_or_ignored_ones_is_not_said(draw: Callable[..., Part]) -> None:
    def build(document: Any) -> None:
        for name in ("OFF", "SPARE"):
            document.layers.add(name)
            document.modelspace().add_text("QTY 4", dxfattribs={"layer": name})
        document.layers.get("OFF").off()
        document.modelspace().add_text("QTY 5", dxfattribs={"invisible": 1})

    assert draw(build, uses={"SPARE": LayerUse.IGNORE}).annotations == ()


def test_texts_of_a_block_are_said_where_it_is_inserted(draw: Callable[..., Part]) -> None:
    def build(document: Any) -> None:
        block = document.blocks.new("NOTE")
        block.add_mtext("D2 58-60 HRC", dxfattribs={"insert": (1, 0)})
        block.add_attdef("MATERIAL", (0, 0), "AS ASKED")
        document.modelspace().add_blockref("NOTE", (10, 10), dxfattribs={"rotation": 90})

    text = one(draw(build))
    assert text.text == "D2 58-60 HRC"
    assert (text.where.x_mm, text.where.y_mm) == pytest.approx((10, 11))


def test_the_fields_of_a_title_block_keep_their_tags(draw: Callable[..., Part]) -> None:
    def build(document: Any) -> None:
        block = document.blocks.new("TITLE")
        block.add_attdef("MATERIAL", (0, 0))
        insert = document.modelspace().add_blockref("TITLE", (0, 0))
        insert.add_auto_attribs({"MATERIAL": "D2"})

    field = one(draw(build))
    assert (field.kind, field.label, field.text) == (AnnotationKind.TITLE_BLOCK, "MATERIAL", "D2")


def test_a_paper_sheet_is_read_and_has_no_place_in_the_model(draw: Callable[..., Part]) -> None:
    def build(document: Any) -> None:
        block = document.blocks.new("BORDER")
        block.add_text("SCALE 1:1")
        sheet = document.layout("Layout1")
        sheet.add_blockref("BORDER", (0, 0))

    text = one(draw(build))
    assert (text.sheet, text.text) == ("Layout1", "SCALE 1:1")
    assert text.where.x_mm is None


def test_a_radius_whose_style_writes_its_r_has_one(draw: Callable[..., Part]) -> None:
    def build(document: Any) -> None:
        space = document.modelspace()
        for post in ("R<>", "<> mm"):
            space.add_radius_dim(
                center=(20, 20),
                radius=5.0,
                angle=45,
                override={"dimpost": post, "dimlfac": 1},
            ).render()

    assert [a.text for a in draw(build).annotations] == ["R5", "R5 mm"]


def test_a_leader_gives_its_text_what_it_points_at(draw: Callable[..., Part]) -> None:
    def build(document: Any) -> None:
        space = document.modelspace()
        words = space.add_mtext("R0.2 MAX", dxfattribs={"insert": (60, 60)})
        leader = space.add_leader([(40, 40), (50, 50), (60, 60)])
        leader.dxf.annotation_handle = words.dxf.handle

    text = one(draw(build))
    assert text.kind is AnnotationKind.LEADER
    assert text.points_mm == ((40.0, 40.0),)


def test_a_multileader_has_its_words_and_its_tip(draw: Callable[..., Part]) -> None:
    from ezdxf.math import Vec2
    from ezdxf.render import mleader

    def build(document: Any) -> None:
        builder = document.modelspace().add_multileader_mtext("Standard")
        builder.set_content("NO RECAST ABOVE 5 UM")
        builder.add_leader_line(mleader.ConnectionSide.left, [Vec2(40, 20)])
        builder.build(insert=Vec2(60, 20))

    text = one(draw(build))
    assert text.text == "NO RECAST ABOVE 5 UM"
    assert text.points_mm == ((40.0, 20.0),)


def linear(override: dict[str, Any] | None = None, text: str = "<>") -> Build:
    def build(document: Any) -> None:
        document.modelspace().add_linear_dim(
            base=(0, -10),
            p1=(0, 0),
            p2=(40, 0),
            text=text,
            override={"dimlfac": 1} | (override or {}),
        ).render()

    return build


@pytest.mark.parametrize(
    ("override", "text", "said", "limits"),
    [
        ({"dimdec": 2, "dimzin": 0}, "<>", "40.00", (None, None)),
        (
            {"dimtol": 1, "dimtp": 0.02, "dimtm": 0.01, "dimdec": 2, "dimzin": 0},
            "<>",
            "40.00 +0.02/-0.01",
            (20, -10),
        ),
        ({"dimtol": 1, "dimtp": 0.01, "dimtm": 0.01, "dimdec": 1}, "<>", "40 ±0.01", (10, -10)),
        (
            {"dimlim": 1, "dimtp": 0.018, "dimtm": 0, "dimdec": 3, "dimzin": 0},
            "<>",
            "40.018/40.000",
            (18, 0),
        ),
        # Limits rounded to the decimals of the size would be other limits: 40.01/40.00.
        (
            {"dimlim": 1, "dimtp": 0.005, "dimtm": 0.005, "dimdec": 2, "dimzin": 0},
            "<>",
            "40.005/39.995",
            (5, -5),
        ),
        (
            {"dimtol": 1, "dimtp": 0.01, "dimtm": 0.01, "dimdec": 2, "dimzin": 0}
            | {"dimtdec": 3, "dimtzin": 0},
            "<>",
            "40.00 ±0.010",
            (10, -10),
        ),
        ({"dimdec": 0}, "%%c<> H7", "Ø40 H7", (None, None)),
        ({}, "SEE NOTE 3", "SEE NOTE 3", (None, None)),
        ({"dimdec": 1, "dimdsep": 44, "dimzin": 0}, "<>", "40,0", (None, None)),
    ],
)
def test_a_dimension_says_its_value_its_limits_and_its_own_words(
    draw: Callable[..., Part], override: Any, text: str, said: str, limits: Any
) -> None:
    dimension = one(draw(linear(override, text)))
    assert dimension.text == said
    size = dimension.size
    assert size is not None
    assert (size.measures, size.drawn_mm) == (Measures.LENGTH, pytest.approx(40))
    assert (size.upper_um, size.lower_um) == limits
    assert dimension.points_mm == ((0.0, 0.0), (40.0, 0.0))


@pytest.mark.parametrize("dimdsep", [44, 46])
@pytest.mark.parametrize(("plus", "minus"), [(0.018, 0.0), (0.0, 0.015), (0.02, -0.005)])
def test_limits_without_their_last_zeros_are_read_as_limits(
    draw: Callable[..., Part], dimdsep: int, plus: float, minus: float
) -> None:
    override = {"dimlim": 1, "dimtp": plus, "dimtm": minus, "dimdec": 3, "dimzin": 8}
    dimension = one(draw(linear(override | {"dimdsep": dimdsep}, "<>")))
    (said,) = interpret(
        dimension.text,
        unit=LengthUnit.MILLIMETRE,
        catalogue=load_tables().catalogue,
        fits=load_fits(),
    )
    data = said.readings[0].data
    assert data["nominal_mm"] == pytest.approx(40 + (plus - minus) / 2)
    assert data["size_half_um"] == pytest.approx((plus + minus) / 2 * 1000)


def test_limits_of_the_style_itself_count_too(draw: Callable[..., Part]) -> None:
    def build(document: Any) -> None:
        style = document.dimstyles.new("TIGHT", dxfattribs={"dimtol": 1, "dimtp": 0.005})
        style.dxf.dimtm = 0.005
        document.modelspace().add_linear_dim(
            base=(0, -10), p1=(0, 0), p2=(40, 0), dimstyle="TIGHT"
        ).render()

    assert one(draw(build)).text.endswith("±0.005")


def test_a_diameter_and_a_radius_carry_their_sign(draw: Callable[..., Part]) -> None:
    def build(document: Any) -> None:
        space = document.modelspace()
        style = {"dimdec": 1, "dimlfac": 1}
        space.add_circle((20, 20), 6)
        space.add_diameter_dim((20, 20), radius=6, angle=0, override=style).render()
        space.add_radius_dim((20, 20), radius=6, angle=45, override=style).render()

    diameter, radius = draw(build).annotations
    assert diameter.text.startswith("Ø12")
    assert diameter.size is not None
    assert (diameter.size.measures, diameter.size.drawn_mm) == (
        Measures.DIAMETER,
        pytest.approx(12),
    )
    assert radius.text.startswith("R6")
    assert radius.size is not None
    assert radius.size.measures is Measures.RADIUS


def test_a_part_drawn_at_a_scale_is_warned_of(draw: Callable[..., Part]) -> None:
    part = draw(linear({"dimlfac": 0.1, "dimdec": 1}))
    dimension = one(part)
    assert dimension.text == "4"
    assert dimension.size is not None
    assert dimension.size.factor == pytest.approx(0.1)
    (finding,) = (f for f in part.findings if f.code == "drawn-at-a-scale")
    assert "10 times its size" in finding.message


def test_a_factor_that_only_changes_the_unit_is_no_scale(draw: Callable[..., Part]) -> None:
    limits = {"dimtol": 1, "dimtp": 0.1, "dimtm": 0.1}
    part = draw(linear({"dimlfac": 25.4, "dimdec": 1, **limits}), insunits=1)
    size = one(part).size
    assert size is not None
    assert (size.factor, size.shown_unit_mm) == (1.0, pytest.approx(1.0))
    assert size.upper_um == pytest.approx(100)
    assert not [f for f in part.findings if f.code == "drawn-at-a-scale"]


def test_a_note_on_the_unit_that_contradicts_the_reading_is_warned_of(
    draw: Callable[..., Part],
) -> None:
    def build(document: Any) -> None:
        document.modelspace().add_text("ALL DIMENSIONS IN INCHES")

    (finding,) = (f for f in draw(build).findings if f.code == "unit-contradicted")
    assert "read in millimetres" in finding.message
    assert not [f for f in draw(build, insunits=1).findings if f.code == "unit-contradicted"]


def test_a_doubt_of_the_unit_stands_before_all_other_findings(draw: Callable[..., Part]) -> None:
    def build(document: Any) -> None:
        space = document.modelspace()
        space.add_line((50, 0), (60, 0))
        document.layers.add("CENTRE", linetype="CENTER")
        space.add_line((0, 20), (40, 20), {"layer": "CENTRE"})
        space.add_text("ALL DIMENSIONS IN INCHES")

    codes = [f.code for f in draw(build).findings]
    assert len(codes) > 1
    assert codes[0] == "unit-contradicted"


def test_a_note_on_the_unit_is_shown_to_who_must_choose_and_never_taken(
    draw: Callable[..., Part],
) -> None:
    def build(document: Any) -> None:
        document.modelspace().add_text("ALL DIMENSIONS IN INCHES")

    with pytest.raises(DrawingError, match="A note says “ALL DIMENSIONS IN INCHES”") as error:
        draw(build, insunits=0)
    assert error.value.code == "units-unknown"


def test_a_table_that_is_not_read_is_named(draw: Callable[..., Part]) -> None:
    def build(document: Any) -> None:
        picture = document.add_image_def("spec.png", (100, 100))
        document.modelspace().add_image(picture, (50, 0), (10, 10))

    assert [a.kind for a in draw(build).annotations] == [AnnotationKind.UNREAD]


def test_beyond_the_limit_texts_are_counted_only(draw: Callable[..., Part]) -> None:
    def build(document: Any) -> None:
        for _ in range(MOST_TEXTS + 7):
            document.modelspace().add_text("4")

    part = draw(build)
    assert len(part.annotations) == MOST_TEXTS
    (finding,) = (f for f in part.findings if f.code == "notes-not-all-read")
    assert finding.data["passed_over"] == 7


def test_beyond_the_limit_of_letters_texts_are_counted_only(draw: Callable[..., Part]) -> None:
    def build(document: Any) -> None:
        for _ in range(200):
            document.modelspace().add_mtext(r"{\H2;" * 200 + "x" * 2000)

    part = draw(build)
    assert sum(len(a.text) for a in part.annotations) < MOST_LETTERS + 4000
    assert any(f.code == "notes-not-all-read" for f in part.findings)


def test_reading_what_is_said_changes_no_contour(draw: Callable[..., Part]) -> None:
    plain = draw(lambda _document: None)
    noted = draw(linear({"dimtol": 1, "dimtp": 0.1, "dimtm": 0.1}))
    assert [c.contour.vertices.tolist() for c in plain.contours] == [
        c.contour.vertices.tolist() for c in noted.contours
    ]
    assert noted.drawing_unit is LengthUnit.MILLIMETRE


def test_a_tolerance_frame_at_a_leader_stays_one(draw: Callable[..., Part]) -> None:
    def build(document: Any) -> None:
        space = document.modelspace()
        frame = space.new_entity("TOLERANCE", {"insert": (60, 60), "content": "{\\Fgdt;j}%%v0.05"})
        space.new_entity("LEADER", {"annotation_handle": frame.dxf.handle}).set_vertices(
            [(40, 20), (60, 60)]
        )

    said = one(draw(build))
    assert said.kind is AnnotationKind.FRAME
    assert said.points_mm == ((40, 20),)
