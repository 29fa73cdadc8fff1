"""The passes for a job: what each takes, leaves and holds."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Final, TypeVar

from kerfwright.foundation.kept import Kept
from kerfwright.foundation.ranges import Range
from kerfwright.foundation.sources import Reason, Shares, Source, SourceTag
from kerfwright.foundation.spread import Outcome
from kerfwright.process.expected import shipped_passes
from kerfwright.process.experience import Learned
from kerfwright.process.feed_beyond import feed_unsure
from kerfwright.process.feed_shares import rough_feed_shares, skim_feed_shares, told
from kerfwright.process.fine_spark import WireSeed
from kerfwright.process.pass_spread import (
    gap_of,
    held_spread,
    ra_of,
    recast_of,
    size_reason,
    size_sigma_um,
    stock_of,
)
from kerfwright.process.rough import rough_feed
from kerfwright.process.set_stock import with_set_stock
from kerfwright.process.size_records import promised_sigma_um, promised_um, size_reasons
from kerfwright.process.spark_ranges import energy_of, told_spread
from kerfwright.process.spark_surface import energy_of_ra_mj
from kerfwright.process.tabled import really_held_um, seeds_of, skim_feed_mm_per_min
from kerfwright.process.technology import (
    Pass,
    PassSeed,
    StockBy,
    Technology,
    read_curve,
    stock_range_um,
)
from kerfwright.process.wider_zones import with_guides_off
from kerfwright.trade.machine import Machine
from kerfwright.trade.material import Material, Wire

_Told = TypeVar("_Told")

_COMPUTED: Final = Source(tag=SourceTag.COMPUTED, citation="offset identity; PROCESS section 6")
_ALONE: Final = Kept(most=1024)
"""Passes by what they are cut in, before any offset: all wires of the tables in a few scenes."""
_LEFT: Final = Kept(most=256)
"""What their sparks leave, the same in every height and on every machine."""


def passes_for(
    count: int,
    *,
    material: Material,
    height_mm: float,
    wire: Wire,
    machine: Machine,
    technology: Technology,
    between_guides_mm: float | None = None,
    stock_by: StockBy = StockBy.TABLE,
) -> tuple[Pass, ...]:
    """Compute the first ``count`` passes for a material, height, wire and machine.

    The offset of each pass leaves the stock that the later ones take:
    ``o_n = d/2 + g_n + sum of the stock of passes after n``.

    Parameters
    ----------
    count : int
        Number of passes, the rough pass included.
    material : Material
    height_mm : float
    wire : Wire
    machine : Machine
    technology : Technology
        With the set-up, where that keeps the guides off the work.
    between_guides_mm : float, optional
        Height of all that lies between the guides, where that is more than the work looked at.
    stock_by : StockBy, optional
        What sets the stock of the skims.

    Raises
    ------
    RangeError
        If the technology has no such count of passes, or the height is not above 0.

    Notes
    -----
    Thin wires are given smaller sparks; gap, stock, roughness and recast are those of the same
    spark: see :func:`kerfwright.process.fine_spark.wire_seeds`.

    References
    ----------
    Offset identity: cf. Huang, Liao and Hsue, J. Mater. Process. Technol. 87 (1999) 69-81
    (from memory).  Figures of each pass: common practice, no source.
    """
    close = _close(count, material, height_mm, wire, machine, technology)
    if stock_by is StockBy.HURT_LAYER:
        close = with_set_stock(close, wire=wire, law=technology.spark.surface)
    if technology.guides is None:
        return close
    return with_guides_off(
        close, height_mm=between_guides_mm or height_mm, guides=technology.guides
    )


def _close(
    count: int,
    material: Material,
    height_mm: float,
    wire: Wire,
    machine: Machine,
    technology: Technology,
) -> tuple[Pass, ...]:
    """Return the passes with guides close to the work."""
    seeds = seeds_of(count, technology, wire)
    scene = _Scene(
        material=material, height_mm=height_mm, wire=wire, machine=machine, technology=technology
    )
    made = tuple(
        scene.one_pass(seed, before=seeds[i - 1] if i else None, later=seeds[i + 1 :])
        for i, seed in enumerate(seeds)
    )
    if technology.experience is None:
        return made
    known = technology.experience.learned(
        shipped_passes(
            made, material=material, height_mm=height_mm, wire=wire, technology=technology
        ),
        machine=machine,
        material=material,
        wire=wire,
        height_mm=height_mm,
    )
    best_um = machine.best_tolerance_um
    return tuple(_moved(p, k, best_um=best_um) for p, k in zip(made, known, strict=True))


def _moved(one: Pass, known: Learned, *, best_um: float) -> Pass:
    """Move a pass of the tables to what the shop has measured; offsets stay as they are.

    A size error is not corrected in the offset: it counts against the tolerance until somebody
    changes the table, since a correction unseen would be cut into the work twice.
    """
    feed = one.feed_mm_per_min * known.feed_factor
    ra_um = one.ra_um * known.ra_factor
    tolerance_um, _ = promised_um(known, tables_um=one.tolerance_um, best_um=best_um)
    source = Source(
        tag=SourceTag.SHOP,
        citation=(
            f"{known.records} measured cuts of this combination, experience {known.experience[:12]}"
        ),
    )
    reasons = (
        Reason(
            quantity="feed_mm_per_min",
            value=feed,
            formula="feed of the tables x factor learned",
            inputs=(
                ("tables_mm_per_min", one.feed_mm_per_min),
                ("factor", known.feed_factor),
            ),
            source=source,
            range=Range.lognormal(feed, sigma_log=known.feed_sigma_log),
            shares=known.feed_shares,
        ),
        Reason(
            quantity="ra_um",
            value=ra_um,
            formula="roughness of the tables x factor learned",
            inputs=(("tables_um", one.ra_um), ("factor", known.ra_factor)),
            source=source,
            range=Range.lognormal(ra_um, sigma_log=known.ra_sigma_log),
            shares=known.ra_shares,
        ),
        *size_reasons(known, tables_um=one.tolerance_um, best_um=best_um, source=source),
    )
    return replace(
        one,
        feed_mm_per_min=feed,
        feed_sigma_log=known.feed_sigma_log,
        ra_um=ra_um,
        ra_sigma_log=known.ra_sigma_log,
        tolerance_um=tolerance_um,
        size_bias_um=known.size_bias_um,
        size_sigma_um=promised_sigma_um(known, tables_um=one.tolerance_um, best_um=best_um),
        reasons=(*one.reasons, *reasons),
        learned=known,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Left:
    """What the sparks of a pass leave and take, and why."""

    gap: Outcome
    stock: Outcome
    ra: Outcome
    recast: Outcome
    energy: Shares
    reasons: tuple[Reason, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Scene:
    """What all passes of one cut share."""

    material: Material
    height_mm: float
    wire: Wire
    machine: Machine
    technology: Technology

    def one_pass(
        self, seed: WireSeed, *, before: WireSeed | None, later: Sequence[WireSeed]
    ) -> Pass:
        # Of all that is told of a pass only its offset hangs on those after it.
        alone = _ALONE.once(
            partial(self._alone, seed, before),
            *(self.material, self.wire, self.technology, seed, before),
            key=(self.machine, self.height_mm),
        )
        left_um = sum(s.seed.stock_um for s in later)
        offset_mm = self.wire.radius_mm + (alone.gap_um + left_um) / 1000
        offset = self._offset(offset_mm, gap_um=alone.gap_um, left_um=left_um)
        feed, *others = alone.reasons
        return replace(alone, offset_mm=offset_mm, reasons=(feed, offset, *others))

    def _alone(self, row: WireSeed, before: WireSeed | None) -> Pass:
        """Return a pass after which none comes, without the reason of its offset."""
        seed = row.seed
        left = _LEFT.once(
            partial(self._left, row, before),
            *(self.material, self.wire, self.technology, row, before),
        )
        feed, sigma, feed_reason = self._feed(seed)
        tolerance_um, tolerance_reason = self._tolerance(seed)
        size_um = size_sigma_um(tolerance_um)
        return Pass(
            number=seed.number,
            is_rough=seed.number == 1,
            offset_mm=self.wire.radius_mm + seed.gap_um / 1000,
            gap_um=seed.gap_um,
            stock_um=seed.stock_um,
            feed_mm_per_min=feed,
            feed_sigma_log=sigma,
            ra_um=seed.ra_um * self.material.ra_factor,
            recast_um=seed.recast_um * self.material.recast_factor,
            tolerance_um=tolerance_um,
            gap_sigma_log=left.gap.sigma,
            stock_sigma_um=left.stock.sigma,
            ra_sigma_log=left.ra.sigma,
            recast_sigma_log=left.recast.sigma,
            size_sigma_um=size_um,
            fine_spark_sigma_log=row.sigma_log,
            spark_loadings=left.energy,
            reasons=(
                feed_reason,
                *left.reasons,
                tolerance_reason,
                size_reason(bias_um=0.0, sigma_um=size_um, source=seed.sources["tolerance_um"]),
            ),
        )

    def _left(self, row: WireSeed, before: WireSeed | None) -> _Left:
        """Return what the sparks of a pass leave, in any height and on any machine."""
        material, scaling, seed = self.material, self.technology.scaling, row.seed
        gap = gap_of(row, material=material, scaling=scaling)
        stock = stock_of(row, before=before, material=material, scaling=scaling)
        ra = ra_of(row, material=material, scaling=scaling)
        recast = recast_of(row, material=material, scaling=scaling)
        energy = energy_of(row, law=self.technology.spark)
        ra_um = seed.ra_um * material.ra_factor
        reasons = (
            self._gap(row, gap),
            self._stock(row, stock, before=before),
            _scaled("ra_um", ra_um, row, ra, material.ra_factor),
            _scaled(
                "recast_um", seed.recast_um * material.recast_factor, row, recast,
                material.recast_factor,
            ),
            self._energy(row, ra_um, energy),
        )  # fmt: skip
        return _Left(
            gap=gap, stock=stock, ra=ra, recast=recast, energy=energy.loadings, reasons=reasons
        )

    def _offset(self, offset_mm: float, *, gap_um: float, left_um: float) -> Reason:
        return Reason(
            quantity="offset_mm",
            value=offset_mm,
            formula="o_n = d/2 + g_n + sum of the stock of later passes",
            inputs=(
                ("d_mm", self.wire.diameter_mm),
                ("gap_um", gap_um),
                ("stock_of_later_passes_um", left_um),
            ),
            source=_COMPUTED,
        )

    def _gap(self, row: WireSeed, gap: Outcome) -> Reason:
        return Reason(
            quantity="gap_um",
            value=row.seed.gap_um,
            formula=f"g = g_table {_BY_SPARK}" if row.is_fine else "g = g_table min(1, d/d_ref)^p",
            inputs=(("gap_table_um", row.tabled.gap_um), *self._wire_inputs(row)),
            source=row.seed.sources["gap_um"],
            range=Range.lognormal(row.seed.gap_um, sigma_log=gap.sigma),
            shares=gap.shares,
        )

    def _stock(self, row: WireSeed, stock: Outcome, *, before: WireSeed | None) -> Reason:
        shares = stock.shares
        inputs: tuple[tuple[str, float | str], ...] = (("stock_table_um", row.tabled.stock_um),)
        if before is not None:
            inputs += (
                ("gap_before_um", before.seed.gap_um),
                ("gap_um", row.seed.gap_um),
                *self._wire_inputs(row),
            )
        of_wire = _BY_SPARK if row.is_fine else "min(1, d/d_ref)^p"
        return Reason(
            quantity="stock_um",
            value=row.seed.stock_um,
            formula=f"w = w_table {of_wire}, less what the gap before and more what this "
            "gap is wider than thought",
            inputs=inputs,
            source=row.seed.sources["stock_um"],
            range=stock_range_um(row.seed.stock_um, sigma_um=stock.sigma) if shares else None,
            shares=shares,
        )

    def _energy(self, row: WireSeed, ra_um: float, energy: Outcome) -> Reason:
        """Return the energy per spark that all else of the pass is of."""
        surface = self.technology.spark.surface
        if row.is_fine:
            return self._fine_energy(row, energy)
        return Reason(
            quantity="spark_energy_mj",
            value=energy_of_ra_mj(ra_um, material=self.material, law=self.technology.spark),
            formula="E = (Ra / (f K))^(1/p)",
            inputs=(
                ("ra_um", ra_um),
                ("f", self.material.ra_factor),
                ("K_um_per_mj^p", surface.ra_scale_um),
                ("p", surface.ra_exponent),
            ),
            source=surface.sources["ra_scale_um"],
            **told_spread(energy),
        )

    def _fine_energy(self, row: WireSeed, energy: Outcome) -> Reason:
        scaling, spark = self.technology.scaling, self.technology.spark
        return Reason(
            quantity="spark_energy_mj",
            value=row.energy_mj,
            formula="E = max(E_least, E_table (d/d_ref)^(p/q)); the rate has what a thin wire cuts "
            "less in it already and does not follow from E",
            inputs=(
                ("E_table_mj", row.tabled_energy_mj),
                ("E_least_mj", spark.pulse.smallest_energy_mj),
                ("d_mm", self.wire.diameter_mm),
                ("d_ref_mm", scaling.reference_diameter_mm),
                ("p", scaling.gap_diameter_exponent),
                ("q", spark.surface.ra_exponent),
            ),
            source=scaling.sources["gap_diameter_exponent"],
            **told_spread(energy),
        )

    def _wire_inputs(self, row: WireSeed) -> tuple[tuple[str, float | str], ...]:
        scaling = self.technology.scaling
        if row.is_fine:
            return _spark_inputs(row)
        return (
            ("d_mm", self.wire.diameter_mm),
            ("d_ref_mm", scaling.reference_diameter_mm),
            ("p", scaling.gap_diameter_exponent),
        )

    def _feed(self, seed: PassSeed) -> tuple[float, float, Reason]:
        is_rough = seed.feed_mm_per_min is None
        sigma_log = self._of_cut(partial(feed_unsure, is_rough=is_rough)).sigma_log
        if seed.feed_mm_per_min is None:
            rough = rough_feed(
                material=self.material,
                height_mm=self.height_mm,
                wire=self.wire,
                machine=self.machine,
                law=self.technology.rough,
            )
            reason = replace(
                rough.reason,
                source=told(rough.reason.source),
                range=Range.lognormal(rough.feed_mm_per_min, sigma_log=sigma_log),
                shares=self._of_cut(rough_feed_shares),
            )
            return rough.feed_mm_per_min, sigma_log, reason
        law = self.technology.skim
        fine = read_curve(self.technology.rough.fine_wire, self.wire.diameter_mm)
        feed = self._of_cut(partial(skim_feed_mm_per_min, seed.feed_mm_per_min))
        reason = Reason(
            quantity="skim_feed_mm_per_min",
            value=feed,
            formula="v = v_table min(1, H_0/H)^m (K_m K_f)^q",
            inputs=(
                ("v_table_mm_per_min", seed.feed_mm_per_min),
                ("H_mm", self.height_mm),
                ("H_0_mm", law.full_feed_height_mm),
                ("m", law.height_exponent),
                ("K_m", self.material.rate_factor),
                ("K_f", fine),
                ("q", law.rate_exponent),
            ),
            source=told(seed.sources["feed_mm_per_min"]),
            range=Range.lognormal(feed, sigma_log=sigma_log),
            shares=self._of_cut(skim_feed_shares),
        )
        return feed, sigma_log, reason

    def _of_cut(self, asked: Callable[..., _Told]) -> _Told:
        """Ask a function of the process about this cut."""
        return asked(
            material=self.material,
            height_mm=self.height_mm,
            wire=self.wire,
            technology=self.technology,
        )

    def _tolerance(self, seed: PassSeed) -> tuple[float, Reason]:
        scaling = self.technology.scaling
        really_um = really_held_um(seed, height_mm=self.height_mm, technology=self.technology)
        value = max(really_um, self.machine.best_tolerance_um)
        reason = Reason(
            quantity="tolerance_um",
            value=value,
            formula="max(machine, t_table max(1, H/H_t)^m)",
            inputs=(
                ("t_table_um", seed.tolerance_um),
                ("machine_um", self.machine.best_tolerance_um),
                ("H_mm", self.height_mm),
                ("H_t_mm", scaling.tolerance_height_mm),
                ("m", scaling.tolerance_height_exponent),
            ),
            source=seed.sources["tolerance_um"],
            **held_spread(
                value,
                really_um=really_um,
                best_um=self.machine.best_tolerance_um,
                sigma_log=scaling.tolerance_sigma_log,
            ),
        )
        return value, reason


_BY_SPARK: Final = "(E/E_table)^(1/3), E the spark of this wire"


def _spark_inputs(row: WireSeed) -> tuple[tuple[str, float | str], ...]:
    """Return by what the spark of a thin wire moves a figure of the table."""
    held = (("held_to", "the smallest steady spark"),) if row.is_least else ()
    return (("E_mj", row.energy_mj), ("E_table_mj", row.tabled_energy_mj), *held)


def _scaled(quantity: str, value: float, row: WireSeed, outcome: Outcome, factor: float) -> Reason:
    formula = "table value x material factor"
    inputs: tuple[tuple[str, float | str], ...] = (
        (f"table_{quantity}", getattr(row.tabled, quantity)),
        ("material_factor", factor),
    )
    if row.is_fine:
        formula, inputs = f"{formula} x {_BY_SPARK}", (*inputs, *_spark_inputs(row))
    return Reason(
        quantity=quantity,
        value=value,
        formula=formula,
        inputs=inputs,
        source=row.seed.sources[quantity],
        range=outcome.range,
        shares=outcome.shares,
    )
