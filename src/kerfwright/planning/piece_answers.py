"""Why a tab is as wide as it is, what it holds, and what the piece weighs; built when asked."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from kerfwright.foundation.answers import Answer
from kerfwright.foundation.ranges import Range
from kerfwright.foundation.sources import Reason, Source, SourceTag
from kerfwright.foundation.spread import Outcome, Uncertain, of_ratio, of_sum
from kerfwright.planning.holding import GRAVITY_M_PER_S2
from kerfwright.planning.plan import ContourPlan, Plan, Tab
from kerfwright.trade.placement import TAB_WIDTH

_COMPUTED: Final = Source(tag=SourceTag.COMPUTED)
_BEAM: Final = Source(tag=SourceTag.COMPUTED, citation="elementary beam theory, Roark for torsion")
_UM: Final = 1000.0
_MM3_PER_M3: Final = 1e9
_DENSITY: Final = "density"
_GAP: Final = "gap of the rough pass"
_PRESSURE: Final = "flushing pressure"
_YIELD: Final = "yield strength"

_Inputs = tuple[tuple[str, float | str], ...]


def piece_answers(plan: Plan, contour: ContourPlan) -> Iterator[Answer]:
    """Return the answers on tab and piece of one contour.

    Parameters
    ----------
    plan : Plan
    contour : ContourPlan
    """
    if contour.tab is None:
        return
    mass = _mass(plan, contour)
    yield from _slug(plan, contour, mass)
    yield from _tab(plan, contour, contour.tab, mass)


def _mass(plan: Plan, contour: ContourPlan) -> Outcome:
    """Return the mass of the piece with its range: the kerf takes more or less off a slug."""
    slug = contour.slug
    gap_um = plan.passes[0].gap_um
    edge_mm = 0.0 if slug.is_part else contour.target.contour.length_mm
    material = plan.requirement.material

    def mass_kg(density_kg_per_m3: float, rough_gap_um: float) -> float:
        lost_mm2 = edge_mm * (rough_gap_um - gap_um) / _UM
        # A sliver may vanish in the kerf; a mass below nothing it has not.
        area_mm2 = max(slug.area_mm2 - lost_mm2, slug.area_mm2 / 2)
        return area_mm2 * plan.height_mm / _MM3_PER_M3 * density_kg_per_m3

    if slug.area_mm2 <= 0:
        exact = Range.exact(slug.mass_kg)
        return Outcome(value=slug.mass_kg, sigma=0.0, range=exact, loadings=())
    return of_ratio(
        mass_kg,
        (
            Uncertain(
                name=_DENSITY,
                value=material.density_kg_per_m3,
                sigma=plan.rules.density_sigma_log,
            ),
            Uncertain(name=_GAP, value=gap_um, sigma=plan.passes[0].gap_sigma_log),
        ),
    )


def _slug(plan: Plan, contour: ContourPlan, mass: Outcome) -> Iterator[Answer]:
    slug, material = contour.slug, plan.requirement.material
    edge_mm = contour.target.contour.length_mm
    place = f"plan/slugs/{contour.target.id}"
    area = (
        "the contour less its openings, which are cut before"
        if slug.is_part
        else "the rough path's area less its length x (d/2 + gap), less what is cut out of it"
    )
    yield _answer(
        contour,
        "piece area",
        f"{place}/area_mm2",
        slug.area_mm2,
        area,
        (("gap_um", plan.passes[0].gap_um), ("d_mm", plan.choice.wire.diameter_mm)),
        source=_COMPUTED,
        outcome=_less_gap(plan, slug.area_mm2, 0.0 if slug.is_part else edge_mm),
    )
    yield _answer(
        contour,
        "piece mass",
        f"{place}/mass_kg",
        slug.mass_kg,
        "area x height x density"
        + (
            ""
            if slug.is_part
            else "; start hole and way in are still in it: the proof weighs the slug as it is cut"
        ),
        (
            ("area_mm2", slug.area_mm2),
            ("height_mm", plan.height_mm),
            ("density_kg_per_m3", material.density_kg_per_m3),
        ),
        source=material.sources["density_kg_per_m3"],
        outcome=mass,
    )
    yield _answer(
        contour,
        "piece smallest width",
        f"{place}/smallest_width_mm",
        slug.smallest_width_mm,
        "diameter of the largest circle inside, found to a hundredth of the piece's size"
        + ("" if slug.is_part else ", less the kerf on both sides"),
        (("gap_um", plan.passes[0].gap_um),),
        source=_COMPUTED,
        outcome=_less_gap(plan, slug.smallest_width_mm, 0.0 if slug.is_part else 2.0),
    )


def _less_gap(plan: Plan, value: float, per_mm: float) -> Outcome | None:
    """Return what is left of a piece, of which the gap of the rough pass takes so much per mm."""
    if not per_mm or value <= 0:
        return None
    gap_um = plan.passes[0].gap_um

    def left(rough_gap_um: float) -> float:
        return max(value - per_mm * (rough_gap_um - gap_um) / _UM, 0.0)

    gap = Uncertain(name=_GAP, value=gap_um, sigma=plan.passes[0].gap_sigma_log)
    return of_sum(left, (gap,))


def _tab(plan: Plan, contour: ContourPlan, tab: Tab, mass: Outcome) -> Iterator[Answer]:
    rules = plan.rules
    place = f"plan/tabs/{contour.target.id}"
    yield _answer(
        contour,
        "tab width",
        f"{place}/width_mm",
        tab.width_mm,
        "the width that a person chose"
        if TAB_WIDTH in contour.placed
        else "the narrowest that keeps the safety asked, at least the smallest tab, at most the "
        "share of the perimeter",
        (
            ("smallest_mm", rules.tab_min_mm),
            ("largest_share", rules.tab_max_share),
            ("perimeter_mm", contour.target.contour.length_mm),
            ("safety_asked", rules.tab_safety),
            ("safety_kept", tab.safety),
        ),
        source=rules.sources["tab_safety"],
    )
    for name, station in (("start", tab.start_station_mm), ("end", tab.end_station_mm)):
        yield _answer(
            contour,
            f"tab {name} station",
            f"{place}/{name}_station_mm",
            station,
            (
                "where a person put it"
                if contour.has_tab_apart
                else "where the lead-in meets the wall"
            )
            if name == "end"
            else "the end of the tab less its width and a kerf's half width on either side, where "
            "the path is square to the wall",
            (("width_mm", tab.width_mm), ("gap_um", plan.passes[0].gap_um)),
            source=_COMPUTED,
        )
    yield from _tab_forces(plan, contour, tab, mass)


def _tab_forces(plan: Plan, contour: ContourPlan, tab: Tab, mass: Outcome) -> Iterator[Answer]:
    rules, material = plan.rules, plan.requirement.material
    place = f"plan/tabs/{contour.target.id}"
    yield _answer(
        contour,
        "tab weight held",
        f"{place}/weight_n",
        tab.weight_n,
        "mass x g",
        (("mass_kg", contour.slug.mass_kg), ("g_m_per_s2", GRAVITY_M_PER_S2)),
        source=_COMPUTED,
        outcome=mass,
        scale=GRAVITY_M_PER_S2,
    )
    pressure = Uncertain(
        name=_PRESSURE,
        value=rules.flushing_pressure_mpa,
        sigma=rules.flushing_pressure_sigma_log,
    )
    face_mm2 = tab.flushing_n / rules.flushing_pressure_mpa
    yield _answer(
        contour,
        "tab flushing force",
        f"{place}/flushing_n",
        tab.flushing_n,
        "pressure x the face of the piece, at most that of the nozzle",
        (
            ("pressure_mpa", rules.flushing_pressure_mpa),
            ("face_mm2", face_mm2),
            ("nozzle_mm", rules.nozzle_diameter_mm),
        ),
        source=rules.sources["flushing_pressure_mpa"],
        outcome=of_ratio(lambda p: p * face_mm2, (pressure,)) if face_mm2 > 0 else None,
    )
    yield _answer(
        contour,
        "tab safety",
        f"{place}/safety",
        tab.safety,
        "yield over the worst of bending, shear and torsion under weight and flushing",
        (
            ("yield_mpa", material.yield_mpa),
            ("weight_n", tab.weight_n),
            ("flushing_n", tab.flushing_n),
            ("width_mm", tab.width_mm),
            ("height_mm", plan.height_mm),
        ),
        source=_BEAM,
        outcome=_safety(plan, tab, mass, pressure, face_mm2),
    )


def _safety(
    plan: Plan, tab: Tab, mass: Outcome, pressure: Uncertain, face_mm2: float
) -> Outcome | None:
    """Return the safety with its range: at one width it goes as yield over load."""
    load_n = tab.weight_n + tab.flushing_n
    if load_n <= 0:
        return None
    strength_mpa = plan.requirement.material.yield_mpa
    kept = tab.safety * load_n / strength_mpa

    def safety(yield_mpa: float, pressure_mpa: float, relative_mass: float) -> float:
        load = tab.weight_n * relative_mass + pressure_mpa * face_mm2
        return kept * yield_mpa / load

    return of_ratio(
        safety,
        (
            Uncertain(name=_YIELD, value=strength_mpa, sigma=plan.rules.yield_sigma_log),
            pressure,
            Uncertain(name="mass of the piece", value=1.0, sigma=mass.sigma),
        ),
    )


def _answer(
    contour: ContourPlan,
    name: str,
    path: str,
    value: float,
    formula: str,
    inputs: _Inputs,
    *,
    source: Source,
    outcome: Outcome | None = None,
    scale: float = 1.0,
) -> Answer:
    told = outcome is not None and outcome.sigma > 0
    return Answer(
        about=contour.target.id,
        name=name,
        path=path,
        reason=Reason(
            quantity=path.rpartition("/")[2],
            value=value,
            formula=formula,
            inputs=inputs,
            source=source,
            range=outcome.range * scale if outcome is not None and told else None,
            shares=outcome.shares if outcome is not None and told else (),
        ),
    )
