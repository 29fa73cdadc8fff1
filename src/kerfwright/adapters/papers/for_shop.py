"""Set-up sheet and hole sheet as data for their templates: texts only, in one unit."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, Final

from kerfwright.adapters.papers.for_customer import heading_shape, picture_shape
from kerfwright.adapters.papers.pictures import Picture
from kerfwright.adapters.papers.words import (
    FIRM_SPACE,
    Units,
    clock,
    in_unit,
    names_of,
    printable,
    runs,
    short_digest,
)
from kerfwright.app.papers.common import Heading
from kerfwright.app.papers.elapsed import Stage
from kerfwright.app.papers.holes import HoleRow, HoleSheet
from kerfwright.app.papers.lands import LandFacts
from kerfwright.app.papers.same_remarks import THESE, alike, ids_of
from kerfwright.app.papers.set_up import Box, LeanFacts, PassRow, Room, SetUpSheet, StartRow
from kerfwright.foundation.counts import counted
from kerfwright.foundation.directed import Use
from kerfwright.foundation.findings import Finding
from kerfwright.foundation.ranges import Range
from kerfwright.foundation.units import minutes_text
from kerfwright.planning.plan import OperationKind, StartKind
from kerfwright.trade.part import LengthUnit
from kerfwright.trade.walls import WallPart

CAUTIONS: Final = (
    "The machine's manual, local codes and licensed practice come before this sheet.",
    "Wire, water and table are live while the generator is on. Covers shut. Stop before you touch.",
    "Dry-run the program first, covers shut, a hand at the stop.",
    "A freed piece falls, tips or shorts the wire: be there at every stop, hands out of the way.",
    "Eye protection when you thread or cut wire. Gloves for used wire, sludge and filters.",
)
DRILL_CAUTIONS: Final = (
    "The machine's manual, local codes and licensed practice come before this sheet.",
    "The turning tube and the water are live and under pressure: guard shut, eye protection on.",
    "Water and sparks come out below when the tube breaks through: keep hands and cloth away.",
    "Clean the holes and blow them through before the part goes to the wire machine.",
)
_VERBS: Final = {
    OperationKind.ROUGH: "rough",
    OperationKind.CUT_OFF: "cut off",
    OperationKind.SKIM: "skim",
}
_MOST_CLAMPS: Final = 4
_ALIKE: Final = 2
"""So many wordings of one kind are written out."""


def set_up_shape(sheet: SetUpSheet, *, units: Units, picture: Picture | None) -> Mapping[str, Any]:
    """Return the data of a set-up sheet.

    Parameters
    ----------
    sheet : SetUpSheet
    units : Units
    picture : Picture or None
        None where nothing may be cut.
    """
    # What is keyed in or read off at the control stands in its unit, whatever the paper's is.
    control = Units(unit=LengthUnit(sheet.dialect_unit))
    return {
        "heading": heading_shape(sheet.heading, units),
        "unit": units.name,
        "control_unit": control.name,
        "control_unit_name": control.long_name,
        "unit_name": units.long_name,
        "withheld": sheet.is_withheld,
        "refusals": finding_rows(sheet.refusals, units),
        "warnings": finding_rows(sheet.warnings, units),
        "left_out": printable(runs(sheet.left_out)),
        "program": printable(sheet.program),
        "machine": printable(sheet.machine),
        "digests": [
            [name, short_digest(getattr(sheet.digests, name), 64)]
            for name in ("program", "drawing", "job", "plan", "proof")
            if getattr(sheet.digests, name)
        ],
        "program_digest": short_digest(sheet.digests.program),
        "facts": [] if sheet.room is None else _facts(sheet, sheet.room, units),
        "offset_words": _offset_words(sheet),
        "offset_numbers": sheet.is_controller_offset,
        "control_ra_unit": control.ra_name,
        "passes": [_pass(p, control) for p in sheet.passes],
        "rough_feeds": [
            f"Rough feed in this program: {control.feed(one.feed_mm_per_min)} {control.name}/min, "
            f"{runs(one.contour_ids)}: {one.why}."
            for one in sheet.rough_feeds
        ],
        "stages": [_stage(s, sheet) for s in sheet.stages],
        "running": _running(sheet.running, _each(sheet.heading)),
        "ahead": minutes_text(sheet.ahead_min),
        "starts": [_start(s, units, control) for s in sheet.starts],
        "by_hand": _by_hand(sheet.starts),
        "flushing": [
            [_whom(names), printable(in_unit(advice, units))] for advice, names in sheet.flushing
        ],
        "cautions": list(CAUTIONS),
        "picture": picture_shape(picture) if picture else None,
    }


def finding_rows(findings: Iterable[Finding], units: Units) -> list[dict[str, Any]]:
    """Return findings, those of one kind together and not every wording of many."""
    groups: dict[str, list[Finding]] = {}
    for one in findings:
        groups.setdefault(one.code, []).append(one)
    return [_row(list(alike(group).items()), units) for group in groups.values()]


def _row(said: list[tuple[tuple[str, str], list[Finding]]], units: Units) -> dict[str, Any]:
    """Return what is said of one kind: each wording once, with all its contours."""
    (_, remedy), first = said[0]
    return {
        "messages": [_of_these(message, same, units) for (message, _), same in said[:_ALIKE]],
        "more": sum(len(same) for _, same in said[_ALIKE:]),
        "remedy": _of_these(remedy, first, units),
    }


def _of_these(words: str, same: list[Finding], units: Units) -> str:
    """Return what several findings say alike, in the unit of the paper, with their contours."""
    kept = {name for one in same for name in names_of(one)}
    ids = tuple(dict.fromkeys(name for one in same for name in ids_of(one)))
    return printable(in_unit(words, units, kept=kept).replace(THESE, runs(ids)))


def _box(box: Box, units: Units) -> str:
    x0, y0, x1, y1 = (units.coarse(v) for v in box)
    return f"X {x0} … {x1},  Y {y0} … {y1} {units.name}"


def _where_to_clamp(room: Room, units: Units) -> str:
    """Say on which sides the stock has room for a clamp, or that none has and what helps."""
    wide, grip_mm = room.clear_stock_mm, room.grip_mm
    sides = [side for side, clear_mm in wide.items() if clear_mm >= grip_mm]
    if sides:
        return ", ".join(f"{s}: {units.coarse(wide[s])}{FIRM_SPACE}{units.name}" for s in sides)
    most_mm = max(wide.values())
    unit = f"{FIRM_SPACE}{units.name}"
    grip, more = units.coarse(grip_mm), units.coarse(grip_mm - most_mm)
    return (
        f"no side has {grip}{unit} of stock clear of the nozzles: hold it from below or on a "
        f"sub-plate, or take {more}{unit} more stock around"
    )


def _where_clamps_are(room: Room, units: Units) -> str:
    """Say where the clamps of the plan stand, which the program was proved to keep off."""
    told = "; ".join(_box(box, units) for box in room.clamps[:_MOST_CLAMPS])
    more = len(room.clamps) - _MOST_CLAMPS
    others = f" and {more} more, see the picture" if more > 0 else ""
    return f"{told}{others}: set them there and nowhere nearer, the program goes round them"


def _facts(sheet: SetUpSheet, room: Room, units: Units) -> list[list[str]]:
    heading = sheet.heading
    rows = [
        ["Zero", "X0 Y0 of the drawing, ⊕ on the picture"],
        ["Cut lies in", _box(room.part, units)],
    ]
    if room.stock is not None:
        weight = "" if room.stock_kg is None else f"; {units.mass(room.stock_kg)}"
        rows.append(["Stock", _box(room.stock, units) + weight])
    else:
        rows.append(["Stock", "plate of unknown size: see that the cut lies in it"])
    beside = f"{units.coarse(room.clearance_mm)}{FIRM_SPACE}{units.name}"
    if room.clamps:
        rows.append(["Clamps", _where_clamps_are(room, units)])
    other = "No other clamp in" if room.clamps else "No clamp in"
    rows.append([other, f"{_box(room.keep_clear, units)}: nozzles, and {beside} beside them"])
    if room.stock is not None and room.grip_mm > 0 and not room.clamps:
        rows.append(["Clamp on", _where_to_clamp(room, units)])
    wire = f"{sheet.wire} {units.size(sheet.wire_diameter_mm)}"
    if sheet.wire_tension_n is not None:
        wire += f", start at about {sheet.wire_tension_n:.0f} N"
    if sheet.wire_use is not None:
        use = sheet.wire_use.amount
        span = units.masses(use.low, use.high)
        wire += f"; {units.mass(use.likely)} {_each(heading)} ({span})"
    rows.append(["Wire", wire])
    if not sheet.threads_itself:
        rows.append(["Threading", "by hand at every start: the program stops for it"])
    rows.append(["Height", f"{units.size(heading.height_mm)}, {heading.material}"])
    rows += _stack_rows(sheet, units)
    if sheet.leaning is not None:
        rows += _leaning(sheet.leaning, units)
    return [[a, printable(b)] for a, b in rows]


def _leaning(lean: LeanFacts, units: Units) -> list[list[str]]:
    low, up = (units.size(z) for z in lean.planes_mm)
    below, above = (units.size(z) for z in lean.guides_mm)
    walls = "; ".join(f"{name} {how}" for name, how in lean.walls)
    travel = f"U ±{units.size(round(lean.max_u_mm, 2))}, V ±{units.size(round(lean.max_v_mm, 2))}"
    guides = f"lower {below} under the work, upper {above} over it: measure them"
    return [
        ["Leans", f"wire up to {lean.max_angle_deg:.3f}°; {walls}"],
        ["Planes", f"X Y at {low}, U V at {up} above the underside: the program sets them"],
        ["Guides", f"{guides}; {travel}. Keep the way of the head clear"],
        *(["Land, relief", _land(one, units)] for one in lean.lands),
    ]


def _land(one: LandFacts, units: Units) -> str:
    """Return heights, angle and passes of a land and its relief, in the order of cutting."""

    def said(part: WallPart, name: str, passes: tuple[int, ...]) -> str:
        is_land = part is WallPart.LAND
        low, high = (units.size(z) for z in (one.land_mm if is_land else one.relief_mm))
        how = "straight" if is_land else f"{one.angle_deg:.3f}°"
        count = f"{passes[0]} to {passes[-1]}" if len(passes) > 1 else f"{passes[0]}"
        which = "passes" if len(passes) > 1 else "pass"
        return f"{name} is the {part.value}, {how}, {low} to {high} up, {which} {count}"

    first = said(one.first, one.first_id, one.first_passes)
    second = said(one.second, one.second_id, one.second_passes)
    return f"first {first}: the slug is out after its cut-off; then {second}: no piece comes free"


def _each(heading: Heading) -> str:
    return "a piece" if heading.stack is None or heading.stack.sheets == 1 else "a stack"


def _stack_rows(sheet: SetUpSheet, units: Units) -> list[list[str]]:
    """Return what to know of a stack: its sheets, its screws, and what comes free."""
    stack = sheet.heading.stack
    if stack is None or stack.sheets == 1:
        return []
    scrap = f", {stack.covers} of them scrap ({stack.covers_above} on top)" if stack.covers else ""
    sheets = counted(stack.sheets, "sheet")
    laid = f"{sheets} of {units.size(stack.sheet_mm)}{scrap}, {stack.holding.value}"
    rows = [["Stack", f"{laid}; deburred, clean, pressed flat"]]
    if sheet.hold_holes:
        places = "; ".join(
            f"X {units.coarse(h.x_mm)} Y {units.coarse(h.y_mm)}" for h in sheet.hold_holes
        )
        diameter = units.size(sheet.hold_holes[0].diameter_mm)
        rows.append(["Screws", f"{diameter} through, countersunk: {places}"])
    rows.append(["Freed", f"{stack.sheets} loose pieces at once: strap them before the cut-off"])
    return rows


def _offset_words(sheet: SetUpSheet) -> str:
    if sheet.is_controller_offset:
        return "The control offsets (G41/G42): the D table is set at the head of the program."
    return "The program holds the wire centre (G40): enter no offset at the control."


def _pass(one: PassRow, control: Units) -> dict[str, Any]:
    return {
        "whom": runs(one.contour_ids) if one.is_rough else "",
        "number": str(one.number),
        "kind": "rough" if one.is_rough else "skim",
        "condition": printable(one.condition),
        "d": "" if one.offset_number is None else f"D{one.offset_number}",
        "offset": control.fine(one.offset_mm),
        "feed": control.feed(one.feed_mm_per_min),
        "gap": control.fine(one.gap_um / 1000),
        "stock": control.fine(one.stock_um / 1000) if one.stock_um else "–",
        "ra": control.roughness(one.ra_um),
        "tension": "" if one.tension_n is None else f"{one.tension_n:.1f}",
    }


def _stage(stage: Stage, sheet: SetUpSheet) -> dict[str, Any]:
    names = runs(stage.contour_ids)
    parts = {s.contour_id for s in sheet.starts if s.is_part}
    has_part = bool(parts & set(stage.contour_ids))
    verbs = [_VERBS[kind] for kind in stage.kinds]
    what = " and ".join(verbs).capitalize() + " " + names
    if stage.kinds == (OperationKind.SKIM,):
        first, last = stage.pass_numbers[0], stage.pass_numbers[-1]
        what += f", pass {first}" if first == last else f", passes {first}–{last}"
    if len(stage.kinds) > 1 and len(stage.contour_ids) > 1:
        what += ", one after the other"
    do = []
    if stage.is_attended and OperationKind.ROUGH in stage.kinds:
        do.append("While it roughs, pieces come free or the tab may yield: catch them.")
    if OperationKind.CUT_OFF in stage.kinds:
        piece = "part" if has_part else "slug"
        do.append(f"At each stop secure the {piece} so that it cannot fall; then take it out.")
    return {
        "from": clock(stage.begin_s),
        "to": clock(stage.end_s),
        "attended": stage.is_attended,
        "what": what,
        "do": " ".join(do),
        "cuts": f"{stage.first}" if stage.first == stage.last else f"{stage.first}–{stage.last}",
    }


def _running(span: Range | None, what: str) -> str:
    if span is None:
        return ""
    low, likely, high = (minutes_text(v) for v in (span.low, span.likely, span.high))
    between = f"{low} if all goes well, {high} if badly"
    return f"{what.capitalize()} takes {likely} with its stops; {between}."


_STARTS = {
    StartKind.DRILLED: "",
    StartKind.GIVEN: "given",
    StartKind.EDGE: "edge",
    StartKind.CHANNEL: "channel",
}


def _start(one: StartRow, units: Units, control: Units) -> dict[str, Any]:
    kind = _STARTS[one.kind]
    return {
        "start": one.start_id,
        "contour": one.contour_id,
        "x": control.place(one.x_mm),
        "y": control.place(one.y_mm),
        "beside": []
        if control.name == units.name
        else [f"{units.place(v)} {units.name}" for v in (one.x_mm, one.y_mm)],
        "hole": kind if one.diameter_mm == 0 else units.place(one.diameter_mm),
        "given": one.kind is StartKind.GIVEN,
        "rough": "" if one.rough_s is None else clock(one.rough_s),
        "watched": one.is_rough_attended,
        "tab": "none" if one.tab_mm is None else units.coarse(one.tab_mm),
        "mass": "cut away" if one.piece_kg is None else units.mass(one.piece_kg),
        "part": one.is_part,
        "free": "" if one.free_s is None else clock(one.free_s),
        "line": "" if one.frees_line is None else str(one.frees_line),
    }


def _by_hand(rows: tuple[StartRow, ...]) -> str:
    """Return what of starts, lead-ins and tabs a person placed, contours alike in one."""
    alike: dict[tuple[str, ...], list[str]] = {}
    for row in rows:
        if row.by_hand:
            alike.setdefault(row.by_hand, []).append(row.contour_id)
    return printable("; ".join(f"{runs(tuple(ids))} {', '.join(w)}" for w, ids in alike.items()))


def _whom(names: tuple[str, ...]) -> str:
    if names == ("skims",):
        return "Skims"
    return f"Rough {runs(names)}"


def holes_shape(sheet: HoleSheet, *, units: Units, picture: Picture | None) -> Mapping[str, Any]:
    """Return the data of a hole sheet.

    Parameters
    ----------
    sheet : HoleSheet
    units : Units
    picture : Picture or None
        None where nothing may be drilled.
    """
    minutes = sheet.minutes
    return {
        "heading": heading_shape(sheet.heading, units),
        "unit": units.name,
        "withheld": sheet.is_withheld,
        "rows": [_hole(r, units, sheet.heading.height_mm) for r in sheet.rows],
        "given": printable(runs(sheet.given)),
        "from_edge": printable(runs(sheet.from_edge)),
        "time": ""
        if minutes is None
        else f"{minutes_text(minutes.likely)} of sparking a piece ({minutes_text(minutes.low)} to "
        f"{minutes_text(minutes.high)}), {units.coarse(sheet.tube_used_mm)} {units.name} of tube",
        "findings": finding_rows(sheet.findings, units),
        "limits": _hole_limits(sheet.rows, units),
        "cautions": list(DRILL_CAUTIONS),
        "picture": picture_shape(picture) if picture else None,
    }


def _hole(row: HoleRow, units: Units, depth_mm: float) -> list[str]:
    hole = row.hole
    return [
        str(row.number),
        row.start_id,
        row.contour_id,
        units.place(row.x_mm),
        units.place(row.y_mm),
        units.coarse_hole(row.diameter_mm),
        units.coarse_hole(depth_mm),
        units.coarse_hole(hole.drilled.tube_diameter_mm),
        units.coarse(hole.tube_travel_mm),
        units.coarse(hole.tube_used_mm.likely),
        minutes_text(hole.drilled.minutes.likely),
        units.coarse_hole(row.clearance_mm),
    ]


def _hole_limits(rows: tuple[HoleRow, ...], units: Units) -> list[str]:
    if not rows:
        return []
    wander_mm = max(r.hole.wander_mm for r in rows)
    clear_mm = min(r.clearance_mm for r in rows)
    place = (
        f"Place of the hole within ±{units.zone(rows[0].hole.position_um, Use.ASKED)}; it may "
        f"wander by {units.small(1000 * wander_mm)} on its way through. The nearest finished wall "
        f"is {units.size(round(clear_mm, 2))} from a hole's edge: a hole off its place spoils the "
        "part."
    )
    depth = (
        "Depth is the height of the work. Feed the tube on past the lower face, to the travel in "
        "the table, until the whole section has broken through."
    )
    return [place, depth]
