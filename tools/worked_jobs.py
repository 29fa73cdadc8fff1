"""The three jobs of docs/worked-jobs."""

from __future__ import annotations

from typing import Final

from tools.worked import (
    Elsewhere,
    Hand,
    Job,
    area_rate,
    feed,
    minutes,
    of_pass,
    said,
    saved_each,
    slug_g,
    used,
)

_SCHACHT: Final = "Schacht, PhD KU Leuven, ch. III, X210CrW12, 32.7 mm (a)"
_TITANIUM: Final = "Kumar et al. 2013, response surface for titanium, 0.25 mm wire assumed (a, d)"
_TRADE: Final = "common practice, no source (c)"
_LI: Final = "main cut to last trim in IN718, Li, Guo, Wei and Sealy, Procedia CIRP 6, 2013 (b)"

HAND_DIE: Final = Job(
    name="hand-die",
    drawing="hand_die.dxf",
    options=(
        "--material", "D2",
        "--height", "70mm",
        "--tolerance", "±0.005mm",
        "--finish", "Ra0.8um",
        "--layer", "STOCK=stock",
        "--layer", "START=start",
        "--layer", "DIE=opening",
        "--quantity", "1,2",
        "--show", "mm",
    ),
    hand=(
        Hand(
            what="rough feed", why="rate law at 70 mm, shop factor 0.7",
            arithmetic="0.7 / (1/(12*70) + 1/220) / (1 + (70/250)^2) / 70",
            unit="mm/min", look=feed(1), within=0.01,
        ),
        Hand(
            what="rough time",
            why="walls, less seven rings of 2 pi offset and seven tabs with their kerfs, leads at "
            "half feed; corners come on top",
            arithmetic="(380.6 - 7*2*pi*0.217 - (3*3 + 4*2 + 7*0.33) + 2*7*1.4) / 1.62",
            unit="min", look=minutes("rough pass"), within=0.10,
        ),
        Hand(
            what="zone after pass 3", why="goes with the root of the height above 50 mm",
            arithmetic="5 * sqrt(70/50)", unit="µm", look=of_pass(3, "tolerance_um"), within=0.01,
        ),
        Hand(
            what="start holes", why="six of 2 mm, tube 1.91 mm, 20 mm/min",
            arithmetic="6 * (70 + 1.5*1.91) * (1 + 70/2/100) / 20",
            unit="min", look=minutes("start-hole drilling"), within=0.01,
        ),
        Hand(
            what="slug of the slot H2",
            why="inside the rough kerf, 0.382 mm a side, less its start hole",
            arithmetic="(40.64*(6.35-0.764) + pi/4*(6.35-0.764)^2 - pi/4*2^2) * 70 * 7.7e-3",
            unit="g", look=slug_g("H2"), within=0.02,
        ),
        Hand(
            what="growth of the plate", why="10.4 µm/(m K) over the way from pilot to pilot",
            arithmetic="10.4 * (106.68 + 2*(3.175 - 0.217)) / 1000", unit="µm/K",
            look=said("temperature-uses-tolerance", "growth_um_per_k"), within=0.01,
        ),
    ),
    elsewhere=(
        Elsewhere(
            what="area rate, rough", look=area_rate, low=60, high=200, unit="mm²/min",
            printed="all below 200", source=_SCHACHT,
        ),
        Elsewhere(
            what="gap, rough", look=of_pass(1, "gap_um"), low=17, high=42, unit="µm",
            printed="17–42", source=_TITANIUM,
        ),
        Elsewhere(
            what="Ra, rough", look=of_pass(1, "ra_um"), low=2.16, high=3.75, unit="µm",
            printed="about 3.75 main cut; 2.16–3.44", source=f"{_LI}; {_TITANIUM}",
        ),
        Elsewhere(
            what="Ra, last pass", look=of_pass(4, "ra_um"), low=0.2, high=0.5, unit="µm",
            printed="0.43", source=_LI,
        ),
        Elsewhere(
            what="start holes, depth over diameter", look=lambda d: d["plan"]["height_mm"] / 2,
            low=1, high=100, unit="", printed="above 100 no routine method",
            source="Materials 2022, 15, 1152 (a)",
        ),
    ),
)  # fmt: skip

WHEELS: Final = Job(
    name="stacked-wheels",
    drawing="escape_wheel.dxf",
    options=(
        "--material", "304",
        "--height", "0.8mm",
        "--stack", "40",
        "--tolerance", "±0.01mm",
        "--finish", "Ra0.8um",
        "--quantity", "40,120",
        "--what-if",
    ),
    hand=(
        Hand(
            what="height of the stack", why="forty sheets, two covers, 41 joints of 0.02 mm",
            arithmetic="42 * 0.8 + 41 * 0.02", unit="mm", look=lambda d: d["plan"]["height_mm"],
            within=0.0001,
        ),
        Hand(
            what="rough feed", why="rate law at 34.42 mm, stainless 0.95, shop factor 0.7",
            arithmetic="0.95 * 0.7 / (1/(12*34.42) + 1/220) / (1 + (34.42/250)^2) / 34.42",
            unit="mm/min", look=feed(1), within=0.01,
        ),
        Hand(
            what="feed of the first skim", why="stainless as the root of its rate",
            arithmetic="8 * sqrt(0.95)", unit="mm/min", look=feed(2), within=0.001,
        ),
        Hand(
            what="start holes", why="eight of 1.5 mm, tube 1.41 mm, 25 mm/min, stainless 0.9",
            arithmetic="8 * (34.42 + 1.5*1.41) * (1 + 34.42/1.5/100) / (25*0.9)",
            unit="min", look=minutes("start-hole drilling"), within=0.01,
        ),
        Hand(
            what="laying and clamping", why="10 min and a minute a sheet",
            arithmetic="10 + 42", unit="min", look=minutes("stacking"), within=0.001,
        ),
        Hand(
            what="inspection", why="five wheels, each 5 min and 3 min for each of 8 contours",
            arithmetic="5 * (5 + 8*3)", unit="min", look=minutes("inspection"), within=0.001,
        ),
        Hand(
            what="wire", why="metres at 10 m/min in the cutting time, 0.249 kg an hour",
            arithmetic="8450 * pi/4 * 0.25^2 / 10^6 * 10 * 578", unit="kg",
            look=used("wire"), within=0.05,
        ),
        Hand(
            what="Ra 1.1 saves each",
            why="the fourth pass at 35 an hour, its eight threadings, a minute attended at 85, "
            "its wire at 12 a kilogram; power, filters and resin come on top",
            arithmetic="((119.8 + 8)/60*35 + 1/60*85 + 0.249*2*12) / 40", unit="EUR",
            look=saved_each("Ra 1.1"), within=0.03,
        ),
        Hand(
            what="bending in the tab of one cover",
            why="15 N of water and weight 8 mm off a tab 3 mm by 0.8 mm; 304 yields at about 205",
            arithmetic="15 * 8 / (3 * 0.8^2 / 6)", unit="N/mm²", look=None, within=0,
        ),
        Hand(
            what="the same in a cover of 3 mm", why="3 mm by 3 mm",
            arithmetic="15 * 8 / (3 * 3^2 / 6)", unit="N/mm²", look=None, within=0,
        ),
    ),
    elsewhere=(
        Elsewhere(
            what="area rate, rough", look=area_rate, low=40, high=200, unit="mm²/min",
            printed="all below 200", source=_SCHACHT,
        ),
        Elsewhere(
            what="feed, rough, over that of tests in titanium",
            look=lambda d: feed(1)(d) / 0.69, low=1, high=10, unit="times 0.69 mm/min",
            printed="academic tests lie 5 to 10 times lower", source=_TITANIUM,
        ),
        Elsewhere(
            what="Ra, third pass", look=of_pass(3, "ra_um"), low=0.75, high=0.85, unit="µm",
            printed="0.8 is VDI 18, N6", source="VDI 3400; ISO 1302 (a)",
        ),
        Elsewhere(
            what="sheets", look=lambda d: d["plan"]["stack"]["pieces"], low=2, high=100, unit="",
            printed="up to 100", source=_TRADE,
        ),
    ),
)  # fmt: skip

PUNCH: Final = Job(
    name="carbide-punch",
    drawing="pawl_punch.dxf",
    options=(
        "--material", "carbide",
        "--height", "30mm",
        "--tolerance", "±0.0025mm",
        "--finish", "Ra0.4um",
        "--layer", "BLANK=stock",
        "--layer", "START=start",
        "--quantity", "1,4",
    ),
    hand=(
        Hand(
            what="rough feed", why="rate law at 30 mm, carbide 0.4, shop factor 0.7",
            arithmetic="0.4 * 0.7 / (1/(12*30) + 1/220) / (1 + (30/250)^2) / 30",
            unit="mm/min", look=feed(1), within=0.01,
        ),
        Hand(
            what="feed of the last skim", why="carbide as the root of its rate",
            arithmetic="4.5 * sqrt(0.4)", unit="mm/min", look=feed(5), within=0.001,
        ),
        Hand(
            what="first offset", why="radius, gap, and what four skims take",
            arithmetic="0.25/2 + 0.040 + (35 + 12 + 5 + 2)/1000",
            unit="mm", look=of_pass(1, "offset_mm"), within=0.0005,
        ),
        Hand(
            what="Ra of the last pass", why="table times 0.7 for carbide",
            arithmetic="0.25 * 0.7", unit="µm", look=of_pass(5, "ra_um"), within=0.001,
        ),
        Hand(
            what="rough time",
            why="both walls, the offsets cancelling, less tabs with their kerfs, leads of 1.8 and "
            "3.3 mm at half feed; corners come on top",
            arithmetic="(73.1 + 12.6 - (3 + 1.26 + 2*0.33) + 2*(1.8 + 3.3)) / 1.26",
            unit="min", look=minutes("rough pass"), within=0.10,
        ),
        Hand(
            what="mass of the punch",
            why="head and three strips of the nose between their corners, less the head's two "
            "roundings and the dowel hole",
            arithmetic="(144 + 77.7 + 43.4 + 4.7 - 2*(1 - pi/4)*5.5^2 - pi*2^2) * 30 * 14.5e-3",
            unit="g", look=slug_g("P1"), within=0.02,
        ),
    ),
    elsewhere=(
        Elsewhere(
            what="rate of carbide over tool steel",
            look=lambda d: area_rate(d) / (0.7 * 30 / (1 / 12 + 30 / 220) / (1 + (30 / 250) ** 2)),
            low=0.3, high=0.5, unit="", printed="0.43 (melting point), 0.49 (melt energy)",
            source="indices from handbook properties (d); no index is trusted alone",
        ),
        Elsewhere(
            what="area rate, rough", look=area_rate, low=15, high=80, unit="mm²/min",
            printed="below 0.49 of 200", source=f"{_SCHACHT}, with the melt energy above (d)",
        ),
        Elsewhere(
            what="Ra, last pass", look=of_pass(5, "ra_um"), low=0.1, high=0.25, unit="µm",
            printed="0.22 in steel, carbide about 0.7 of that: 0.15",
            source="Liao, Huang and Chen, JMPT 149, 2004 (b); the 0.7 (c)",
        ),
        Elsewhere(
            what="zone of the last pass", look=of_pass(5, "tolerance_um"), low=2, high=2.54,
            unit="µm", printed="0.0001 in by skims", source=_TRADE,
        ),
    ),
)  # fmt: skip

JOBS: Final = (HAND_DIE, WHEELS, PUNCH)
