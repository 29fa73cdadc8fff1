"""The tables on the pages of docs/process are what the code computes."""

from __future__ import annotations

from pathlib import Path

import pytest

from kerfwright.adapters.tables import load_tables
from kerfwright.process.crater import crater, plasma_radius_um, pulse_of_energy
from kerfwright.process.flushing import Bath, NozzleSetting, derate, face_share
from kerfwright.process.small_hole import predict_hole
from kerfwright.process.spark_surface import choose_energies, surface_of

PAGES = Path(__file__).parents[2] / "docs" / "process"
TABLES = load_tables()
TECHNOLOGY = TABLES.technology
SPARK = TECHNOLOGY.spark
D2 = TABLES.catalogue.material("D2")


def page(name: str) -> str:
    return (PAGES / name).read_text(encoding="utf-8")


@pytest.mark.parametrize("energy", [9.8, 1, 0.1, 0.01, 0.001])
def test_the_page_on_surfaces_prints_the_sparks_that_the_code_computes(energy):
    law = SPARK.crater
    pulse = pulse_of_energy(energy, law=SPARK.pulse)
    least, most = (
        crater(pulse, share=s, material=D2, law=law)
        for s in (law.work_share_low, law.work_share_high)
    )
    s = surface_of(energy, material=D2, law=SPARK)
    row = (
        f"| {energy:g} | {pulse.peak_current_a:.0f} | {pulse.on_time_us:.3g} "
        f"| {least.radius_um:.3g} | {plasma_radius_um(pulse.on_time_us, law=law):.2g} "
        f"| {least.melt_depth_um:.2g}–{most.melt_depth_um:.2g} | {s.crater_depth_um:.2g} "
        f"| {s.gap_um:.2g} | {s.ra_um.likely:.2g}–{s.ra_um.high:.2g} | {s.recast_um.likely:.2g} |"
    )
    assert row in page("surface.md")


def test_the_page_on_surfaces_prints_the_passes_that_the_code_chooses():
    choice = choose_energies(material=D2, law=SPARK, ra_um=TECHNOLOGY.passes[-1].ra_um)
    text = page("surface.md")
    for mine, table in zip(choice.passes, TECHNOLOGY.passes, strict=True):
        s = mine.surface
        row = (
            f"| {mine.number} | {s.energy_mj:.3g} | {s.gap_um:.3g} | {table.gap_um:g} "
            f"| {mine.stock_um:.3g} | {table.stock_um:g} | {s.ra_um.likely:.2f} | {table.ra_um:g} "
            f"| {s.recast_um.likely:.2g} | {table.recast_um:g} |"
        )
        assert row in text


@pytest.mark.parametrize("height_mm", [20, 40, 80, 150, 250])
def test_the_page_on_flushing_prints_the_factors_that_the_code_computes(height_mm):
    def at(top_mm, bottom_mm, bath=Bath.SUBMERGED):
        return derate(
            NozzleSetting(top_gap_mm=top_mm, bottom_gap_mm=bottom_mm, bath=bath),
            height_mm=height_mm,
            wire_mm=0.25,
            gap_um=40,
            law=TECHNOLOGY.flushing,
        )

    columns = [
        at(0.2, 0.2),
        at(0.5, 0.1),
        at(2, 0.1),
        at(2, 0.1, Bath.OPEN_AIR),
        at(2, 2),
        at(2, 2, Bath.OPEN_AIR),
    ]
    row = f"| {height_mm} | " + " | ".join(f"{c.rate_factor:.2f}" for c in columns)
    row += f" | {columns[2].worst_ratio:.1f} | {columns[2].worst_up_mm / height_mm:.2f} |"
    assert row in page("flushing.md")


def test_the_page_on_flushing_prints_the_shares_that_the_code_computes():
    shares = [face_share(gap, law=TECHNOLOGY.flushing) for gap in (0.1, 0.2, 0.5)]
    said = "{:.2f} at 0.1 mm, {:.2f} at 0.2, {:.2f} at 0.5".format(*shares)
    assert said in page("flushing.md")


@pytest.mark.parametrize(
    ("name", "diameter"),
    [("D2", 0.5), ("D2", 1), ("D2", 2), ("IN718", 1), ("Ti64", 1), ("carbide", 1)],
)
def test_the_page_on_small_holes_prints_what_the_code_predicts(name, diameter):
    hole = predict_hole(
        40,
        diameter_mm=diameter,
        material=TABLES.catalogue.material(name),
        law=TECHNOLOGY.small_hole,
    )
    minutes, tube = hole.drilled.minutes, hole.tube_used_mm
    row = (
        f"| {name} | {diameter:g} | {minutes.likely:.1f} ({minutes.low:.1f}–{minutes.high:.1f}) "
        f"| {tube.likely:.0f} ({tube.low:.0f}–{tube.high:.0f}) | {hole.tube_travel_mm:.1f} "
        f"| {hole.entry_diameter_mm:.2f} | {hole.exit_diameter_mm:.2f} | {hole.wander_mm:.3f} |"
    )
    assert row in page("small-holes.md")
