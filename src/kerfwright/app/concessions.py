"""The least that has to be given up for a saving."""

from __future__ import annotations

from collections.abc import Iterator

from kerfwright.app.changes import Change
from kerfwright.app.demand_kinds import KINDS
from kerfwright.app.offers import Offer, Priced, Shop


def least_conceded(shop: Shop, change: Change, priced: Priced) -> tuple[Change, Priced] | None:
    """Return a change with the tightest limits that cost no more than its own, and its price.

    Of several demands each is kept as asked where that costs the same; a tolerance goes no further
    than measuring gets cheaper by it.  Whatever is left in its place was planned and priced.

    Parameters
    ----------
    shop : Shop
    change : Change
    priced : Priced
        The change, as it is.

    Returns
    -------
    tuple of Change and Priced, or None
        None where another change already gives up just that.
    """
    conceding = change.conceding
    if conceding is None or not change.conceded:
        return change, priced
    found = change, priced
    values = {name: um for name, (_, um) in change.conceded.items()}
    for name, (asked_um, looser_um) in change.conceded.items():
        for um in _tighter(shop, name, asked_um, looser_um, alone=len(values) == 1):
            tried = conceding({**values, name: um})
            other = tried and shop.price(tried.requirement, quantity=tried.quantity)
            if tried and other and _is_as_good(other.offer, priced.offer):
                found, values = (tried, other), {**values, name: um}
                break
    is_single = len(found[0].conceded) == 1 < len(change.conceded)
    return None if is_single and not change.is_of_one_shape else found


def _tighter(
    shop: Shop, name: str, asked_um: float, looser_um: float, *, alone: bool
) -> Iterator[float]:
    """Yield limits tighter than a looser one at which the price may be the same, tightest first."""
    if not alone:
        yield asked_um
    kind = next(kind for kind in KINDS if kind.field == name)
    usual_um = kind.rounded(shop.rates.minutes.inspection_usual_um, shop.part.drawing_unit)
    if name == "tolerance_um" and asked_um < usual_um < looser_um:
        yield usual_um


def _is_as_good(one: Offer, other: Offer) -> bool:
    """Return whether an offer costs no more at any quantity, with no more refusals."""
    return one.refusals <= other.refusals and all(
        mine <= theirs for (_, mine), (_, theirs) in zip(one.each_at, other.each_at, strict=True)
    )
