"""The fewest passes that meet the demands, and what another would buy."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Final

from kerfwright.foundation.findings import Finding, Severity
from kerfwright.foundation.kept import Kept
from kerfwright.foundation.units import MM_PER_INCH, both, both_roughness
from kerfwright.foundation.zones import zone_held
from kerfwright.process.beyond import beyond_finding, beyond_heights, of_contours, place_of
from kerfwright.process.demanded import Demanded, chance_of_miss, demanded_of, fewest
from kerfwright.process.erodibility import REFERENCE_ID, erodibility
from kerfwright.process.handbook_units import handbook_unit_findings
from kerfwright.process.hurt_layer import layer_findings
from kerfwright.process.left_draws import recast_left_range_um, span_words
from kerfwright.process.misses import MISSED, miss_findings, odds
from kerfwright.process.passes import passes_for
from kerfwright.process.spark_law import SurfaceLaw
from kerfwright.process.technology import Pass, PassChoice, StockBy, Technology
from kerfwright.trade.catalogue import Catalogue
from kerfwright.trade.machine import Machine
from kerfwright.trade.material import Material, Wire
from kerfwright.trade.requirement import Demand, Requirement

_PASSES: Final = Kept(most=1024)
"""A what-if asks for the same few counts with the same wires again and again."""


@dataclass(frozen=True, slots=True, kw_only=True)
class JobPasses:
    """The passes of every contour of a job, all with one wire.

    Attributes
    ----------
    most : PassChoice
        Of the contours that need most passes; its findings are those of all contours.  A pass of
        one number is the same in all contours (power condition, gap, what it leaves), but for
        its offset, which leaves the stock of the later passes of its own contour, and for stock
        and feed of skims that take the layer hurt before them.
    by_contour : mapping of str to PassChoice
    """

    most: PassChoice
    by_contour: Mapping[str, PassChoice]

    @property
    def beyond(self) -> frozenset[str]:
        """Contours of which more is asked than the process holds; none where that is all of them.

        Then the job is refused as a whole, and its plan shows what comes nearest.
        """
        ids = frozenset(name for name, one in self.by_contour.items() if one.is_beyond)
        return frozenset() if len(ids) == len(self.by_contour) else ids

    @property
    def wire(self) -> Wire:
        """The wire of the job."""
        return self.most.wire

    def of(self, contour_id: str) -> PassChoice:
        """Return the passes of one contour."""
        return self.by_contour.get(contour_id, self.most)

    def most_of(self, contour_ids: Sequence[str]) -> PassChoice:
        """Return the passes of those contours that need most, with the findings of all."""
        most = max((self.of(name) for name in contour_ids), key=_most_first, default=self.most)
        return replace(most, findings=self.most.findings)


def _most_first(choice: PassChoice) -> tuple[int, float]:
    """Return what orders choices: the count of passes, then the stock that they leave."""
    return len(choice.passes), sum(p.stock_um for p in choice.passes)


def choose_by_contour(
    requirement: Requirement,
    contour_ids: Sequence[str],
    *,
    technology: Technology,
    catalogue: Catalogue,
) -> JobPasses:
    """Choose for each contour the fewest passes that meet what is asked of it.

    Parameters
    ----------
    requirement : Requirement
    contour_ids : sequence of str
        All contours of the drawing.
    technology, catalogue

    Returns
    -------
    JobPasses
        Findings on demands that are not the job's name their contours.
    """
    groups: dict[Demand, list[str]] = {}
    for name in contour_ids:
        groups.setdefault(requirement.demand_on(name), []).append(name)
    if not groups:
        groups[requirement.demand] = []
    chosen = {
        demand: choose_passes(
            requirement,
            technology=technology,
            catalogue=catalogue,
            demand=demand,
            contour_ids=() if len(groups) == 1 else tuple(names),
        )
        for demand, names in groups.items()
    }
    most = max(chosen.values(), key=_most_first)
    findings: list[Finding] = []
    for choice in chosen.values():
        findings += [f for f in choice.findings if f not in findings]
    return JobPasses(
        most=replace(most, findings=tuple(findings)),
        by_contour=MappingProxyType(
            {name: chosen[demand] for demand, names in groups.items() for name in names}
        ),
    )


def choose_passes(
    requirement: Requirement,
    *,
    technology: Technology,
    catalogue: Catalogue,
    demand: Demand | None = None,
    contour_ids: Sequence[str] = (),
) -> PassChoice:
    """Choose the fewest passes that meet tolerance, finish and recast together.

    Finish and recast count as met where all but the allowed share of walls meet them, see
    :mod:`kerfwright.process.held`; where no passes are so sure, those that miss least often are
    chosen, of equals the quicker, and a warning says how often they miss.  Where a demand is beyond
    the process, the passes that come nearest are chosen and a refusal says by how much they miss,
    one for each contour named.

    Parameters
    ----------
    requirement : Requirement
    technology : Technology
    catalogue : Catalogue
        Gives the wire where the requirement leaves it open.
    demand : Demand, optional
        What is asked of the wall; without it, what the job asks.
    contour_ids : sequence of str
        Contours that the findings name; none where the demand is that of all.

    Returns
    -------
    PassChoice
        With findings ``tolerance-beyond-process``, ``finish-beyond-process``,
        ``recast-beyond-process``, ``poorly-conducting-material``,
        ``rate-factor-unlike-its-indices``, ``handbook-unit``, ``wire-not-on-machine``,
        ``finish-may-be-missed``,
        ``recast-may-be-missed``, ``tolerance-may-be-missed``, ``pass-more-to-be-sure``,
        ``skim-leaves-hurt-layer``, ``skim-leaves-old-peaks`` and ``nothing-asked-rough-only``.
    """
    wire, findings = _wire_of(requirement, catalogue)
    findings += _conduction(requirement.material, technology)
    findings += _unlike(requirement.material, technology, catalogue)
    findings += beyond_heights(requirement.height_mm, technology=technology)
    asked, law = demand or requirement.demand, technology.spark.surface
    chain = _cheapest(asked, requirement, wire, technology)
    every, count = chain.every, chain.count
    missed = [d for d in chain.demands if not d.is_met_by_any]
    # Each contour is refused by itself, as with any other refusal: one may be eased alone.
    each: list[tuple[str, ...]] = [(name,) for name in contour_ids] or [()]
    findings += [
        beyond_finding(d, requirement, every, ids, technology=technology)
        for d in missed
        for ids in each
    ]
    if not chain.demands:
        findings.append(_nothing_asked(every[0], contour_ids))
    # Offsets depend on the count: stock is left only for passes that will be cut.
    passes = passes_of(
        count, requirement=requirement, wire=wire, technology=technology, stock_by=chain.stock_by
    )
    findings += miss_findings(asked, passes, law=law, contour_ids=contour_ids)
    findings += _to_be_sure(asked, chain, contour_ids=contour_ids, law=law)
    layers = layer_findings(
        passes,
        law=law,
        max_recast_um=asked.max_recast_um,
        ra_um=asked.ra_um,
        stock_by=chain.stock_by,
    )
    place = place_of(contour_ids).contour_id
    findings += [replace(f, where=replace(f.where, contour_id=place)) for f in layers]
    return PassChoice(
        wire=wire,
        passes=passes,
        limiting=fewest(chain.demands)[1],
        further=_further(every, count, requirement.material.hurt_word),
        findings=tuple(findings),
        stock_by=chain.stock_by,
        is_beyond=bool(missed),
        recast_left_um=None
        if asked.max_recast_um is None
        else recast_left_range_um(passes, law=law),
    )


def passes_of(
    count: int,
    *,
    requirement: Requirement,
    wire: Wire,
    technology: Technology,
    stock_by: StockBy = StockBy.TABLE,
) -> tuple[Pass, ...]:
    """Return the first passes of the table for a job, their stock by the table or by the layers.

    Parameters
    ----------
    count : int
    requirement : Requirement
        Gives material, height and machine.
    wire : Wire
    technology : Technology
    stock_by : StockBy
    """

    def made() -> tuple[Pass, ...]:
        return passes_for(
            count,
            material=requirement.material,
            height_mm=requirement.height_mm,
            wire=wire,
            machine=requirement.machine,
            technology=technology,
            stock_by=stock_by,
        )

    return _PASSES.once(
        made,
        *(requirement.material, wire, technology),
        key=(count, requirement.height_mm, requirement.machine, stock_by),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Chain:
    """All passes of the table with their stock set one way, and how many of them are needed."""

    stock_by: StockBy
    every: tuple[Pass, ...]
    demands: list[Demanded]
    law: SurfaceLaw

    @property
    def count(self) -> int:
        return fewest(self.demands)[0]

    @property
    def rank(self) -> tuple[int, tuple[float, ...], float]:
        """Demands that no count meets, chances of those not met surely, minutes of skims.

        The minutes are for 1 mm of wall.  What is sure comes before what is not, and of what is
        not the surest, before any minutes.
        """
        missed = sum(not d.is_met_by_any for d in self.demands)
        unsure = [d for d in self.demands if not d.is_met_surely]
        passes = self.every[: self.count]
        chances = sorted((chance_of_miss(d, passes, law=self.law) for d in unsure), reverse=True)
        return missed, tuple(chances), sum(1 / p.feed_mm_per_min for p in passes[1:])

    def holds_recast(self, allowed: float) -> bool:
        """Whether its passes miss a limit on recast no more often than allowed."""
        passes = self.every[: self.count]
        return all(
            d.is_met_surely and chance_of_miss(d, passes, law=self.law) <= allowed
            for d in self.demands
            if d.name == "recast"
        )


def _cheapest(
    asked: Demand, requirement: Requirement, wire: Wire, technology: Technology
) -> _Chain:
    """Return the passes that meet most of what is asked in the least time.

    Where recast is limited every skim has to take the layer that was hurt before it, unless the
    limit does not bind: with the table's stock all but the allowed share of walls meet it too,
    what stands of older layers counted.  Elsewhere the table's own stock, unless it leaves peaks
    that a finish does not allow.
    """
    table, layer = (
        _Chain(
            stock_by=stock_by,
            every=every,
            demands=demanded_of(asked, every, technology=technology),
            law=technology.spark.surface,
        )
        for stock_by, every in (
            (
                stock_by,
                passes_of(
                    len(technology.passes),
                    requirement=requirement,
                    wire=wire,
                    technology=technology,
                    stock_by=stock_by,
                ),
            )
            for stock_by in (StockBy.TABLE, StockBy.HURT_LAYER)
        )
    )
    is_same = all(p.stock_um == q.stock_um for p, q in zip(table.every, layer.every, strict=True))
    is_limited = asked.max_recast_um is not None
    if is_limited and (is_same or not table.holds_recast(technology.limits.allowed_miss)):
        return layer
    return table if is_same else min((table, layer), key=lambda c: c.rank)


def _nothing_asked(rough: Pass, contour_ids: Sequence[str]) -> Finding:
    return Finding(
        code="nothing-asked-rough-only",
        severity=Severity.NOTE,
        message=(
            f"No tolerance and no finish is asked{of_contours(contour_ids)}: one rough pass, which "
            f"holds about ±{zone_held(rough.tolerance_um)} and {both_roughness(rough.ra_um)}."
        ),
        where=place_of(contour_ids),
    )


def _wire_of(requirement: Requirement, catalogue: Catalogue) -> tuple[Wire, list[Finding]]:
    machine = requirement.machine
    wire = requirement.wire or catalogue.default_wire
    if is_guided(wire, machine):
        return wire, []
    fits = [w for w in catalogue.wires if is_guided(w, machine)]
    if requirement.wire is None and fits:
        # Nearest to the usual diameter, of the usual kind where it is made.
        return min(
            fits, key=lambda w: (abs(w.diameter_mm - wire.diameter_mm), w.kind != wire.kind)
        ), []
    return wire, [
        Finding(
            code="wire-not-on-machine",
            severity=Severity.REFUSAL,
            message=(
                f"The wire of {wire.diameter_mm:g} mm has no guides on {machine.name}, which has "
                f"{', '.join(f'{d:g} mm' for d in machine.wire_diameters_mm)}."
            ),
            remedy="Take a wire that the machine has guides for, or another machine.",
            data={"wire_mm": wire.diameter_mm},
        )
    ]


def is_guided(wire: Wire, machine: Machine) -> bool:
    """Return whether a machine has guides for a wire, to a few hundredths: 0.254 mm is 0.25 mm."""
    return any(abs(wire.diameter_mm - d) <= 0.02 * d for d in machine.wire_diameters_mm)


def _conduction(material: Material, technology: Technology) -> list[Finding]:
    limits = technology.limits
    if material.resistivity_uohm_cm is None:
        return [
            Finding(
                code="poorly-conducting-material",
                severity=Severity.WARNING,
                message=(
                    f"How well {material.name} conducts depends on the grade; sparks get unsteady "
                    f"above about {limits.poor_resistivity_ohm_cm:g} ohm·cm."
                ),
                remedy="Ask for the grade and cut a sample before promising.",
                data={"limit_ohm_cm": limits.poor_resistivity_ohm_cm},
            )
        ]
    resistivity = material.resistivity_uohm_cm / 1_000_000
    if resistivity <= limits.poor_resistivity_ohm_cm:
        return []
    hopeless = resistivity > limits.highest_resistivity_ohm_cm
    limit = limits.highest_resistivity_ohm_cm if hopeless else limits.poor_resistivity_ohm_cm
    return [
        Finding(
            code="poorly-conducting-material",
            severity=Severity.REFUSAL if hopeless else Severity.WARNING,
            message=(
                f"{material.name} has {resistivity:.3g} ohm·cm; the limit is {limit:g} ohm·cm."
            ),
            remedy="Take a conducting grade, or cut a sample before promising.",
            data={"resistivity_ohm_cm": resistivity, "limit_ohm_cm": limit},
        )
    ]


def _unlike(material: Material, technology: Technology, catalogue: Catalogue) -> list[Finding]:
    """Remark on handbook properties in another unit, and on a rate factor that they do not suggest.

    Of every material: none that is shipped is unlike its indices, and what a shop changes, or adds
    with a source of its own or somebody else's, is then caught wherever the slip lies.
    """
    reference = next((m for m in catalogue.materials if m.id == REFERENCE_ID), None)
    if reference is None:
        return []
    law = technology.spark.erodibility
    indices = erodibility(material, reference=reference, law=law)
    return [*handbook_unit_findings(material), *indices.findings]


def _to_be_sure(
    asked: Demand, chain: _Chain, *, law: SurfaceLaw, contour_ids: Sequence[str]
) -> list[Finding]:
    """Say which passes there are only because fewer would miss too often."""
    fewer = max((d.likely_count for d in chain.demands), default=1)
    if fewer == chain.count or not all(d.is_met_by_any for d in chain.demands):
        return []
    missed = miss_findings(asked, chain.every[:fewer], law=law)
    if not missed:
        return []
    worst = max(missed, key=lambda f: float(f.data["chance"]))
    what, chance = MISSED[worst.code], float(worst.data["chance"])
    left = ", peaks of passes before counted in" if worst.code == "finish-may-be-missed" else ""
    if worst.code == "recast-may-be-missed":
        span = recast_left_range_um(chain.every[:fewer], law=law)
        left = f": with what may stand of older layers {span_words(span)} is left (10–90 %)"
    return [
        Finding(
            code="pass-more-to-be-sure",
            severity=Severity.NOTE,
            message=(
                f"{chain.count} passes for the {what} asked{of_contours(contour_ids)}: {fewer} "
                f"would meet it by the likely value, but {odds(chance)} would miss{left}."
            ),
            where=place_of(contour_ids),
            remedy="Measured cuts of one's own narrow this; allowed_miss in passes.toml sets how "
            "sure the choice is.",
            data={"passes": chain.count, "fewer": fewer, "chance": chance},
        )
    ]


def _further(every: Sequence[Pass], count: int, layer: str) -> tuple[str, ...]:
    """Say for each pass not chosen what it would leave and cost."""
    sentences = []
    for p in every[count:]:
        metric, inch = (way / p.feed_mm_per_min for way in (100, 4 * MM_PER_INCH))
        sentences.append(
            f"Pass {p.number} would leave {both_roughness(p.ra_um)}, hold "
            f"±{zone_held(p.tolerance_um)} and leave {both(p.recast_um)} of {layer}, for "
            f"{metric:.1f} more minutes per 100 mm ({inch:.1f} per 4 in) of wall."
        )
    return tuple(sentences)
