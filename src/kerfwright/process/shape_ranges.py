"""How sure push, lag and barrel of the wire are, with formula and shares."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

from kerfwright.foundation.ranges import Z_10_90, Range
from kerfwright.foundation.sources import Reason
from kerfwright.foundation.spread import Outcome, Uncertain, of_ratio
from kerfwright.process.technology import Pass
from kerfwright.process.wire_physics import WirePhysics
from kerfwright.process.wire_shape import PassShape, Push, pass_shapes, push_on_wire
from kerfwright.trade.material import Wire

PUSH: Final = "push of sparks and water"


@dataclass(frozen=True, slots=True, kw_only=True)
class ShapeRanges:
    """The wire in one pass with its ranges.

    Attributes
    ----------
    shape : PassShape
    push, along, side : Outcome
        The push, its part against the travel, and that off the wall, N/m.
    """

    shape: PassShape
    push: Outcome
    along: Outcome
    side: Outcome

    @property
    def push_n_per_m(self) -> Range:
        """Range of the push."""
        return self.push.range

    @property
    def lag_um(self) -> Range:
        """Range of the lag, in proportion to the push against the travel."""
        return self.along.range * (self.shape.lag_um / self.along.value)

    @property
    def face_lag_um(self) -> Range:
        """Range of the lag at the faces, likewise."""
        return self.along.range * (self.shape.face_lag_um / self.along.value)

    @property
    def barrel_um(self) -> Range:
        """Range of the barrel, in proportion to the push off the wall."""
        return self.side.range * (self.shape.barrel_um / self.side.value)

    @property
    def reasons(self) -> tuple[Reason, ...]:
        """Reasons of push, lag and barrel with their ranges."""
        found = {
            "push_n_per_m": (self.push_n_per_m, self.push),
            "lag_um": (self.lag_um, self.along),
            "barrel_um": (self.barrel_um, self.side),
        }
        return tuple(
            replace(r, range=found[r.quantity][0], shares=found[r.quantity][1].shares)
            for r in self.shape.reasons
        )


def shape_ranges(
    passes: Sequence[Pass], *, wire: Wire, height_mm: float, physics: WirePhysics
) -> tuple[ShapeRanges, ...]:
    """Return push, lag and barrel of each pass with their ranges.

    The pressure on the front of the wire is the weakest constant: a factor of 2 either way at
    10–90 % (common practice, no source), one and the same in every pass.  A skim's push follows
    the roughness of its pass and of the rough one too, as the tables have them, and the stock it
    meets; the stock also turns the push, so that the lag hangs on it more than the barrel.

    Parameters
    ----------
    passes : sequence of Pass
        The rough pass first.
    wire : Wire
    height_mm : float
    physics : WirePhysics

    Notes
    -----
    The roughnesses are taken as independent of each other, though a part of their spread is the
    material's and falls out of their ratio: a little wide.  Tension and spans are settings.
    """
    shapes = pass_shapes(passes, wire=wire, height_mm=height_mm, physics=physics)
    return tuple(
        _with_ranges(p, shape, rough=passes[0], wire=wire, height_mm=height_mm, physics=physics)
        for p, shape in zip(passes, shapes, strict=True)
    )


def _with_ranges(
    this: Pass,
    shape: PassShape,
    *,
    rough: Pass,
    wire: Wire,
    height_mm: float,
    physics: WirePhysics,
) -> ShapeRanges:
    law = physics.push
    pressure = Uncertain(name=PUSH, value=law.pressure_kpa, sigma=law.pressure_sigma_log)
    if this.is_rough:
        inputs: tuple[Uncertain, ...] = (pressure,)
    else:
        inputs = (
            pressure,
            tables_roughness(this),
            tables_roughness(rough),
            Uncertain(
                name=f"stock of pass {this.number}",
                value=this.stock_um,
                # As a ratio: a stock below nothing cannot be taken.
                sigma=this.stock_sigma_um / this.stock_um,
            ),
        )

    def push(
        pressure_kpa: float,
        ra_um: float = this.tables_ra_um,
        rough_ra_um: float = rough.tables_ra_um,
        stock_um: float = this.stock_um,
    ) -> Push:
        return push_on_wire(
            replace(this, ra_um=ra_um, stock_um=stock_um, learned=None),
            rough=replace(rough, ra_um=rough_ra_um, learned=None),
            wire=wire,
            height_mm=height_mm,
            physics=replace(physics, push=replace(law, pressure_kpa=pressure_kpa)),
        )

    return ShapeRanges(
        shape=shape,
        push=of_ratio(lambda *values: push(*values).whole_n_per_m, inputs),
        along=of_ratio(lambda *values: push(*values).along_n_per_m, inputs),
        side=of_ratio(lambda *values: push(*values).side_n_per_m, inputs),
    )


def tables_roughness(one: Pass) -> Uncertain:
    """Return the roughness of the tables, which stands for the energy of the sparks.

    Parameters
    ----------
    one : Pass
    """
    of_tables = next((r.range for r in one.reasons if r.quantity == "ra_um"), None)
    sigma = one.ra_sigma_log
    if one.learned is not None and of_tables is not None:
        sigma = math.log(of_tables.high / of_tables.likely) / Z_10_90
    # What a thin wire leaves open is the same in both passes and falls out of their ratio.
    sigma = math.sqrt(max(sigma**2 - one.fine_spark_sigma_log**2, 0.0))
    return Uncertain(name=f"roughness of pass {one.number}", value=one.tables_ra_um, sigma=sigma)
