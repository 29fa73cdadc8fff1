"""Which machines a load may go on, and why not on the others."""

from __future__ import annotations

from kerfwright.foundation.units import UnitSystem, length_text, mass_text
from kerfwright.scheduling.records import Load, ParkMachine, Week
from kerfwright.trade.catalogue import is_same_wire


def misfit(load: Load, machine: ParkMachine) -> str:
    """Return why a load cannot go on a machine; empty where it can."""
    need = load.need
    if load.running_on:
        return "" if load.running_on == machine.id else f"it is on {load.running_on}"
    if load.machines and machine.id not in load.machines:
        return "it was not asked for"
    if need.definition and need.definition != machine.definition:
        return f"its program is for {need.definition}, not for {machine.definition or 'this one'}"
    for what, wanted, most in (
        ("X", need.size_x_mm, machine.travel_x_mm),
        ("Y", need.size_y_mm, machine.travel_y_mm),
        ("the height", need.height_mm, machine.max_height_mm),
    ):
        if wanted is not None and wanted > most:
            return f"{what} is {_both(wanted)}, {_both(most)} go on it"
    if need.mass_kg is not None and need.mass_kg > machine.max_mass_kg:
        return f"it weighs {mass_text(need.mass_kg)}, {mass_text(machine.max_mass_kg)} go on it"
    if need.angle_deg is not None and need.angle_deg > machine.max_angle_deg:
        return f"the wire leans by {need.angle_deg:.3g}°, there by {machine.max_angle_deg:.3g}°"
    if (
        need.wire_mm is not None
        and machine.wire_diameters_mm
        and not any(is_same_wire(need.wire_mm, d) for d in machine.wire_diameters_mm)
    ):
        return f"it has no guides for {_both(need.wire_mm)} wire"
    return ""


def _both(value_mm: float) -> str:
    metric, inch = (length_text(value_mm, system=s) for s in UnitSystem)
    return f"{metric} ({inch})"


def fitting(week: Week) -> dict[str, tuple[int, ...]]:
    """Return for each load the positions of the machines that it may go on."""
    return {
        load.id: tuple(k for k, m in enumerate(week.machines) if not misfit(load, m))
        for load in week.loads
    }


def why_left(week: Week, load: Load) -> str:
    """Return why a load goes on no machine."""
    return "; ".join(f"{m.id}: {misfit(load, m)}" for m in week.machines)
