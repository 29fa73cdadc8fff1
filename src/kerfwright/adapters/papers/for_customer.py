"""Quote and inspection sheet as data for their templates: texts only, in one unit."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

from kerfwright.adapters.papers.customer_words import said
from kerfwright.adapters.papers.pictures import Picture
from kerfwright.adapters.papers.rules import PaperRules
from kerfwright.adapters.papers.words import (
    Units,
    in_unit,
    money,
    printable,
    runs,
    short_digest,
)
from kerfwright.adapters.papers.zone_words import zone_words
from kerfwright.app.papers.common import (
    ASKS_CLOSER,
    ASKS_OTHER,
    CONTRADICTED,
    NOT_PLANNED,
    Heading,
    OwnDemand,
)
from kerfwright.app.papers.inspection import Feature, FeatureKind, InspectionSheet
from kerfwright.app.papers.lands import LandFacts
from kerfwright.app.papers.quote import Asked, Quote
from kerfwright.app.papers.same_remarks import THESE, alike, ids_of
from kerfwright.foundation.counts import counted
from kerfwright.foundation.directed import Use
from kerfwright.foundation.findings import Finding
from kerfwright.process.hole_misses import of_holes

_KINDS = {
    FeatureKind.DIAMETER: "Ø",
    FeatureKind.ALONG_X: "X",
    FeatureKind.ALONG_Y: "Y",
    FeatureKind.RADIUS: "R",
}


def heading_shape(heading: Heading, units: Units) -> dict[str, Any]:
    """Return what identifies the job."""
    return {
        "drawing": printable(heading.drawing),
        "revision": printable(heading.revision),
        "customer": printable(heading.customer),
        "reference": printable(heading.reference),
        "due": printable(heading.due),
        "material": printable(heading.material),
        "height": units.size(heading.piece_mm),
        "digest": short_digest(heading.drawing_sha256),
    }


def picture_shape(picture: Picture) -> dict[str, Any]:
    """Return a drawing with its size and scale."""
    return {
        "svg": picture.svg,
        "width": picture.width_mm,
        "height": picture.height_mm,
        "scale": picture.scale,
        "left_out": picture.left_out,
        "caption": printable(picture.caption),
    }


def shop_shape(rules: PaperRules) -> dict[str, Any]:
    """Return the head of a paper that leaves the shop."""
    lines = [printable(line) for line in rules.shop_lines]
    return {"name": printable(rules.shop_name), "lines": lines}


def quote_shape(
    quote: Quote, *, units: Units, rules: PaperRules, picture: Picture
) -> Mapping[str, Any]:
    """Return the data of a quote.

    Parameters
    ----------
    quote : Quote
    units : Units
    rules : PaperRules
    picture : Picture
        The part alone.
    """
    words = [(remark, said(remark, units)) for remark in quote.remarks]
    return {
        "shop": shop_shape(rules),
        "heading": heading_shape(quote.heading, units),
        "number": printable(quote.number),
        "date": quote.made_on.isoformat(),
        "valid_until": quote.valid_until.isoformat(),
        "offered": quote.is_offered,
        "currency": printable(quote.currency),
        "lines": [
            {"quantity": str(x.quantity), "each": money(x.each), "total": money(x.total)}
            for x in quote.lines
        ],
        "stacked": "; ".join(f"{x.quantity}: {x.stacked}" for x in quote.lines if x.stacked),
        "asked": [list(row) for row in asked_rows(quote.asked, units)],
        "assumed": [
            *_assumed(quote),
            *(printable(s.problem) for remark, s in words if remark.code in ASSUMED),
        ],
        "not_included": printable(runs(quote.not_included)),
        "refusals": [
            {"problem": printable(s.problem), "remedy": printable(s.remedy)}
            for remark, s in words
            if remark.is_refusal
        ],
        "remarks": [
            {"problem": printable(s.problem), "remedy": printable(s.remedy)}
            for remark, s in words
            if not remark.is_refusal and remark.code not in ASSUMED
        ],
        "savings": [
            {
                "words": printable(in_unit(x.words, units)),
                "saved": money(x.saved_each),
                "each": money(x.each),
            }
            for x in quote.savings
        ],
        "savings_quantity": str(quote.lines[0].quantity) if quote.lines else "",
        "delivery": printable(rules.delivery),
        "terms": [printable(t) for t in rules.terms],
        "picture": picture_shape(picture),
    }


ASSUMED: Final = frozenset({ASKS_CLOSER, CONTRADICTED, *ASKS_OTHER, *NOT_PLANNED})
"""Where the drawing says one thing and another is quoted: what the price takes for granted."""


def asked_rows(asked: Asked, units: Units) -> list[tuple[str, str]]:
    """Return what is asked of the wall, line by line."""
    rows = []
    if asked.tolerance_um is not None:
        rows.append(("Tolerance", zone_words(asked.tolerance_said, asked.tolerance_um, units)))
    elif asked.usual_tolerance_um is not None:
        rows.append(
            ("Tolerance", f"none asked; usually ±{units.zone(asked.usual_tolerance_um, Use.HELD)}")
        )
    if asked.ra_um is not None:
        rows.append(("Finish", f"Ra {units.roughness(asked.ra_um)} {units.ra_name}"))
    elif asked.usual_ra_um is not None:
        shown = f"Ra {units.roughness(asked.usual_ra_um)} {units.ra_name}"
        rows.append(("Finish", f"none asked; usually {shown}"))
    if asked.recast_um is not None:
        rows.append(("Recast layer", f"at most {units.zone(asked.recast_um, Use.ASKED)}"))
    rows = [
        (name, f"{text}; not promised, see the remarks")
        if name.lower() in asked.not_promised
        else (name, text)
        for name, text in rows
    ]
    rows += [(runs(own.contour_ids), _demand(own, units)) for own in asked.own]
    return rows


def _demand(own: OwnDemand, units: Units) -> str:
    demand, words = own.demand, []
    if own.tolerance_said or demand.tolerance_um is not None:
        words.append(zone_words(own.tolerance_said, demand.tolerance_um or 0.0, units))
    if demand.ra_um is not None:
        words.append(f"Ra {units.roughness(demand.ra_um)} {units.ra_name}")
    if demand.max_recast_um is not None:
        words.append(f"recast at most {units.zone(demand.max_recast_um, Use.ASKED)}")
    return ", ".join(words)


def _assumed(quote: Quote) -> list[str]:
    """Return what the price takes for granted."""
    counts = []
    if quote.openings:
        counts.append(
            "1 opening, whose inside is waste"
            if quote.openings == 1
            else f"{quote.openings} openings, whose insides are waste"
        )
    if quote.outlines:
        counts.append(
            "1 outline, whose inside is your part"
            if quote.outlines == 1
            else f"{quote.outlines} outlines, whose insides are your parts"
        )
    lines = [f"Lengths in the drawing are {Units(unit=quote.heading.unit).long_name}."]
    if counts:
        lines.append(f"The drawing shows {', and '.join(counts)}.")
    lines.append("The walls stand square to the drawing, through the whole height.")
    if quote.drills_holes:
        lines.append("We drill the holes in which the cuts begin; they lie in the waste.")
    if quote.recast_miss is not None:
        # Nobody sees a layer on a whole piece: what "at most" stands for has to be said.
        lines.append(
            "The limit on the recast layer is promised as the process leaves it: by our figures "
            f"{of_holes(quote.recast_miss, one='piece')} may be beyond it. Only a polished section "
            "shows a layer; that of a test cut is by agreement and not in the price."
        )
    return lines


def inspection_shape(
    sheet: InspectionSheet,
    *,
    units: Units,
    rules: PaperRules,
    picture: Picture,
    small_picture: Picture | None = None,
) -> Mapping[str, Any]:
    """Return the data of an inspection sheet.

    Parameters
    ----------
    sheet : InspectionSheet
    units : Units
    rules : PaperRules
    picture : Picture
        The part with the names of its contours.
    small_picture : Picture or None
        The same, for a sheet that fits on one page with it.
    """
    asked = Asked(
        tolerance_um=sheet.tolerance_um,
        ra_um=sheet.ra_um,
        recast_um=sheet.recast_um,
        usual_tolerance_um=None,
        usual_ra_um=None,
        own=sheet.own,
        tolerance_said=sheet.tolerance_said,
    )
    notes = (
        _size_notes(sheet) + _radius_notes(sheet) + [_land_note(one, units) for one in sheet.lands]
    )
    notes += [_once(same, words, units) for (words, _), same in alike(sheet.contradictions).items()]
    if sheet.corner_radius_mm is not None:
        notes.append(
            "Inside corners drawn sharper come out with "
            f"R {units.size(round(sheet.corner_radius_mm, 3))}."
        )
    return {
        "shop": shop_shape(rules),
        "heading": heading_shape(sheet.heading, units),
        "unit": units.name,
        "withheld": sheet.is_withheld,
        "asked": [list(row) for row in asked_rows(asked, units)],
        "notes": [*_sample_note(sheet), *notes],
        "left_out": printable(runs(sheet.left_out)),
        "features": [_feature(f, units) for f in sheet.features],
        "picture": picture_shape(picture),
        "small_picture": None if small_picture is None else picture_shape(small_picture),
    }


def _once(same: Sequence[Finding], words: str, units: Units) -> str:
    """Return what several findings say alike, with all their contours."""
    ids = tuple(dict.fromkeys(name for one in same for name in ids_of(one)))
    return printable(in_unit(words, units).replace(THESE, runs(ids)))


def _land_note(one: LandFacts, units: Units) -> str:
    low, high = (units.size(z) for z in one.land_mm)
    below = "below" if one.land_mm[0] > 0 else "above"
    return printable(
        f"{one.first_id}: its sizes are those of the land, from {low} to {high} above the "
        f"underside; measure there. The relief {below} it leans by {one.angle_deg:.3f}° and lies "
        f"{units.size(round(one.opens_mm, 4))} behind the land at its far end, each wall."
    )


def _sample_note(sheet: InspectionSheet) -> list[str]:
    """Say which pieces of a stack are measured, or that all are."""
    if sheet.pieces == 1 or sheet.is_withheld:
        return []
    if not sheet.to_measure:
        return [f"Of each stack all {sheet.pieces} pieces are measured: a sheet for each."]
    which = ", ".join(map(str, sheet.to_measure))
    said = (
        f"Of the {sheet.pieces} pieces of a stack measure {len(sheet.to_measure)}, counted from "
        f"the top: {which}. A sheet for each. If one is bad, measure all; look over every one for "
        "burr, marks and bent edges."
    )
    return [said]


def _radius_notes(sheet: InspectionSheet) -> list[str]:
    """Say how a radius is measured, and which are not."""
    notes = []
    if any(f.measured.kind is FeatureKind.RADIUS for f in sheet.features):
        notes.append(
            "R is the distance of one wall from the drawn centre of its arc, so the tolerance of a "
            "wall is asked of it once. A radius fitted to a short arc alone reads several times as "
            "far off: set the centre from the drawing."
        )
    if sheet.short_arcs:
        arcs = counted(sum(sheet.short_arcs.values()), "arc")
        notes.append(
            f"Radii not measured: {arcs} of {printable(runs(tuple(sheet.short_arcs)))}, each less "
            "than a fifth of a circle, where a reading is off by five times what the wall is, or "
            "more. Compare them with the drawn line."
        )
    return notes


def _size_notes(sheet: InspectionSheet) -> list[str]:
    """Return which limits are which."""
    limited = [f.limits for f in sheet.features if f.limits is not None]
    if not limited:
        return ["No tolerance was asked: sizes are recorded, not judged."]
    notes = []
    if any(not one.words for one in limited):
        notes.append(
            "The tolerance is asked of each wall. A size lies between two walls, each of which may "
            "be off by it: its limits, marked “walls”, are twice as far from the nominal."
        )
    if any(one.words for one in limited):
        notes.append(
            "Limits marked with a fit, “asked” or “drawing” are those of the size itself; each of "
            "its two walls gets half of their zone."
        )
    if any(one.has_one_limit for one in limited):
        notes.append(
            "“max” and “min” are one limit that the drawing writes. The other end is what else "
            "holds for that size; where it is empty, nothing does."
        )
    off = [
        f
        for f in sheet.features
        if f.limits is not None
        and f.limits.middle_mm is not None
        and abs(f.limits.middle_mm - f.measured.nominal_mm) > _OFF_MM
    ]
    if off:
        names = printable(runs(tuple(f.measured.contour.id for f in off)))
        notes.append(
            f"{names}: the middle of the limits is not the drawn size. A wall cut to the drawn "
            "line lies off that middle, unless the drawing was moved to it."
        )
    if sheet.wider_than_asked_ids:
        names = printable(runs(sheet.wider_than_asked_ids))
        notes.append(
            f"{names}: the limits need a closer wall than was asked of us. Measure every piece."
        )
    return notes


_OFF_MM = 0.0005
"""Half a micrometre: no zone is written closer."""


def _feature(one: Feature, units: Units) -> list[str]:
    m, limits = one.measured, one.limits
    asked = "" if limits is None else limits.words or "walls"
    return [
        m.contour.id,
        m.contour.role.value,
        f"{m.places}× {_KINDS[m.kind]}" if m.places > 1 else _KINDS[m.kind],
        f"{units.place(m.x_mm)}  {units.place(m.y_mm)}",
        units.fine(m.nominal_mm),
        "" if limits is None or limits.low_mm is None else units.least(limits.low_mm),
        "" if limits is None or limits.high_mm is None else units.greatest(limits.high_mm),
        printable(asked),
    ]
