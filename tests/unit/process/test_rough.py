from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import pytest
from tests.unit.process.samples import machine

from kerfwright.adapters.tables import load_tables
from kerfwright.foundation.errors import RangeError
from kerfwright.foundation.sources import Source, SourceTag
from kerfwright.process.rough import area_rate_mm2_per_min, rough_feed
from kerfwright.process.technology import Flushing, read_curve

TABLES = load_tables()
LAW = TABLES.technology.rough
FACTORS = ("K_m", "K_s", "K_w", "K_f", "K_machine", "K_flushing")


def feed(*, material="D2", height_mm=50.0, wire="0.25", on=None, **more):
    return rough_feed(
        material=TABLES.catalogue.material(material),
        height_mm=height_mm,
        wire=TABLES.catalogue.wire(wire),
        machine=on or machine(),
        law=LAW,
        **more,
    )


def test_the_feed_in_fifty_millimetres_of_steel_by_hand():
    # 1/(12*50) + 1/220 = 0.0062121; its inverse 160.98; over 1.04 for height 154.78 mm2/min;
    # times 0.7 for the shop and over 50 mm.
    assert feed().feed_mm_per_min == pytest.approx(154.784 * 0.7 / 50, rel=1e-5)


def test_every_factor_multiplies_the_feed():
    steel = feed().feed_mm_per_min
    assert feed(material="carbide").feed_mm_per_min == pytest.approx(0.4 * steel)
    assert feed(wire="0.25 zinc coated").feed_mm_per_min == pytest.approx(1.15 * steel)
    assert feed(on=machine(rate_factor=1.3)).feed_mm_per_min == pytest.approx(1.3 * steel)


def test_open_nozzles_slow_the_cut():
    steel = feed().feed_mm_per_min
    assert feed(flushing=Flushing.ONE_OPEN).feed_mm_per_min == pytest.approx(0.7 * steel)
    assert feed(flushing=Flushing.BOTH_OPEN).feed_mm_per_min == pytest.approx(0.4 * steel)


def test_a_tenth_millimetre_wire_cuts_at_half_of_its_thermal_limit():
    limit = area_rate_mm2_per_min(20, diameter_mm=0.1, law=LAW)
    assert feed(wire="0.1", height_mm=20).feed_mm_per_min == pytest.approx(limit * 0.5 * 0.7 / 20)


def test_the_reason_gives_back_the_feed():
    got = feed(material="Inconel 718", wire="0.1", height_mm=30, flushing=Flushing.BOTH_OPEN)
    i = dict(got.reason.inputs)
    f_d, usual = (min(1, math.sqrt(i[d] / i["d_p_mm"])) for d in ("d_mm", "d_0_mm"))
    f_d /= usual
    rate = math.prod(i[k] for k in FACTORS)
    rate /= 1 / (i["v0_mm_per_min"] * i["H_mm"]) + 1 / (i["A_inf_mm2_per_min"] * f_d)
    rate /= 1 + (i["H_mm"] / i["H_f_mm"]) ** 2
    assert got.feed_mm_per_min == pytest.approx(rate / i["H_mm"])
    assert got.reason.source.tag is SourceTag.COMMON_PRACTICE


_IN_THE_FEED = (
    "thin_plate_feed_mm_per_min",
    "plateau_area_rate_mm2_per_min",
    "plateau_diameter_mm",
    "usual_diameter_mm",
    "height_scale_mm",
    "shop_derate",
    "fine_wire",
    "flushing.one-open",
)
_BY_WEAKNESS = (
    SourceTag.COMMON_PRACTICE,
    SourceTag.FROM_MEMORY,
    SourceTag.COMPUTED,
    SourceTag.READ,
    SourceTag.SHOP,
)


@pytest.mark.parametrize("weak", [*_IN_THE_FEED, "material", "wire"])
@pytest.mark.parametrize(("worse", "better"), list(pairwise(_BY_WEAKNESS)))
def test_a_feed_is_only_as_well_known_as_its_weakest_figure(weak, worse, better):
    def source(name):
        return Source(tag=worse if name == weak else better, citation=name)

    law = replace(LAW, sources={name: source(name) for name in _IN_THE_FEED})
    material = replace(TABLES.catalogue.material("D2"), sources={"rate_factor": source("material")})
    wire = replace(TABLES.catalogue.wire("0.25"), sources={"rate_factor": source("wire")})
    got = rough_feed(
        material=material,
        height_mm=50,
        wire=wire,
        machine=machine(),
        law=law,
        flushing=Flushing.ONE_OPEN,
    )
    assert (got.reason.source.tag, got.reason.source.citation) == (worse, weak)


def test_the_shipped_figures_are_wide():
    got = feed()
    assert got.feed_sigma_log == 0.35


@pytest.mark.parametrize(("height_mm", "diameter_mm"), [(0, 0.25), (-1, 0.25), (50, 0)])
def test_a_height_or_wire_of_nothing_is_refused(height_mm, diameter_mm):
    with pytest.raises(RangeError, match="above 0"):
        area_rate_mm2_per_min(height_mm, diameter_mm=diameter_mm, law=LAW)


def test_the_fine_wire_curve_is_flat_beyond_its_ends():
    assert read_curve(LAW.fine_wire, 0.33) == 1
    assert read_curve(LAW.fine_wire, 0.01) == 0.1
    assert read_curve(LAW.fine_wire, 0.15) == pytest.approx(0.75)


def test_a_slower_shop_cuts_slower_in_proportion():
    slow = replace(LAW, shop_derate=0.35)
    material, wire = TABLES.catalogue.material("D2"), TABLES.catalogue.wire("0.25")
    got = rough_feed(material=material, height_mm=50, wire=wire, machine=machine(), law=slow)
    assert got.feed_mm_per_min == pytest.approx(feed().feed_mm_per_min / 2)
