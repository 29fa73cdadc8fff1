"""What is expected of the passes of one cut, in bare figures: the tables and what cuts taught."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from kerfwright.foundation.ranges import Range
from kerfwright.process.experience import Experience, Learned, Shipped
from kerfwright.process.feed_beyond import feed_unsure
from kerfwright.process.size_records import promised_um
from kerfwright.process.tabled import TabledPass, tabled_pass
from kerfwright.process.technology import Pass, Technology
from kerfwright.trade.machine import Machine
from kerfwright.trade.material import Material, Wire


@dataclass(frozen=True, slots=True, kw_only=True)
class ExpectedPass:
    """One pass as it is expected, without reasons and without what hangs on later passes.

    Attributes
    ----------
    is_rough : bool
    feed_mm_per_min : float
        Median along the wall, nozzles closed.
    feed_sigma_log : float
        Of a single cut.
    ra_um : float
    tolerance_um : float
        Half zone that the pass may be promised to hold.
    fine_spark_sigma_log : float
        How sure the figures of a spark are for the wire's sake, of the logarithm.
    learned : Learned or None
        None for the tables alone.
    """

    is_rough: bool
    feed_mm_per_min: float
    feed_sigma_log: float
    ra_um: float
    tolerance_um: float
    fine_spark_sigma_log: float
    learned: Learned | None = None

    @property
    def feed_range_mm_per_min(self) -> Range:
        """Range of the feed of a single cut."""
        return Range.lognormal(self.feed_mm_per_min, sigma_log=self.feed_sigma_log)


def tabled_passes(
    *, material: Material, height_mm: float, wire: Wire, machine: Machine, technology: Technology
) -> tuple[TabledPass, ...]:
    """Compute the figures of every pass of the tables for one cut.

    Parameters
    ----------
    material : Material
    height_mm : float
    wire : Wire
    machine : Machine
    technology : Technology
    """
    return tuple(
        tabled_pass(
            number,
            material=material,
            height_mm=height_mm,
            wire=wire,
            machine=machine,
            technology=technology,
        )
        for number in range(1, len(technology.passes) + 1)
    )


def expected_passes(
    tabled: tuple[TabledPass, ...],
    experience: Experience | None,
    *,
    material: Material,
    height_mm: float,
    wire: Wire,
    machine: Machine,
    technology: Technology,
) -> tuple[ExpectedPass, ...]:
    """Move the tables' passes of one cut by what a shop has learned.

    Parameters
    ----------
    tabled : tuple of TabledPass
        Of the cut, from the rough pass on.
    experience : Experience or None
        None for the tables alone.
    material : Material
    height_mm : float
    wire : Wire
    machine : Machine
    technology : Technology
        Its own experience is left out.

    Notes
    -----
    The figures of :func:`kerfwright.process.passes.passes_for`, for many cuts at once: there each
    number has its reason, here none is asked for.
    """
    if experience is None:
        return tuple(_of_tables(one) for one in tabled)
    known = experience.learned(
        shipped_passes(
            tabled, material=material, height_mm=height_mm, wire=wire, technology=technology
        ),
        machine=machine,
        material=material,
        wire=wire,
        height_mm=height_mm,
    )
    best_um = machine.best_tolerance_um
    return tuple(_moved(p, k, best_um=best_um) for p, k in zip(tabled, known, strict=True))


def shipped_passes(
    made: Sequence[TabledPass | Pass],
    *,
    material: Material,
    height_mm: float,
    wire: Wire,
    technology: Technology,
) -> tuple[Shipped, ...]:
    """Return what experience is told of passes, from the rough one on.

    Parameters
    ----------
    made : sequence of TabledPass or Pass
        By the tables.
    material : Material
    height_mm : float
    wire : Wire
    technology : Technology
    """
    unsure = {
        is_rough: feed_unsure(
            is_rough=is_rough,
            material=material,
            height_mm=height_mm,
            wire=wire,
            technology=technology,
        )
        for is_rough in (True, False)
    }
    return tuple(
        Shipped(
            number=number,
            feed_sigma_log=unsure[one.is_rough].routine_log,
            tolerance_um=one.tolerance_um,
            fine_spark_sigma_log=one.fine_spark_sigma_log,
            nozzles=tuple(technology.rough.flushing_sigma_log.items()) if one.is_rough else (),
            feed_beyond=unsure[one.is_rough].beyond,
        )
        for number, one in enumerate(made, start=1)
    )


def _of_tables(one: TabledPass) -> ExpectedPass:
    return ExpectedPass(
        is_rough=one.is_rough,
        feed_mm_per_min=one.feed_mm_per_min,
        feed_sigma_log=one.feed_sigma_log,
        ra_um=one.ra_um,
        tolerance_um=one.tolerance_um,
        fine_spark_sigma_log=one.fine_spark_sigma_log,
    )


def _moved(one: TabledPass, known: Learned, *, best_um: float) -> ExpectedPass:
    return ExpectedPass(
        is_rough=one.is_rough,
        feed_mm_per_min=one.feed_mm_per_min * known.feed_factor,
        feed_sigma_log=known.feed_sigma_log,
        ra_um=one.ra_um * known.ra_factor,
        tolerance_um=promised_um(known, tables_um=one.tolerance_um, best_um=best_um)[0],
        fine_spark_sigma_log=one.fine_spark_sigma_log,
        learned=known,
    )
