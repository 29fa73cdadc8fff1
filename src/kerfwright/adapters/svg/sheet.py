"""The sheet for the machine: picture, details, tables, findings and title block."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass

from kerfwright.adapters.svg import ink, style, views
from kerfwright.adapters.svg.remarks import Remark, remarks
from kerfwright.foundation.counts import counted
from kerfwright.foundation.directed import Use, shown
from kerfwright.foundation.findings import Severity
from kerfwright.foundation.shortened import shortened
from kerfwright.foundation.units import MM_PER_INCH, UM_PER_MICROINCH, force_text
from kerfwright.motion.moves import WirePath
from kerfwright.planning.plan import OperationKind, Plan, StartKind
from kerfwright.proof.records import Proof
from kerfwright.trade.part import LengthUnit

WIDTH_MM, HEIGHT_MM = 264.0, 194.0
"""Prints inside the margins of both A4 (297 x 210) and letter (279.4 x 215.9), landscape."""

_COLUMN_MM = 188.0
_COLUMN_WIDTH_MM = 73.0
_PICTURE_TOP_MM = 4.0
_PICTURE_WIDTH_MM = 180.0
_DETAIL_MM = 44.0
_FLOOR_MM = 186.0
_TEXT_MM = 2.1
_ROW_MM = 2.9
_TEXT_WIDE = 54
"""Characters of plain text on one line of the column."""
_MOST_BY_HAND = 6
_REMARK_CHARACTERS = int((_COLUMN_WIDTH_MM - 6) / (_TEXT_MM * ink.CHARACTER_EM))

_CAUTION = """\
Follow the machine's manual and local codes. Freed pieces fall: stand by at every stop.
Wire, water and table carry voltage while the generator is on. Wear eye protection at the wire.\
"""


@dataclass(slots=True)
class _Column:
    """A column of text that is filled from the top."""

    elements: list[str]
    y_mm: float

    def heading(self, text: str) -> None:
        self.y_mm += 4.0
        x = _COLUMN_MM
        self.elements.append(ink.words(x, self.y_mm, text, size=2.5, weight="bold"))
        self.elements.append(
            ink.line(x, self.y_mm + 0.8, x + _COLUMN_WIDTH_MM, self.y_mm + 0.8, style.RULE)
        )
        self.y_mm += 0.9

    def row(self, cells: Sequence[tuple[float, str]], *, weight: str = "normal") -> None:
        """Write cells that end at distances from the left edge of the column."""
        self.y_mm += _ROW_MM
        for right, text in cells:
            self.elements.append(
                ink.words(
                    _COLUMN_MM + right, self.y_mm, text, size=_TEXT_MM, anchor="end", weight=weight
                )
            )

    def text(self, text: str, *, indent: float = 0.0) -> None:
        self.y_mm += _ROW_MM
        self.elements.append(ink.words(_COLUMN_MM + indent, self.y_mm, text, size=_TEXT_MM))


_UNIT_NAMES = {LengthUnit.MILLIMETRE: "millimetres", LengthUnit.INCH: "inches"}


def render_plan(
    plan: Plan, *, path: WirePath | None = None, proof: Proof | None = None, version: str = ""
) -> str:
    """Return the plan as an SVG sheet for the machine.

    Parameters
    ----------
    plan : Plan
    path : WirePath, optional
        Moves of the wire; without them the bare offset loops are drawn.
    proof : Proof, optional
        Verdict to print in the title block.
    version : str
        Version of kerfwright, printed small.

    Returns
    -------
    str
        A whole SVG document, 264 mm x 194 mm, the same for the same plan.
    """
    paths = {n: tuple(s) for n, s in views.wire_paths(plan, path).items()}
    magnified = views.details(plan)
    picture_height = (_FLOOR_MM - _PICTURE_TOP_MM) - (_DETAIL_MM + 8 if magnified else 0)
    view = ink.View.fit(
        views.bounds_mm(plan),
        left_mm=4.0,
        top_mm=_PICTURE_TOP_MM,
        width_mm=_PICTURE_WIDTH_MM,
        height_mm=picture_height,
        margin_mm=9.0,
    )
    listed, marks = remarks(plan, proof)
    drawing, left_out = views.main_view(
        plan, view=view, paths=paths, marks=tuple(marks), magnified=magnified
    )
    body = [style.HATCH, *drawing, *_scale_bar(view, plan.part.drawing_unit)]
    for i, detail in enumerate(magnified):
        window = ink.View(
            centre_mm=detail.centre_mm,
            left_mm=6.0 + i * (_PICTURE_WIDTH_MM - 2) / 3,
            top_mm=_FLOOR_MM - _DETAIL_MM - 3.5,
            width_mm=(_PICTURE_WIDTH_MM - 2) / 3 - 4,
            height_mm=_DETAIL_MM,
            scale=_DETAIL_MM / (2 * detail.half_mm),
        )
        body.extend(views.detail_view(detail, plan=plan, paths=paths, view=window))
    body.extend(_tables(plan, proof, listed, left_out=left_out, version=version))
    if proof is not None and not proof.passed:
        warning = "NOT FOR CUTTING: the program failed its proof and was withheld"
        body.append(
            ink.words(
                6.0, 9.0, warning, size=4.0, weight="bold", fill=style.VERMILLION, halo_mm=1.0
            )
        )
    for i, caution in enumerate(_CAUTION.splitlines()):
        body.append(ink.words(4.0, 189.6 + i * 2.7, caution, size=2.1))
    return _document(plan, body)


def _document(plan: Plan, body: Sequence[str]) -> str:
    return ink.document(
        body, title=f"{plan.part.name}: wire plan", width_mm=WIDTH_MM, height_mm=HEIGHT_MM
    )


def _in_unit(value_mm: float, unit: LengthUnit) -> str:
    return f"{value_mm:.3f}" if unit is LengthUnit.MILLIMETRE else f"{value_mm / MM_PER_INCH:.4f}"


def _both(value_mm: float, unit: LengthUnit) -> str:
    mm, inch = (
        f"{value_mm:.4g} mm",
        f"{round(value_mm / MM_PER_INCH, 5 if value_mm < 1 else 4):g} in",
    )
    return f"{mm} ({inch})" if unit is LengthUnit.MILLIMETRE else f"{inch} ({mm})"


def _feed(value_mm_per_min: float, unit: LengthUnit) -> str:
    if unit is LengthUnit.MILLIMETRE:
        return f"{value_mm_per_min:.2f}"
    return f"{value_mm_per_min / MM_PER_INCH:.3f}"


def _roughness(value_um: float, unit: LengthUnit) -> str:
    if unit is LengthUnit.MILLIMETRE:
        return f"{value_um:.2f}"
    return f"{value_um / UM_PER_MICROINCH:.0f}"


def _ra_unit(unit: LengthUnit) -> str:
    return "µm" if unit is LengthUnit.MILLIMETRE else "µin"


def _offset(value_mm: float, unit: LengthUnit) -> str:
    return f"{value_mm:.4f}" if unit is LengthUnit.MILLIMETRE else f"{value_mm / MM_PER_INCH:.5f}"


def _grams(mass_kg: float) -> str:
    grams = mass_kg * 1000
    return f"{grams:.0f}" if grams >= 1000 else f"{grams:.3g}"


def _scale_bar(view: ink.View, unit: LengthUnit) -> list[str]:
    unit_mm = 1.0 if unit is LengthUnit.MILLIMETRE else MM_PER_INCH
    length_mm = views.nice_length_mm(view, unit_mm=unit_mm)
    x, y = view.left_mm + 4, view.top_mm + view.height_mm - 2.5
    end = x + length_mm * view.scale
    return [
        ink.line(x, y, end, y, style.FRAME),
        ink.line(x, y - 1, x, y + 1, style.FRAME),
        ink.line(end, y - 1, end, y + 1, style.FRAME),
        ink.words(end + 1.5, y + 0.8, f"{length_mm / unit_mm:g} {unit.value}", size=2.3),
    ]


def _tables(
    plan: Plan, proof: Proof | None, listed: list[Remark], *, left_out: int, version: str
) -> list[str]:
    column = _Column([], 2.0)
    _legend(column, plan)
    _pass_table(column, plan)
    title = _title_block(plan, proof, version=version)
    floor = HEIGHT_MM - 43.0
    # Findings keep up to two fifths of what is left; the starts take the rest.
    stops = _stop_lines(plan)
    floor -= (len(stops) + 2) * _ROW_MM if stops else 0.0
    room = int((floor - column.y_mm - 12.0) / _ROW_MM)
    for_findings = min(
        sum(len(r.lines(_REMARK_CHARACTERS)) for r in listed) + 2, max(room * 2 // 5, 6)
    )
    _start_table(column, plan, rows=max(room - for_findings, 3))
    _findings(column, plan, listed, floor=floor)
    _stops(column, stops)
    if left_out:
        column.text(f"{left_out} labels found no room: see plan.json")
    frame = [
        ink.line(_COLUMN_MM - 2, 2, _COLUMN_MM - 2, HEIGHT_MM - 2, style.FRAME),
        ink.box(1.0, 1.0, WIDTH_MM - 2, HEIGHT_MM - 2, style.FRAME),
    ]
    return [*frame, *column.elements, *title]


def _legend(column: _Column, plan: Plan) -> None:
    samples = [
        ("wall wanted", style.WALL),
        ("tab, cut attended", style.TAB),
        ("stock", style.STOCK),
        *(
            (f"pass {p.number} {'rough' if p.is_rough else 'skim'}", style.of_pass(p.number))
            for p in plan.passes
        ),
    ]
    column.heading("Lines")
    for i, (text, stroke) in enumerate(samples):
        x = _COLUMN_MM + (i % 2) * _COLUMN_WIDTH_MM * 0.54
        if i % 2 == 0:
            column.y_mm += _ROW_MM + 0.3
        y = column.y_mm - 0.7
        column.elements.append(ink.line(x, y, x + 9, y, stroke))
        column.elements.append(ink.words(x + 10.5, column.y_mm, text, size=_TEXT_MM))
    column.y_mm += _ROW_MM + 0.6
    y, x = column.y_mm - 0.7, _COLUMN_MM
    cross = ink.disc(x + 2, y, 0.8, style.START, fill=style.WHITE)
    cross += ink.line(x + 0.7, y, x + 3.3, y, style.START) + ink.line(
        x + 2, y - 1.3, x + 2, y + 1.3, style.START
    )
    column.elements += [
        cross, ink.words(x + 5, column.y_mm, "start hole", size=_TEXT_MM),
        views.badge(1, x + 24, y, is_refusal=False),
        ink.words(x + 27, column.y_mm, "warning", size=_TEXT_MM),
        views.badge(2, x + 43, y, is_refusal=True),
        ink.words(x + 46, column.y_mm, "not cut as asked", size=_TEXT_MM),
    ]  # fmt: skip
    column.y_mm += 0.8


def _pass_table(column: _Column, plan: Plan) -> None:
    unit = plan.part.drawing_unit
    rights = (5.0, 19.0, 33.0, 45.0, 57.0, 71.0)
    column.heading(f"Passes, wire {_both(plan.choice.wire.diameter_mm, unit)}")
    column.row(
        [
            *zip(
                rights,
                (
                    "no.",
                    f"offset {unit.value}",
                    f"{unit.value}/min",
                    "gap µm",
                    f"Ra {_ra_unit(unit)}",
                    "recast µm",
                ),
                strict=True,
            )
        ]
    )
    for p in plan.passes:
        cells = (
            str(p.number), _offset(p.offset_mm, unit), _feed(p.feed_mm_per_min, unit),
            f"{p.gap_um:.1f}", _roughness(p.ra_um, unit), f"{p.recast_um:.1f}",
        )  # fmt: skip
        column.row([*zip(rights, cells, strict=True)])
    for line in _own_pass_lines(plan):
        column.text(line)
    for text, is_first in _set_by_hand(plan):
        column.text(text, indent=0.0 if is_first else 3.0)


def _set_by_hand(plan: Plan) -> list[tuple[str, bool]]:
    """Return what the operator sets at the machine: tension, and the water of the rough pass."""
    said: list[str] = []
    if plan.wire_states:
        said.append(f"tension {force_text(plan.wire_states[0].tension_n)} in every pass")
    if plan.contours and plan.contours[0].flushing.advice:
        # The first sentence is of the set-up, the same for every contour.
        said.append("rough: " + plan.contours[0].flushing.advice.split(". ")[0].rstrip("."))
    return [
        (line, n == 0) for text in said for n, line in enumerate(textwrap.wrap(text, _TEXT_WIDE))
    ]


def _own_pass_lines(plan: Plan) -> list[str]:
    """Say what each contour is asked, how many passes it has and where; nothing if all alike."""
    groups = plan.contours_by_demand()
    if len(groups) < 2:
        return []
    unit = plan.part.drawing_unit
    said = []
    for demand, own in groups:
        names, passes = ", ".join(c.target.id for c in own), own[0].passes
        count = f"{counted(len(passes), 'pass', 'passes')}"
        offsets = ", ".join(_offset(p.offset_mm, unit) for p in passes)
        where = "as above" if plan.has_jobs_passes(own[0]) else f"at {offsets} {unit.value}"
        said.append(f"{names}: {demand.said}: {count} {where}")
    return [line for text in said for line in textwrap.wrap(text, _REMARK_CHARACTERS)]


def _start_table(column: _Column, plan: Plan, *, rows: int) -> None:
    unit = plan.part.drawing_unit
    column.heading(f"Starts in order of cutting, {unit.value}; piece in g")
    rights = (6.0, 13.0, 27.0, 41.0, 51.0, 60.0, 72.0)
    column.row([*zip(rights, ("start", "cuts", "X", "Y", "Ø", "tab", "piece"), strict=True)])
    shown = plan.contours if len(plan.contours) <= rows else plan.contours[: rows - 1]
    for c in shown:
        no_hole = {StartKind.EDGE: "edge", StartKind.CHANNEL: "way"}
        hole = no_hole.get(c.start.kind) or _in_unit(c.start.diameter_mm, unit)
        cells = (
            c.start.id, c.target.id, _in_unit(c.start.x_mm, unit), _in_unit(c.start.y_mm, unit),
            hole,
            *(
                (_in_unit(c.tab.width_mm, unit), _grams(c.slug.mass_kg))
                if c.tab is not None
                else ("none", "cut away")
            ),
        )  # fmt: skip
        column.row([*zip(rights, cells, strict=True)])
    if len(shown) < len(plan.contours):
        column.text(f"… {len(plan.contours) - len(shown)} more: start_holes in plan.json")
    by_hand = [f"{c.target.id} {', '.join(c.placed)}" for c in plan.contours if c.placed]
    if by_hand:
        more = f" and {len(by_hand) - _MOST_BY_HAND} more" if len(by_hand) > _MOST_BY_HAND else ""
        said = f"placed by hand: {'; '.join(by_hand[:_MOST_BY_HAND])}{more}"
        for line in textwrap.wrap(said, _REMARK_CHARACTERS):
            column.text(line)


def _findings(column: _Column, plan: Plan, listed: list[Remark], *, floor: float) -> None:
    notes = sum(f.severity is Severity.NOTE for f in plan.findings)
    column.heading("Findings")
    if not listed:
        column.text("none that needs looking at")
    for done, remark in enumerate(listed):
        lines = remark.lines(_REMARK_CHARACTERS)
        if column.y_mm + (len(lines) + 1) * _ROW_MM > floor:
            column.text(f"… {len(listed) - done} more: findings in plan.json")
            return
        column.y_mm += 0.8
        y = column.y_mm + _ROW_MM - 0.8
        column.elements.append(
            views.badge(remark.number, _COLUMN_MM + 2.2, y, is_refusal=remark.is_refusal)
        )
        for text in lines:
            column.text(text, indent=5.5)
    if notes and column.y_mm + _ROW_MM < floor:
        column.text(f"and {counted(notes, 'note')} in plan.json")


def _stop_lines(plan: Plan) -> list[tuple[str, bool]]:
    """Return who stands by for what, in order: lines of text, and whether each begins a group.

    The operator goes by this list, so all of it is always on the sheet; only the findings and the
    starts give way.
    """
    groups: dict[str, list[str]] = {}
    parts = {c.target.id for c in plan.contours if c.slug.is_part}
    for one in plan.operations:
        if not one.attended:
            continue
        if one.kind is OperationKind.ROUGH:
            what = "rough with somebody there: pieces come free or the tab may yield"
        elif one.kind is OperationKind.SKIM:
            what = "skim the tab's face: only clamp, glue or strap holds the part"
        elif one.contour_id in parts:
            what = "secure the part, then cut its tab; take it out at the last stop"
        else:
            what = "support the slug, then cut its tab; take it out at the stop after"
        groups.setdefault(what, []).append(f"{one.number}\u00a0{one.contour_id}")
    lines: list[tuple[str, bool]] = []
    for what, places in groups.items():
        text = f"{what}: {', '.join(places)}"
        lines += [(line, n == 0) for n, line in enumerate(textwrap.wrap(text, _TEXT_WIDE))]
    return lines


def _stops(column: _Column, lines: list[tuple[str, bool]]) -> None:
    """List what is done with somebody at the machine."""
    if not lines:
        return
    column.heading("Somebody at the machine: cut and contour")
    for line, is_first in lines:
        column.text(line, indent=0.0 if is_first else 3.0)


def _title_block(plan: Plan, proof: Proof | None, *, version: str) -> list[str]:
    top, left = HEIGHT_MM - 41.0, _COLUMN_MM
    unit = plan.part.drawing_unit
    wanted = plan.requirement
    tolerance, finish = "no tolerance", "no finish"
    if wanted.tolerance_um is not None:
        zone_mm = wanted.tolerance_um / 1000
        mm = f"{shown(zone_mm, Use.ASKED)} mm"
        inch = f"{shown(zone_mm / MM_PER_INCH, Use.ASKED)} in"
        is_metric = unit is LengthUnit.MILLIMETRE
        tolerance = f"± {mm} ({inch})" if is_metric else f"± {inch} ({mm})"
    if wanted.ra_um is not None:
        finish = f"Ra {_roughness(wanted.ra_um, unit)} {_ra_unit(unit)}"
    asked = f"{tolerance}, {finish}"
    if len(plan.contours_by_demand()) > 1:
        asked = "by contour: see below the passes"
    rows = [
        ("material", wanted.material.name),
        ("height", _both(wanted.height_mm, unit)),
        ("wire", f"{plan.choice.wire.name}, {_both(plan.choice.wire.diameter_mm, unit)}"),
        ("asked", asked),
        ("passes", _pass_count(plan)),
        ("machine", wanted.machine.name),
        ("drawing", f"{_UNIT_NAMES[unit]}, sha256 {plan.part.sha256[:12]}"),
        ("proof", _verdict(proof)),
    ]
    out = [ink.line(left - 2, top, WIDTH_MM - 1, top, style.FRAME)]
    out.append(ink.words(left, top + 5.2, shortened(plan.part.name, 30), size=3.6, weight="bold"))
    y = top + 6.5
    for name, value in rows:
        y += 3.5
        out.append(ink.words(left, y, name, size=2.1, fill=style.GREY))
        out.append(ink.words(left + 14.0, y, shortened(value, 46), size=2.2))
    out.append(
        ink.words(
            WIDTH_MM - 3, HEIGHT_MM - 2.4, f"kerfwright {version}".strip(), size=1.9, anchor="end"
        )
    )
    return out


def _pass_count(plan: Plan) -> str:
    skims = len(plan.passes) - 1
    if not plan.has_own_passes:
        return f"{skims + 1}: 1 rough, {skims} skim"
    least = min(len(c.passes) for c in plan.contours)
    return f"{least} to {skims + 1}, by contour: 1 rough, {least - 1} to {skims} skim"


def _verdict(proof: Proof | None) -> str:
    if proof is None:
        return "no program was proved"
    worst = f"gouge {proof.max_gouge_um:.1f} µm, left {proof.max_leftover_um:.1f} µm"
    return f"{'passed' if proof.passed else 'FAILED'}: {worst}"
