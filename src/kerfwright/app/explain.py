"""Why every number of a job has its value; built when somebody asks."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from difflib import get_close_matches
from typing import Final

from kerfwright.app.contour_costs import contour_cost_answers, pieces_per_cut
from kerfwright.app.further_passes import IF_CUT
from kerfwright.app.records import JobResult
from kerfwright.app.sheets import groups_of
from kerfwright.app.shown_answers import job_answers, proof_answers
from kerfwright.app.stack_lines import price_stack_answers, stack_answers
from kerfwright.app.strip import strip_of
from kerfwright.app.strip_answers import strip_answers
from kerfwright.app.table_shares import shares_of_work, split_feeds
from kerfwright.costing.coreless import coreless_answers
from kerfwright.costing.estimate_answers import estimate_answers
from kerfwright.costing.rates import RateTable
from kerfwright.costing.times import job_times
from kerfwright.foundation.answers import Answer, index_of, matching, unmatched, words_of
from kerfwright.foundation.errors import UnknownNameError
from kerfwright.foundation.sources import Reason, Shares, Source, SourceTag
from kerfwright.planning.plan_answers import plan_answers
from kerfwright.process.feed_beyond import feed_unsure
from kerfwright.process.technology import Technology
from kerfwright.process.wire_physics import WirePhysics
from kerfwright.proof.slack import last_digit_mm, proof_tolerance_um
from kerfwright.wirepath.feed_answers import feed_answers

_MOST_NEAR: Final = 3
_MOST_TITLES: Final = 6
_LINE: Final = 96
"""Letters in a line of the index; a terminal has 80 to 120."""


def answers_of(
    result: JobResult,
    *,
    technology: Technology,
    rates: RateTable,
    physics: WirePhysics,
    feed_shares: Shares,
) -> tuple[Answer, ...]:
    """Return every number of a job with formula, inputs, source, range and shares.

    Parameters
    ----------
    result : JobResult
    technology : Technology
        The tables it was computed with, as are the next two.
    rates : RateTable
    physics : WirePhysics
    feed_shares : Shares
        Share of the variance of a feed by input in routine work, where the shop's cuts do not say
        it.
    """
    plan, path = result.plan, result.path
    found = plan_answers(plan, technology=technology, physics=physics)
    found += tuple(job_answers(result, technology))
    if path is not None:
        strip = strip_of(plan, path, minutes=rates.minutes)
        times = job_times(plan, path, rates=rates)
        found += tuple(strip_answers(strip, times))
        if result.estimate is not None:
            found += tuple(
                contour_cost_answers(
                    strip,
                    times,
                    estimate=result.estimate,
                    rates=rates,
                    pieces=pieces_per_cut(plan.requirement),
                )
            )
    if result.claim is not None:
        found += (_proof_answer(result),)
        program = result.program or result.withheld_program
        if result.proof is not None and program is not None:
            tolerance_um = result.claim.tolerance_um
            found += tuple(proof_answers(result.proof, tolerance_um=tolerance_um, program=program))
    found += tuple(stack_answers(plan.requirement, groups_of(plan, technology, physics)))
    if path is not None:
        found += feed_answers(plan, path, physics=physics)
        if result.estimate is not None:
            found += estimate_answers(result.estimate, plan, path, rates=rates)
            found += tuple(coreless_answers(plan, path, rates=rates))
    if result.estimate is not None:
        found += tuple(price_stack_answers(result.estimate.prices, plan.requirement))
    for one in result.others:
        found += _of_other_stack(one, rates)
    if any(one.learned is not None for one in plan.passes):
        return found
    asked = plan.requirement
    unsure = [
        feed_unsure(
            is_rough=one.is_rough,
            material=asked.material,
            height_mm=asked.height_mm,
            wire=plan.choice.wire,
            technology=technology,
        )
        for one in plan.passes
    ]
    return tuple(split_feeds(found, shares_of_work(feed_shares, unsure) if unsure else feed_shares))


def _of_other_stack(one: JobResult, rates: RateTable) -> tuple[Answer, ...]:
    """Return why quantities cost what they do that are cut in stacks of another number."""
    if one.estimate is None or one.path is None:
        return ()
    every = estimate_answers(one.estimate, one.plan, one.path, rates=rates)
    return tuple(a for a in every if a.about.startswith("price for "))


def asked_for(answers: tuple[Answer, ...], asked: str) -> tuple[Answer, ...]:
    """Return the answers to what a person asks: of passes that are cut, where there are some.

    Raises
    ------
    UnknownNameError
        Code ``nothing-to-explain``; its remedy lists what can be asked.
    """
    found = matching(answers, asked) or matching(answers, _plainer(answers, asked))
    if not found:
        strange = unmatched(answers, asked)
        rest = " ".join(word for word in words_of(asked) if word not in strange)
        # What the other words lead to is near to what was meant; the whole index is long.
        near = matching(answers, rest) if rest else ()
        verb = "match" if len(strange) > 1 else "matches"
        without = f"; {', '.join(map(repr, strange))} {verb} nothing" if strange else ""
        raise UnknownNameError(
            f"no number here is called {asked!r}{without}",
            code="nothing-to-explain",
            remedy="Ask for one or more of these words:\n" + listing(near)
            if near
            else _nearest(answers, asked, strange),
        )
    return tuple(one for one in found if not one.name.endswith(IF_CUT)) or found


_OF_WHAT_IF: Final = ("front", "saving", "savings", "way", "alternative", "alternatives")
"""Words that begin what only a what-if has numbers of."""


def asks_what_if(answers: tuple[Answer, ...], asked: str) -> bool:
    """Return whether a person asks for numbers that only a what-if has, which takes a while.

    Parameters
    ----------
    answers : tuple of Answer
        Those that are there without it.
    asked : str
    """
    words = words_of(asked)
    if "what" in words and "if" in words:
        return True
    return any(word in words for word in _OF_WHAT_IF) and not matching(answers, asked)


_SPOKEN: Final = {
    "roughing": "rough", "speed": "feed", "rate": "feed", "cost": "price", "costs": "price",
    "minutes": "time", "hours": "time", "duration": "time", "thickness": "height",
    "accuracy": "tolerance", "temperature": "hottest", "energy": "energy", "skimming": "skim",
    "trim": "skim", "surface": "roughness", "breakage": "breaks", "weight": "mass",
}  # fmt: skip
"""Words that people say, and the word that a number here has in its name."""
_CONTOURS: Final = frozenset({"contour", "contours", "hole", "holes", "opening", "outline", "part"})
"""Kinds of a contour, asked for without its name."""

_UNITS: Final = frozenset({"µm", "μm", "um", "mm", "min", "mil", "µin", "uin"})
"""Units in the heads of tables: asked for with a number's name, they are no part of it."""


def _plainer(answers: Sequence[Answer], asked: str) -> str:
    """Return what was asked in the words of the index; without a contour's kind, for any of them.

    Words that are known as they are stay.
    """
    strange = unmatched(answers, asked)
    words = (
        _SPOKEN.get(w, w) if w in strange or w in _SPOKEN else w
        for w in words_of(asked)
        if not (w in strange and w in _CONTOURS) and w not in _UNITS
    )
    return " ".join(words)


def _nearest(answers: Sequence[Answer], asked: str, strange: Sequence[str]) -> str:
    """Return the numbers that have most of the words asked for, or else the nearest words."""
    if strange:
        return _nearest_words(tuple(answers), strange)
    wanted = set(words_of(_plainer(answers, asked)))
    ranked = sorted(answers, key=lambda a: -len(wanted & set(words_of(f"{a.title} {a.also}"))))
    titles = dict.fromkeys(a.title for a in ranked)
    return "No number has them all. Nearest: " + ", ".join(list(titles)[:_MOST_TITLES])


def _nearest_words(answers: tuple[Answer, ...], strange: Sequence[str]) -> str:
    """Return the words of the index that are spelled nearest, and where the whole of it is."""
    every = sorted({word for a in answers for word in words_of(a.title)})
    close = dict.fromkeys(
        near for word in strange for near in get_close_matches(word, every, n=_MOST_NEAR)
    )
    whole = "`kerfwright why JOB` without words lists all that can be asked."
    return f"Nearest: {', '.join(close)}. {whole}" if close else whole


def listing(answers: tuple[Answer, ...]) -> str:
    """Return what can be asked for, subject by subject, in lines of a readable length."""
    return "\n".join(
        textwrap.fill(
            f"{subject}: {', '.join(names)}",
            width=_LINE,
            initial_indent=" " * 4,
            subsequent_indent=" " * 8,
        )
        for subject, names in index_of(answers)
    )


def _proof_answer(result: JobResult) -> Answer:
    machine = result.requirement.machine
    return Answer(
        about="proof",
        name="tolerance",
        path="plan/proof_tolerance_um",
        reason=Reason(
            quantity="proof_tolerance_um",
            value=proof_tolerance_um(machine),
            formula="0.1 um for everything but digits, and 1.71 digits of the program (2.21 where "
            "the control applies the offset)",
            inputs=(("last_digit_mm", last_digit_mm(machine)),),
            source=Source(tag=SourceTag.COMPUTED),
        ),
    )
