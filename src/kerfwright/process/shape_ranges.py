"""How sure push, lag and barrel of the wire are, with formula and shares."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

from kerfwright.foundation.ranges import Range
from kerfwright.foundation.sources import Reason, Shares
from kerfwright.foundation.spread import Outcome, Uncertain, of_ratio
from kerfwright.process.technology import Pass
from kerfwright.process.wire_physics import WirePhysics
from kerfwright.process.wire_shape import PassShape, pass_shapes, push_n_per_m
from kerfwright.trade.material import Wire

PUSH: Final = "push of sparks and water"


@dataclass(frozen=True, slots=True, kw_only=True)
class ShapeRanges:
    """The wire in one pass with its ranges.

    Attributes
    ----------
    shape : PassShape
    push_n_per_m, lag_um, face_lag_um, barrel_um : Range
        All but the push follow from it alone, so they share its causes.
    shares : Shares
        Of the variance of the logarithm, by input.
    """

    shape: PassShape
    push_n_per_m: Range
    lag_um: Range
    face_lag_um: Range
    barrel_um: Range
    shares: Shares

    @property
    def reasons(self) -> tuple[Reason, ...]:
        """Reasons of push, lag and barrel with their ranges."""
        spans = {"push_n_per_m": self.push_n_per_m, "lag_um": self.lag_um}
        push, lag = self.shape.reasons
        barrel = Reason(
            quantity="barrel_um",
            value=self.shape.barrel_um,
            formula="s q h^2 / (8 T), s the part of the push off the wall",
            inputs=lag.inputs,
            source=lag.source,
            range=self.barrel_um,
            shares=self.shares,
        )
        told = (replace(r, range=spans[r.quantity], shares=self.shares) for r in (push, lag))
        return (*told, barrel)


def shape_ranges(
    passes: Sequence[Pass], *, wire: Wire, height_mm: float, physics: WirePhysics
) -> tuple[ShapeRanges, ...]:
    """Return push, lag and barrel of each pass with their ranges.

    The pressure on the front of the wire is the weakest constant: a factor of 2 either way at
    10–90 % (common practice, no source), one and the same in every pass.  A skim's push follows
    the roughness of its pass and of the rough one too, and the stock it meets.

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
        _with_ranges(
            shape,
            _push(p, rough=passes[0], wire=wire, height_mm=height_mm, physics=physics),
        )
        for p, shape in zip(passes, shapes, strict=True)
    )


def _push(
    this: Pass, *, rough: Pass, wire: Wire, height_mm: float, physics: WirePhysics
) -> Outcome:
    law = physics.push
    pressure = Uncertain(name=PUSH, value=law.pressure_kpa, sigma=law.pressure_sigma_log)
    if this.is_rough:
        inputs: tuple[Uncertain, ...] = (pressure,)
    else:
        inputs = (
            pressure,
            _roughness(this),
            _roughness(rough),
            Uncertain(
                name=f"stock of pass {this.number}",
                value=this.stock_um,
                # As a ratio: a stock below nothing cannot be taken.
                sigma=this.stock_sigma_um / this.stock_um,
            ),
        )

    def push(
        pressure_kpa: float,
        ra_um: float = this.ra_um,
        rough_ra_um: float = rough.ra_um,
        stock_um: float = this.stock_um,
    ) -> float:
        return push_n_per_m(
            replace(this, ra_um=ra_um, stock_um=stock_um),
            rough=replace(rough, ra_um=rough_ra_um),
            wire=wire,
            height_mm=height_mm,
            physics=replace(physics, push=replace(law, pressure_kpa=pressure_kpa)),
        )

    return of_ratio(push, inputs)


def _roughness(one: Pass) -> Uncertain:
    return Uncertain(
        name=f"roughness of pass {one.number}", value=one.ra_um, sigma=one.ra_sigma_log
    )


def _with_ranges(shape: PassShape, push: Outcome) -> ShapeRanges:
    """Bow and barrel are in proportion to the push at one height and tension."""

    def span(value: float) -> Range:
        return push.range * (value / push.value)

    return ShapeRanges(
        shape=shape,
        push_n_per_m=push.range,
        lag_um=span(shape.lag_um),
        face_lag_um=span(shape.face_lag_um),
        barrel_um=span(shape.barrel_um),
        shares=push.shares,
    )
