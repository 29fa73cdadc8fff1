"""Why the water at a contour's rough cut is what it is, and how sure its factors are."""

from __future__ import annotations

from typing import Final, TypedDict

from kerfwright.foundation.ranges import Range
from kerfwright.foundation.sources import Reason, Shares, Source
from kerfwright.planning.flushing_state import FlushingState
from kerfwright.planning.rules import PlanningRules
from kerfwright.process.experience import Loadings
from kerfwright.process.flushing import state_share
from kerfwright.process.loadings import spread_of
from kerfwright.process.nozzles import NOZZLES
from kerfwright.process.technology import Flushing, Technology


def flushing_reasons(
    state: FlushingState, rules: PlanningRules, technology: Technology, *, height_mm: float
) -> tuple[Reason, ...]:
    """Return the reasons of a state.

    Parameters
    ----------
    state : FlushingState
    rules : PlanningRules
    technology : Technology
    height_mm : float
    """
    law, debris = technology.rough, technology.flushing.debris
    by_model = any(x is not None for x in (rules.upper_gap_mm, rules.lower_gap_mm, rules.mouths))
    named = law.sources[f"flushing.{rules.nozzles.value}"]
    decided = _decided(height_mm, by_model=by_model, technology=technology)
    if rules.mouths is not None:
        decided += ", with the lift of mouths that lean"
    if state.learned_factor != 1:
        decided += "; x factor learned"
    return (
        mean_factor_reason(state, source=debris.sources["rate_exponent"] if by_model else named),
        Reason(
            quantity="along_factor",
            value=state.along_factor,
            formula=f"rate with the nozzles as they stand over that with both closed; {decided}",
            inputs=(
                ("nozzles", rules.nozzles.value),
                ("bath", rules.bath.value),
                ("H_mm", height_mm),
                ("table_factor", state.tables_factor),
                *_mouths(rules),
                *((("learned", state.learned_factor),) if state.learned_factor != 1 else ()),
            ),
            source=debris.sources["rate_exponent"] if by_model else named,
            **_spread(state.along_factor, state.along_loadings),
        ),
        Reason(
            quantity="beside_factor",
            value=state.beside_factor,
            formula="rate with both nozzles open over that with both closed; no more than away "
            "from the edge"
            if state.meets_edge
            else "that of the whole cut: no place of it is beside the edge of the stock",
            inputs=(("along_factor", state.along_factor), ("bath", rules.bath.value)),
            source=law.sources[f"flushing.{Flushing.BOTH_OPEN.value}"],
            **_spread(state.beside_factor, state.beside_loadings),
        ),
        Reason(
            quantity="edge_reach_mm",
            value=state.edge_reach_mm,
            formula="radius of a nozzle's mouth: nearer to the edge of the stock it lets the water "
            "out",
            inputs=(),
            source=technology.flushing.nozzle.sources["mouth_radius_mm"],
        ),
        Reason(
            quantity="slow_entry_mm",
            value=state.slow_entry_mm,
            formula="way from the start to the edge of the stock + slow entry"
            if state.slow_entry_mm
            else "0: the cut begins in a hole",
            inputs=(("slow_entry_mm", rules.slow_entry_mm),) if state.slow_entry_mm else (),
            source=rules.sources["slow_entry_mm"],
        ),
    )


def _mouths(rules: PlanningRules) -> tuple[tuple[str, float], ...]:
    """Return how mouths stand that lean with the wire; nothing of upright ones."""
    if rules.mouths is None:
        return ()
    return (
        ("upper_gap_mm", rules.mouths.upper_gap_mm),
        ("lower_gap_mm", rules.mouths.lower_gap_mm),
        ("mouth_lean_deg", rules.mouths.lean_deg),
    )


def _decided(height_mm: float, *, by_model: bool, technology: Technology) -> str:
    """Say which rule decided the factor of the nozzles."""
    if not by_model:
        return "by the shop's table"
    law = technology.flushing
    share, holds_mm = state_share(height_mm, law=law), law.debris.model_from_mm
    if not share:
        return "by the flow model for the gaps given"
    bound = "no more than the shop's table has for nozzles that stand so"
    if share < 1:
        bound += f", which counts {share:.0%} at this height"
    return f"work below {holds_mm:g} mm: by the flow model of {holds_mm:g} mm, {bound}"


def mean_factor_reason(state: FlushingState, *, source: Source) -> Reason:
    """Return why the mean feed of a rough cut is what it is.

    Parameters
    ----------
    state : FlushingState
    source : Source
        Of the factor of the nozzles.
    """
    return Reason(
        quantity="rate_factor",
        value=state.rate_factor,
        formula="K = 1 / ((1 - s)/K_along + s/K_beside); the program has K_along and K_beside, "
        "this is their mean by time",
        inputs=(
            ("s", state.edge_share),
            ("K_along", state.along_factor),
            ("K_beside", state.beside_factor),
        ),
        source=source,
        **_spread(state.rate_factor, state.loadings),
    )


class _Spread(TypedDict, total=False):
    range: Range
    shares: Shares


def _spread(factor: float, loadings: Loadings) -> _Spread:
    """Return range and shares of a factor on the feed; those of closed nozzles have none."""
    sigma = spread_of(loadings)
    if not sigma:
        return {}
    parts: dict[str, float] = {}
    for cause, spread in loadings:
        # What cuts told only together with the feed is one part: its causes have no names.
        name = cause if cause.startswith(NOZZLES) else _WITH_FEED
        parts[name] = parts.get(name, 0.0) + (spread / sigma) ** 2
    return {"range": Range.lognormal(factor, sigma_log=sigma), "shares": tuple(parts.items())}


_WITH_FEED: Final = "rate under closed nozzles, told only together"
