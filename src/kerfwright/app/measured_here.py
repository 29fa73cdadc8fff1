"""Wires of which nothing was measured here, beside one of which something was."""

from __future__ import annotations

from collections.abc import Sequence

from kerfwright.app.demand_kinds import wire_text
from kerfwright.app.offers import Priced
from kerfwright.foundation.sources import SourceTag
from kerfwright.process.technology import Pass, RoughLaw, read_curve
from kerfwright.trade.material import Wire

_LEAST_SHARE = 0.005
"""A feed that differs by less is that of the tables: in whole percent it reads 0."""


def not_measured(base: Priced, other: Priced) -> str:
    """Say that a wire's figures are shipped ones, where those of the wire in use are measured.

    Cuts that were slower than the tables make every wire without cuts look better than it may be,
    and quicker ones make it look worse.

    Parameters
    ----------
    base : Priced
        The job as asked.
    other : Priced
        The same with another wire, perhaps.

    Returns
    -------
    str
        Empty where both are measured, or neither, or it is the same wire.
    """
    used, wire = base.plan.choice.wire, other.plan.choice.wire
    known = _measured(base.plan.passes)
    if wire == used or known is None or _measured(other.plan.passes) is not None:
        return ""
    ours, theirs = wire_text(used), wire_text(wire)
    learned = other.plan.passes[0].learned
    moved = learned is not None and abs(learned.feed_factor - 1) >= _LEAST_SHARE
    shipped = "shipped, moved by what other cuts teach" if moved else "shipped"
    share = known - 1
    if abs(share) < _LEAST_SHARE:
        run = "ran as shipped"
    else:
        run = f"ran {abs(share):.0%} {'quicker' if share > 0 else 'slower'} than shipped"
    return (
        f"Figures for wire of {theirs} are {shipped}, not measured here; yours with {ours} {run}."
    )


def is_known(wire: Wire, passes: Sequence[Pass], *, law: RoughLaw) -> bool:
    """Return whether the rate of a wire is somebody's measurement.

    The shop's, by a record with just this wire, or a factor of its own; or a publication's, of the
    kind of wire, where its diameter takes no factor of common practice.

    Parameters
    ----------
    wire : Wire
    passes : sequence of Pass
        With this wire.
    law : RoughLaw
    """
    if _measured(passes) is not None:
        return True
    tag = wire.sources["rate_factor"].tag
    return tag is SourceTag.SHOP or (
        tag is not SourceTag.COMMON_PRACTICE and read_curve(law.fine_wire, wire.diameter_mm) >= 1
    )


def _measured(passes: Sequence[Pass]) -> float | None:
    """Return the factor on the feed of the first measured pass; None where none is."""
    for one in passes:
        if one.learned is not None and one.learned.records > 0:
            return one.learned.feed_factor
    return None
