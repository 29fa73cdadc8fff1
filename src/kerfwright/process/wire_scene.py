"""The wire in the work: what its current follows from, before any pass is looked at."""

from __future__ import annotations

import math
from dataclasses import dataclass

from kerfwright.process.technology import Flushing, Pass
from kerfwright.process.wire import tension_n
from kerfwright.process.wire_break import break_current_a
from kerfwright.process.wire_physics import WirePhysics, rough_current_a
from kerfwright.process.wire_shape import relative_energy
from kerfwright.trade.material import Material, Wire


@dataclass(frozen=True, slots=True, kw_only=True)
class WireScene:
    """The wire in the work, before any pass.

    Attributes
    ----------
    wire : Wire
    material : Material
    height_mm : float
    physics : WirePhysics
    """

    wire: Wire
    material: Material
    height_mm: float
    physics: WirePhysics

    @property
    def tension_n(self) -> float:
        """Usual tension of the wire, N."""
        return tension_n(self.wire, share=self.physics.tension.share)

    @property
    def charge_more_log(self) -> float:
        """How much less sure the charge for a volume is than in steel, of its logarithm."""
        return self.physics.breaking.charge_more_log(self.material)

    @property
    def peak_a(self) -> float:
        """Peak of the rough pulses that a wire of this diameter is given, A."""
        pulse = self.physics.pulse
        return pulse.peak_a * self.wire.diameter_mm / pulse.diameter_mm

    def mean_current_a(
        self, this: Pass, *, feed_mm_per_min: float, most_a: float = math.inf
    ) -> float:
        """Return the mean current that the removal at a feed takes: ``I = psi v H w / K_m``.

        The width is that of :meth:`width_mm`.  The charge psi is that
        of rough sparks, constant for one kind of pulse only: a skim is held to ``most_a``.
        """
        rate = feed_mm_per_min * self.height_mm / self.material.rate_factor
        width_mm = self.width_mm(this)
        return min(rough_current_a(rate, kerf_mm=width_mm, physics=self.physics), most_a)

    def width_mm(self, this: Pass) -> float:
        """Return the width that a pass removes: the kerf in roughing, the stock in a skim."""
        if not this.is_rough:
            return this.stock_um / 1000
        return self.wire.diameter_mm + 2 * this.gap_um / 1000

    def most_current_a(self, this: Pass, *, rough: Pass) -> float:
        """Return the most that a pass may draw: ``I_1 (E / E_1)^m``, no limit for the rough one."""
        if this.is_rough:
            return math.inf
        of_rough = self.mean_current_a(rough, feed_mm_per_min=rough.feed_mm_per_min)
        share = relative_energy(this, rough=rough)
        return float(of_rough * share**self.physics.breaking.skim_current_exponent)

    def break_current_a(self, flushing: Flushing) -> float:
        """Return the mean current of rough sparks at which the wire parts, A."""
        return break_current_a(
            self.wire,
            height_mm=self.height_mm,
            tension_n=self.tension_n,
            peak_a=self.peak_a,
            physics=self.physics,
            flushing=flushing,
        )
