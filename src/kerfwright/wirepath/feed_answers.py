"""Why the feed is taken back at corners and arcs, pass by pass; built when asked."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, TypedDict

import numpy as np

from kerfwright.foundation.answers import Answer
from kerfwright.foundation.places import place_words
from kerfwright.foundation.sources import Reason, Source, SourceTag
from kerfwright.geometry.nearest import NearestIndex, project
from kerfwright.geometry.segments import Floats
from kerfwright.motion.moves import CutKind, Moves, Purpose, WirePath
from kerfwright.planning.plan import ContourPlan, Plan
from kerfwright.process.feed_advice import FeedLimit, borne_um
from kerfwright.process.technology import Pass
from kerfwright.process.wire_physics import WirePhysics
from kerfwright.wirepath.trailing import limits_of

_COMPUTED: Final = Source(tag=SourceTag.COMPUTED)
_SLOWED: Final = (Purpose.WALL, Purpose.CORNER, Purpose.OVERLAP, Purpose.CUT_OFF)
_IS_SLOWED: Final = np.array([purpose in _SLOWED for purpose in range(max(Purpose) + 1)])
"""By the number of a purpose."""
_ROUNDING: Final = 1e-9
"""Quotients of equal feeds differ by less."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Slowest:
    """The least feed factor of a pass and where it is."""

    factor: float
    place: str


def feed_answers(plan: Plan, path: WirePath, *, physics: WirePhysics) -> tuple[Answer, ...]:
    """Return lag allowed and least feed factor of each pass with their reasons.

    Parameters
    ----------
    plan : Plan
    path : WirePath
        Drawn with the same constants.
    physics : WirePhysics
    """
    limits, slowest = limits_of(plan, physics=physics), _slowest(plan, path)
    found = []
    for k, one in enumerate(plan.passes):
        limit = limits[one.number]
        allowance = Reason(
            quantity="corner_allowance_um",
            value=limit.allowed_um,
            **_borne(one, plan.passes[k + 1 :], physics),
            source=physics.feeds.sources["tolerance_share"],
        )
        least = _least(limit, slowest.get(one.number))
        for name, reason in (
            ("corner allowance", allowance),
            ("corner slow-down least feed factor", least),
        ):
            found.append(Answer(about=f"pass {one.number}", name=name, path="", reason=reason))
    return tuple(found)


class _Borne(TypedDict):
    formula: str
    inputs: tuple[tuple[str, float], ...]


def _borne(one: Pass, later: Sequence[Pass], physics: WirePhysics) -> _Borne:
    """Return by what the corner allowance of a pass is reckoned, for its reason."""
    share = ("share", physics.feeds.tolerance_share)
    itself_um = one.tolerance_um / one.undercut_factor
    if borne_um(one, later) == itself_um:
        return _Borne(
            formula="share x tolerance held by the pass",
            inputs=(share, ("tolerance_um", itself_um)),
        )
    return _Borne(
        formula="share x min(tolerance held by the pass, max(stock of later passes, tolerance with "
        "guides close)): the stock is all that later passes can set right",
        inputs=(
            share,
            ("tolerance_um", itself_um),
            ("stock_of_later_passes_um", sum(p.stock_um for p in later)),
            ("tolerance_close_um", itself_um / one.guides_factor),
        ),
    )


def _least(limit: FeedLimit, slowest: _Slowest | None) -> Reason:
    """Return why a pass is slowed as far as it is at its worst corner, or is not."""
    lag = ("lag_um", limit.lag_um), ("allowance_um", limit.allowed_um)
    if slowest is None:
        return Reason(
            quantity="least_feed_factor",
            value=1.0,
            formula="no corner or arc of this path needs it: at each of them the likely lag leaves "
            "no more than the allowance",
            inputs=lag,
            source=_COMPUTED,
        )
    return Reason(
        quantity="least_feed_factor",
        value=slowest.factor,
        formula="the least found, slow entries included; at corners and arcs (largest lag allowed "
        "there / lag)^(1/n), in steps, not below the least; with the likely lag",
        inputs=(
            ("at", slowest.place),
            *lag,
            ("n", limit.feed_exponent),
            ("step", limit.rules.factor_step),
            ("least", limit.rules.least_factor),
        ),
        source=_COMPUTED,
    )


def _slowest(plan: Plan, path: WirePath) -> dict[int, _Slowest]:
    """Return the least feed along the wall over the usual one there, by pass; none if none is less.

    Beside the edge of the stock a rough pass is usual at the feed that it has there.
    """
    contours = {c.target.id: c for c in plan.walls}
    usual = {(c.target.id, p.number): p.feed_mm_per_min for c in plan.walls for p in c.passes}
    found: dict[int, _Slowest] = {}
    for cut in path.cuts:
        is_slowed = _IS_SLOWED[cut.moves.purpose]
        if not is_slowed.any():
            continue
        derated: Floats | float = 1.0
        if cut.kind is not CutKind.SKIM:
            derated = _derated(contours[cut.contour_id], cut.moves)
        factors = np.where(is_slowed, cut.moves.feed_mm_per_min, np.inf) / (
            usual[cut.contour_id, cut.pass_number] * derated
        )
        worst = int(factors.argmin())
        factor = float(factors[worst])
        known = found.get(cut.pass_number)
        if factor < (1 - _ROUNDING if known is None else known.factor):
            x, y = cut.moves.end_mm[worst]
            found[cut.pass_number] = _Slowest(
                factor=factor, place=f"{cut.contour_id}, {place_words(x, y, decimals=3)}"
            )
    return found


def _derated(contour: ContourPlan, moves: Moves) -> Floats | float:
    """Return the factor of the water on the feed of each move of a rough cut."""
    state = contour.flushing
    if not state.beside:
        return state.along_factor
    loop = contour.loops[0].contour
    begin = np.vstack([moves.start_mm[None, :], moves.end_mm[:-1]])
    middle = (begin + moves.end_mm) / 2
    _, index = NearestIndex(loop.segments).query(middle)
    share = np.clip(project(loop.segments, index, middle), 0.0, 1.0)
    length = loop.segments.length
    station = (np.cumsum(length) - length)[index] + share * length[index]
    derated: Floats = contour.rough_feeds_at(station) / contour.passes[0].feed_mm_per_min
    return derated
