"""What the tables say of one pass, in bare figures: what measured cuts are held against."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from kerfwright.foundation.counts import counted
from kerfwright.foundation.errors import RangeError
from kerfwright.process.feed_beyond import FeedUnsure, feed_unsure
from kerfwright.process.fine_spark import WireSeed, wire_seeds
from kerfwright.process.rough import rough_figures
from kerfwright.process.technology import PassSeed, Technology, read_curve
from kerfwright.trade.machine import Machine
from kerfwright.trade.material import Material, Wire


@dataclass(frozen=True, slots=True, kw_only=True)
class TabledPass:
    """One pass as the tables have it, without reasons and ranges.

    Attributes
    ----------
    is_rough : bool
    feed_mm_per_min : float
        Median along the wall, nozzles closed.
    feed_unsure : FeedUnsure
        How sure that is.
    ra_um : float
    tolerance_um : float
        Half zone that the pass holds.
    fine_spark_sigma_log : float
        How sure the figures of a spark are for the wire's sake, of the logarithm.
    """

    is_rough: bool
    feed_mm_per_min: float
    feed_unsure: FeedUnsure
    ra_um: float
    tolerance_um: float
    fine_spark_sigma_log: float

    @property
    def feed_sigma_log(self) -> float:
        """Standard deviation of the logarithm of the feed."""
        return self.feed_unsure.sigma_log


def tabled_pass(
    number: int,
    *,
    material: Material,
    height_mm: float,
    wire: Wire,
    machine: Machine,
    technology: Technology,
) -> TabledPass:
    """Compute the figures of one pass by the tables; nothing measured moves them.

    Parameters
    ----------
    number : int
        Of the pass, the rough one being 1.
    material : Material
    height_mm : float
    wire : Wire
    machine : Machine
    technology : Technology

    Raises
    ------
    RangeError
        If the technology has no such pass, or the height is not above 0.

    Notes
    -----
    The figures of :func:`kerfwright.process.passes.passes_for` without experience.
    """
    row = seeds_of(number, technology, wire)[-1]
    seed = row.seed
    feed = (
        rough_figures(
            material=material, height_mm=height_mm, wire=wire, machine=machine, law=technology.rough
        )[0]
        if seed.feed_mm_per_min is None
        else skim_feed_mm_per_min(
            seed.feed_mm_per_min,
            material=material,
            height_mm=height_mm,
            wire=wire,
            technology=technology,
        )
    )
    held_um = really_held_um(seed, height_mm=height_mm, technology=technology)
    return TabledPass(
        is_rough=seed.number == 1,
        feed_mm_per_min=feed,
        feed_unsure=feed_unsure(
            is_rough=seed.feed_mm_per_min is None,
            material=material,
            height_mm=height_mm,
            wire=wire,
            technology=technology,
        ),
        ra_um=seed.ra_um * material.ra_factor,
        tolerance_um=max(held_um, machine.best_tolerance_um),
        fine_spark_sigma_log=row.sigma_log,
    )


def seeds_of(count: int, technology: Technology, wire: Wire) -> Sequence[WireSeed]:
    """Return the first rows of the pass table as a wire cuts them.

    Raises
    ------
    RangeError
        If the technology has no such count of passes.
    """
    if not 1 <= count <= len(technology.passes):
        raise RangeError(
            f"{counted(count, 'pass', 'passes')} asked, the technology has 1 to "
            f"{len(technology.passes)}",
            code="pass-count-out-of-range",
        )
    return wire_seeds(technology, wire)[:count]


def skim_feed_mm_per_min(
    tabled_mm_per_min: float,
    *,
    material: Material,
    height_mm: float,
    wire: Wire,
    technology: Technology,
) -> float:
    """Compute the feed of a skim: ``v = v_table min(1, H_0/H)^m (K_m K_f)^q``.

    Parameters
    ----------
    tabled_mm_per_min : float
        Of its row.
    material : Material
    height_mm : float
    wire : Wire
    technology : Technology

    Raises
    ------
    RangeError
        If the height is not above 0.

    References
    ----------
    Common practice, no source.
    """
    if not height_mm > 0:
        raise RangeError(
            f"height {height_mm:g} mm must be above 0",
            code="rate-out-of-range",
        )
    law = technology.skim
    fine = read_curve(technology.rough.fine_wire, wire.diameter_mm)
    tall = min(1.0, law.full_feed_height_mm / height_mm) ** law.height_exponent
    return float(tabled_mm_per_min * tall * (material.rate_factor * fine) ** law.rate_exponent)


def really_held_um(seed: PassSeed, *, height_mm: float, technology: Technology) -> float:
    """Compute the half zone that a pass holds, were the machine no limit, µm.

    ``t = t_table max(1, H/H_t)^m``.

    Parameters
    ----------
    seed : PassSeed
    height_mm : float
    technology : Technology

    References
    ----------
    Common practice, no source.
    """
    scaling = technology.scaling
    tall = max(1.0, height_mm / scaling.tolerance_height_mm)
    return float(seed.tolerance_um * tall**scaling.tolerance_height_exponent)
