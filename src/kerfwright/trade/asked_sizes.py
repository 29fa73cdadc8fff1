"""A size with its limits, as somebody asks it of a contour: ``12.7 +0.018/0 mm``."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final

from kerfwright.foundation.errors import InputError
from kerfwright.foundation.units import (
    MM_PER_INCH,
    UM_PER_MM,
    ToleranceText,
    length_mm,
    tidy,
    tolerance,
)
from kerfwright.trade.callout_limits import not_one_sided

SIZE_FORMS: Final = "12.7 +0.018/0 mm, 20.000/20.013 mm or .5000/.5007 in"
_NUMBER: Final = r"(?:\d{1,6}(?:[.,]\d{1,8})?|[.,]\d{1,8})"
_DECIMAL: Final = r"\d{0,6}[.,]\d{1,8}"
_UNIT: Final = r"(?:mm|um|u|in(?:ch)?|\"|''|thou)?\.?"
_ROUND: Final = r"(?:[ø⌀∅]|dia(?:\.(?!\d))?)?\s?"
_TWO_SIZES: Final = re.compile(
    rf"{_ROUND}({_DECIMAL})\s?({_UNIT})\s?(?:/|-|to)\s?{_ROUND}({_DECIMAL})\s?({_UNIT})"
)
_DEVIATIONS: Final = re.compile(
    rf"{_ROUND}({_NUMBER})\s?({_UNIT})\s?[(\[{{]?\s?"
    rf"((?:±|\+\s?/\s?-|\+-)\s?{_NUMBER}"
    rf"|(?:[+-]\s?{_NUMBER}|0(?:[.,]0{{1,6}})?)\s?{_UNIT}\s?[/; ]\s?(?:[+-]\s?{_NUMBER}"
    rf"|0(?:[.,]0{{1,6}})?))\s?({_UNIT})\s?[)\]}}]?\s?({_UNIT})"
)
_WITHIN: Final = 0.02
"""Two sizes nearer than this share of the larger are the limits of one (common practice)."""
_SMALL: Final = frozenset({"um", "u", "thou"})
"""Units of deviations: the size before them is in another."""
_UM_DECIMALS: Final = 6
_DECIMALS: Final = 7
"""Of millimetres and inches: a tenth of a nanometre is no rounding."""
_INCHES: Final = frozenset({"in", "inch", '"', "''", "thou"})


@dataclass(frozen=True, slots=True, kw_only=True)
class AskedLimits:
    """A size with its limits.

    Attributes
    ----------
    said : str
    nominal_mm : float
        The middle, where two sizes are written.
    lower_um, upper_um : float
        From the nominal.
    has_nominal, has_unit : bool
        Whether the words give them.
    is_inch : bool
        Whether they are in inches.
    """

    said: str
    nominal_mm: float
    lower_um: float
    upper_um: float
    has_nominal: bool
    has_unit: bool
    is_inch: bool = False

    def about(self, nominal_mm: float) -> AskedLimits:
        """Return the same limits, counted from another size."""
        away_um = (self.nominal_mm - nominal_mm) * UM_PER_MM
        return AskedLimits(
            said=self.said,
            nominal_mm=nominal_mm,
            lower_um=round(self.lower_um + away_um, _UM_DECIMALS),
            upper_um=round(self.upper_um + away_um, _UM_DECIMALS),
            has_nominal=True,
            has_unit=True,
            is_inch=self.is_inch,
        )

    @property
    def words(self) -> str:
        """The size with its deviations in its own unit, as it is read again."""
        per_mm = 1 / MM_PER_INCH if self.is_inch else 1.0
        ends = "/".join(
            f"{um / UM_PER_MM * per_mm:+.{_DECIMALS}f}".rstrip("0").rstrip(".") for um in self._ends
        )
        unit = "in" if self.is_inch else "mm"
        size = f"{self.nominal_mm * per_mm:.{_DECIMALS}f}".rstrip("0").rstrip(".")
        return f"{size} {ends} {unit}"

    @property
    def _ends(self) -> tuple[float, float]:
        # A zero has one sign only.
        return self.upper_um + 0.0, self.lower_um + 0.0

    @property
    def wall(self) -> ToleranceText:
        """The zone of each of the two walls, half of that of the size."""
        half_um = (self.upper_um - self.lower_um) / 4
        shift_um = (self.upper_um + self.lower_um) / 4
        note = (
            f"“{self.said}” is {self.nominal_mm + self.lower_um / UM_PER_MM:.4f} to "
            f"{self.nominal_mm + self.upper_um / UM_PER_MM:.4f} mm of size, so ±{half_um:g} µm of "
            "each wall."
        )
        if shift_um:
            note += (
                f" The middle of the zone is {2 * shift_um:+g} µm from the nominal size; the wall "
                "is cut to the drawn line unless the drawing is moved to the middle."
            )
        return ToleranceText(half_um=half_um, shift_um=shift_um, said=self.said, note=note)


def read_asked_limits(text: str, *, bare_unit: str = "mm") -> AskedLimits | None:
    """Return the limits of a size; None where the text is of another form.

    Parameters
    ----------
    text : str
    bare_unit : str
        Of numbers without one.

    Raises
    ------
    InputError
        If the numbers cannot be read, or leave no zone, as one limit alone does.
    """
    not_one_sided(text)
    plain = tidy(text)
    if (two := _TWO_SIZES.fullmatch(plain)) is not None:
        unit = two[4] or two[2]
        low, high = sorted(_length(n, unit or bare_unit) for n in (two[1], two[3]))
        if not low < high or high - low > _WITHIN * high:
            return None
        half_um = round((high - low) / 2 * UM_PER_MM, _UM_DECIMALS)
        return AskedLimits(
            said=text.strip(),
            nominal_mm=(low + high) / 2,
            lower_um=-half_um,
            upper_um=half_um,
            has_nominal=False,
            has_unit=bool(unit),
            is_inch=(unit or bare_unit).rstrip(".") in _INCHES,
        )
    found = _DEVIATIONS.fullmatch(plain)
    if found is None:
        return None
    behind = found[5] or found[4]
    unit = found[2] or ("" if behind in _SMALL else behind)
    nominal_mm = _length(found[1], unit or bare_unit)
    if nominal_mm == 0:
        return None
    zone = tolerance(f"{found[3]} {behind or unit}", bare_unit=bare_unit)
    return AskedLimits(
        said=text.strip(),
        nominal_mm=nominal_mm,
        lower_um=zone.shift_um - zone.half_um,
        upper_um=zone.shift_um + zone.half_um,
        has_nominal=True,
        has_unit=bool(unit),
        is_inch=(unit or bare_unit).rstrip(".") in _INCHES,
    )


def _length(digits: str, unit: str) -> float:
    return length_mm(f"{digits} {unit.rstrip('.')}", what="a size")


def not_of_a_size(text: str) -> str:
    """Return a tolerance of the whole job, which may not be that of a size.

    Raises
    ------
    InputError
        Code ``size-of-the-job``.
    """
    if read_asked_limits(text) is not None:
        raise InputError(
            f"tolerance {text!r} gives the limits of a size, and a job has many sizes.",
            code="size-of-the-job",
            remedy="Ask them of the contour that has that size, as H1: tolerance=12.7 +0.018/0 mm; "
            "of the job ask what each wall may be off by, as ±0.005 mm.",
        )
    return text
