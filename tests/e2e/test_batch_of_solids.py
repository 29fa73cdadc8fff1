"""Solids among the drawings of a batch: each at its own height, whatever the drawings are asked."""

from __future__ import annotations

import csv
import shutil
from importlib.resources import files
from pathlib import Path

import pytest

pytest.importorskip("OCP", reason="no Open CASCADE here: pip install 'kerfwright[solids]'")

from kerfwright.cli.run import run
from solid_samples import box, cut, cylinder, frustum, written

CLICK = Path(str(files("kerfwright") / "data/samples/click.dxf"))


def table_of(out: Path) -> dict[str, dict[str, str]]:
    text = (out / "batch.csv").read_bytes().decode("utf-8-sig")
    return {row["drawing"]: row for row in csv.DictReader(text.splitlines())}


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("enquiries")
    written(place / "bush.STP", cut(box(30, 30, 8), cylinder(4, 8, at=(15, 15, 0))))
    written(place / "cone.step", frustum(5, 0, 9))
    return place


def test_solids_have_heights_of_their_own_and_a_bad_one_says_why(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ["batch", str(folder), "--material", "D2", "-o", str(tmp_path / "out")]
    assert run(words) == 1
    rows = table_of(tmp_path / "out")
    assert (rows["bush.STP"]["state"], rows["bush.STP"]["height_mm"]) == ("priced", "8.0")
    assert rows["bush.STP"]["proved"] == "yes"
    assert (rows["cone.step"]["state"], rows["cone.step"]["price"]) == ("refused", "")
    shutil.copy(CLICK, folder / "click.dxf")
    capsys.readouterr()
    assert run([*words, "-o", str(tmp_path / "both")]) == 2
    assert "--height" in capsys.readouterr().err
    assert run([*words, "--height", "2.5mm", "-o", str(tmp_path / "both")]) == 1
    rows = table_of(tmp_path / "both")
    assert (rows["bush.STP"]["height_mm"], rows["click.dxf"]["height_mm"]) == ("8.0", "2.5")


def test_a_row_of_a_solid_may_say_its_height_and_is_refused_by_another(
    folder: Path, tmp_path: Path
) -> None:
    table = folder / "wanted.csv"
    table.write_text(
        "drawing,material,height,wire_along\nbush.STP,D2,,x\nbush.STP,D2,7 mm,\n", encoding="utf-8"
    )
    assert run(["batch", str(table), "--height", "2 mm", "-o", str(tmp_path / "out")]) == 1
    text = (tmp_path / "out" / "batch.csv").read_bytes().decode("utf-8-sig")
    first, second = csv.DictReader(text.splitlines())
    assert first["height_mm"] == "30.0"
    assert (second["state"], second["code"]) == ("row not usable", "height-not-solid")
