"""The sparks that a thin wire is given, and what each row of the pass table is with them."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import partial
from typing import Final

from kerfwright.foundation.kept import Kept
from kerfwright.foundation.ranges import Z_10_90
from kerfwright.process.technology import PassSeed, Technology
from kerfwright.trade.material import Wire

_MADE: Final = Kept(most=64)
"""Rows by technology and wire, so that the same wire finds the very same rows."""
_OF_ONE_SPARK: Final = ("gap_um", "ra_um", "recast_um")
_ENOUGH: Final = 1 + 1e-9
"""An energy at the smallest steady one must not miss it by rounding."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WireSeed:
    """A row of the pass table as one wire cuts it: gap, stock, roughness, recast of one spark.

    Attributes
    ----------
    tabled : PassSeed
        The row of the table, for the reference wire.
    seed : PassSeed
        The same for this wire; the row itself where the wire is no thinner.
    tabled_energy_mj, energy_mj : float
        Energy per spark that the roughness of either stands for, in steel.
    is_least : bool
        Whether the spark is the smallest that a generator keeps up, and no smaller.
    sigma_log : float
        How sure the size of what the spark leaves is for the wire's sake, of the logarithm; one
        cause for all figures and passes of a wire.
    wanted_mj : float
        The energy before it is held to the smallest spark.
    wanted_sigma_log : float
        As ``sigma_log``, before what the smallest spark holds up is taken off.
    """

    tabled: PassSeed
    seed: PassSeed
    tabled_energy_mj: float
    energy_mj: float
    is_least: bool
    sigma_log: float
    wanted_mj: float
    wanted_sigma_log: float

    @property
    def is_fine(self) -> bool:
        """Whether the wire is thinner than the table's, so that its sparks are smaller."""
        return self.energy_mj < self.tabled_energy_mj


def wire_seeds(technology: Technology, wire: Wire) -> tuple[WireSeed, ...]:
    """Return the rows of the pass table with the sparks that a wire is given.

    ``E = max(E_least, E_table min(1, d/d_ref)^(p/q))``, and with it gap, stock, roughness and
    recast times ``(E/E_table)^q``: ``q`` is the cube root of the surface, ``p`` the power by which
    they follow the diameter.

    Parameters
    ----------
    technology : Technology
    wire : Wire

    Notes
    -----
    Thicker wires keep the sparks of the table.  A spark is never taken smaller than the smallest
    steady one; of passes with that same spark each leaves what the first of them leaves, and none
    is given a wider gap, more stock or more recast than the pass before it.

    The middle of ``p``, 1/2, is the energy at which wires spark as often as each other where the
    area rate goes with the root of the diameter: metal taken, ``d sqrt(d)``, is sparks times
    energy (computed).  The factor for wires far below what they could carry, ``fine_wire``, is in
    the rate alone, as fewer sparks of that energy.  The ends are peaks in proportion to the
    diameter at the same length (1/3), and at a length that falls with the peak (2/3).  No figure
    was measured.

    References
    ----------
    Root of the diameter in the area rate: Schacht, PhD thesis, KU Leuven, chapter III (read);
    cube root of the energy: see :func:`kerfwright.process.spark_surface.surface_of`.
    """
    return _MADE.once(partial(_seeds, technology, wire), technology, wire)


def _seeds(technology: Technology, wire: Wire) -> tuple[WireSeed, ...]:
    first, *others = technology.passes
    made = [_seed(first, None, technology=technology, wire=wire)]
    for row in others:
        made.append(_seed(row, made[-1], technology=technology, wire=wire))
    return tuple(made)


def _seed(
    row: PassSeed, before: WireSeed | None, *, technology: Technology, wire: Wire
) -> WireSeed:
    scaling, surface = technology.scaling, technology.spark.surface
    ratio = wire.diameter_mm / scaling.reference_diameter_mm
    tabled_mj = (row.ra_um / surface.ra_scale_um) ** (1 / surface.ra_exponent)
    if ratio >= 1:
        return WireSeed(
            tabled=row, seed=row, tabled_energy_mj=tabled_mj, energy_mj=tabled_mj, is_least=False,
            sigma_log=0.0, wanted_mj=tabled_mj,
            wanted_sigma_log=0.0,
        )  # fmt: skip
    wanted_mj = tabled_mj * ratio ** (scaling.gap_diameter_exponent / surface.ra_exponent)
    # A row that a shop has set below the smallest spark stays as it is.
    least_mj = min(technology.spark.pulse.smallest_energy_mj, tabled_mj)
    energy_mj = max(wanted_mj, least_mj)
    is_least = wanted_mj * _ENOUGH < least_mj
    scale = (energy_mj / tabled_mj) ** surface.ra_exponent
    seed = replace(
        row,
        stock_um=row.stock_um * scale,
        **{name: getattr(row, name) * scale for name in _OF_ONE_SPARK},
    )
    if is_least and before is not None:
        seed = _no_more(seed, before)
        energy_mj = min(energy_mj, before.energy_mj)
    # Of what is not known only that part is left which lies above the smallest spark.
    known = (math.log(scale) - scaling.gap_diameter_exponent * math.log(ratio)) / Z_10_90
    sigma = scaling.gap_diameter_exponent_sigma * -math.log(ratio)
    return WireSeed(
        tabled=row,
        seed=seed,
        tabled_energy_mj=tabled_mj,
        energy_mj=energy_mj,
        is_least=is_least,
        sigma_log=max(sigma - known, 0.0) if is_least else sigma,
        wanted_mj=wanted_mj,
        wanted_sigma_log=sigma,
    )


def _no_more(seed: PassSeed, before: WireSeed) -> PassSeed:
    """Return a row of the smallest spark held to the pass before it, whose spark is no smaller."""
    held = {name: getattr(before.seed, name) for name in _OF_ONE_SPARK}
    if not before.is_least:
        held = {name: min(value, getattr(seed, name)) for name, value in held.items()}
    # The rough pass takes no stock, which bounds nothing.
    most_um = before.seed.stock_um or math.inf
    return replace(seed, **held, stock_um=min(seed.stock_um, most_um))
