"""What a shop's own cuts say of a rough feed beyond the model of the wire."""

from __future__ import annotations

from dataclasses import dataclass

from kerfwright.foundation.counts import counted
from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.foundation.sizes import both_feeds
from kerfwright.foundation.sources import Reason, Source, SourceTag
from kerfwright.planning.rules import PlanningRules
from kerfwright.process.borne_feeds import Borne, BorneFeeds
from kerfwright.process.technology import Flushing, Pass, read_curve
from kerfwright.process.wire_physics import WirePhysics
from kerfwright.process.wire_state import WireState


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnCuts:
    """The rough feeds that the shop's cuts of a combination have had, nozzles closed.

    Attributes
    ----------
    feeds : BorneFeeds
    tables_mm_per_min : float
        Rough feed of the tables.
    accepted : float
        Breaks an hour at the most that the model allows, relative to a usual rough pass.
    experience : str
        SHA-256 of what was learned.
    """

    feeds: BorneFeeds
    tables_mm_per_min: float
    accepted: float
    experience: str

    @classmethod
    def of(cls, rough: Pass, rules: PlanningRules, physics: WirePhysics) -> OwnCuts | None:
        """Return them for a plan; None without a shop, or where the nozzles do not close."""
        learned = rough.learned
        if learned is None or learned.borne is None:
            return None
        if rules.nozzles is not Flushing.SEALED or any(rules.nozzles_off_mm):
            return None
        law = physics.breaking
        return cls(
            feeds=learned.borne,
            tables_mm_per_min=rough.feed_mm_per_min / learned.feed_factor,
            accepted=read_curve(law.relative_rate, law.most_share),
            experience=learned.experience,
        )

    @property
    def settled(self) -> Borne | None:
        """The fastest feed that enough cuts bore."""
        return self.feeds.fastest(accepted=self.accepted)

    def factor(self, feed_mm_per_min: float) -> float:
        """Return the factor on a feed up to which the shop's cuts bore it; 0 where none did."""
        if self.settled is None:
            return 0.0
        return min(1.0, self.settled.factor * self.tables_mm_per_min / feed_mm_per_min)

    def reason(self, quantity: str, value: float) -> Reason:
        """Return why a feed is not held by the model."""
        assert self.settled is not None
        return Reason(
            quantity=quantity,
            value=value,
            formula="min(1, feed that the shop's own cuts bore / feed of the rate law)",
            inputs=(
                ("borne_mm_per_min", self.settled.factor * self.tables_mm_per_min),
                ("jobs", float(self.settled.jobs)),
                ("hours", self.settled.hours),
                ("breaks", float(self.settled.breaks)),
            ),
            source=Source(
                tag=SourceTag.SHOP,
                citation=f"cuts at this feed or faster, experience {self.experience[:12]}",
            ),
        )

    def wanting_words(self, held_mm_per_min: float) -> str:
        """Say what the shop's faster cuts are, and how many more would lift a feed."""
        found = self.feeds.above(held_mm_per_min / self.tables_mm_per_min)
        jobs, hours = self.feeds.wanting(found, accepted=self.accepted)
        so_far = f"{_cuts(found)} so far" if found.jobs else "none so far"
        more = [counted(jobs, "more job")] if jobs else []
        more += [f"{hours:.1f} h more without a break"] if hours else []
        if not more:
            return ""
        return f" Own cuts faster than that: {so_far}; {' and '.join(more)} would lift it."


def own_findings(rough: WireState, own: OwnCuts | None, physics: WirePhysics) -> list[Finding]:
    """Return what is said where the shop's cuts bore more than the model allows.

    Parameters
    ----------
    rough : WireState
        At the feed of the program.
    own : OwnCuts or None
    physics : WirePhysics
    """
    most = physics.breaking.most_share
    is_above = rough.utilisation > most * _ROUNDING and rough.flushing is Flushing.SEALED
    if own is None or own.settled is None or not is_above:
        return []
    held = rough.feed_mm_per_min * most / rough.utilisation
    return [
        Finding(
            code="feed-above-wire-model",
            severity=Severity.WARNING,
            message=f"The model of the wire would hold the rough feed to {both_feeds(held)}, "
            f"{most:.0%} of the current at which it has the wire part; the program has "
            f"{both_feeds(rough.feed_mm_per_min)}, for the shop's own cuts bore it: "
            f"{_cuts(own.settled)} at this feed or faster, nozzles closed.",
            where=Place(pass_number=1),
            remedy="Watch the first hour. Where the wire, the water or the pulses are not those "
            "of these cuts, take the feed back.",
            data={"utilisation": rough.utilisation, "hours": own.settled.hours},
        )
    ]


_ROUNDING = 1 + 1e-9


def _cuts(found: Borne) -> str:
    jobs = counted(found.jobs, "job")
    count = counted(found.breaks, "break") if found.breaks else "no break"
    return f"{jobs}, {found.hours:.3g} h, {count}"
