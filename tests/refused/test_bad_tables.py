"""One bad table a case, with the code and the words that must come back."""

from __future__ import annotations

import pytest

from kerfwright.adapters.tables import load_tables
from kerfwright.foundation.errors import FileError, InputError

CASES = {
    "a word for a number": (
        "rates.toml",
        '[hour]\nbench_per_h = "sixty"\n',
        "table-value",
        ["hour.bench_per_h", "'sixty'", "a number not below 0"],
    ),
    "a rate with a slip of the finger": (
        "rates.toml",
        "[hour]\nmachine_unattended_per_h = 99999999999\n",
        "table-value",
        ["hour.machine_unattended_per_h", "99999999999", "not above 100,000", "at_most.rate_per_h"],
    ),
    "weeks for one handling": (
        "rates.toml",
        "[minutes]\nset_up = 45000\n",
        "table-value",
        ["minutes.set_up", "45000", "at_most.work_min"],
    ),
    "a price above the shop's own limit": (
        "rates.toml",
        "[at_most]\nprice = 50\n[consumption]\nfilter_price = 60\n",
        "table-value",
        ["consumption.filter_price", "not above 50"],
    ),
    "a price below nothing": (
        "rates.toml",
        "[hour]\nbench_per_h = -1\n",
        "table-value",
        ["hour.bench_per_h", "-1"],
    ),
    "a density of nothing": (
        "materials.toml",
        "[material.copper-c110]\ndensity_kg_per_m3 = 0\n",
        "table-value",
        ["material.copper-c110.density_kg_per_m3", "a number above 0"],
    ),
    "a number that is none": (
        "materials.toml",
        "[material.copper-c110]\nmelting_c = nan\n",
        "table-value",
        ["material.copper-c110.melting_c", "nan"],
    ),
    "a number without end": (
        "passes.toml",
        "[rough]\nheight_scale_mm = inf\n",
        "table-value",
        ["rough.height_scale_mm", "inf"],
    ),
    "a truth for a number": (
        "passes.toml",
        "[rough]\nshop_derate = true\n",
        "table-value",
        ["rough.shop_derate", "True"],
    ),
    "a misspelt key": (
        "passes.toml",
        "[rough]\nshop_derating = 0.8\n",
        "table-key",
        ["rough.shop_derating", "shop_derate"],
    ),
    "a misspelt table": ("rates.toml", "[hours]\nbench_per_h = 1\n", "table-key", ["hours"]),
    "an unknown tag": (
        "rates.toml",
        '[hour]\nbench_per_h = { value = 1, tag = "x" }\n',
        "table-value",
        ["hour.bench_per_h.tag", "'x'"],
    ),
    "a figure without a value": (
        "rates.toml",
        '[hour]\nbench_per_h = { tag = "c" }\n',
        "table-value",
        ["hour.bench_per_h", "a value"],
    ),
    "a family nobody knows": (
        "materials.toml",
        '[material.copper-c110]\nfamily = "metal"\n',
        "table-value",
        ["material.copper-c110.family", "'metal'", "copper"],
    ),
    "a new material half filled in": (
        "materials.toml",
        '[material.new]\nname = "new"\nfamily = "steel"\n',
        "table-value",
        ["material.new.density_kg_per_m3"],
    ),
    "a usual wire that is not made": (
        "wires.toml",
        'default = "0.5 mm hard brass"\n',
        "table-value",
        ["default", "0.5"],
    ),
    "a price at a diameter that is not made": (
        "wires.toml",
        '[wire.hard-brass.at."0.5"]\nprice_per_kg = 1\n',
        "table-key",
        ["wire.hard-brass.at.0.5"],
    ),
    "diameters out of order": (
        "wires.toml",
        "[wire.hard-brass]\ndiameters_mm = [0.3, 0.25]\n",
        "table-value",
        ["wire.hard-brass.diameters_mm", "ascending"],
    ),
    "a curve that turns back": (
        "passes.toml",
        "[rough]\nfine_wire = [[0.2, 1.0], [0.1, 0.5]]\n",
        "table-value",
        ["rough.fine_wire", "x ascending"],
    ),
    "a skim that would cut air": (
        "passes.toml",
        "[pass.2]\nstock_um = 1\ngap_um = 45\n",
        "table-value",
        ["pass.2.stock_um", "cut air"],
    ),
    "a pass left out": (
        "passes.toml",
        "[pass.8]\ngap_um = 1\n",
        "table-value",
        ["pass.8", "pass 7"],
    ),
    "a currency in words": (
        "rates.toml",
        'currency = "euro"\n',
        "table-value",
        ["currency", "'euro'", "ISO 4217"],
    ),
    "a citation that is no words": (
        "rates.toml",
        "[citations]\nOURS = 3\n",
        "table-value",
        ["citations.OURS", "words"],
    ),
    "a flushing nobody knows": (
        "passes.toml",
        "[rough.flushing]\nhalf-open = 0.6\n",
        "table-key",
        ["rough.flushing.half-open", "one-open"],
    ),
    "a jet that presses more than its nozzle": (
        "flushing.toml",
        "[nozzle]\njet_share = 1.5\n",
        "table-value",
        ["nozzle.jet_share", "1.5", "at most 1"],
    ),
    "a spark figure misspelt": (
        "spark.toml",
        "[surface]\nra_scale = 1.5\n",
        "table-key",
        ["surface.ra_scale", "ra_scale_um"],
    ),
    "a mouth of no radius": (
        "flushing.toml",
        "[nozzle]\nmouth_radius_mm = 0\n",
        "table-value",
        ["nozzle.mouth_radius_mm", "above 0"],
    ),
    "a wander table that turns back": (
        "passes.toml",
        "[small_hole]\nwander_mm_per_mm = [[1.0, 0.001], [0.3, 0.002]]\n",
        "table-value",
        ["small_hole.wander_mm_per_mm", "x ascending"],
    ),
    "a density in g/cm³": (
        "materials.toml",
        "[material.tool-steel-d2]\ndensity_kg_per_m3 = 7.7\n",
        "table-value",
        ["tool-steel-d2.density_kg_per_m3 is 7.7", "500 to 23,000", "8.44 g/cm³ is 8440"],
    ),
    "a strength in kPa": (
        "materials.toml",
        "[material.tool-steel-d2]\nyield_mpa = 540000\n",
        "table-value",
        ["yield_mpa is 540000", "3 to 10,000"],
    ),
    "a heat capacity in J/gK": (
        "materials.toml",
        "[material.tool-steel-d2]\nheat_capacity_j_per_kgk = 0.48\n",
        "table-value",
        ["heat_capacity_j_per_kgk is 0.48", "100 to 4,000"],
    ),
    "a finish that is no factor": (
        "materials.toml",
        "[material.tool-steel-d2]\nra_factor = 0.01\n",
        "table-value",
        ["ra_factor is 0.01", "0.1 to 10"],
    ),
    "a name that no line of a program holds": (
        "materials.toml",
        '[material.tool-steel-d2]\nname = "' + 61 * "a" + '"\n',
        "table-value",
        ["tool-steel-d2.name", "60 letters at most"],
    ),
    "no number": (
        "rates.toml",
        "[order]\nminimum = nan\n",
        "table-value",
        ["order.minimum is nan"],
    ),
    "a number of another world": (
        "flushing.toml",
        "[nozzle]\nmouth_radius_mm = 1e300\n",
        "table-value",
        ["nozzle.mouth_radius_mm is 1e+300", "at most 1e+12"],
    ),
    "a spread of a factor of a million": (
        "passes.toml",
        "[rough]\nfeed_sigma_log = 14\n",
        "table-value",
        ["rough.feed_sigma_log is 14", "not above 3"],
    ),
    "a spread of a material's factor beyond any": (
        "passes.toml",
        "[feed_spread.material_elsewhere_log]\ncarbide = 14\n",
        "table-value",
        ["feed_spread.material_elsewhere_log.carbide is 14", "not above 3"],
    ),
    "a spread of a wire's factor beyond any": (
        "passes.toml",
        "[feed_spread]\nwire_gain_elsewhere_share = 80\n",
        "table-value",
        ["feed_spread.wire_gain_elsewhere_share is 80", "not above 3"],
    ),
    "a family that no material is of": (
        "passes.toml",
        "[feed_spread.material_elsewhere_log]\nwood = 0.3\n",
        "table-key",
        ["wood", "carbide"],
    ),
    "a skim that takes nothing": (
        "passes.toml",
        "[pass.2]\nstock_um = 0\n",
        "table-value",
        ["pass.2.stock_um is 0", "above 0"],
    ),
    "no TOML": ("rates.toml", "currency: EUR\n", "table-syntax", ["line 1"]),
    "a file name misspelt": ("rate.toml", "", "table-file", ["rates.toml"]),
}


def loaded(folder):
    """Load tables; a material by itself is left out, and refused where it is asked for."""
    catalogue = load_tables(folder).catalogue
    for gone in catalogue.left_out:
        catalogue.material(gone.names[0])


@pytest.mark.parametrize("name", CASES)
def test_a_bad_table_is_refused_with_file_key_value_and_expectation(name, tmp_path):
    file, text, code, words = CASES[name]
    (tmp_path / file).write_text(text, encoding="utf-8")
    with pytest.raises(InputError) as caught:
        loaded(tmp_path)
    assert caught.value.code == code
    # The fault lies in the shop's file, not in the shipped one of the same name.
    assert caught.value.where == str(tmp_path / file)
    for word in words:
        assert word in str(caught.value)


def test_a_folder_that_is_not_there_is_a_file_error(tmp_path):
    with pytest.raises(FileError) as caught:
        load_tables(tmp_path / "nowhere")
    assert caught.value.code == "table-unreadable"
