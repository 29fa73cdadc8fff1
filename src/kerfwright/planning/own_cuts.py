"""What a shop's own cuts say of a rough feed beyond the model of the wire."""

from __future__ import annotations

from dataclasses import dataclass

from kerfwright.foundation.counts import counted
from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.foundation.ranges import Range
from kerfwright.foundation.sizes import both_feeds
from kerfwright.foundation.sources import Reason, Source, SourceTag
from kerfwright.planning.rules import PlanningRules
from kerfwright.process.borne_feeds import STEP, Borne, BorneFeeds
from kerfwright.process.counted_breaks import CountedBreaks
from kerfwright.process.technology import Flushing, Pass, read_curve
from kerfwright.process.wire_physics import WirePhysics
from kerfwright.process.wire_state import WireState


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnCuts:
    """The rough feeds that the shop's cuts of a combination have had, nozzles closed.

    Attributes
    ----------
    feeds : BorneFeeds
    counted : CountedBreaks
        Model and counts together.
    share_per_feed : float
        Of the break current, in an mm/min of rough feed.
    tables_mm_per_min : float
        Rough feed of the tables.
    accepted_per_h : float
        Breaks an hour at the most that the model allows.
    experience : str
        SHA-256 of what was learned.
    """

    feeds: BorneFeeds
    counted: CountedBreaks
    share_per_feed: float
    tables_mm_per_min: float
    accepted_per_h: float
    experience: str

    @classmethod
    def of(
        cls,
        rough: Pass,
        rules: PlanningRules,
        physics: WirePhysics,
        *,
        share_per_feed: float,
        charge_more_log: float = 0.0,
    ) -> OwnCuts | None:
        """Return them for a plan; None without jobs enough, or where the nozzles do not close."""
        learned = rough.learned
        if learned is None or learned.borne is None or not share_per_feed < float("inf"):
            return None
        if rules.nozzles is not Flushing.SEALED or any(rules.nozzles_off_mm):
            return None
        law, feeds = physics.breaking, learned.borne
        tables = rough.feed_mm_per_min / learned.feed_factor
        cuts = tuple(
            (s.factor * tables * share_per_feed, s.hours, s.breaks) for s in feeds.single_steps
        )
        return cls(
            feeds=feeds,
            counted=CountedBreaks(
                law=law,
                per_h=learned.breaks_per_h,
                before_per_h=Range.lognormal(
                    feeds.usual_breaks_per_h, sigma_log=feeds.usual_sigma_log
                ),
                burst=learned.breaks_burst,
                cuts=cuts,
                charge_more_log=charge_more_log,
            ),
            share_per_feed=share_per_feed,
            tables_mm_per_min=tables,
            accepted_per_h=read_curve(law.relative_rate, law.most_share) * feeds.usual_breaks_per_h,
            experience=learned.experience,
        )

    @property
    def are_settled(self) -> bool:
        """Whether so many jobs were counted that no single one decides."""
        return self.feeds.fastest() is not None

    def factor(self, feed_mm_per_min: float) -> float:
        """Return the factor on a feed up to which counts and model accept it; 0 without jobs."""
        fastest = self.feeds.fastest()
        if fastest is None:
            return 0.0
        most = min(feed_mm_per_min, fastest.factor * STEP * self.tables_mm_per_min)
        share = self.counted.share_borne(
            accepted_per_h=self.accepted_per_h, at_most=most * self.share_per_feed
        )
        factor = share / self.share_per_feed / feed_mm_per_min
        # What nothing holds back is not held by the rounding of a quotient.
        return 1.0 if factor * _ROUNDING >= 1 else factor

    def rate_per_h(self, feed_mm_per_min: float) -> Range:
        """Return the breaks an hour at a feed, by counts and model together."""
        return self.counted.rate_per_h(feed_mm_per_min * self.share_per_feed)

    def is_usual(self, feed_mm_per_min: float) -> bool:
        """Return whether counts and model expect no more breaks than where none are warned of."""
        law = self.counted.law
        most_per_h = read_curve(law.relative_rate, law.raised_share) * self.feeds.usual_breaks_per_h
        return self.rate_per_h(feed_mm_per_min).likely <= most_per_h * _ROUNDING

    def expected_words(self, feed_mm_per_min: float) -> str:
        """Say what was counted at a feed, and what counts and model expect there."""
        found, rate = self.cuts_at(feed_mm_per_min), self.rate_per_h(feed_mm_per_min) * 100
        cuts = _cuts(found) if found.jobs else "none"
        return (
            f"The shop's own cuts at this feed or faster: {cuts}. Counts and model together expect "
            f"{rate.likely:.2g} breaks in 100 h (10–90 % {rate.low:.2g}–{rate.high:.2g})."
        )

    def cuts_at(self, feed_mm_per_min: float) -> Borne:
        """Return the cuts at a feed or faster."""
        return self.feeds.at_least(feed_mm_per_min / self.tables_mm_per_min)

    def reason(self, quantity: str, value: float, feed_mm_per_min: float) -> Reason:
        """Return why a feed, that of the program, is not held by the model."""
        found, rate = self.cuts_at(feed_mm_per_min), self.rate_per_h(feed_mm_per_min)
        return Reason(
            quantity=quantity,
            value=value,
            formula="min(1, feed that the shop's own cuts had and bore / feed of the rate law); "
            "borne: breaks an hour by counts and model together are accepted",
            inputs=(
                ("borne_mm_per_min", feed_mm_per_min),
                ("jobs", float(found.jobs)),
                ("hours", found.hours),
                ("breaks", float(found.breaks)),
                ("breaks_per_h", rate.likely),
                ("accepted_per_h", self.accepted_per_h),
            ),
            source=self.source,
        )

    @property
    def source(self) -> Source:
        """The shop's cuts."""
        return Source(
            tag=SourceTag.SHOP,
            citation=f"counted cuts of this combination, experience {self.experience[:12]}",
        )

    def wanting_words(self, held_mm_per_min: float, *, asked_mm_per_min: float) -> str:
        """Say what the shop's faster cuts are, and how many more would lift a feed."""
        found = self.feeds.above(held_mm_per_min / self.tables_mm_per_min)
        jobs = max(0, self.feeds.settled_jobs - found.jobs)
        wanted_mm_per_min = asked_mm_per_min
        if found.jobs:
            wanted_mm_per_min = min(asked_mm_per_min, found.factor * self.tables_mm_per_min)
        hours = self.counted.hours_wanted(
            wanted_mm_per_min * self.share_per_feed, accepted_per_h=self.accepted_per_h
        )
        so_far = f"{_cuts(found)} so far" if found.jobs else "none so far"
        more = [counted(jobs, "more job")] if jobs else []
        more += [f"{hours:.1f} h more without a break"] if hours >= _LEAST_HOURS else []
        if not more:
            return ""
        return (
            f" Own cuts faster than that: {so_far}; {' and '.join(more)} at "
            f"{both_feeds(wanted_mm_per_min)} would lift it."
        )


_LEAST_HOURS = 0.05


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
    if own is None or not own.are_settled or not is_above:
        return []
    held = rough.feed_mm_per_min * most / rough.utilisation
    found, rate = own.cuts_at(rough.feed_mm_per_min), own.rate_per_h(rough.feed_mm_per_min) * 100
    return [
        Finding(
            code="feed-above-wire-model",
            severity=Severity.WARNING,
            message=f"The model of the wire would hold the rough feed to {both_feeds(held)}, "
            f"{most:.0%} of the current at which it has the wire part; the program has "
            f"{both_feeds(rough.feed_mm_per_min)}, for the shop's own cuts bore it: "
            f"{_cuts(found)} at this feed or faster, nozzles closed. Counts and model together "
            f"expect {rate.likely:.2g} breaks in 100 h (10–90 % {rate.low:.2g}–{rate.high:.2g}).",
            where=Place(pass_number=1),
            remedy="Watch the first hour. Where the wire, the water or the pulses are not those "
            "of these cuts, take the feed back.",
            data={"utilisation": rough.utilisation, "hours": found.hours},
        )
    ]


_ROUNDING = 1 + 1e-9


def _cuts(found: Borne) -> str:
    jobs = counted(found.jobs, "job")
    count = counted(found.breaks, "break") if found.breaks else "no break"
    return f"{jobs}, {found.hours:.3g} h, {count}"
