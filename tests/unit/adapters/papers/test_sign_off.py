from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from pdf_pages import pages

pytest.importorskip("typst")

from kerfwright.adapters.papers.typeset import Paper, typeset

HEADING = dict.fromkeys(("revision", "customer", "reference", "due", "digest"), "")
HEADING |= {"drawing": "die.dxf", "material": "D2", "height": "20 mm"}


def sheet(count: int) -> dict[str, object]:
    sizes = ["opening", "Ø", "0.000  0.000", "12.0000", "11.9800", "12.0200", "walls"]
    return {
        "shop": {"name": "", "lines": []},
        "heading": HEADING,
        "unit": "mm",
        "withheld": False,
        "asked": [],
        "notes": [],
        "left_out": "",
        "features": [[f"H{k + 1}", *sizes] for k in range(count)],
        "picture": None,
    }


@pytest.mark.parametrize("count", [1, 2, *range(30, 36)])
def test_who_signs_sees_sizes_on_the_same_page(tmp_path: Path, count: int) -> None:
    made = typeset("inspection", sheet(count), paper=Paper.A4, made_on=date(2027, 1, 5))
    (tmp_path / "sheet.pdf").write_bytes(made.pdf)
    (signed,) = [p for p in pages(tmp_path / "sheet.pdf") if "Signature" in p.text]
    least = min(count, 3)
    assert all(f"H{k}" in signed.text for k in range(count - least + 1, count + 1))


def drawn(high_mm: int) -> dict[str, object]:
    svg = f'<svg xmlns="http://www.w3.org/2000/svg" width="90mm" height="{high_mm}mm"/>'
    shown = {"svg": svg, "width": 90, "height": high_mm, "caption": "", "left_out": 0}
    return shown | {"scale": f"of {high_mm} mm"}


@pytest.mark.parametrize(
    ("count", "high_mm", "on"), [(10, 100, 1), (18, 62, 1), (20, 62, 1), (40, 100, 2)]
)
def test_a_few_sizes_are_not_left_to_a_page_of_their_own(
    tmp_path: Path, count: int, high_mm: int, on: int
) -> None:
    data = sheet(count) | {"picture": drawn(100), "small_picture": drawn(62)}
    made = typeset("inspection", data, paper=Paper.A4, made_on=date(2027, 1, 5))
    (tmp_path / "sheet.pdf").write_bytes(made.pdf)
    found = pages(tmp_path / "sheet.pdf")
    assert len(found) == on
    assert f"of {high_mm} mm" in found[0].text
    words = " ".join(page.text for page in found)
    assert all(f"H{k + 1}" in words for k in range(count))
