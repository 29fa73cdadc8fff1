from __future__ import annotations

import pytest

from kerfwright.adapters.tables import load_tables
from kerfwright.foundation.errors import InputError, UnknownNameError

CATALOGUE = load_tables().catalogue


@pytest.mark.parametrize(
    ("said", "key"),
    [
        ("D2", "tool-steel-d2"),
        ("W", "tungsten"),
        ("W.Nr. 1.2379", "tool-steel-d2"),
        ("Cu", "copper-c110"),
        ("d2 Tool Steel", "tool-steel-d2"),
        ("tool steel D-2", "tool-steel-d2"),
        ("AISI D2", "tool-steel-d2"),
        ("1.2379", "tool-steel-d2"),
        ("W.-Nr. 1.2379", "tool-steel-d2"),
        ("SKD11", "tool-steel-d2"),
        ("SKD 11", "tool-steel-d2"),
        ("6061", "aluminium-6061"),
        ("6061 aluminium", "aluminium-6061"),
        ("aluminum 6061", "aluminium-6061"),
        ("6061-T6", "aluminium-6061"),
        ("AlMg1SiCu", "aluminium-6061"),
        ("tungsten carbide", "carbide-wc-co"),
        ("Carbide", "carbide-wc-co"),
        ("WC-Co", "carbide-wc-co"),
        ("tungsten", "tungsten"),
        ("17-4", "stainless-17-4ph"),
        ("17-4 PH", "stainless-17-4ph"),
        ("17-4PH", "stainless-17-4ph"),
        ("1.4542", "stainless-17-4ph"),
        ("304", "stainless-304"),
        ("304 SS", "stainless-304"),
        ("stainless steel 316L", "stainless-316"),
        ("Inconel 718", "nickel-718"),
        ("Ti64", "titanium-6al-4v"),
        ("Ti-6Al-4V", "titanium-6al-4v"),
        ("grade 5 titanium", "titanium-6al-4v"),
        ("brass", "brass-c270"),
        ("copper", "copper-c110"),
        ("BeCu", "beryllium-copper"),
        ("beryllium copper", "beryllium-copper"),
        ("PCD", "pcd"),
        ("graphite", "graphite"),
        ("INVAR", "invar-36"),
        ("D2 58-60 HRC", "tool-steel-d2"),
        ("HRC 60 D2", "tool-steel-d2"),
        ("17-4 PH, 40 HRC", "stainless-17-4ph"),
    ],
)
def test_a_material_is_found_by_what_people_write(said, key):
    assert CATALOGUE.material(said).id == key


@pytest.mark.parametrize(
    ("said", "candidates"),
    [
        ("steel", ["AISI D2 tool steel", "AISI 4140"]),
        ("stainless", ["AISI 304 stainless", "AISI 316 stainless", "17-4PH stainless"]),
        ("inconel", ["Inconel 718", "Inconel 625"]),
        ("aluminum", ["Al 6061-T6", "Al 7075-T6"]),
        # One grade in the table does not make the family mean that grade.
        ("titanium", ["Ti-6Al-4V"]),
    ],
)
def test_a_family_without_a_grade_is_refused_with_the_candidates(said, candidates):
    with pytest.raises(InputError) as caught:
        CATALOGUE.material(said)
    assert caught.value.code == "material-ambiguous"
    for name in candidates:
        assert name in str(caught.value)


def test_contradicting_words_find_nothing():
    with pytest.raises(UnknownNameError):
        CATALOGUE.material("D2 stainless")


def test_an_unknown_material_names_the_nearest():
    with pytest.raises(UnknownNameError, match="nearest: Inconel") as caught:
        CATALOGUE.material("inconell 713")
    assert caught.value.code == "material-unknown"


@pytest.mark.parametrize("name", ["P20", "AISI P20 tool steel", "W1", "H14", "unobtainium"])
def test_an_unknown_material_that_is_near_to_nothing_names_none(name):
    with pytest.raises(UnknownNameError, match="nothing there is called nearly so") as caught:
        CATALOGUE.material(name)
    assert "nearest" not in str(caught.value)


@pytest.mark.parametrize(
    ("slip", "meant"),
    [
        ("1.2378", "AISI D2"),
        ("titanum", "Ti-6Al-4V"),
        ("4130", "AISI 4140"),
        ("C271", "C270"),
        ("6062 aluminium", "6061"),
    ],
)
def test_a_slip_in_a_name_finds_what_was_meant(slip, meant):
    with pytest.raises(UnknownNameError, match=f"nearest: .*{meant}"):
        CATALOGUE.material(slip)


def test_every_name_and_alias_in_the_table_finds_its_own_material():
    for material in CATALOGUE.materials:
        for name in (material.name, *material.aliases):
            assert CATALOGUE.material(name) is material


@pytest.mark.parametrize(
    ("said", "kind", "diameter_mm"),
    [
        ("0.25", "hard-brass", 0.25),
        ("0,25 mm", "hard-brass", 0.25),
        ("250 µm", "hard-brass", 0.25),
        ("0.25 mm hard brass", "hard-brass", 0.25),
        ("0.010", "hard-brass", 0.25),
        ('0.010" brass', "hard-brass", 0.25),
        ("0.010 in brass", "hard-brass", 0.25),
        ("brass 0.012 in wire", "hard-brass", 0.30),
        (".25 zinc coated", "zinc-coated-brass", 0.25),
        ("0.1 tungsten", "tungsten", 0.10),
        ("tungsten 0.004 in", "tungsten", 0.10),
        ("0.003 in moly", "molybdenum", 0.075),
        ("0.18", "molybdenum", 0.18),
        ("CuZn37 0.25 mm", "hard-brass", 0.25),
        ("30 AWG", "hard-brass", 0.25),
        ("half-hard brass 0.2", "half-hard-brass", 0.20),
    ],
)
def test_a_wire_is_found_by_size_and_kind(said, kind, diameter_mm):
    wire = CATALOGUE.wire(said)
    assert (wire.kind, wire.diameter_mm) == (kind, diameter_mm)


def test_no_inch_size_is_also_a_millimetre_size():
    sizes = [w.diameter_mm for w in CATALOGUE.wires]
    assert max(sizes) / 25.4 < min(sizes)


def test_a_thin_wire_of_no_usual_kind_asks_for_the_kind():
    with pytest.raises(InputError) as caught:
        CATALOGUE.wire("0.05")
    assert caught.value.code == "wire-ambiguous"
    assert "0.05 mm tungsten" in str(caught.value)


@pytest.mark.parametrize(
    ("said", "code"),
    [
        ("brass", "wire-unreadable"),
        ("0.25 silver", "wire-unknown"),
        ("0.5", "wire-unknown"),
        ("0.25 in", "wire-unknown"),
        ("0.3 tungsten", "wire-unknown"),
    ],
)
def test_a_wire_that_does_not_exist_is_refused(said, code):
    with pytest.raises((InputError, UnknownNameError)) as caught:
        CATALOGUE.wire(said)
    assert caught.value.code == code


def test_the_default_wire_is_the_standard_of_the_trade():
    assert CATALOGUE.default_wire is CATALOGUE.wire("0.25 mm hard brass")


def test_the_only_material_that_a_family_has_is_named_with_what_to_write() -> None:
    with pytest.raises(InputError) as caught:
        CATALOGUE.material("titanium")
    assert caught.value.code == "material-ambiguous"
    assert "names no grade; the only one in the table is Ti-6Al-4V" in str(caught.value)
    written = caught.value.remedy.split("'")[1]
    assert CATALOGUE.material(written).name == "Ti-6Al-4V"


def test_what_a_word_begins_stands_before_what_it_is_a_part_of() -> None:
    named = [m.name for m in CATALOGUE.materials_called("AL")]
    assert named == ["Al 6061-T6", "Al 7075-T6", "Ti-6Al-4V"]
