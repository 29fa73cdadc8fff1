"""What each pass hurts of the wall, and how much of it the passes after it take away."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, TypedDict

from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.foundation.ranges import Z_10_90, Range
from kerfwright.foundation.sources import Reason, Shares
from kerfwright.foundation.spread import Law, Uncertain, of_sum
from kerfwright.foundation.units import both, both_roughness
from kerfwright.process.spark_law import SurfaceLaw
from kerfwright.process.technology import Pass, StockBy

_NOTHING_UM: Final = 0.05
"""Less than this of a layer is not spoken of: a tenth of the thinnest recast in the tables."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HurtLayer:
    """What one pass hurts and what the later ones leave of it.

    Attributes
    ----------
    pass_number : int
    hurt_um : float
        Recast layer and peaks of this pass: what has to go before sound metal is the wall.
    next_stock_um : float or None
        What the next pass takes; None after the last pass.
    left_by_next_um : float
        Part of it that the next pass leaves; all of it after the last pass.
    left_at_end_um : float
        Part of it that stands when all passes are done.
    reasons : tuple of Reason
    """

    pass_number: int
    hurt_um: float
    next_stock_um: float | None
    left_by_next_um: float
    left_at_end_um: float
    reasons: tuple[Reason, ...]


def hurt_um(one: Pass, *, law: SurfaceLaw) -> float:
    """Return the layer that a pass hurts, µm: ``h = recast + p Ra``.

    Parameters
    ----------
    one : Pass
    law : SurfaceLaw
        Gives the height p of the peaks over Ra.
    """
    return one.recast_um + law.peak_per_ra * one.ra_um


def hurt_layers(passes: Sequence[Pass], *, law: SurfaceLaw) -> tuple[HurtLayer, ...]:
    """Return the hurt layer of each pass: ``h = recast + p Ra``, less the stock taken later.

    Parameters
    ----------
    passes : sequence of Pass
        Those that will be cut, in order.
    law : SurfaceLaw
        Gives the height p of the peaks over Ra.

    Notes
    -----
    Stock is counted from the peaks down, which is on the safe side: counted from the mean line,
    the skims of the shipped table in steel would take all of the recast before them.

    References
    ----------
    Figures: the pass table and the factors of the material (common practice, no source).
    """
    return tuple(_layer(passes, k, law) for k in range(len(passes)))


def _layer(passes: Sequence[Pass], k: int, law: SurfaceLaw) -> HurtLayer:
    this, later = passes[k], passes[k + 1 :]
    hurt = hurt_um(this, law=law)
    after_next = max(0.0, hurt - later[0].stock_um) if later else hurt
    at_end = max(0.0, hurt - sum(p.stock_um for p in later))
    sure = _left(this, (), law)
    by_next, by_all = (_left(this, taken, law) for taken in (later[:1], later))
    reasons = (
        Reason(
            quantity="hurt_um",
            value=hurt,
            formula="h = recast + p Ra",
            inputs=(
                ("recast_um", this.recast_um),
                ("p", law.peak_per_ra),
                ("Ra_um", this.ra_um),
            ),
            source=law.sources["peak_per_ra"],
            **sure,
        ),
        Reason(
            quantity="left_by_next_um",
            value=after_next,
            formula="max(0, h - stock of the next pass)" if later else "h: no pass comes after",
            inputs=(("h_um", hurt), *((f"stock_{p.number}_um", p.stock_um) for p in later[:1])),
            source=law.sources["peak_per_ra"],
            **by_next,
        ),
        Reason(
            quantity="left_at_end_um",
            value=at_end,
            formula="max(0, h - sum of the stock of later passes)",
            inputs=(("h_um", hurt), *((f"stock_{p.number}_um", p.stock_um) for p in later)),
            source=law.sources["peak_per_ra"],
            **by_all,
        ),
        *(
            Reason(
                quantity="next_stock_um",
                value=p.stock_um,
                formula="stock of the next pass",
                inputs=(("pass", float(p.number)),),
                source=law.sources["peak_per_ra"],
                range=p.stock_range_um,
                shares=((f"stock of pass {p.number}", 1.0),) if p.stock_sigma_um else (),
            )
            for p in later[:1]
        ),
    )
    return HurtLayer(
        pass_number=this.number,
        hurt_um=hurt,
        next_stock_um=later[0].stock_um if later else None,
        left_by_next_um=after_next,
        left_at_end_um=at_end,
        reasons=reasons,
    )


class _Sure(TypedDict):
    range: Range
    shares: Shares


def _left(this: Pass, later: Sequence[Pass], law: SurfaceLaw) -> _Sure:
    """Return range and shares of what later passes leave of a pass's hurt layer.

    The ends of what is below nought are nought: order is kept, so that quantiles stay quantiles.
    """
    stock = [
        Uncertain(
            name=f"stock of pass {p.number}",
            value=p.stock_um,
            sigma=(p.stock_range_um.high - p.stock_range_um.low) / (2 * Z_10_90),
            law=Law.NORMAL,
        )
        for p in later
    ]
    found = of_sum(
        lambda recast_um, ra_um, *taken: recast_um + law.peak_per_ra * ra_um - sum(taken),
        (
            Uncertain(name="recast", value=this.recast_um, sigma=this.recast_sigma_log),
            Uncertain(name="roughness", value=this.ra_um, sigma=this.ra_sigma_log),
            *stock,
        ),
    )
    low, likely, high = (max(0.0, end) for end in (found.range.low, found.value, found.range.high))
    shares = found.shares if low < high else ()
    return {"range": Range(low=low, likely=likely, high=high), "shares": shares}


def recast_left_um(passes: Sequence[Pass], *, law: SurfaceLaw) -> float:
    """Return the recast on the finished wall: that of the last pass, or what older ones left.

    ``max(recast of the last, min(recast_k, h_k - stock taken after k))`` over the passes k.

    Parameters
    ----------
    passes : sequence of Pass
    law : SurfaceLaw
    """
    layers = hurt_layers(passes, law=law)
    older = [
        min(p.recast_um, layer.left_at_end_um) for p, layer in zip(passes, layers, strict=True)
    ]
    return max(passes[-1].recast_um, *older)


def ra_left_um(passes: Sequence[Pass], *, law: SurfaceLaw) -> float:
    """Return the roughness of the finished wall: that of the last pass, or peaks that still stand.

    ``max(Ra of the last, Ra_k (1 - stock taken after k / (p Ra_k)))`` over the passes k: of a pass
    whose peaks the later ones took in part, that part of its roughness stands.

    Parameters
    ----------
    passes : sequence of Pass
    law : SurfaceLaw

    Notes
    -----
    That what stands of a cut-down profile has its share of the roughness is taken here, not
    measured; where the stock of the skims exceeds the peaks before them it plays no part.
    """
    left, taken = passes[-1].ra_um, 0.0
    for k in range(len(passes) - 2, -1, -1):
        taken += passes[k + 1].stock_um
        left = max(left, passes[k].ra_um - taken / law.peak_per_ra)
    return left


def layer_findings(
    passes: Sequence[Pass],
    *,
    law: SurfaceLaw,
    max_recast_um: float | None,
    ra_um: float | None = None,
    stock_by: StockBy = StockBy.HURT_LAYER,
) -> list[Finding]:
    """Return a warning where something is limited and what an earlier pass hurt stands at the end.

    With the table's stock it is a note: that is planned under a limit on recast only where what
    stands keeps it, as surely as asked.

    Without a limit nobody asked: the layers stand among the states of the wire.

    Parameters
    ----------
    passes : sequence of Pass
    law : SurfaceLaw
    max_recast_um : float or None
        The limit on recast that the drawing gives.
    ra_um : float or None
        The finish that it gives: old peaks count against it.
    stock_by : StockBy
        What set the stock of the skims.
    """
    found = []
    if max_recast_um is not None:
        found += _old_layers(passes, law, max_recast_um, stock_by)
    stands_um = ra_left_um(passes, law=law)
    if ra_um is not None and stands_um > passes[-1].ra_um + _NOTHING_UM:
        found.append(_old_peaks(passes, stands_um, law))
    return found


def _old_layers(
    passes: Sequence[Pass], law: SurfaceLaw, max_recast_um: float, stock_by: StockBy
) -> list[Finding]:
    layers = hurt_layers(passes, law=law)
    stands = [one for one in layers[:-1] if one.left_at_end_um > _NOTHING_UM]
    left = recast_left_um(passes, law=law)
    if not stands:
        return []
    by_table = stock_by is StockBy.TABLE
    said = "; ".join(_stands(one, at_most="" if by_table else " at most") for one in stands)
    worst = max(one.left_at_end_um for one in stands)
    return [
        Finding(
            code="skim-leaves-hurt-layer",
            severity=Severity.NOTE if by_table else Severity.WARNING,
            message=f"{'By the pass table' if by_table else 'By pass table and energy'} {said}. "
            f"About {both(left)} of recast is left in all"
            + (f", within the {both(max_recast_um)} allowed." if by_table else "."),
            where=Place(pass_number=stands[-1].pass_number + 1),
            remedy="If no old layer at all may stand, ask for less recast."
            if by_table
            else "Have the first piece sectioned; if old recast shows, put a pass of an energy "
            "between the two in passes.toml.",
            data={"left_um": worst, "recast_left_um": left},
        )
    ]


def _stands(one: HurtLayer, *, at_most: str) -> str:
    rest = (
        ""
        if one.left_by_next_um == one.left_at_end_um
        else f", {both(one.left_at_end_um)} stand at the end"
    )
    return (
        f"pass {one.pass_number} hurts {both(one.hurt_um)} (recast and peaks), skim "
        f"{one.pass_number + 1} takes {both(one.next_stock_um or 0.0)}{at_most} and leaves "
        f"{both(one.left_by_next_um)}{rest}"
    )


def _old_peaks(passes: Sequence[Pass], stands_um: float, law: SurfaceLaw) -> Finding:
    last = passes[-1]
    return Finding(
        code="skim-leaves-old-peaks",
        severity=Severity.WARNING,
        message=(
            f"The skims up to pass {last.number} take less than the peaks of the passes before, "
            f"{law.peak_per_ra:g} times their Ra: {both_roughness(stands_um)} stands, not the "
            f"{both_roughness(last.ra_um)} of pass {last.number}."
        ),
        where=Place(pass_number=last.number),
        remedy="Give the skims more stock in passes.toml, or measure the first piece.",
        data={"ra_left_um": stands_um, "ra_um": last.ra_um},
    )
