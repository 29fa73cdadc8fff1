"""Numbers of the figures on rate, surface, wire, flushing and small holes."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from tools.figures.records import Axis, Figure, Panel, Series, line

from kerfwright.adapters.machines import load_machine
from kerfwright.adapters.tables import load_tables
from kerfwright.adapters.wire_physics import load_wire_physics
from kerfwright.process.corner_error import corner_error_um, trailing_angle_rad
from kerfwright.process.crater import (
    PARABOLA_DEPTH_PER_RA,
    crater,
    full_pulse,
    heat_radius_um,
    pulse_of_energy,
)
from kerfwright.process.feed_advice import feed_advice, feed_limits
from kerfwright.process.flushing import NozzleSetting, derate, face_share
from kerfwright.process.hole_depth import deepest_mm
from kerfwright.process.kerf_flow import debris_along
from kerfwright.process.passes import passes_for
from kerfwright.process.rough import rough_feed
from kerfwright.process.small_hole import predict_hole
from kerfwright.process.spark_surface import energy_of_ra_mj, surface_of
from kerfwright.process.technology import Flushing
from kerfwright.process.wire_break import break_current_a
from kerfwright.process.wire_heat import wire_temperature
from kerfwright.process.wire_physics import mean_current_a
from kerfwright.process.wire_shape import pass_shapes
from kerfwright.trade.material import Material, Wire

TABLES = load_tables()
TECHNOLOGY = TABLES.technology
CATALOGUE = TABLES.catalogue
SPARK = TECHNOLOGY.spark
PHYSICS = load_wire_physics()
MACHINE = load_machine()
D2 = CATALOGUE.material("D2")
BRASS = CATALOGUE.wire("0.25")
SATO_WIRE = replace(CATALOGUE.wire("0.30"), run_speed_m_per_min=13.0)
"""Wire of the wire-break tests of Sato et al. (read): brass 0.30 mm at 13 m/min, 22 N, 80 mm."""
SATO_N, SATO_MM = 22.0, 80.0

HEIGHT = "height, mm"
NOZZLES = {
    "both nozzles closed": Flushing.SEALED,
    "one open": Flushing.ONE_OPEN,
    "both open": Flushing.BOTH_OPEN,
}


def area_rate() -> Figure:
    """Area rate of the rough pass over height, by wire and by material."""
    heights = np.geomspace(2, 300, 34)

    def rates(material: Material, wire: Wire) -> list[float]:
        return [
            h
            * rough_feed(
                material=material, height_mm=h, wire=wire, machine=MACHINE, law=TECHNOLOGY.rough
            ).feed_mm_per_min
            for h in heights.tolist()
        ]

    wires = tuple(
        line(f"{d} mm hard brass", heights, rates(D2, CATALOGUE.wire(f"{d} mm hard brass")))
        for d in ("0.30", "0.25", "0.20", "0.15", "0.10")
    )
    coated = CATALOGUE.wire("0.25 mm diffusion annealed")
    materials = tuple(
        line(name, heights, rates(CATALOGUE.material(name), BRASS))
        for name in ("6061", "D2", "304", "Inconel 718", "copper", "carbide", "PCD")
    )
    x = Axis(label=HEIGHT, is_log=True)
    y = Axis(label="area rate of one wall, mm²/min", low=0)
    return Figure(
        name="area-rate",
        title="Rough pass: area rate over height",
        panels=(
            Panel(
                title="tool steel, by wire",
                x=x,
                y=replace(y, high=190),
                series=(line("0.25 mm diffusion annealed", heights, rates(D2, coated)), *wires),
            ),
            Panel(
                title="0.25 mm hard brass, by material",
                x=x,
                y=replace(y, high=320),
                series=materials,
            ),
        ),
    )


def spark_surface() -> Figure:
    """Gap, roughness and recast over the energy of a spark, with the pass table on them."""
    energies = np.geomspace(0.001, 9.8, 25)
    found = [surface_of(e, material=D2, law=SPARK) for e in energies.tolist()]
    seeds = TECHNOLOGY.passes
    at = [min(9.8, energy_of_ra_mj(p.ra_um, material=D2, law=SPARK)) for p in seeds]
    return Figure(
        name="spark-surface",
        title="From the energy of a spark to the wall, tool steel",
        panels=(
            Panel(
                title="points: the pass table, each pass at the energy of its Ra",
                x=Axis(label="energy of a spark, mJ", is_log=True),
                y=Axis(label="µm", is_log=True),
                series=(
                    line("gap", energies, [s.gap_um for s in found]),
                    line("gap, table", at, [p.gap_um for p in seeds], is_points=True),
                    line(
                        "recast, 2 to 5 Ra",
                        energies,
                        [s.recast_um.likely for s in found],
                        low=[s.recast_um.low for s in found],
                        high=[s.recast_um.high for s in found],
                    ),
                    line("recast, table", at, [p.recast_um for p in seeds], is_points=True),
                    line(
                        "Ra, exponents 1/3 to 0.28",
                        energies,
                        [s.ra_um.likely for s in found],
                        low=[s.ra_um.low for s in found],
                        high=[s.ra_um.high for s in found],
                    ),
                ),
            ),
        ),
    )


def crater_depth() -> Figure:
    """How deep the heat of one spark melts, against the depth that its roughness asks for."""
    energies = np.geomspace(0.001, 9.8, 22).tolist()
    pulses = [pulse_of_energy(e, through=full_pulse(SPARK.pulse)) for e in energies]
    times = [p.on_time_us for p in pulses]
    law = SPARK.crater

    def melts(share: float) -> list[float]:
        return [crater(p, share=share, material=D2, law=law).melt_depth_um for p in pulses]

    asked = [
        PARABOLA_DEPTH_PER_RA * surface_of(e, material=D2, law=SPARK).ra_um.likely for e in energies
    ]
    radius = [
        heat_radius_um(p.peak_current_a / 2, on_time_us=p.on_time_us, law=law) for p in pulses
    ]
    return Figure(
        name="crater-depth",
        title="Melting isotherm of one spark in tool steel",
        panels=(
            Panel(
                title="pulses of one family, I ~ t, up to 700 A and 1.4 µs",
                x=Axis(label="length of the pulse, µs", is_log=True),
                y=Axis(label="µm", is_log=True),
                series=(
                    line("radius of the heat source", times, radius, is_reference=True),
                    line("crater depth that Ra asks for", times, asked),
                    line(f"melt depth, {law.work_share_high:g} of the power", times,
                         melts(law.work_share_high)),
                    line(f"melt depth, {law.work_share_low:g} of the power", times,
                         melts(law.work_share_low)),
                ),
            ),
        ),
    )  # fmt: skip


def wire_heat() -> Figure:
    """Temperature along the wire in the reference cut of Sato et al."""
    series = []
    for name, state in NOZZLES.items():
        found = wire_temperature(
            SATO_WIRE,
            height_mm=SATO_MM,
            mean_a=mean_current_a(PHYSICS.pulse),
            peak_a=PHYSICS.pulse.peak_a,
            physics=PHYSICS,
            flushing=state,
        )
        along = np.linspace(found.along_mm[0], found.along_mm[-1], 49)
        series.append(line(name, along, np.interp(along, found.along_mm, found.temperature_c)))
    gap = PHYSICS.heat.contact_gap_mm
    peak = max(max(s.y) for s in series)
    faces = [
        line(name, [at, at], [PHYSICS.heat.water_c, peak], is_reference=True)
        for name, at in (("upper face of the work", gap), ("lower face", gap + SATO_MM))
    ]
    return Figure(
        name="wire-temperature",
        title="Temperature along the wire in the test cut",
        panels=(
            Panel(
                title="0.30 mm brass, 13 m/min from left to right, 29.4 A, 80 mm",
                x=Axis(label="from the upper contact, mm"),
                y=Axis(label="mean over the section, °C", low=0, high=650),
                series=(*series, *faces),
            ),
        ),
    )


def _threshold(height_mm: float, state: Flushing = Flushing.SEALED, flow: float = 1.0) -> float:
    return break_current_a(
        SATO_WIRE,
        height_mm=height_mm,
        tension_n=SATO_N,
        peak_a=PHYSICS.pulse.peak_a,
        physics=PHYSICS,
        flushing=state,
        flow_ratio=flow,
    )


def break_current() -> Figure:
    """Mean current at which the wire parts, with the tests of Sato et al."""
    heights = np.linspace(10, 150, 15)
    curves = [
        line(name, heights, [_threshold(h, state) for h in heights.tolist()])
        for name, state in NOZZLES.items()
    ]
    pulse = PHYSICS.pulse
    broke = [replace(pulse, servo_v=v) for v in (43.0, 42.0, 40.0)] + [replace(pulse, off_us=6.0)]
    amps = [mean_current_a(p) for p in broke]
    closed = _threshold(SATO_MM)
    used = [("stable", mean_current_a(pulse) / closed)]
    used += [
        (name, a / closed)
        for name, a in zip(("43 V", "42 V", "40 V", "6 µs off"), amps, strict=True)
    ]
    used += [
        (f"{flow:g} l/min", mean_current_a(pulse) / _threshold(SATO_MM, flow=flow / 12))
        for flow in (11.5, 11.0)
    ]
    x, y = Axis(label=HEIGHT), Axis(label="mean current at the break, A", low=0)
    return Figure(
        name="break-current",
        title="Breaks: 0.30 mm brass, 22 N, 700 A, 13 m/min",
        panels=(
            Panel(
                title="threshold, and tests of Sato et al. at 80 mm",
                x=x,
                y=y,
                series=(
                    *curves,
                    line("stable cut", [SATO_MM], [mean_current_a(pulse)], is_points=True),
                    line("broke: servo voltage, off time", [SATO_MM] * 4, amps, is_points=True),
                ),
            ),
            Panel(
                title="mean current over threshold in each test",
                x=Axis(
                    label="setting changed",
                    low=0.5,
                    high=len(used) + 0.5,
                    names=tuple(name for name, _ in used),
                ),
                y=Axis(label="share of the threshold", low=0.8, high=1.3),
                series=(
                    line(
                        "tests (film set at the first)",
                        range(1, len(used) + 1),
                        [share for _, share in used],
                        is_points=True,
                    ),
                    line("the wire parts", [0.5, len(used) + 0.5], [1, 1], is_reference=True),
                ),
            ),
        ),
    )


def lag() -> Figure:
    """Lag and barrel of each pass over the height."""
    heights = np.geomspace(10, 200, 15)
    shapes = [
        pass_shapes(
            passes_for(5, material=D2, height_mm=h, wire=BRASS, machine=MACHINE,
                       technology=TECHNOLOGY),
            wire=BRASS, height_mm=h, physics=PHYSICS,
        )
        for h in heights.tolist()
    ]  # fmt: skip
    names = ("rough", "skim 1", "skim 2", "skim 3", "skim 4")
    x = Axis(label=HEIGHT, is_log=True)
    return Figure(
        name="lag-and-barrel",
        title="Lag and barrel by pass: tool steel, 0.25 mm brass",
        panels=(
            Panel(
                title="lag at mid-height",
                x=x,
                y=Axis(label="µm", is_log=True),
                series=tuple(
                    line(n, heights, [s[k].lag_um for s in shapes]) for k, n in enumerate(names)
                ),
            ),
            Panel(
                title="barrel of one wall",
                x=x,
                y=Axis(label="µm", is_log=True),
                series=tuple(
                    line(n, heights, [s[k].barrel_um for s in shapes]) for k, n in enumerate(names)
                ),
            ),
        ),
    )


def corner() -> Figure:
    """Error after a square corner of the rough pass, at one feed and with the feed taken back."""
    height_mm, turn = 60.0, math.pi / 2
    passes = passes_for(
        3, material=D2, height_mm=height_mm, wire=BRASS, machine=MACHINE, technology=TECHNOLOGY
    )
    limit = feed_limits(passes, wire=BRASS, height_mm=height_mm, physics=PHYSICS)[0]
    advice = feed_advice(
        length_mm=np.array([10.0, 10.0]),
        turn_rad=np.array([turn, 0.0]),
        radius_mm=np.zeros(2),
        sweep_rad=np.zeros(2),
        limit=limit,
    )
    factor = float(advice.corner_factor[0])
    slow_um = float(limit.lag_at_um(np.array([factor]))[0])
    after_um = 1000 * float(advice.after_mm[0])
    run = np.linspace(0, 5 * limit.lag_um, 51)
    full = corner_error_um(turn, lag_um=limit.lag_um, run_um=run)
    in_zone = np.minimum(run, after_um)
    left = trailing_angle_rad(turn, run_over_lag=in_zone / slow_um)
    beyond = (run - in_zone) / limit.lag_um
    angle = trailing_angle_rad(left, run_over_lag=beyond)
    slowed = np.where(run <= after_um, slow_um, limit.lag_um) * np.sin(angle)
    before_um = 1000 * float(advice.before_mm[0])
    x = Axis(label="way of the guides after the corner, µm")
    return Figure(
        name="corner",
        title="Square corner of the rough pass: tool steel, 60 mm, 0.25 mm brass",
        panels=(
            Panel(
                title="wire off the wall after the corner",
                x=x,
                y=Axis(label="µm", low=0),
                series=(
                    line("one feed", run, full),
                    line("feed taken back", run, slowed),
                    line("allowance", [0, run[-1]], [limit.allowed_um] * 2, is_reference=True),
                ),
            ),
            Panel(
                title="feed in the program",
                x=Axis(label="way before and after the corner, µm"),
                y=Axis(label="share of the usual feed", low=0, high=1.1),
                series=(
                    line(
                        "feed",
                        [-1.5 * before_um, -before_um, -before_um, after_um, after_um, run[-1]],
                        [1, 1, factor, factor, 1, 1],
                    ),
                    line("corner", [0, 0], [0, 1], is_reference=True),
                ),
            ),
        ),
    )


def debris() -> Figure:
    """Dirt in the water along the wire for three states of the nozzles."""
    law = TECHNOLOGY.flushing
    panels = []
    for height_mm in (20.0, 80.0):
        closed_mm, open_mm = law.nozzle.usual_gap_mm, law.nozzle.open_gap_mm
        settings = (
            ("both nozzles closed", closed_mm, closed_mm),
            ("upper open", open_mm, closed_mm),
            ("both open", open_mm, open_mm),
        )
        found = {
            name: debris_along(
                height_mm,
                wire_mm=0.25,
                gap_um=40,
                top_share=face_share(top, law=law),
                bottom_share=face_share(bottom, law=law),
                law=law,
            )
            for name, top, bottom in settings
        }
        usual = found["both nozzles closed"].mean
        up = np.linspace(0, height_mm, 41)
        panels.append(
            Panel(
                title=f"{height_mm:g} mm high",
                x=Axis(label="height above the lower face, mm"),
                y=Axis(label="dirt over its mean with closed nozzles", is_log=True),
                series=tuple(
                    line(name, up, np.interp(up, d.up_mm, d.dirt) / usual)
                    for name, d in found.items()
                ),
            )
        )
    return Figure(
        name="debris",
        title="Debris along the kerf, 0.25 mm wire, gap 40 µm: ratios at one feed",
        panels=tuple(panels),
    )


def nozzle_gap() -> Figure:
    """Rate factor over the gap of one or both nozzles."""
    law = TECHNOLOGY.flushing
    gaps = np.concatenate([np.linspace(0.05, 0.5, 12), np.geomspace(0.6, 3.0, 12)])

    def factors(height_mm: float, *, both: bool) -> list[float]:
        usual = law.nozzle.usual_gap_mm
        return [
            derate(
                NozzleSetting(top_gap_mm=g, bottom_gap_mm=g if both else usual),
                height_mm=height_mm,
                wire_mm=0.25,
                gap_um=40,
                law=law,
            ).rate_factor
            for g in gaps.tolist()
        ]

    def band(label: str, low: float, high: float) -> Series:
        middle = (low + high) / 2
        return line(label, [1.5, 3.0], [middle] * 2, low=[low] * 2, high=[high] * 2,
                    is_reference=True)  # fmt: skip

    return Figure(
        name="nozzle-gap",
        title="Rough rate over the nozzle gap, submerged",
        panels=(
            Panel(
                title="bands: what the trade says of open nozzles (no source)",
                x=Axis(label="gap of the nozzle to the face, mm", is_log=True),
                y=Axis(label="rate over that with closed nozzles", low=0, high=1.1),
                series=(
                    line("one nozzle, 20 mm", gaps, factors(20, both=False)),
                    line("one nozzle, 80 mm", gaps, factors(80, both=False)),
                    line("both nozzles, 80 mm", gaps, factors(80, both=True)),
                    band("one open, 60–80 %", 0.6, 0.8),
                    band("both open, 30–50 %", 0.3, 0.5),
                ),
            ),
        ),
    )


def small_holes() -> Figure:
    """Time and wander of small holes over their depth."""
    law = TECHNOLOGY.small_hole
    depths = np.linspace(5, 150, 30)

    def curve(name: str, diameter: float, field: str) -> Series:
        material = CATALOGUE.material(name)
        deep = [d for d in depths.tolist() if d <= deepest_mm(diameter, law=law)]
        holes = [predict_hole(d, diameter_mm=diameter, material=material, law=law) for d in deep]
        if field == "wander":
            return line(f"{diameter:g} mm", deep, [h.wander_mm for h in holes])
        minutes = [h.drilled.minutes for h in holes]
        more = (
            {"low": [m.low for m in minutes], "high": [m.high for m in minutes]}
            if (name, diameter) == ("D2", 1.0)
            else {}
        )
        return line(f"{name}, {diameter:g} mm", deep, [m.likely for m in minutes], **more)

    x = Axis(label="depth, mm")
    return Figure(
        name="small-holes",
        title="Small holes by tube, to the depth that is routine",
        panels=(
            Panel(
                title="sparking time; band: 10 to 90 % for D2, 1 mm",
                x=x,
                y=Axis(label="minutes", is_log=True),
                series=(
                    *(curve("D2", d, "time") for d in (0.3, 0.5, 1.0, 2.0)),
                    curve("carbide", 1.0, "time"),
                ),
            ),
            Panel(
                title="wander of the exit",
                x=x,
                y=Axis(label="mm", low=0),
                series=tuple(curve("D2", d, "wander") for d in (0.3, 0.5, 1.0)),
            ),
        ),
    )  # fmt: skip
