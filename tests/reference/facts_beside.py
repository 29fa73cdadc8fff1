"""Rows of figures that others measured or printed, in ``facts/`` beside this file.

Only figures are carried over, under column names of ours; each file says at its head whose they
are.  ``OF_FOLDER`` says where a file's figures stand in the folder of references that they were
retyped into, so that both can be compared where that folder lies beside the checkout.
"""

from __future__ import annotations

import csv
from pathlib import Path

FACTS = Path(__file__).parent / "facts"
FOLDER = Path(__file__).resolve().parents[3] / "shared" / "reference"

OF_FOLDER: dict[str, tuple[str, dict[str, str]]] = {
    "inconel_825.csv": (
        "wedm_inconel825_bbd15.csv",
        {
            "on_us": "Ton_us", "off_us": "Toff_us", "current_a": "I_A", "ra_um": "Ra_um",
            "removal_mm3_per_min": "MRR_mm3_min",
        },
    ),
    "titanium_surface.csv": (
        "wedm_titanium_rsm_computed81.csv",
        {
            "on_dial": "Ton_code", "off_dial": "Toff_code", "current_dial": "IP_A_code",
            "servo_v": "SV_V", "feed_mm_per_min": "MR_mm_min", "ra_um": "Ra_um",
            "half_kerf_um": "DD_um", "gap_um": "gap_um_if_d0.25",
        },
    ),
    "breaks.csv": (
        "wire_break_sato.csv",
        {"changed": "parameter_changed", "stable": "initial", "unit": "unit",
         "broke_at": "value_at_break"},
    ),
    "control.csv": (
        "wire_break_control_sato.csv",
        {"bath": "condition", "off_time": "method", "time_s": "time_s", "speed_up": "speed_ratio"},
    ),
    "vdi_classes.csv": (
        "vdi3400.csv", {"class": "class", "ra_um": "Ra_exact_um", "ra_uin": "Ra_uin"},
    ),
    "wire_gauges.csv": ("awg_b258.csv", {"gauge": "awg", "mm": "d_mm", "inch": "d_in"}),
    "n_grades.csv": ("iso_n_grades.csv", {"grade": "N", "ra_um": "Ra_um"}),
    "work_materials.csv": (
        "materials_thermophysical.csv",
        {
            "material": "material", "density_kg_per_m3": "density_kg_m3", "read": "density_tag",
            "conductivity_w_per_mk": "k_W_mK", "heat_capacity_j_per_kgk": "cp_J_kgK",
        },
    ),
    "rate_indices.csv": (
        "erodibility_index.csv",
        {
            "material": "material", "melting_c": "T_melt_C", "melt_j_per_mm3": "e_melt_J_mm3",
            "melt_rate": "e_melt_rate_rel", "palatnik_rate": "palatnik_rate_rel",
            "kalpakjian_rate": "kalpakjian_rate_rel",
            "quarter_palatnik_rate": "palatnik_quarter_power_rel",
            "shop_rate": "trade_rel_rate_c",
        },
    ),
}  # fmt: skip


def read(path: Path) -> list[dict[str, str]]:
    """Return the rows of a file, its remarks left out."""
    lines = path.read_text("utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def rows(name: str) -> list[dict[str, str]]:
    """Return the rows of a file of ``facts/``."""
    return read(FACTS / name)
