"""What the water does at a wall that leans: mouths that lift, feed, breaks and instruction.

A mouth that leans with the wire lifts off its face on one side, by ``a tan(phi)`` in the mean.  The
flow model takes that as a gap.  The figures of ``planning.toml`` for an angle tell of the same
effect as shops see it, so the two are never multiplied: the slower feed and the more breaks count,
see decision record 0034.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from typing import Final

from kerfwright.foundation.bounded import range_to_one, sigma_to_one
from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.foundation.ranges import Range
from kerfwright.foundation.sources import Reason
from kerfwright.planning.flushing import dirt, known_rate, nozzle_factor, setting_at
from kerfwright.planning.flushing_findings import breaks_words
from kerfwright.planning.flushing_reasons import flushing_reasons
from kerfwright.planning.flushing_state import FlushingState
from kerfwright.planning.lean_feed import LeanFeed, LeaningMouths
from kerfwright.planning.plan import ContourPlan
from kerfwright.planning.rules import PlanningRules
from kerfwright.planning.taper_effects import TaperEffect, taper_effect
from kerfwright.planning.wire_bearing import Bearing
from kerfwright.process.flushing import BreakRisk, face_gap_mm, nozzle_words, state_of
from kerfwright.process.loadings import spread_of
from kerfwright.process.nozzles import nozzle_rate
from kerfwright.process.technology import Flushing, PassChoice, Technology
from kerfwright.process.wire_physics import WirePhysics
from kerfwright.trade.requirement import Requirement

_RISKS: Final = tuple(BreakRisk)
"""The lesser first."""
ANGLE: Final = "what the angle does to feeds"
"""Cause that all leaning cuts share."""
_SAME_ANGLE: Final = 9
"""Decimals of a degree to which walls lean alike."""


@dataclass(slots=True, kw_only=True)
class LeaningWater:
    """Works out the water at leaning walls of one job; walls that lean alike share what they can.

    Attributes
    ----------
    requirement : Requirement
    technology : Technology
    rules : PlanningRules
        Of upright walls.
    physics : WirePhysics or None
    """

    requirement: Requirement
    technology: Technology
    rules: PlanningRules
    physics: WirePhysics | None
    _bearings: dict[tuple[float, int], Bearing] = field(default_factory=dict)

    def rules_at(self, lean_deg: float) -> PlanningRules:
        """Return the rules with mouths that lean with a wire: their lift decides if they close."""
        law, rules = self.technology.flushing, self.rules
        if not lean_deg * rules.taper_mouth_lean:
            return rules
        stands = setting_at(rules.nozzles, rules=rules, technology=self.technology)
        mouths = LeaningMouths(
            upper_gap_mm=stands.top_gap_mm,
            lower_gap_mm=stands.bottom_gap_mm,
            lean_deg=lean_deg * rules.taper_mouth_lean,
        )
        gaps = (
            face_gap_mm(gap, lean_deg=mouths.lean_deg, law=law)
            for gap in (mouths.upper_gap_mm, mouths.lower_gap_mm)
        )
        return replace(rules, mouths=mouths, nozzles=state_of(*gaps, law=law))

    def bearing(self, planned: ContourPlan, lean_deg: float) -> Bearing | None:
        """Return what the wire bears at a wall; None without the physics of the wire."""
        if self.physics is None:
            return None
        # Every bearing holds its choice, so that no other takes its identity.
        key = round(lean_deg, _SAME_ANGLE), id(planned.choice)
        if key not in self._bearings:
            self._bearings[key] = Bearing.of(
                [planned],
                requirement=self.requirement,
                choice=planned.choice,
                technology=self.technology,
                rules=self.rules_at(lean_deg),
                physics=self.physics,
            )
        return self._bearings[key]

    def leaning(self, planned: ContourPlan, lean_deg: float) -> ContourPlan:
        """Return a contour, planned upright, with the feeds, breaks and advice of its angle.

        The rough feed is slower by ``min(K_lift, K_angle)``, skims, whose water is a rinse, by
        ``K_angle``; breaks are more by ``max(b_lift, b_angle)``.  Beside the edge of the stock no
        mouth closes, so that nothing is left to lift: there the figure of the angle holds.

        Parameters
        ----------
        planned : ContourPlan
        lean_deg : float
            Greatest angle of the wall.
        """
        state, rules = planned.flushing, self.rules_at(lean_deg)
        effect = taper_effect(lean_deg, height_mm=self.requirement.height_mm, rules=rules)
        lift = self._lift_factor(rules, planned.choice)
        angle = effect.rate_factor
        rest = min(1.0, angle / lift)
        lifted = self._lifted(planned, rules, lift=lift, edge=angle / rest)
        bearing = self.bearing(planned, lean_deg)
        if bearing is not None:
            lifted = bearing.held(lifted, planned.passes[0].feed_mm_per_min)
        lifted = _with_breaks(lifted, state, effect, lean_deg, rules)
        feed = self._feed(lean_deg, effect, rules=rules, lift=lift, lifted=lifted, state=state)
        return replace(planned, flushing=lifted, lean=feed)

    def _lift_factor(self, rules: PlanningRules, choice: PassChoice) -> float:
        """Return what the lift of the mouths alone does to the rough feed."""
        if rules.mouths is None:
            return 1.0
        level = replace(rules, mouths=replace(rules.mouths, lean_deg=0.0))
        slow, usual = (
            nozzle_factor(rules.nozzles, self.requirement, choice, self.technology, r)
            for r in (rules, level)
        )
        return min(1.0, slow / usual)

    def _lifted(
        self, planned: ContourPlan, rules: PlanningRules, *, lift: float, edge: float
    ) -> FlushingState:
        """Return the state of the water with lifted mouths, not yet held for the wire."""
        state, technology = planned.flushing, self.technology
        choice, requirement = planned.choice, self.requirement
        usual = known_rate(self.rules.nozzles, requirement, choice, technology, self.rules)
        named = nozzle_factor(self.rules.nozzles, requirement, choice, technology, self.rules)
        # Mouths that lift a little are as unsure as open ones, in proportion.
        sealed = rules.nozzles is Flushing.SEALED
        rate = nozzle_rate(
            Flushing.BOTH_OPEN if sealed and lift < 1 else rules.nozzles,
            law=technology.rough,
            learned=choice.passes[0].learned,
            factor=named * lift,
        )
        along = state.along_factor / state.margin_factor * rate.factor / usual.factor
        law, height_mm = technology.flushing, requirement.height_mm
        said, says = (
            nozzle_words(
                self.rules.nozzles,
                law=law,
                height_mm=height_mm,
                wire_mm=choice.wire.diameter_mm,
                lean_deg=lean_deg,
            )
            for lean_deg in (0.0, _mouths_deg(rules))
        )
        found = replace(
            state,
            nozzles=rules.nozzles,
            along_factor=along,
            beside_factor=min(along, state.beside_factor / state.beside_margin_factor * edge),
            along_loadings=rate.loadings,
            beside_loadings=state.beside_loadings if state.meets_edge else rate.loadings,
            learned_factor=rate.learned_factor,
            tables_factor=technology.rough.flushing[rules.nozzles]
            / technology.rough.flushing[Flushing.SEALED],
            margin_factor=1.0,
            beside_margin_factor=1.0,
            risk=max(
                (state.risk, dirt(rules.nozzles, requirement, choice, technology, rules).risk),
                key=_RISKS.index,
            ),
            advice=state.advice.replace(said, says, 1),
            breaks_by_heat=1.0,
            breaks_by_dirt=1.0,
            has_wire=False,
            reasons=(),
        )
        return replace(
            found, reasons=flushing_reasons(found, rules, technology, height_mm=height_mm)
        )

    def _feed(
        self,
        lean_deg: float,
        effect: TaperEffect,
        *,
        rules: PlanningRules,
        lift: float,
        lifted: FlushingState,
        state: FlushingState,
    ) -> LeanFeed:
        angle = effect.rate_factor
        by_angle = rules.taper_rate_sigma_log * (1 - angle) / angle
        by_lift = max(0.0, spread_of(lifted.along_loadings) - spread_of(state.along_loadings))
        left = math.sqrt(max(0.0, by_angle**2 - by_lift**2))
        mouths_deg = _mouths_deg(rules)
        rough = min(1.0, angle / lift)
        # No lean makes a cut faster: what is beyond 1 is gathered there.
        by_angle_left = sigma_to_one(angle, sigma_log=by_angle)
        left_left = sigma_to_one(rough, sigma_log=left)
        feed = LeanFeed(
            lean_deg=lean_deg,
            lift_mm=face_gap_mm(0.0, lean_deg=mouths_deg, law=self.technology.flushing),
            skim_factor=angle,
            rough_factor=rough,
            rough_total=min(lift, angle),
            skim_loadings=((ANGLE, by_angle_left),) if by_angle else (),
            rough_loadings=((ANGLE, left_left),) if left else (),
            upright=state,
        )
        spreads = (by_angle, by_lift, left)
        reasons = self._reasons(feed, rules, lift=lift, spreads=spreads)
        return replace(feed, reasons=reasons)

    def _reasons(
        self,
        feed: LeanFeed,
        rules: PlanningRules,
        *,
        lift: float,
        spreads: tuple[float, float, float],
    ) -> tuple[Reason, ...]:
        """Return why the lean slows rough pass and skims as it does.

        The spreads are those of angle, lift, and what of the first the second has not in it.
        """
        law, figure = self.technology.flushing, rules.sources["taper_rate_above_deg"]
        angle, (by_angle, by_lift, rest) = feed.skim_factor, spreads
        spread = math.hypot(by_lift, rest)
        return (
            Reason(
                quantity="rough_taper_factor",
                value=feed.rough_factor,
                formula="min(1, K_angle / K_lift): what of the figure of the angle the lift of "
                "the mouths, which the factor of the water has in it, does not take",
                inputs=(("K_angle", angle), ("K_lift", lift)),
                source=figure,
                range=range_to_one(feed.rough_factor, sigma_log=rest) if rest else None,
                shares=((ANGLE, 1.0),) if rest else (),
            ),
            Reason(
                quantity="taper_factor",
                value=angle,
                formula="read from taper_rate_above_deg at the greatest angle of the wall; on "
                "the feed of skims",
                inputs=(("lean_deg", feed.lean_deg),),
                source=figure,
                range=range_to_one(angle, sigma_log=by_angle) if by_angle else None,
                shares=((ANGLE, 1.0),) if by_angle else (),
            ),
            Reason(
                quantity="rough_lean_factor",
                value=feed.rough_total,
                formula="min(K_lift, K_angle), two accounts of one effect: K_lift of the flow "
                "model for mouths that lift by a tan(phi), K_angle the figure of the angle",
                inputs=(
                    ("K_lift", lift),
                    ("K_angle", angle),
                    ("a_mm", law.nozzle.mouth_radius_mm),
                    ("phi_deg", _mouths_deg(rules)),
                    ("lift_mm", feed.lift_mm),
                ),
                source=law.debris.sources["rate_exponent"] if lift < angle else figure,
                range=range_to_one(feed.rough_total, sigma_log=spread) if spread else None,
                shares=tuple(
                    (name, (part / spread) ** 2)
                    for name, part in (("lift of the mouths", by_lift), (ANGLE, rest))
                    if part
                ),
            ),
        )

    def lifted_finding(self, contour: ContourPlan) -> Finding | None:
        """Return the warning of a contour at which mouths no longer close for the lean alone.

        Parameters
        ----------
        contour : ContourPlan
            By :meth:`leaning`.
        """
        rules = self.rules_at(contour.lean.lean_deg)
        if self.rules.nozzles is not Flushing.SEALED or rules.nozzles is Flushing.SEALED:
            return None
        law, name = self.technology.flushing, contour.target.id
        found = dirt(rules.nozzles, self.requirement, contour.choice, self.technology, rules)
        gap_mm = law.nozzle.usual_gap_mm
        factor = contour.lean.rough_total
        return Finding(
            code="mouths-lifted",
            severity=Severity.WARNING,
            message=f"the wire leans by up to {contour.lean.lean_deg:.2f}° along contour {name}, "
            f"and mouths that lean with it lift by {contour.lean.lift_mm:.2g} mm in the mean: they "
            f"do not close, and the rough feed is taken to {factor:.0%} of the usual. "
            f"{breaks_words(found, [contour.flushing], contour.choice.wire)}",
            where=Place(contour_id=name),
            remedy=nozzle_words(
                self.rules.nozzles,
                law=law,
                height_mm=self.requirement.height_mm,
                wire_mm=contour.choice.wire.diameter_mm,
                lean_deg=_mouths_deg(rules),
            ),
            data={
                "lean_deg": contour.lean.lean_deg,
                "lift_mm": contour.lean.lift_mm,
                "gap_mm": gap_mm + contour.lean.lift_mm,
                "rate_factor": factor,
                "risk": found.risk.value,
            },
        )


def _mouths_deg(rules: PlanningRules) -> float:
    """Return how far the mouths lean."""
    return 0.0 if rules.mouths is None else rules.mouths.lean_deg


def _with_breaks(
    lifted: FlushingState,
    upright: FlushingState,
    effect: TaperEffect,
    lean_deg: float,
    rules: PlanningRules,
) -> FlushingState:
    """Return the state with what the figure of the angle has of breaks beyond the lift's."""
    by_lift = lifted.breaks / upright.breaks
    value = max(1.0, effect.breaks_factor / by_lift)
    more = effect.breaks_factor - 1
    sigma = rules.taper_breaks_sigma_log if more > 0 else 0.0
    span = None
    if sigma:
        figure = Range.lognormal(more, sigma_log=sigma) + Range.exact(1.0)
        ends = (figure.low / by_lift, figure.high / by_lift)
        span = Range(low=max(1.0, ends[0]), likely=value, high=max(value, ends[1]))
    reason = Reason(
        quantity="breaks_by_taper",
        value=value,
        formula="max(1, b_angle / b_lift), two accounts of one effect: b_angle read from "
        "taper_breaks_above_deg at the greatest angle of the wall, b_lift what the lift of the "
        "mouths brings by heat and dirt",
        inputs=(
            ("lean_deg", lean_deg),
            ("b_angle", effect.breaks_factor),
            ("b_lift", by_lift),
        ),
        source=rules.sources["taper_breaks_above_deg"],
        range=span,
        shares=(("what the angle does to breaks", 1.0),) if sigma else (),
    )
    return replace(lifted, breaks_by_taper=value, reasons=(*lifted.reasons, reason))
