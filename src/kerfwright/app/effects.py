"""What a change does to the price, in a sentence fit to send to the customer."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from kerfwright.app.cautions import cautions
from kerfwright.app.changes import Change
from kerfwright.app.demand_kinds import KINDS, Kind, and_text, names
from kerfwright.app.lifting import lifted
from kerfwright.app.offers import Priced, Shop
from kerfwright.app.sheets import sheet_findings
from kerfwright.foundation.units import minutes_text
from kerfwright.foundation.zones import zone_asked
from kerfwright.planning.plan import Plan
from kerfwright.process.choice import choose_passes
from kerfwright.process.left_draws import span_words
from kerfwright.process.misses import MISSED, odds
from kerfwright.process.technology import Pass
from kerfwright.trade.requirement import Demand, Requirement

_WHOLE_PERCENT = Decimal("0.01")
"""Below it a whole percent would say 0 %."""
_LEAST_MINUTES = 1.0
"""Differences in time below a minute are not worth a word, of a piece or of the order."""
_NO_MINUTES = 1e-6
"""Minutes of an order that are none: rounding of sums."""


def sentence(
    change: Change, base: Priced, priced: Priced, *, asked: Requirement, shop: Shop, quantity: int
) -> str:
    """Return what a change does to the price and the time, and what it brings with it.

    That are warnings which the job as asked has not, and demands that would often be missed.

    Parameters
    ----------
    change : Change
    base, priced : Priced
        The job as asked, and changed.
    asked : Requirement
        That of the job.
    shop : Shop
    quantity : int
        Of the job as asked.
    """
    subject = change.subject
    warned = cautions(priced.plan.findings, asked=base.plan.findings)
    if base.offer.refusals:
        # A refused job has no price to save from.
        return (
            f"{subject} {lifted(base.plan, priced, currency=shop.rates.currency)}."
            f"{warned}{said_after(doubts(priced, shop))}"
        )
    effect = _Effect(
        base=base, priced=priced, change=change, asked=asked, shop=shop, quantity=quantity
    ).words()
    # What is as unsure in the job as asked is told of that, once.
    known = doubts(base, shop)
    new = [one for one in doubts(priced, shop) if not any(one.is_in(other) for other in known)]
    return f"{subject} {effect}.{warned}{_layer_left(change, base, priced)}{said_after(new)}"


def _layer_left(change: Change, base: Priced, priced: Priced) -> str:
    """Say between what the recast layer comes out, where a change asks another one."""
    if "recast" not in change.demand and "max_recast_um" not in change.conceded:
        return ""
    now, then = (
        max(
            (span for c in one.plan.contours if (span := c.choice.recast_left_um) is not None),
            key=lambda span: span.high,
            default=None,
        )
        for one in (base, priced)
    )
    if now is None or then is None or now == then:
        return ""
    return (
        f" The layer then comes out at {span_words(then)} (10–90 %), as asked at {span_words(now)}."
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Doubt:
    """A demand that would often be missed all the same.

    Attributes
    ----------
    words : str
        A sentence, with ``{where}`` for its contours.
    contour_ids : tuple of str
        Of which it is asked.
    named : str
        They in words, with what goes before; empty where they are all.
    """

    words: str
    contour_ids: tuple[str, ...]
    named: str

    @property
    def sentence(self) -> str:
        """What is not sure, and of which contours."""
        return self.words.format(where=self.named)

    def is_in(self, other: Doubt) -> bool:
        """Return whether another says as much of these contours, and maybe more."""
        return self.words == other.words and set(self.contour_ids) <= set(other.contour_ids)


def doubts(priced: Priced, shop: Shop) -> tuple[Doubt, ...]:
    """Return which demands would often be missed all the same.

    Parameters
    ----------
    priced : Priced
    shop : Shop
        With its physics what single sheets of a stack do not hold is known too.
    """
    plan = priced.plan
    found = [
        _doubt(
            plan,
            f.where.contour_id,
            f"The {MISSED[f.code]} asked{{where}} is not sure: "
            f"{odds(float(f.data['chance']))} would miss.",
            " of ",
        )
        for f in plan.findings
        if f.code in MISSED
    ]
    found += [
        _doubt(
            plan,
            f.where.contour_id,
            f"±{zone_asked(float(f.data['asked_um']))}{{where}} is not promised for "
            f"{f.data['pieces_beyond']} of the {f.data['pieces']} pieces of a stack.",
            " on ",
        )
        for f in sheet_findings(plan, shop.technology, shop.physics)
    ]
    return tuple(dict.fromkeys(found))


def _doubt(plan: Plan, contour_id: str | None, words: str, before: str) -> Doubt:
    """Return a doubt on the contours of which as much is asked as of one, or as of the job."""
    wanted = plan.requirement
    demand = wanted.demand if contour_id is None else wanted.demand_on(contour_id)
    ids = [c.target.id for c in plan.contours]
    alike = tuple(name for name in ids if wanted.demand_on(name) == demand)
    named = f"{before}{names(alike)}" if 0 < len(alike) < len(ids) else ""
    return Doubt(words=words, contour_ids=alike, named=named)


def said_after(found: Iterable[Doubt]) -> str:
    """Return doubts as sentences that follow another."""
    return "".join(f" {one.sentence}" for one in found)


def is_same_price(change: Change, share: Decimal, shop: Shop) -> bool:
    """Return whether another wire makes a difference that prices are too coarse to tell."""
    return change.is_by_wire and abs(share) < shop.rates.same_price_share


def is_noise(change: Change, share: Decimal, shop: Shop) -> bool:
    """Return whether a demand saves something, and less than prices tell apart."""
    return not change.is_by_wire and 0 < share < shop.rates.same_price_share


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Effect:
    """One change with the job before it and after."""

    base: Priced
    priced: Priced
    change: Change
    asked: Requirement
    shop: Shop
    quantity: int

    def words(self) -> str:
        saved = self.base.offer.each - self.priced.offer.each
        share = saved / self.base.offer.each if self.base.offer.each else Decimal(0)
        if is_same_price(self.change, share, self.shop):
            same = f"costs the same within {self.shop.rates.same_price_share:.0%}"
            return same + self._time()
        money = f"{self.shop.rates.currency} {abs(saved)} a piece"
        if saved > 0:
            return f"saves {money} ({_percent(share)}){self._off_machine() or self._time()}"
        if saved < 0:
            return f"costs {money} more ({_percent(share)}){self._by_the_same()}{self._time()}"
        if not self.change.is_looser:
            is_limit = self.change.demand in {kind.name for kind in KINDS}
            return "costs nothing more" if is_limit else "changes nothing in the price"
        why = self._why_same_work() if self._is_same_work() else ""
        return f"saves nothing by itself: {why}" if why else "changes nothing in the price"

    @property
    def _minutes(self) -> float:
        return self.base.offer.machine_minutes_each - self.priced.offer.machine_minutes_each

    def _time(self) -> str:
        """Say the machine time of a piece, or of the order where that of a piece is too short."""
        way = "less" if self._minutes > 0 else "more"
        if abs(self._minutes) >= _LEAST_MINUTES:
            return f", {minutes_text(abs(self._minutes))} of machine time {way}"
        total = abs(self._minutes) * self.quantity
        if self.change.quantity != self.quantity or total < _LEAST_MINUTES:
            return ""
        return f", {minutes_text(total)} of machine time {way} for all {self.quantity} pieces"

    def _off_machine(self) -> str:
        """Say that a looser demand saves none of the machine's time, where it is so."""
        if not self.change.is_looser or not self._is_same_work():
            return ""
        if abs(self._minutes) * self.quantity > _NO_MINUTES:
            return ""
        why = self._why_same_work()
        return ", off the machine only" + (f": {why} there" if why else "")

    def _by_the_same(self) -> str:
        """Say that the work as it is holds a tighter demand, which costs only off the machine."""
        is_limit = self.change.demand in {kind.name for kind in KINDS}
        if not is_limit or self.change.is_looser or not self._is_same_work():
            return ""
        return ", off the machine only: the same passes hold it"

    def _is_same_work(self) -> bool:
        """Return whether every contour is cut as before, with the same wire."""
        before, after = self.base.plan, self.priced.plan
        return before.choice.wire == after.choice.wire and {
            c.target.id: c.passes for c in before.contours
        } == {c.target.id: c.passes for c in after.contours}

    def _why_same_work(self) -> str:
        """Say what else needs the work that a change leaves; empty where nothing else does."""
        groups = {
            (self.asked.demand_on(c.target.id), self.change.requirement.demand_on(c.target.id)): c
            for c in self.base.plan.contours
        }
        found = {
            self._needed_by(before, after, one.passes)
            for (before, after), one in groups.items()
            if before != after
        }
        if len(found) == 1:
            return found.pop()
        return "what else is asked needs the same work" if found and all(found) else ""

    def _needed_by(self, before: Demand, after: Demand, passes: tuple[Pass, ...]) -> str:
        """Say which demands that stay need just these passes: each alone, else two together."""
        stay = [
            kind
            for kind in KINDS
            if getattr(before, kind.field) is not None
            and getattr(before, kind.field) == getattr(after, kind.field)
        ]

        def need(kinds: Sequence[Kind]) -> bool:
            chosen = choose_passes(
                replace(self.asked, wire=self.base.plan.choice.wire),
                technology=self.shop.technology,
                catalogue=self.shop.catalogue,
                demand=Demand(**{k.field: getattr(before, k.field) for k in kinds}),
            )
            return chosen.passes == passes

        alone = [kind for kind in stay if need([kind])]
        if alone or len(stay) < 2 or not need(stay):
            return _need_the_same_work(alone) if alone else ""
        return _need_the_same_work(stay, together=" together")


def _need_the_same_work(kinds: Sequence[Kind], together: str = "") -> str:
    said = and_text(f"the {kind.name} asked" for kind in kinds)
    return f"{said}{together} {'need' if len(kinds) > 1 else 'needs'} the same work"


def _percent(share: Decimal) -> str:
    """Return a share in whole percent, a small one with a digit more."""
    return f"{abs(share):.0%}" if abs(share) >= _WHOLE_PERCENT else f"{abs(share):.1%}"
