"""Numbers and texts as people read them, in millimetres or inches."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from kerfwright.adapters.papers.words import Units, in_unit, inch_first
from kerfwright.app.demand_kinds import names
from kerfwright.foundation.counts import counted
from kerfwright.foundation.directed import Use, shown
from kerfwright.foundation.ranges import Range
from kerfwright.foundation.units import MM_PER_INCH, UnitSystem
from kerfwright.foundation.zones import microinches_held, zone_text
from kerfwright.trade.part import LengthUnit

_UM_PER_UIN = 0.0254
_LEAST_KG_G = 999.5
"""From here on grams of three digits would read as a power of ten."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Show:
    """Words for lengths in the unit that the reader wants.

    Attributes
    ----------
    unit : LengthUnit
    """

    unit: LengthUnit

    @property
    def _is_inch(self) -> bool:
        return self.unit is LengthUnit.INCH

    def length(self, value_mm: float) -> str:
        """Return a coordinate or length with its usual decimals, without the unit."""
        return f"{value_mm / MM_PER_INCH:.4f}" if self._is_inch else f"{value_mm:.3f}"

    def fine(self, value_mm: float) -> str:
        """Return an offset with a decimal more."""
        return f"{value_mm / MM_PER_INCH:.5f}" if self._is_inch else f"{value_mm:.4f}"

    def size(self, value_mm: float) -> str:
        """Return a dimension in both units, the reader's first."""
        metric, inch = (
            f"{value_mm:.4g} mm",
            f"{round(value_mm / MM_PER_INCH, 5 if value_mm < 1 else 4):g} in",
        )
        return f"{inch} ({metric})" if self._is_inch else f"{metric} ({inch})"

    def feed(self, value_mm_per_min: float) -> str:
        """Return a feed without its unit; a slow one with three digits, never as 0."""
        value = value_mm_per_min / MM_PER_INCH if self._is_inch else value_mm_per_min
        decimals = 4 if self._is_inch else 2
        least = 10.0 ** (1 - decimals)
        return f"{value:.3g}" if 0 < value < least else f"{value:.{decimals}f}"

    def wire(self, diameter_mm: float) -> str:
        """Return the diameter of a wire without its unit."""
        return f"{diameter_mm / MM_PER_INCH:.4f}" if self._is_inch else f"{diameter_mm:g}"

    def tiny(self, value_um: float, *, sign: str = "") -> str:
        """Return a gap, stock, layer or zone without its unit."""
        if self._is_inch:
            return f"{value_um / 1000 / MM_PER_INCH:{sign}.5f}"
        return f"{value_um:{sign}.1f}"

    def zone(self, held_um: float) -> str:
        """Return a half zone that is held without its unit, never closer than it is."""
        return shown(held_um / (1000 * MM_PER_INCH) if self._is_inch else held_um, Use.HELD)

    def held(self, held_um: float) -> str:
        """Return a half zone that is held with its unit, in inches with the metric one behind."""
        metric, inch = (zone_text(held_um, Use.HELD, system=system) for system in UnitSystem)
        return f"{inch} ({metric})" if self._is_inch else metric

    @property
    def tiny_unit(self) -> str:
        """Unit of :meth:`tiny`."""
        return "in" if self._is_inch else "µm"

    def alone(self, text: str, *, kept: Iterable[str] = ()) -> str:
        """Return a message for a narrow column or a place: inches alone where those are read."""
        return in_unit(text, Units(unit=self.unit), kept=kept) if self._is_inch else text

    def told(self, text: str, *, kept: Iterable[str] = ()) -> str:
        """Return a message with the reader's unit first; names that a person gave stay."""
        return inch_first(text, kept=kept) if self._is_inch else text

    def roughness(self, value_um: float) -> str:
        """Return a roughness without its unit."""
        return f"{value_um / _UM_PER_UIN:.0f}" if self._is_inch else f"{value_um:.2f}"

    def layer(self, value_um: float) -> str:
        """Return a recast layer without its unit: in inches in the unit of roughness."""
        return self.roughness(value_um) if self._is_inch else self.tiny(value_um)

    @property
    def layer_unit(self) -> str:
        """Unit of :meth:`layer`."""
        return self.roughness_unit

    def small(self, value_um: float) -> str:
        """Return a deviation with its unit."""
        if self._is_inch:
            return f"{value_um / 1000 / MM_PER_INCH:.6f} in ({value_um:.1f} µm)"
        return f"{value_um:.1f} µm"

    def limit(
        self, value_um: float | None, *, is_roughness: bool = False, use: Use = Use.HELD
    ) -> str:
        """Return a limit without its unit, with the digits of the sentences; a dash for none.

        One that is promised is never tighter than it is: whoever asks for what stands here asks for
        no pass more.
        """
        if value_um is None:
            return "–"
        if not self._is_inch:
            return shown(value_um, use)
        if is_roughness and use is Use.HELD:
            return microinches_held(value_um)
        if is_roughness:
            return f"{value_um / _UM_PER_UIN:.0f}"
        return shown(value_um / (1000 * MM_PER_INCH), use)

    @property
    def roughness_unit(self) -> str:
        """Unit of :meth:`roughness`."""
        return "µin" if self._is_inch else "µm"


def mass(value_kg: float) -> str:
    """Return a mass in grams or kilograms."""
    if value_kg * 1000 >= _LEAST_KG_G:
        return f"{value_kg:.2f} kg"
    return f"{value_kg * 1000:.3g} g"


def minutes(span: Range) -> str:
    """Return likely minutes and their range, as hours where they are many."""
    if span.likely >= 120:
        return f"{span.likely / 60:.1f} h ({span.low / 60:.1f}–{span.high / 60:.1f})"
    if span.low == 0 and span.high == span.likely > 0:
        # A count of chance events that is 0 at its 90th percentile: an average, and no range.
        return f"{span.likely:.1f} min (mostly none)"
    if span.low == 0 < span.high:
        # Minutes of chance events that may not come at all.
        return f"{span.likely:.1f} min (none–{span.high:.0f})"
    return f"{span.likely:.1f} min ({span.low:.1f}–{span.high:.1f})"


def not_in_price(left_out: Sequence[str], *, refused_lines: int, is_drilled: bool) -> str:
    """Say what a price does not cover; empty where it covers all.

    Parameters
    ----------
    left_out : sequence of str
        Contours, or holes and rows.
    refused_lines : int
        Places of the drawing whose lines make no contour.
    is_drilled : bool

    Examples
    --------
    >>> not_in_price(["H1"], refused_lines=0, is_drilled=False)
    'for what is cut; H1 is not in it'
    """
    missing = []
    if left_out:
        left = names(left_out, of="holes or rows" if is_drilled else "contours")
        missing.append(f"{left} {'is' if len(left_out) == 1 else 'are'} not in it")
    if refused_lines:
        missing.append(
            f"lines of the drawing that are refused, in {counted(refused_lines, 'place')}, are not "
            "in it, whatever they were meant to be: see the findings"
        )
    made = "drilled" if is_drilled else "cut"
    return "; ".join([f"for what is {made}", *missing]) if missing else ""
