"""Read definitions of small-hole machines from TOML files.

Every key is described in ``docs/drill-definition.md``.
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum
from pathlib import Path
from typing import Any, Final

from kerfwright.adapters.machines import Keys, definition, shipped_machines
from kerfwright.trade.drill import AxisLetter, DrillDialect, DrillMachine, TubeHolder, TurningAxis
from kerfwright.trade.part import LengthUnit

DRILLS: Final = "drills"
"""Folder of the shipped definitions."""
DEFAULT_DRILL: Final = "generic-drill-mm"

_WORDS: Final[Mapping[str, tuple[str, ...]]] = {
    "tube": ("{number}",),
    "guide": ("{value}",),
    "touch": ("{value}",),
    "condition": ("{number}",),
    "spark_on": (),
    "spark_off": (),
    "dress": (),
    "attended_stop": (),
    "optional_stop": (),
    "end_of_program": (),
}
_COORDINATES: Final = "ABCXYZFN"
"""Letters of moves, which no word of the machine may have."""
_MOST_AXES: Final = 2
_SEVERAL: Final = "none, one of A and B, or two of which the first is A or B"


class _Hand(StrEnum):
    RIGHT = "right-hand"
    LEFT = "left-hand"


def shipped_drills() -> tuple[str, ...]:
    """Return the names of the definitions of small-hole machines that come with kerfwright."""
    return shipped_machines(DRILLS)


def load_drill(name_or_path: str | Path | None = None) -> DrillMachine:
    """Load a shipped definition by name, or a shop's own file by path.

    Parameters
    ----------
    name_or_path : str, Path or None
        Name of a shipped definition, or the path of a ``.toml`` file or of a file of kept
        figures; None loads ``generic-drill-mm``.

    Raises
    ------
    UnknownNameError, FileError, InputError
        As :func:`kerfwright.adapters.machines.load_machine`.
    """
    tables, name = definition(name_or_path, kind=DRILLS, usual=DEFAULT_DRILL)
    return read_drill(tables, name=name)


def drill_tables(name_or_path: str | Path | None = None) -> dict[str, Any]:
    """Return a definition as it was read, to be kept; arguments as :func:`load_drill`."""
    return definition(name_or_path, kind=DRILLS, usual=DEFAULT_DRILL)[0]


def read_drill(tables: Mapping[str, Any], *, name: str) -> DrillMachine:
    """Build a machine from the tables of a definition; `name` is used in messages.

    Raises
    ------
    InputError
        Code ``machine-key-missing``, ``machine-key-unknown`` or ``machine-value``.
    """
    keys = Keys(file=name, tables=tables)
    machine = DrillMachine(
        id=keys.text("id"),
        name=keys.text("name"),
        travel_x_mm=keys.length("frame.travel_x"),
        travel_y_mm=keys.length("frame.travel_y"),
        travel_z_mm=keys.length("frame.travel_z"),
        max_height_mm=keys.length("frame.max_height"),
        max_weight_kg=keys.weight("frame.max_weight"),
        tubes=_tubes(keys),
        axes=_axes(keys),
        rate_factor=keys.plain("performance.rate_factor"),
        best_position_um=keys.small_length("performance.best_position"),
        idle_speed_mm_per_min=keys.speed("performance.idle_speed"),
        power_kw=keys.plain("performance.power_kw"),
        water_l_per_min=keys.plain("performance.water_l_per_min"),
        dialect=_dialect(keys),
    )
    keys.refuse_unknown()
    return machine


def _tubes(keys: Keys) -> TubeHolder:
    holder = TubeHolder(
        length_mm=keys.length("tube.length"),
        held_mm=keys.length("tube.held"),
        guide_length_mm=keys.length("tube.guide_length"),
        guide_diameter_mm=keys.length("tube.guide_diameter"),
        diameters_mm=keys.lengths("tube.diameters"),
        changes_itself=keys.truth("tube.changes_itself"),
        dresses_itself=keys.truth("tube.dresses_itself"),
        finds_breakthrough=keys.truth("tube.finds_breakthrough"),
    )
    if not holder.length_mm > holder.held_mm + holder.guide_length_mm:
        keys.refuse("tube.length", holder.length_mm, "more than collet and guide take together")
    return holder


def _axes(keys: Keys) -> tuple[TurningAxis, ...]:
    letters = tuple(AxisLetter(a) for a in keys.items("turning.axes", tuple(AxisLetter)))
    if len(letters) > _MOST_AXES or (letters and letters[0] is AxisLetter.C):
        keys.refuse("turning.axes", [*map(str, letters)], _SEVERAL)
    found = []
    for letter in letters:
        here = f"turning.{letter}"
        low, high = (keys.signed(f"{here}.{end}_deg") for end in ("low", "high"))
        if not low <= 0 <= high or low == high:
            keys.refuse(f"{here}.high_deg", high, "limits with 0 between them")
        found.append(
            TurningAxis(
                letter=letter,
                low_deg=low,
                high_deg=high,
                is_right_handed=keys.choice(f"{here}.turns", _Hand) is _Hand.RIGHT,
                speed_deg_per_min=keys.plain(f"{here}.speed_deg_per_min"),
            )
        )
    return tuple(found)


def _dialect(keys: Keys) -> DrillDialect:
    words = {name: keys.words(f"dialect.{name}", places) for name, places in _WORDS.items()}
    seen: dict[str, str] = {}
    for name, template in words.items():
        taken = [part for part in template.split() if part[0] in _COORDINATES]
        if taken or template in seen:
            expected = "a word of its own, without the letters of moves " + _COORDINATES
            keys.refuse(f"dialect.{name}", template, expected)
        seen[template] = name
    return DrillDialect(
        unit=keys.choice("dialect.unit", LengthUnit),
        decimals=keys.whole("dialect.decimals", 2, 7),
        angle_decimals=keys.whole("dialect.angle_decimals", 2, 6),
        feed_decimals=keys.whole("dialect.feed_decimals", 0, 6),
        block_numbers=keys.truth("dialect.block_numbers"),
        block_step=keys.whole("dialect.block_step", 1, 1000),
        program_start=keys.lines("dialect.program_start"),
        program_end=keys.lines("dialect.program_end"),
        max_line_length=keys.whole("dialect.max_line_length", 72, 1024),
        **words,
    )
