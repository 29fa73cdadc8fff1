"""The shop's tables, edited value by value in the TOML that a person writes by hand."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from kerfwright.adapters.machines import load_machine
from kerfwright.adapters.own_machines import machine_called
from kerfwright.adapters.table_edit import copy_row, drop_row, drop_value, set_value
from kerfwright.adapters.table_rows import shop_table
from kerfwright.adapters.tables import load_tables
from kerfwright.app.shop_tables import TITLES, TableValue
from kerfwright.foundation.errors import InputError, KerfwrightError, UnknownNameError

HOUR = "hour/machine_unattended_per_h"
DENSITY = "material/tool-steel-d2/density_kg_per_m3"
BY_HAND = """# Our rates, agreed in spring.
[hour]
# What the owner said.
machine_unattended_per_h = 30 # ask again next year
"""


def value(table: str, key: str, folder: Path | None) -> TableValue:
    (found,) = [v for row in shop_table(table, folder).rows for v in row.values if v.key == key]
    return found


@pytest.mark.parametrize("name", TITLES)
def test_every_value_of_a_table_is_shown_in_both_systems(name: str) -> None:
    for row in shop_table(name, None).rows:
        assert row.values
        for one in row.values:
            assert one.shown.inch or not one.shown.metric
            assert not one.is_own
            # Only words and the like stand without a source.
            assert one.source or not one.takes_source, one.key


def test_a_value_stands_over_the_shipped_one_with_the_shops_source(tmp_path: Path) -> None:
    folder = tmp_path / "tables"
    set_value("rates", HOUR, "42.50", source="our books", folder=folder)
    found = value("rates", HOUR, folder)
    assert (found.is_own, found.shown.metric) == (True, "42.5 EUR an hour")
    assert found.source == "shop's own: our books"
    assert found.shipped.metric == "35 EUR an hour"
    assert str(load_tables(folder).rates.hour.machine_unattended_per_h) == "42.5"
    drop_value("rates", HOUR, folder=folder)
    assert not value("rates", HOUR, folder).is_own
    assert tomllib.loads((folder / "rates.toml").read_text(encoding="utf-8")) == {}


def test_a_number_far_from_all_that_is_known_is_asked_about(tmp_path: Path) -> None:
    price = "wire/hard-brass/price_per_kg"
    with pytest.raises(InputError) as asked:
        set_value("wires", price, "900000", source="", folder=tmp_path)
    assert asked.value.code == "value-far-off"
    assert not list(tmp_path.glob("*.toml"))
    set_value("wires", price, "900000", source="gold", folder=tmp_path, is_meant=True)
    # What the shop wrote is no measure of what is known.
    with pytest.raises(InputError) as asked:
        set_value("wires", price, "900000", source="", folder=tmp_path)
    assert asked.value.code == "value-far-off"
    # What cannot be is refused all the same.
    with pytest.raises(InputError, match="above 0"):
        set_value("wires", price, "-900000", source="", folder=tmp_path, is_meant=True)
    with pytest.raises(InputError, match="500 to 23,000"):
        set_value("materials", DENSITY, "7.7", source="", folder=tmp_path, is_meant=True)


def test_no_two_rows_are_found_by_one_name(tmp_path: Path) -> None:
    row = "material/tool-steel-d2"
    for key, text in (("name", "aisi a2 tool steel"), ("aliases", "D2\nA2")):
        with pytest.raises(InputError, match="AISI A2 tool steel already"):
            set_value("materials", f"{row}/{key}", text, source="", folder=tmp_path)
    with pytest.raises(InputError, match="already"):
        copy_row("materials", row, new_id="our-d2", title="a2", folder=tmp_path)
    set_value("materials", f"{row}/aliases", "D2\nyard steel", source="", folder=tmp_path)
    assert load_tables(tmp_path).catalogue.material("yard steel").name == "AISI D2 tool steel"


def test_what_a_person_wrote_by_hand_stays(tmp_path: Path) -> None:
    place = tmp_path / "rates.toml"
    place.write_text(BY_HAND, encoding="utf-8")
    set_value("rates", HOUR, "44", source="", folder=tmp_path)
    assert place.read_text(encoding="utf-8") == BY_HAND.replace("= 30", "= 44")
    set_value("rates", "minutes/set_up", "50", source="timed", folder=tmp_path)
    text = place.read_text(encoding="utf-8")
    assert text.startswith(BY_HAND.replace("= 30", "= 44"))
    assert 'set_up = {value = 50, source = "timed"}' in text
    drop_value("rates", "minutes/set_up", folder=tmp_path)
    assert "# What the owner said." in place.read_text(encoding="utf-8")


def test_a_length_may_be_written_in_either_unit(tmp_path: Path) -> None:
    key = "start_hole/wall_clearance_mm"
    set_value("planning", key, "0.02 in", source="", folder=tmp_path)
    assert value("planning", key, tmp_path).shown.metric == "0.508 mm"
    assert value("planning", key, tmp_path).shown.inch == "0.02 in"


@pytest.mark.parametrize(
    ("table", "key", "text", "said"),
    [
        ("materials", DENSITY, "-5", "a number above 0"),
        ("materials", DENSITY, "heavy", "kg/m³"),
        ("rates", "currency", "euro", "three capital letters"),
        ("rates", "order/same_price_share", "2", "below 1"),
        ("passes", "pass/2/gap_um", "500", "cut air"),
        ("passes", "rough/fine_wire", "[[0.3, 1], [0.1, 0.5]]", "ascending"),
        ("passes", "rough/fine_wire", "thin", "list of numbers"),
        ("passes", "rough/fine_wire", "0.3, 0.1", "list of points"),
        ("passes", "rough/fine_wire", "[[0.3, 0.1], [", "list of points"),
        ("materials", "material/tool-steel-d2/is_brittle", "perhaps", "yes"),
        ("papers", "quote/valid_days", "2.5", "whole days"),
        ("materials", "material/unobtainium/density_kg_per_m3", "1", "no value"),
    ],
)
def test_a_value_that_cannot_be_is_refused_and_nothing_is_written(
    tmp_path: Path, table: str, key: str, text: str, said: str
) -> None:
    with pytest.raises(KerfwrightError) as refused:
        set_value(table, key, text, source="", folder=tmp_path)
    assert said in f"{refused.value.message} {refused.value.remedy}"
    assert "kerfwright-" not in refused.value.where
    assert not list(tmp_path.glob("*.toml"))


def test_a_material_is_added_like_another_and_named(tmp_path: Path) -> None:
    row = copy_row(
        "materials", "material/tool-steel-d2", new_id="our-d2", title="D2 bar", folder=tmp_path
    )
    assert row == "material/our-d2"
    set_value("materials", f"{row}/rate_factor", "0.93", source="cut in May", folder=tmp_path)
    found = load_tables(tmp_path).catalogue.material("D2 bar")
    assert found.rate_factor == 0.93
    # Its other values keep where they came from.
    shipped = load_tables().catalogue.material("D2").sources["density_kg_per_m3"]
    assert found.sources["density_kg_per_m3"] == shipped
    with pytest.raises(InputError, match="already"):
        copy_row("materials", row, new_id="our-d2", title="", folder=tmp_path)
    drop_row("materials", row, folder=tmp_path)
    assert not [r for r in shop_table("materials", tmp_path).rows if r.is_own]
    with pytest.raises(UnknownNameError):
        drop_row("materials", "material/tool-steel-d2", folder=tmp_path)


def test_a_machine_is_copied_first_and_then_changed(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="shipped whole"):
        set_value("machines", "generic-mm/frame/travel_x_mm", "500", source="", folder=tmp_path)
    copy_row("machines", "generic-mm", new_id="old-lady", title="Old lady", folder=tmp_path)
    set_value("machines", "old-lady/frame/travel_x_mm", "20 in", source="", folder=tmp_path)
    own = load_machine(tmp_path / "machines" / "old-lady.toml")
    assert (own.name, own.travel_x_mm) == ("Old lady", 508.0)
    with pytest.raises(InputError) as refused:
        set_value("machines", "old-lady/frame/travel_x_mm", "-1", source="", folder=tmp_path)
    # In the words of the page, of which no file is a part.
    assert refused.value.message.startswith("Old lady, frame, travel x is -1")
    assert "docs/" not in refused.value.remedy
    assert "Write a value as expected" in refused.value.remedy
    for odd in ("../../etc", "a b", ""):
        with pytest.raises(KerfwrightError):
            copy_row("machines", "generic-mm", new_id=odd, title="", folder=tmp_path)
    with pytest.raises(UnknownNameError):
        copy_row("machines", "../generic-mm", new_id="x", title="", folder=tmp_path)
    drop_row("machines", "old-lady", folder=tmp_path)
    assert not list((tmp_path / "machines").iterdir())


def test_a_file_that_is_no_toml_is_not_touched(tmp_path: Path) -> None:
    place = tmp_path / "rates.toml"
    place.write_text("hour = [", encoding="utf-8")
    with pytest.raises(InputError, match="TOML"):
        set_value("rates", HOUR, "1", source="", folder=tmp_path)
    assert place.read_text(encoding="utf-8") == "hour = ["


@pytest.mark.parametrize(
    ("table", "key", "text", "said"),
    [
        ("planning", "start_hole/hole_diameters_mm", "1e9", "0.05 to 50"),
        ("planning", "start_hole/hole_diameters_mm", "1, 1000", "0.05 to 50"),
        ("planning", "start_hole/hole_diameters_mm", "30 in", "0.05 to 50"),
        ("wires", "wire/hard-brass/diameters_mm", "2.5", "0.01 to 1"),
        ("materials", "material/tool-steel-d2/name", "-1", "a letter"),
        ("materials", "material/tool-steel-d2/aliases", "D2\n-1", "no name"),
    ],
)
def test_lists_and_names_that_nobody_can_mean_are_refused(
    tmp_path: Path, table: str, key: str, text: str, said: str
) -> None:
    with pytest.raises(InputError) as refused:
        set_value(table, key, text, source="", folder=tmp_path, is_meant=True)
    assert said in f"{refused.value.message} {refused.value.remedy}"
    assert not list(tmp_path.glob("*.toml"))


@pytest.mark.parametrize(
    ("table", "key", "text"),
    [
        ("planning", "start_hole/hole_diameters_mm", "0.5, 40"),
        ("planning", "start_hole/preferred_hole_above_mm", "0: 1.5, 9000: 2"),
        ("rates", HOUR, "0"),
        ("rates", "currency", "ZZZ"),
    ],
)
def test_what_may_be_a_slip_is_asked_about_and_taken_where_it_is_meant(
    tmp_path: Path, table: str, key: str, text: str
) -> None:
    with pytest.raises(InputError) as asked:
        set_value(table, key, text, source="", folder=tmp_path)
    assert asked.value.code == "value-far-off"
    set_value(table, key, text, source="", folder=tmp_path, is_meant=True)
    assert value(table, key, tmp_path).is_own


def test_usual_lists_and_aliases_of_figures_are_not_asked_about(tmp_path: Path) -> None:
    set_value("planning", "start_hole/hole_diameters_mm", "0.5, 6", source="", folder=tmp_path)
    curve = "start_hole/preferred_hole_above_mm"
    set_value("planning", curve, "0: 1.5, 80: 2", source="", folder=tmp_path)
    assert value("planning", curve, tmp_path).shown.metric == "0: 1.5, 80: 2"
    assert value("planning", curve, tmp_path).name == "preferred hole above (mm)"
    aliases = "material/tool-steel-d2/aliases"
    set_value("materials", aliases, "D2\n1.2379\nX 155", source="", folder=tmp_path)
    set_value("rates", "currency", "USD", source="", folder=tmp_path)


def test_values_are_named_in_words_with_their_units() -> None:
    assert value("spark", "pulse/peak_current_a", None).shown.metric.endswith(" A")
    shown = value("flushing", "water/viscosity_mpa_s", None)
    assert (shown.name, shown.shown.metric) == ("viscosity", "1.0016 mPa·s")


def test_a_machine_takes_no_nonsense_and_is_asked_for_by_the_name_that_is_seen(
    tmp_path: Path,
) -> None:
    with pytest.raises(InputError):
        copy_row("machines", "generic-mm", new_id="1e9", title="", folder=tmp_path)
    copy_row("machines", "generic-mm", new_id="bay-two", title="Bay two", folder=tmp_path)
    for key, text in (
        ("bay-two/wire/diameters_mm", "1e9"),
        ("bay-two/id", "1e9"),
        ("bay-two/name", "-1"),
    ):
        with pytest.raises(InputError):
            set_value("machines", key, text, source="", folder=tmp_path, is_meant=True)
    for said in ("Bay two", "bay-two", "BAY TWO"):
        assert machine_called(said, tmp_path).name == "Bay two"
    with pytest.raises(UnknownNameError) as refused:
        machine_called("Bay three", tmp_path)
    assert "Bay two (bay-two)" in refused.value.message
    assert "generic-mm" in refused.value.message
