"""The sizes of a spur gear from its tooth data, and the two measures by which it is inspected.

Symbols and signs are those of ISO 21771 for gears cut by a basic rack (ISO 53), but for internal
gears, whose teeth are counted positive here: a positive shift then makes tip and root circle
larger, as it does outside, and the space between two teeth wider.

References
----------
ISO 53, Cylindrical gears for general and heavy engineering: standard basic rack tooth profile
(from memory); ISO 21771, Gears: cylindrical involute gears and gear pairs (from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import Final, NoReturn

from scipy.optimize import brentq

from kerfwright.foundation.errors import InputError, RangeError

LEAST_TEETH: Final = 4
MOST_TEETH: Final = 2000
USUAL_ROOT_RADIUS: Final = 0.38
"""Of the tip of the standard rack, by module (ISO 53, from memory)."""
_STEEPEST_DEG: Final = 45.0
_ANGLE_RAD: Final = 1e-15
"""To which the angle of an involute is found."""
_LARGEST_ROLL_RAD: Final = 1.5
"""Pressure angles beyond it, 86°, are those of no gear."""


def involute(angle_rad: float) -> float:
    """Return the involute function, tan(angle) - angle, rad."""
    return math.tan(angle_rad) - angle_rad


def angle_of_involute(value_rad: float) -> float:
    """Return the angle whose involute function has a value, rad.

    Raises
    ------
    RangeError
        Code ``involute-range`` where the value is negative or that of no gear.
    """
    if not 0.0 <= value_rad <= involute(_LARGEST_ROLL_RAD):
        raise RangeError(
            f"no angle of an involute belongs to {value_rad:.4g} rad.", code="involute-range"
        )
    return float(brentq(lambda a: involute(a) - value_rad, 0.0, _LARGEST_ROLL_RAD, xtol=_ANGLE_RAD))


@dataclass(frozen=True, kw_only=True)
class Gear:
    """Tooth data of a spur gear.

    Attributes
    ----------
    module_mm : float
        Reference diameter by tooth, mm.
    teeth : int
    pressure_angle_deg : float
    shift : float
        Profile shift by module.
    addendum, dedendum : float
        Of the basic rack, by module.
    root_radius : float or None
        By module: outside that of the rounded tip of the rack, inside that of the round between
        flank and root circle.  None takes the usual 0.38, or less where that does not fit.
    thinning_mm : float
        What the teeth are thinner along the reference circle than without backlash, mm.
    is_internal : bool
        Whether the teeth point inwards.

    Raises
    ------
    InputError
        Code ``gear-data``: a value that makes no gear.
    RangeError
        Code ``gear-pointed``: teeth that end in a point below the tip circle.
    """

    module_mm: float
    teeth: int
    pressure_angle_deg: float = 20.0
    shift: float = 0.0
    addendum: float = 1.0
    dedendum: float = 1.25
    root_radius: float | None = None
    thinning_mm: float = 0.0
    is_internal: bool = False

    def __post_init__(self) -> None:
        self._expect(self.module_mm > 0, f"the module is above 0, not {self.module_mm:g} mm")
        self._expect(
            LEAST_TEETH <= self.teeth <= MOST_TEETH,
            f"a gear has {LEAST_TEETH} to {MOST_TEETH} teeth here, not {self.teeth}",
        )
        self._expect(
            0 < self.pressure_angle_deg <= _STEEPEST_DEG,
            f"the pressure angle lies above 0° and up to {_STEEPEST_DEG:g}°, not at "
            f"{self.pressure_angle_deg:g}°",
        )
        self._expect(
            min(self.addendum, self.dedendum) > 0,
            "addendum and dedendum are above 0 modules",
        )
        self._expect(
            0 <= (self.root_radius or 0) <= self.dedendum,
            "the radius at the root lies between 0 and the dedendum",
        )
        self._expect(self.thinning_mm >= 0, "teeth are made thinner by 0 or more, not thicker")
        inner_mm = min(self.root_mm, self.tip_mm)
        self._expect(inner_mm > 0, f"the inner circle would have a diameter of {inner_mm:.4g} mm")
        thinner = "teeth" if not self.is_internal else "spaces"
        self._expect(
            self.reference_thickness_mm > 0,
            f"the {thinner} would be {self.reference_thickness_mm:.4g} mm thick on the reference "
            "circle",
        )
        if self.outer_thickness_rad <= 0:
            raise RangeError(
                f"the {thinner} end in a point below their outer circle of "
                f"{max(self.tip_mm, self.root_mm):.4f} mm.",
                code="gear-pointed",
                remedy="Take a smaller profile shift or a smaller "
                f"{'dedendum' if self.is_internal else 'addendum'}.",
            )

    @staticmethod
    def _expect(holds: bool, said: str) -> None:  # noqa: FBT001 a condition
        if not holds:
            raise InputError(f"no gear: {said}.", code="gear-data")

    @property
    def pressure_angle_rad(self) -> float:
        """Pressure angle, rad."""
        return math.radians(self.pressure_angle_deg)

    @property
    def reference_mm(self) -> float:
        """Reference diameter, mm."""
        return self.module_mm * self.teeth

    @property
    def base_mm(self) -> float:
        """Base diameter, mm."""
        return self.reference_mm * math.cos(self.pressure_angle_rad)

    @property
    def tip_mm(self) -> float:
        """Diameter of the tip circle, mm."""
        height = self.shift - self.addendum if self.is_internal else self.shift + self.addendum
        return self.reference_mm + 2 * self.module_mm * height

    @property
    def root_mm(self) -> float:
        """Diameter of the root circle, mm."""
        depth = self.shift + self.dedendum if self.is_internal else self.shift - self.dedendum
        return self.reference_mm + 2 * self.module_mm * depth

    @property
    def reference_thickness_mm(self) -> float:
        """Arc on the reference circle, mm: outside of a tooth, inside of a space."""
        whole = math.pi / 2 + 2 * self.shift * math.tan(self.pressure_angle_rad)
        change_mm = self.thinning_mm if self.is_internal else -self.thinning_mm
        return self.module_mm * whole + change_mm

    @cached_property
    def base_half_rad(self) -> float:
        """Half the angle on the base circle, rad: outside of a tooth, inside of a space.

        Both narrow outwards, so that one formula serves.
        """
        return self.reference_thickness_mm / self.reference_mm + involute(self.pressure_angle_rad)

    def half_angle_rad(self, radius_mm: float) -> float:
        """Return half the angle of a tooth, or inside of a space, at a radius, rad.

        Below the base circle, where there is no involute, the angle at the base circle.
        """
        roll = math.acos(min(self.base_mm / (2 * radius_mm), 1.0))
        return self.base_half_rad - involute(roll)

    @property
    def outer_thickness_rad(self) -> float:
        """Half the angle of a tooth at its tip, or inside of a space at its root, rad."""
        return self.half_angle_rad(max(self.tip_mm, self.root_mm) / 2)

    @property
    def _measured_roll(self) -> float:
        """Roll angle of the involute on the circle of reference diameter + 2 shifts, rad."""
        radius_mm = self.reference_mm / 2 + self.shift * self.module_mm
        return math.tan(math.acos(min(self.base_mm / (2 * radius_mm), 1.0)))

    @property
    def usual_span_teeth(self) -> int:
        """Teeth to measure over, so that the gauge touches near the reference circle."""
        pitch_mm = math.pi * self.base_mm / self.teeth
        beyond_mm = self.base_mm * (self._measured_roll - self.base_half_rad)
        return max(2, round(beyond_mm / pitch_mm) + 1)

    def span_mm(self, teeth: int) -> float:
        """Return the base tangent length over a number of teeth, mm.

        W = (k - 1) pitch on the base circle + thickness on the base circle (ISO 21771, from
        memory).

        Raises
        ------
        InputError
            Code ``gear-span`` for an internal gear, or where the faces of the gauge would touch
            no flank.
        """
        if self.is_internal:
            raise InputError("a span is measured over outside teeth only.", code="gear-span")
        length_mm = self.base_mm * ((teeth - 1) * math.pi / self.teeth + self.base_half_rad)
        touches_mm = math.hypot(self.base_mm, length_mm)
        if not 2 <= teeth <= self.teeth // 2 or touches_mm >= self.tip_mm:
            raise InputError(
                f"a gauge over {teeth} teeth would touch on a circle of {touches_mm:.4f} mm; the "
                f"tip circle is {self.tip_mm:.4f} mm.",
                code="gear-span",
                remedy=f"Measure over {self.usual_span_teeth} teeth, or over pins.",
            )
        return length_mm

    @property
    def usual_pin_mm(self) -> float:
        """Pin that touches near the circle of reference diameter + 2 shifts, mm, to 0.01 mm."""
        touched = self._measured_roll
        if self.is_internal:
            return round(self.base_mm * (touched - math.tan(touched - self.base_half_rad)), 2)
        centre = math.tan(math.pi / self.teeth - self.base_half_rad + touched)
        return round(self.base_mm * (centre - touched), 2)

    def over_pins_mm(self, pin_mm: float) -> float:
        """Return the size over two pins, or inside between them, mm.

        The pins lie in opposite spaces, or with odd teeth as nearly opposite as there are:
        inv(a) = half base angle + pin / base diameter - pi / z, M = base diameter / cos(a) + pin,
        the first term times cos(90° / z) with odd teeth (ISO 21771, from memory).

        Raises
        ------
        InputError
            Code ``gear-pin`` where the pin would touch no flank, or not stand out.
        """
        if self.is_internal:
            value = self.base_half_rad - pin_mm / self.base_mm
        else:
            value = self.base_half_rad + pin_mm / self.base_mm - math.pi / self.teeth
        if pin_mm <= 0 or value < 0:
            self._no_pin(pin_mm, "would lie below the base circle")
        roll = math.tan(angle_of_involute(value))
        touches = roll + (pin_mm if self.is_internal else -pin_mm) / self.base_mm
        touched_mm = self.base_mm * math.hypot(1.0, touches)
        inner_mm, outer_mm = sorted((self.tip_mm, self.root_mm))
        if touches < 0 or not inner_mm < touched_mm < outer_mm:
            self._no_pin(pin_mm, f"would touch on a circle of {touched_mm:.4f} mm")
        across_mm = self.base_mm * math.hypot(1.0, roll)
        if self.teeth % 2:
            across_mm *= math.cos(math.pi / (2 * self.teeth))
        return across_mm - pin_mm if self.is_internal else across_mm + pin_mm

    def _no_pin(self, pin_mm: float, why: str) -> NoReturn:
        raise InputError(
            f"a pin of {pin_mm:g} mm {why}; tip and root circle are {self.tip_mm:.4f} mm and "
            f"{self.root_mm:.4f} mm.",
            code="gear-pin",
            remedy=f"Take one of about {self.usual_pin_mm:g} mm.",
        )
