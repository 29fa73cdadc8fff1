"""What is wrong with a drawing, in the words of the customer and with what would help him."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Final

from kerfwright.adapters.papers.words import Units, in_unit, runs
from kerfwright.app.papers.quote import OTHER_REFUSAL, CustomerRemark
from kerfwright.app.papers.same_remarks import THESE
from kerfwright.foundation.directed import Use
from kerfwright.process.held import two_digits_up

_LEFT_OUT: Final = {
    "line-type-left-out": "What is drawn as an axis or a hidden edge",
    "hidden-layer-left-out": "What is on layers that are switched off or not plotted",
    "invisible-left-out": "What is marked invisible",
    "kind-not-read": "Something of a kind that we do not read",
}
"""What the reader left out, without the kinds of entities that it counts for the shop."""
_SENTENCE: Final = re.compile(r"(?<=\.)\s+(?=[A-Z])")
_OPTION: Final = re.compile(r"(?<!\S)--[a-z]")


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """A remark in words.

    Attributes
    ----------
    problem, remedy : str
    """

    problem: str
    remedy: str


def without_options(text: str) -> str:
    """Return a remedy without the sentences that speak of options of a program.

    >>> without_options("Close it. Ways that end in nothing are left out with --role 'A: aside'.")
    'Close it.'
    """
    return " ".join(one for one in _SENTENCE.split(text) if not _OPTION.search(one))


def said(remark: CustomerRemark, units: Units) -> Said:
    """Return a remark in words, lengths in the unit of the paper."""
    if remark.message:
        place = ""
        if remark.at_mm is not None:
            x, y = (units.place(v) for v in remark.at_mm)
            place = f" (near X {x} Y {y} {units.name})"
        if remark.code in _LEFT_OUT:
            remedy = "Please tell us if it bounds your part."
            return Said(problem=f"{_LEFT_OUT[remark.code]}{place} is not cut.", remedy=remedy)
        these = runs(remark.contour_ids)
        problem = in_unit(remark.message, units).rstrip(".") + place + "."
        remedy = in_unit(without_options(remark.remedy), units)
        return Said(problem=problem.replace(THESE, these), remedy=remedy.replace(THESE, these))
    where = runs(remark.contour_ids) or "The part"
    d = remark.data
    if remark.code.endswith("-beyond-process"):
        beyond = _beyond(remark.code.removesuffix("-beyond-process"), d, units)
        if not remark.contour_ids:
            return beyond
        return replace(beyond, problem=f"{where}: {beyond.problem[0].lower()}{beyond.problem[1:]}")
    if remark.code.endswith("-may-be-missed"):
        return _at_the_edge(remark.code.removesuffix("-may-be-missed"), where, d, units)
    if remark.code.endswith("-beyond-machine"):
        return _too_large(remark.code.removesuffix("-beyond-machine"), d, units)
    return _of_the_part(remark.code, where, d, units)


def _of_the_part(code: str, where: str, d: Mapping[str, float], units: Units) -> Said:
    def size(name: str) -> str:
        return units.size(round(d.get(name, 0.0), 3))

    match code:
        case "inside-radius-too-small":
            count = int(d.get("corners", 1))
            what = "1 inside corner comes" if count == 1 else f"{count} inside corners come"
            return Said(
                problem=f"{where}: {what} out with a radius of {size('limit_mm')}; up to "
                f"{size('left_mm')} of material stays in the corner.",
                remedy=f"Allow R {size('limit_mm')} or more in inside corners, or a relief there.",
            )
        case "slot-below-kerf" | "slot-not-roughed":
            return Said(
                problem=f"{where}: narrower than the {size('needed_mm')} that we can cut to this "
                "finish.",
                remedy=f"More than {size('needed_mm')}, or a coarser finish there.",
            )
        case "walls-closer-than-kerf":
            return Said(
                problem=f"{where}: walls lie too close to be cut apart.",
                remedy="More distance between the contours.",
            )
        case "thin-web":
            return Said(
                problem=f"{where}: a wall of about {size('width_mm')} may bend or break.",
                remedy=f"More than {size('limit_mm')} there.",
            )
        case "start-hole-fits-nowhere":
            return Said(
                problem=f"{where}: no room to begin the cut inside.",
                remedy=f"A free circle of {size('needed_mm')}, or a hole of your own.",
            )
        case "loose-piece-between-contours":
            return Said(
                problem=f"{where}: a sliver between contours would come loose.",
                remedy=f"More than {size('apart_mm')} between the contours.",
            )
        case "frame-too-thin":
            return Said(
                problem=f"{where}: too little stock around it to hold it.",
                remedy=f"At least {size('needed_mm')} of stock on every side.",
            )
        case "given-start-crosses-wall":
            return Said(
                problem=f"{where}: a start hole of the drawing cuts into the finished wall.",
                remedy="Move it or make it smaller.",
            )
        case "poorly-conducting-material":
            return Said(
                problem="How well the material conducts depends on its grade.",
                remedy="Tell us the grade, or send a piece for a trial cut.",
            )
    assert code == OTHER_REFUSAL, f"no words for the customer about {code}"
    return Said(
        problem=f"{where}: cannot be cut as drawn.", remedy="Please ask us; we look for a way."
    )


def _beyond(what: str, d: Mapping[str, float], units: Units) -> Said:
    asked, best = d.get("asked_um", 0.0), d.get("best_um", 0.0)
    if what == "finish":
        shown = [f"Ra {units.roughness(v)} {units.ra_name}" for v in (asked, best)]
        return Said(
            problem=f"A finish of {shown[0]} is beyond us.", remedy=f"{shown[1]} is our best."
        )
    sign = "±" if what == "tolerance" else ""
    shown = [sign + units.zone(v, use) for v, use in ((asked, Use.ASKED), (best, Use.HELD))]
    name = "tolerance" if what == "tolerance" else "recast layer"
    return Said(problem=f"A {name} of {shown[0]} is beyond us.", remedy=f"{shown[1]} is our best.")


def _at_the_edge(what: str, where: str, d: Mapping[str, float], units: Units) -> Said:
    """Say that a limit is not promised; what is, where that is known."""
    of_part = "" if where == "The part" else f"{where}: "
    asked, held = d.get("asked_um", 0.0), two_digits_up(d["high_um"]) if "high_um" in d else None
    if what == "finish":
        shown = [f"Ra {units.roughness(v)} {units.ra_name}" for v in (asked, held or asked)]
    else:
        sign = "±" if what == "tolerance" else ""
        limits = ((asked, Use.ASKED), (held or asked, Use.HELD))
        shown = [sign + units.zone(v, use) for v, use in limits]
    name = "recast layer" if what == "recast" else what
    problem = (
        f"{of_part}a {name} of {shown[0]} is at the edge of what we hold; we do not promise it."
    )
    remedy = "A first piece, measured and agreed, decides"
    return Said(
        problem=problem[0].upper() + problem[1:],
        remedy=f"{remedy}; {shown[1]} we promise." if held else f"{remedy}.",
    )


def _too_large(what: str, d: Mapping[str, float], units: Units) -> Said:
    if what == "weight":
        value, limit = units.mass(d.get("value_kg", 0.0)), units.mass(d.get("limit_kg", 0.0))
    else:
        value, limit = units.size(d.get("value_mm", 0.0)), units.size(d.get("limit_mm", 0.0))
    name = {"height": "high", "travel": "long", "weight": "heavy"}.get(what, "large")
    return Said(
        problem=f"The work is too {name} for us: {value}.", remedy=f"Up to {limit} we can take it."
    )
