"""Drawings from words: written, read back by the reader of drawings, and planned."""

from __future__ import annotations

import json
from importlib.resources import files
from pathlib import Path

import pytest

from kerfwright.adapters.dxf import read_drawing
from kerfwright.cli.run import run
from kerfwright.trade.part import Role

WHEEL = Path(str(files("kerfwright") / "data/samples/escape_wheel.dxf"))


def test_a_ring_with_inside_teeth_is_drawn_and_planned_with_its_hole_where_there_is_room(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    drawing, folder = tmp_path / "ring.dxf", tmp_path / "job"
    words = ["draw", "gear", "--module", "1mm", "--teeth", "60", "--inside", "-o", str(drawing)]
    plan = ["--material", "D2", "--height", "10mm", "--job", str(folder)]
    assert run([*words, *plan, "--json"]) == 0
    (made,) = json.loads(capsys.readouterr().out)["drawings"]
    assert made["sizes"]["tip diameter"] == "58.0000 mm"
    (start,) = made["result"]["plan"]["start_holes"]
    assert start["clearance_mm"] >= 0.5
    assert start["diameter_mm"] == 1.5
    assert not [f for f in made["result"]["findings"] if f["severity"] == "warning"]
    assert (folder / "program.nc").is_file()
    assert run(words) == 2
    assert "is there already" in capsys.readouterr().err


def test_a_wheel_has_its_fits_at_the_middle_and_asks_its_walls_of_the_plan(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    drawing = tmp_path / "wheel.dxf"
    hub = ["--bore", "8 H7", "--key-width", "3 JS9", "--key-across", "9.4mm +0.1/-0mm"]
    assert run(["draw", "gear", "--pitch", "24", "--teeth", "30", *hub, "-o", str(drawing)]) == 0
    shown = " ".join(capsys.readouterr().out.split())
    assert "--contour 'H1: tolerance=±3.75um'" in shown
    assert "diametral pitch 24" in shown
    part = read_drawing(drawing)
    assert [(c.id, c.role) for c in part.contours] == [("P1", Role.OUTLINE), ("H1", Role.OPENING)]
    x0, y0, x1, y1 = part.contours[1].contour.bounds_mm
    # 8 H7 is 8.000 to 8.015 mm (ISO 286-2), the key 1.4 mm deep in the hub.
    assert (x1 - x0, y1 - y0) == pytest.approx((8.0075, 9.45), abs=1e-6)
    assert part.contours[0].contour.bounds_mm[2] == pytest.approx(32 / 24 * 25.4 / 2, abs=1e-6)


def test_punch_die_and_cavity_of_the_sample(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    tool = str(tmp_path / "tool.dxf")
    words = ["draw", "pair", str(WHEEL), "--sheet", "1mm", "--clearance", "6%", "-o", tool]
    assert run(words) == 0
    sheet = {c.id: c.contour for c in read_drawing(WHEEL).contours}
    punch, die = (read_drawing(tmp_path / f"tool-{kind}.dxf") for kind in ("punch", "die"))
    assert {c.role for c in punch.contours} == {Role.OUTLINE}
    assert {c.role for c in die.contours} == {Role.OPENING}
    largest = [max(abs(c.contour.area_mm2) for c in tool.contours) for tool in (punch, die)]
    assert largest[1] == pytest.approx(sheet["P1"].area_mm2)
    assert largest[0] == pytest.approx(
        sheet["P1"].area_mm2 - 0.06 * sheet["P1"].length_mm, rel=1e-3
    )
    cavity = tmp_path / "cavity.dxf"
    assert run(["draw", "scaled", str(WHEEL), "--shrinkage", "2%", "-o", str(cavity)]) == 0
    scaled = {c.id: c.contour for c in read_drawing(cavity).contours}
    assert scaled["P1"].area_mm2 * 0.98**2 == pytest.approx(sheet["P1"].area_mm2)
    capsys.readouterr()


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("gear", "--teeth", "20"), "--module or --pitch"),
        (("gear", "--module", "1", "--teeth", "20"), "no unit"),
        (("gear", "--module", "1mm", "--teeth", "20", "--key-width", "3mm"), "needs --bore"),
        (("gear", "--module", "1mm", "--teeth", "20", "--bore", "18mm"), "root circle"),
        (("gear", "--module", "1mm", "--teeth", "20", "--inside", "--rim", "20mm"), "root circle"),
        (("bore", "8 H7", "--key-width", "3mm"), "the across is missing"),
        (("bore", "8 H7", "--tolerance", "0.01mm"), "--material and --height"),
        (("slot", "10mm", "4mm", "--corner", "1mm"), "--square"),
        (("polygon", "6", "eight"), "eight"),
        (("pair", str(WHEEL), "--sheet", "1mm", "--clearance", "6"), "600 %"),
        (("scaled", str(WHEEL)), "one of them"),
    ],
)
def test_what_cannot_be_drawn_is_refused_and_writes_nothing(
    words: tuple[str, ...],
    said: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.chdir(tmp_path)
    assert run(["draw", *words]) == 2
    assert said in " ".join(capsys.readouterr().err.split())
    assert not list(tmp_path.iterdir())
