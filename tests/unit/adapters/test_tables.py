from __future__ import annotations

from decimal import Decimal

import pytest

from kerfwright.adapters import table_files
from kerfwright.adapters.table_files import SHIPPED, every_table
from kerfwright.adapters.tables import load_tables
from kerfwright.foundation.errors import InputError
from kerfwright.foundation.sources import SourceTag


def sources(tables):
    """Every source of every figure, with the place of the figure."""
    technology, rates = tables.technology, tables.rates
    records = [
        *tables.catalogue.materials,
        *tables.catalogue.wires,
        technology.rough,
        technology.skim,
        technology.scaling,
        technology.limits,
        technology.small_hole,
        *technology.passes,
        rates,
        rates.hour,
        rates.minutes,
        rates.consumption,
    ]
    for record in records:
        for name, source in record.sources.items():
            yield f"{type(record).__name__} {getattr(record, 'id', '')} {name}", source


def write(folder, name, text):
    (folder / name).write_text(text, encoding="utf-8")
    return folder


def test_every_shipped_figure_has_a_source_that_is_not_a_shop():
    found = dict(sources(load_tables()))
    assert len(found) > 250
    for place, source in found.items():
        assert source.tag is not SourceTag.SHOP, place
        # What was read or remembered names where.
        if source.tag in {SourceTag.READ, SourceTag.FROM_MEMORY}:
            assert len(source.citation) > 8, place


def test_every_number_of_a_material_has_a_source():
    for material in load_tables().catalogue.materials:
        for name in material.__dataclass_fields__:
            if isinstance(getattr(material, name), float):
                assert name in material.sources, (material.id, name)


def test_citations_are_written_out_not_left_as_keys():
    for place, source in sources(load_tables()):
        assert not source.citation.startswith(("MIF", "MEM", "SATO")), place


def test_the_same_tables_are_parsed_once():
    assert load_tables() is load_tables()


def test_what_a_job_keeps_of_the_tables_is_parsed_once_and_is_its_own(monkeypatch):
    before = every_table(None)
    monkeypatch.setattr(table_files.tomllib, "loads", None)
    mine = every_table(None)
    assert mine == before
    mine["materials.toml"]["material"]["tool-steel-d2"]["name"] = "what somebody made of it"
    del mine["rates.toml"]["hour"]
    assert every_table(None) == before


def test_a_shop_overrides_one_value_and_keeps_the_rest(tmp_path):
    write(tmp_path, "rates.toml", "[hour]\nmachine_unattended_per_h = 41.5\n")
    shop, shipped = load_tables(tmp_path), load_tables()
    assert shop.rates.hour.machine_unattended_per_h == Decimal("41.5")
    assert shop.rates.hour.sources["machine_unattended_per_h"].tag is SourceTag.SHOP
    assert shop.rates.hour.bench_per_h == shipped.rates.hour.bench_per_h
    assert shop.technology == shipped.technology


def test_a_shop_gives_its_own_source(tmp_path):
    text = '[pass.2]\nfeed_mm_per_min = { value = 7.2, source = "cuts of March" }\n'
    second = load_tables(write(tmp_path, "passes.toml", text)).technology.passes[1]
    assert second.feed_mm_per_min == 7.2
    source = second.sources["feed_mm_per_min"]
    assert (source.tag, source.citation) == (SourceTag.SHOP, "cuts of March")


def test_a_shop_adds_a_material(tmp_path):
    text = """
    [material.bell-bronze]
    name = "bell bronze"
    family = "copper"
    aliases = ["CuSn20"]
    density_kg_per_m3 = 8600
    melting_c = 890
    conductivity_w_per_mk = 50
    heat_capacity_j_per_kgk = 380
    rate_factor = 1.0
    ra_factor = 1.0
    recast_factor = 1.0
    yield_mpa = 120
    """
    catalogue = load_tables(write(tmp_path, "materials.toml", text)).catalogue
    assert catalogue.material("CuSn20").density_kg_per_m3 == 8600
    assert len(catalogue.materials) == 25


def test_a_shop_changes_its_usual_wire(tmp_path):
    text = 'default = "0.20 mm zinc coated"\n'
    wire = load_tables(write(tmp_path, "wires.toml", text)).catalogue.default_wire
    assert (wire.kind, wire.diameter_mm) == ("zinc-coated-brass", 0.20)


def test_a_value_at_one_diameter_leaves_the_others(tmp_path):
    text = '[wire.hard-brass.at."0.30"]\nprice_per_kg = 11\n'
    catalogue = load_tables(write(tmp_path, "wires.toml", text)).catalogue
    assert catalogue.wire("0.30").price_per_kg == 11
    assert catalogue.wire("0.25").price_per_kg == 12
    assert catalogue.wire("0.10").price_per_kg == 55


def test_a_changed_file_is_read_again(tmp_path):
    write(tmp_path, "rates.toml", 'currency = "USD"\n')
    assert load_tables(tmp_path).rates.currency == "USD"
    write(tmp_path, "rates.toml", 'currency = "SEK" # now\n')
    assert load_tables(tmp_path).rates.currency == "SEK"


def test_a_copy_of_the_shipped_files_changes_nothing(tmp_path):
    for path in SHIPPED.glob("*.toml"):
        (tmp_path / path.name).write_bytes(path.read_bytes())
    assert load_tables(tmp_path) == load_tables()


def test_a_material_that_cannot_be_read_is_refused_only_where_it_is_asked_for(
    tmp_path,
):
    broken = """
[material.bad-alloy]
name = "Bad alloy"
family = "steel"
aliases = ["BA7"]
density_kg_per_m3 = 0.292
"""
    before = load_tables()
    write(tmp_path, "materials.toml", broken)
    catalogue = load_tables(tmp_path).catalogue
    assert catalogue.materials == before.catalogue.materials
    assert catalogue.material("D2").id == before.catalogue.material("D2").id
    (gone,) = catalogue.left_out
    for name in ("bad-alloy", "Bad alloy", "BA7", "ba7"):
        with pytest.raises(InputError, match="bad-alloy") as refused:
            catalogue.material(name)
        assert refused.value.code == "table-value"
        assert refused.value.message == gone.message
        assert "materials.toml" in refused.value.where
    # What was learned from the others still knows the name of these tables.
    mended = load_tables()
    assert repr(catalogue) == repr(mended.catalogue)


def test_a_shipped_material_that_the_shop_spoils_is_refused_and_not_taken_for_another(tmp_path):
    write(tmp_path, "materials.toml", "[material.tool-steel-d2]\ndensity_kg_per_m3 = 7.7\n")
    catalogue = load_tables(tmp_path).catalogue
    with pytest.raises(InputError, match=r"density_kg_per_m3 is 7\.7"):
        catalogue.material("D2")
    assert catalogue.material("titanium Ti-6Al-4V").family == "titanium"
