from __future__ import annotations

from pathlib import Path

import pytest

from kerfwright.adapters.machines import load_machine, read_machine, shipped_machines
from kerfwright.foundation.errors import FileError, InputError, UnknownNameError
from kerfwright.trade.machine import ArcForm, OffsetForm
from kerfwright.trade.part import LengthUnit

_DATA = Path(__file__).parents[3] / "src" / "kerfwright" / "data" / "machines"
_METRIC = (_DATA / "generic-mm.toml").read_text(encoding="utf-8")
_DOCS = Path(__file__).parents[3] / "docs" / "machine-definition.md"


def test_without_a_name_the_metric_machine_is_loaded() -> None:
    assert load_machine().id == "generic-mm"
    assert load_machine(None) == load_machine("generic-mm")


def test_the_shipped_machines_load_and_say_that_they_are_generic() -> None:
    assert shipped_machines() == ("generic-inch", "generic-mm")
    for name in shipped_machines():
        machine = load_machine(name)
        assert machine.id == name
        assert "Generic" in machine.name
        assert machine.dialect.offset_form is OffsetForm.WIRE_CENTRE
        assert machine.dialect.arc_form is ArcForm.INCREMENTAL_IJ


def test_inch_keys_become_millimetres() -> None:
    machine = load_machine("generic-inch")
    assert machine.dialect.unit is LengthUnit.INCH
    assert machine.travel_x_mm == pytest.approx(406.4)
    assert machine.wire_diameters_mm[3] == pytest.approx(0.254)
    assert machine.best_tolerance_um == pytest.approx(2.54)
    assert machine.idle_speed_mm_per_min == pytest.approx(1016.0)
    # 1100 lb by the international pound of 0.45359237 kg.
    assert machine.max_weight_kg == pytest.approx(498.951607)


def test_a_shop_file_is_loaded_by_path(tmp_path: Path) -> None:
    own = tmp_path / "left-bay.toml"
    own.write_text(_METRIC.replace('id = "generic-mm"', 'id = "left-bay"'), encoding="utf-8")
    assert load_machine(own).id == "left-bay"
    assert load_machine(str(own)).id == "left-bay"


def test_an_unknown_name_lists_the_shipped_ones() -> None:
    with pytest.raises(UnknownNameError, match="generic-inch, generic-mm") as caught:
        load_machine("tower-clock")
    assert caught.value.code == "machine-unknown"


def test_a_missing_file_is_named() -> None:
    with pytest.raises(FileError, match=r"nowhere\.toml"):
        load_machine("nowhere.toml")


@pytest.mark.parametrize(
    ("old", "new", "code", "key", "expected"),
    [
        ("travel_x_mm = 400.0", "", "machine-key-missing", "frame.travel_x_mm", "number above 0"),
        (
            "travel_x_mm = 400.0",
            "travel_x_mm = -1",
            "machine-value",
            "frame.travel_x_mm",
            "above 0",
        ),
        (
            "travel_x_mm = 400.0",
            "travel_x_mm = true",
            "machine-value",
            "frame.travel_x_mm",
            "above",
        ),
        ("travel_x_mm = 400.0", "travel_x_mm = inf", "machine-value", "frame.travel_x_mm", "above"),
        (
            "travel_x_mm = 400.0",
            "travel_x_mm = 400.0\ntravel_x_in = 16.0",
            "machine-value",
            "frame.travel_x_in",
            "only one of",
        ),
        (
            "power_kw = 6.0",
            "power_kw = 6.0\npwer = 1",
            "machine-key-unknown",
            "performance.pwer",
            "",
        ),
        ("[0.10, 0.15, 0.20", "[0.15, 0.10, 0.20", "machine-value", "wire.diameters_mm", "larger"),
        (
            "threads_itself = true",
            "threads_itself = 1",
            "machine-value",
            "threads_itself",
            "true or",
        ),
        ('unit = "mm"', 'unit = "cm"', "machine-value", "dialect.unit", "one of mm, in"),
        ("decimals = 4\nf", "decimals = 2\nf", "machine-value", "dialect.decimals", "from 3 to 7"),
        ("decimals = 4\nf", "decimals = 4.0\nf", "machine-value", "dialect.decimals", "whole"),
        ('"M101"', '"thread"', "machine-value", "dialect.thread", "capital letter"),
        ('"M101"', '"G01"', "machine-value", "dialect.thread", "capital letter"),
        ('"M101"', '"M102"', "machine-value", "dialect.cut_wire", "other than"),
        ('"M103 P{number}"', '"M103 P1"', "machine-value", "dialect.condition", "{number}"),
        ("R{value}", "R1", "machine-value", "dialect.offset_table", "{value}"),
        ('program_start = "%"', 'program_start = "µ"', "machine-value", "program_start", "ASCII"),
        ("max_line_length = 120", "max_line_length = 20", "machine-value", "line_length", "72"),
        ('name = "G', 'name = "\\u0007G', "machine-value", "name", "line of text"),
        ('arc_form = "incremental-ij"', "arc_form = 3", "machine-value", "arc_form", "radius"),
        ("[frame]", "[frame", "machine-toml", "TOML", ""),
    ],
)
def test_a_bad_file_is_refused_with_file_key_value_and_what_is_expected(
    old: str, new: str, code: str, key: str, expected: str
) -> None:
    assert old in _METRIC
    with pytest.raises(InputError) as caught:
        read_machine(_METRIC.replace(old, new), name="bay.toml")
    assert caught.value.code == code
    assert str(caught.value).startswith("bay.toml: ")
    assert key in str(caught.value)
    assert expected in str(caught.value)


def test_every_key_of_the_shipped_files_is_documented() -> None:
    docs = _DOCS.read_text(encoding="utf-8")
    for file in _DATA.glob("*.toml"):
        for line in file.read_text(encoding="utf-8").splitlines():
            if "=" in line and not line.startswith("#"):
                assert f"`{line.split('=')[0].strip()}`" in docs, line
