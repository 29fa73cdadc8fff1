"""Why: the reason of every number of a job, by a key that a page or a script can ask for."""

from __future__ import annotations

from kerfwright.app.records import JobResult
from kerfwright.costing.records import Estimate, Price
from kerfwright.foundation.ranges import Range
from kerfwright.foundation.sources import Reason, Source, SourceTag

_COMPUTED = Source(tag=SourceTag.COMPUTED)


def reasons_of(result: JobResult) -> dict[str, Reason]:
    """Return the reasons of a job by key.

    Keys are ``pass-2.ra_um``, ``estimate.cutting_min``, ``price.5`` (all pieces together),
    ``hours.5``, ``line.5.rough pass`` and ``time.rough pass``.
    """
    found = {
        f"pass-{one.number}.{reason.quantity}": reason
        for one in result.plan.passes
        for reason in one.reasons
    }
    if result.estimate is not None:
        found |= {f"estimate.{r.quantity}": r for r in result.estimate.reasons}
        found |= _of_times(result.estimate)
        for price in result.estimate.prices:
            found |= _of_price(price, result.estimate.currency)
    return found


def _of_times(estimate: Estimate) -> dict[str, Reason]:
    return {
        f"time.{t.operation}": Reason(
            quantity=f"{t.operation}, minutes",
            value=t.minutes.likely,
            formula=t.basis,
            inputs=(
                ("whose hour", t.kind.value),
                ("paid", "each piece" if t.per_piece else "once"),
            ),
            source=_COMPUTED,
            range=t.minutes,
        )
        for t in estimate.times
    }


def _of_price(price: Price, currency: str) -> dict[str, Reason]:
    found = {
        f"price.{price.quantity}": Reason(
            quantity=f"price of {price.quantity} together, {currency}",
            value=float(price.likely),
            formula="sum of the lines below, or the least we bill",
            inputs=tuple((line.item, float(line.likely)) for line in price.lines),
            source=_COMPUTED,
            range=Range(low=float(price.low), likely=float(price.likely), high=float(price.high)),
            shares=tuple((s.cause, s.share_of_variance) for s in price.spread),
        ),
        f"hours.{price.quantity}": Reason(
            quantity=f"machine hours for {price.quantity}",
            value=price.hours.likely,
            formula="sum of attended and unattended machine time",
            inputs=(),
            source=_COMPUTED,
            range=price.hours,
        ),
    }
    for line in price.lines:
        found[f"line.{price.quantity}.{line.item}"] = Reason(
            quantity=f"{line.item}, {currency}",
            value=float(line.likely),
            formula=line.basis,
            inputs=(),
            source=_COMPUTED,
            range=Range(low=float(line.low), likely=float(line.likely), high=float(line.high)),
        )
    return found
