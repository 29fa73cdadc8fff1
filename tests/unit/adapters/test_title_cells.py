"""Title blocks of plain texts: label and value apart, over each other or side by side."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import ezdxf
import pytest

from kerfwright.adapters.dxf import read_drawing
from kerfwright.adapters.fit_tables import load_fits
from kerfwright.app.drawing_says import Saying, what_drawing_says
from kerfwright.trade.statements import Asks

CELLS = (
    ("QTY", "4"),
    ("THICKNESS", ".750"),
    ("FINISH", "16"),
    ("REV", "C"),
    ("CUSTOMER", "RIDGE OBSERVATORY"),
    ("DUE", "12/15/26"),
    ("DWG NO", "70412"),
    ("MATERIAL", "D2"),
)


def block(layout: Any, by: str, unit: float, *, high: float = 3, cells: Any = CELLS) -> None:
    """Write the cells in rows or columns, `unit` drawing units a millimetre."""

    def put(words: str, x: float, y: float) -> None:
        at = (x * unit, y * unit)
        layout.add_text(words, height=high * unit).set_placement(at)

    for n, (label, value) in enumerate(cells):
        if by == "right":
            put(label, 100, -10 - 6 * n)
            put(value, 140, -10 - 6 * n)
        else:
            put(label, 100 + 45 * (n % 4), -10 - 16 * (n // 4))
            put(value, 101 + 45 * (n % 4), -16 - 16 * (n // 4))


def said(tmp_path: Path, tables: Any, build: Any, *, inch: bool) -> tuple[Saying, ...]:
    document = ezdxf.new("R2010", setup=True)
    document.header["$INSUNITS"] = 1 if inch else 4
    document.header["$MEASUREMENT"] = 0 if inch else 1
    unit = 1 / 25.4 if inch else 1.0
    arbor = [(x * unit, y * unit) for x, y in ((0, 0), (40, 0), (40, 40), (0, 40))]
    document.modelspace().add_lwpolyline(arbor, close=True)
    build(document, unit)
    path = tmp_path / "click.dxf"
    document.saveas(path)
    return what_drawing_says(read_drawing(path), catalogue=tables.catalogue, fits=load_fits())


@pytest.mark.parametrize("inch", [True, False])
@pytest.mark.parametrize("by", ["right", "below"])
@pytest.mark.parametrize("on", ["model", "paper"])
def test_each_cell_is_read_under_its_label_and_none_as_a_size(
    tmp_path: Path, tables: Any, on: str, by: str, inch: bool
) -> None:
    def build(document: Any, unit: float) -> None:
        layout = document.modelspace() if on == "model" else document.layout("Layout1")
        block(layout, by, unit)

    found = {s.statement.asks: s.statement for s in said(tmp_path, tables, build, inch=inch)}
    asked = {Asks.QUANTITY, Asks.HEIGHT, Asks.FINISH, Asks.REVISION, Asks.CUSTOMER, Asks.DUE}
    assert set(found) == {*asked, Asks.PART_NUMBER, Asks.MATERIAL}
    data = {asks: one.readings[0].data for asks, one in found.items()}
    assert data[Asks.QUANTITY] == {"pieces": 4}
    assert data[Asks.HEIGHT]["height_mm"] == pytest.approx(0.750 * 25.4 if inch else 0.750)
    assert data[Asks.REVISION] == {"revision": "C"}
    assert data[Asks.CUSTOMER] == {"customer": "RIDGE OBSERVATORY"}
    assert data[Asks.DUE] == {"date": "2026-12-15"}
    assert data[Asks.PART_NUMBER] == {"number": "70412"}
    # 16 µin, in millimetres too, where 16 µm is coarser than any wire cut; an inch is 25.4 mm.
    assert data[Asks.FINISH]["ra_um"] == pytest.approx(16 * 0.0254)
    assert found[Asks.QUANTITY].text == "QTY: 4"


def test_a_word_under_a_label_of_numbers_is_none_of_its_and_a_far_number_stays_a_size(
    tmp_path: Path, tables: Any
) -> None:
    def build(document: Any, unit: float) -> None:
        model = document.modelspace()
        block(model, "right", unit, cells=(("QTY", "4"), ("TREAD", "77")))
        model.add_text("12.5", height=3).set_placement((100, 90))

    found = said(tmp_path, tables, build, inch=False)
    assert [s.statement.text for s in found if s.statement.asks is Asks.QUANTITY] == ["QTY: 4"]
    assert "12.5" in [s.statement.text for s in found if s.statement.asks is Asks.SIZE]
