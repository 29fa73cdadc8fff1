"""Why the inside of an opening is cut away, and in what loops; built when asked."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from kerfwright.foundation.answers import Answer
from kerfwright.foundation.sources import Reason, Source, SourceTag
from kerfwright.planning.coreless_loops import Coreless, CorelessWhy
from kerfwright.planning.plan import ContourPlan, Plan

_COMPUTED: Final = Source(tag=SourceTag.COMPUTED)

_Inputs = tuple[tuple[str, float | str], ...]


def coreless_answers(plan: Plan, contour: ContourPlan) -> Iterator[Answer]:
    """Return the answers on the loops inside one opening; none where it keeps its slug.

    Parameters
    ----------
    plan : Plan
    contour : ContourPlan
    """
    one = contour.coreless
    if one is None:
        return
    for name, field, value, formula, inputs, source in (
        *_choice(plan, contour, one),
        *_loops(plan, one),
    ):
        yield Answer(
            about=contour.target.id,
            name=name,
            path=f"plan/coreless/{contour.target.id}/{field}",
            reason=Reason(
                quantity=field, value=value, formula=formula, inputs=inputs, source=source
            ),
        )


_LOOPS: Final = (
    "offsets of the rough path, each a pitch inside the one around it; nearer where a corner or a "
    "neck would keep metal, island by island, until nothing is left"
)
_FEED: Final = (
    "feed of a loop = rough feed x min(most, kerf / width in metal); not known is what the water "
    "that escapes into the open side costs"
)
_BY_HEIGHT: Final = (
    "coreless_width_above_mm",
    "the larger of the limit for the height and so many wire diameters",
)
_LIMITS: Final = {
    CorelessWhy.UNATTENDED: (
        "coreless_unattended_mm",
        "up to this width where nobody is to be there",
    ),
    CorelessWhy.PARTED: (
        "small_slug_mm",
        "below this width where start hole and kerf part the slug: its pieces are small",
    ),
}
_Row = tuple[str, str, float, str, _Inputs, Source]


def _choice(plan: Plan, contour: ContourPlan, one: Coreless) -> Iterator[_Row]:
    rules, wire = plan.rules, plan.choice.wire
    yield (
        "coreless slug width",
        "slug_width_mm",
        one.slug_width_mm,
        "diameter of the largest circle inside the rough path, less the kerf on both sides",
        (("kerf_mm", one.kerf_mm), ("slug_mm2", contour.slug.area_mm2)),
        _COMPUTED,
    )
    rule, formula = _LIMITS.get(one.why, _BY_HEIGHT)
    by_height: _Inputs = (
        ("height_mm", plan.height_mm),
        ("wires", rules.coreless_wires),
        ("d_mm", wire.diameter_mm),
    )
    yield (
        "coreless limit",
        "limit_mm",
        one.limit_mm,
        formula,
        (("why", one.why.value), *(() if one.why in _LIMITS else by_height)),
        rules.sources[rule],
    )


def _loops(plan: Plan, one: Coreless) -> Iterator[_Row]:
    rules = plan.rules
    pitch = (("pitch_mm", one.pitch_mm), ("kerf_mm", one.kerf_mm))
    yield (
        "coreless loops",
        "loops",
        float(one.loops.count),
        _LOOPS,
        pitch,
        _COMPUTED,
    )
    yield (
        "coreless loops length",
        "loops_mm",
        one.loops.length_mm,
        "sum of the loops, without the ways between them",
        pitch,
        _COMPUTED,
    )
    yield (
        "coreless kerf",
        "kerf_mm",
        one.kerf_mm,
        "d + 2 gap of the rough pass",
        (("d_mm", plan.choice.wire.diameter_mm), ("gap_um", plan.passes[0].gap_um)),
        _COMPUTED,
    )
    yield (
        "coreless pitch",
        "pitch_mm",
        one.pitch_mm,
        "kerf x (1 - overlap)",
        (("kerf_mm", one.kerf_mm), ("overlap", rules.coreless_overlap_share)),
        rules.sources["coreless_overlap_share"],
    )
    yield (
        "coreless overlap",
        "overlap_share",
        one.overlap_share,
        "share of the kerf by which loops overlap; in corners at least the least",
        (("least", rules.coreless_least_overlap_share),),
        rules.sources["coreless_overlap_share"],
    )
    yield (
        "coreless feed factor at most",
        "most_feed_factor",
        one.most_feed_factor,
        _FEED,
        (*pitch, ("spread, log", rules.coreless_feed_sigma_log)),
        rules.sources["coreless_feed_most"],
    )
    yield (
        "coreless least overlap",
        "least_overlap_share",
        rules.coreless_least_overlap_share,
        "every point inside is nearer to a loop than half the kerf less this share of it",
        (("kerf_mm", one.kerf_mm),),
        rules.sources["coreless_least_overlap_share"],
    )
