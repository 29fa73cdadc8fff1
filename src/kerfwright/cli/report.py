"""The readable summary of a job, a drawing, a proof or a price."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from datetime import datetime

from kerfwright.adapters.owned_files import Written
from kerfwright.adapters.papers.words import names_of
from kerfwright.app.demand_kinds import names
from kerfwright.app.papers.same_remarks import THESE, ids_of, listed, mark_of_alike, said_of_any
from kerfwright.app.rough_feeds import RoughFeed
from kerfwright.app.stack_lines import at_once_text
from kerfwright.cli.output import Page
from kerfwright.cli.words import Show, mass, minutes, not_in_price
from kerfwright.costing.records import Estimate
from kerfwright.foundation.counts import counted
from kerfwright.foundation.findings import Finding, Severity, rank
from kerfwright.foundation.ranges import Range
from kerfwright.planning.plan import ContourPlan, Plan
from kerfwright.process.offset_advice import COMMAND
from kerfwright.process.technology import PassChoice, StockBy
from kerfwright.trade.part import LengthUnit, Part, PartContour, RoleFrom

_MOST_ROWS = 24
_UNIT_NAMES = {LengthUnit.MILLIMETRE: "millimetres", LengthUnit.INCH: "inches"}
_STYLES = {Severity.REFUSAL: "bold red", Severity.WARNING: "yellow", Severity.NOTE: ""}

CAUTIONS = (
    "Figures are starting values, not promises: make a test cut before a part that counts.",
    "The machine's manual, your local codes and a licensed electrician outrank everything here.",
    "Wire, water and table carry voltage while the generator is on; never reach in while it cuts.",
    "A piece that comes free can fall, tip or short the wire: stand by at every programmed stop.",
    "Wear eye protection when threading or cutting wire; wear gloves for used wire and filters.",
)


def show_drawing(page: Page, part: Part, show: Show) -> None:
    """Show what was read: unit, contours with their roles, and what was left out."""
    page.heading(f"Drawing {part.name}")
    kinds = Counter(c.role.value for c in part.contours)
    roles = ", ".join(counted(n, kind) for kind, n in sorted(kinds.items())) or "no closed contour"
    page.line(
        f"read in {_UNIT_NAMES[part.drawing_unit]}, sha256 {part.sha256[:16]}: {roles}", indent=2
    )
    if part.given_starts:
        page.line(f"{counted(len(part.given_starts), 'start hole')} given", indent=2)
    if part.left_out:
        left = ", ".join(f"{n} {kind}" for kind, n in sorted(part.left_out.items()))
        page.line(f"not cut: {left}", indent=2)
    unit = show.unit.value
    page.table(
        ("contour", "role", "inside", "layer", f"length {unit}", f"wide {unit}", f"high {unit}"),
        [
            (
                c.id, _role(c), c.parent_id or "", c.layer, show.length(c.contour.length_mm),
                show.length(c.contour.bounds_mm[2] - c.contour.bounds_mm[0]),
                show.length(c.contour.bounds_mm[3] - c.contour.bounds_mm[1]),
            )
            for c in (*part.contours, *part.set_aside)
        ],
        left=(0, 1, 2, 3),
        most=_MOST_ROWS,
        rest="contours in plan.json",
    )  # fmt: skip


SET_BY_LAYER = (
    "stock, offsets and feeds of the skims are set so that each takes the layer hurt before it; "
    "they are not those of the pass table"
)


def _role(target: PartContour) -> str:
    """Return what a contour is, and that a person said so where one did."""
    if target.role_from is not RoleFrom.PERSON:
        return target.role.value
    what = target.use.value.replace("-", " ") if target.use else target.role.value
    return f"{what}, as said"


def show_passes(
    page: Page,
    choice: PassChoice,
    show: Show,
    *,
    feeds: Sequence[RoughFeed] = (),
    sheets_hold: Range | None = None,
) -> None:
    """Show wire and passes, and the rough feeds of the program that are not the table's.

    The last pass holds `sheets_hold` where sheets of a stack hold less than a single one, µm.
    """
    held = [p.tolerance_range_um for p in choice.passes]
    if sheets_hold is not None:
        held[-1] = sheets_hold
    unit, ra, tiny = show.unit.value, show.roughness_unit, show.tiny_unit
    page.heading(f"Wire {choice.wire.name}, {show.size(choice.wire.diameter_mm)}")
    page.table(
        (
            "pass", "kind", f"offset {unit}", f"feed {unit}/min", "10–90 %", f"gap {tiny}",
            f"stock {tiny}", f"Ra {ra}", f"recast {show.layer_unit}", f"holds ± {tiny}",
        ),
        [
            (
                str(p.number), "rough" if p.is_rough else "skim", show.fine(p.offset_mm),
                show.feed(p.feed_mm_per_min),
                f"{show.feed(p.feed_range_mm_per_min.low)}–{show.feed(p.feed_range_mm_per_min.high)}",
                show.tiny(p.gap_um), show.tiny(p.stock_um), show.roughness(p.ra_um),
                show.layer(p.recast_um), show.zone(half.likely),
            )
            for p, half in zip(choice.passes, held, strict=True)
        ],
        left=(1,),
    )  # fmt: skip
    for one in feeds:
        page.line(
            f"rough feed in this program: {show.feed(one.feed_mm_per_min)} {unit}/min "
            f"({names(one.contour_ids)}), {show.told(one.why)}",
            indent=2,
        )
    page.table(
        (
            "10–90 %", f"gap {tiny}", f"stock {tiny}", f"Ra {ra}", f"recast {show.layer_unit}",
            f"holds ± {tiny}", f"wall off by {tiny}",
        ),
        [
            (
                f"pass {p.number}", _span(p.gap_range_um, show),
                "" if p.is_rough else _span(p.stock_range_um, show),
                f"{show.roughness(p.ra_range_um.low)}–{show.roughness(p.ra_range_um.high)}",
                f"{show.layer(p.recast_range_um.low)}–{show.layer(p.recast_range_um.high)}",
                _span(half, show) if half.low < half.high else "",
                _span(p.size_error_um, show, sign="+"),
            )
            for p, half in zip(choice.passes, held, strict=True)
        ],
    )  # fmt: skip
    decided = "nothing asks for more" if choice.limiting == "none" else f"{choice.limiting} decides"
    count = len(choice.passes)
    page.line(f"{counted(count, 'pass', 'passes')}: {decided}", indent=2)
    left_um = choice.recast_left_um
    if left_um is not None:
        page.line(
            f"recast left on the wall, with what may stand of older layers: "
            f"{show.layer(left_um.low)}–{show.layer(left_um.high)} {show.layer_unit} (10–90 %); "
            "the ranges above are of each pass alone",
            indent=2,
        )
    if choice.stock_by is StockBy.HURT_LAYER:
        page.line(SET_BY_LAYER, indent=2)
    for sentence in choice.further:
        page.line(show.told(sentence), indent=2)


def show_contour_passes(page: Page, plan: Plan, show: Show) -> None:
    """Show the passes of contours by what is asked of them, where contours differ."""
    groups = plan.contours_by_demand()
    if len(groups) < 2:
        return
    page.heading("Passes by contour")
    page.table(
        ("contours", "asked", "passes", f"offsets {show.unit.value}", "decided by"),
        [
            (
                ", ".join(c.target.id for c in own), show.told(demand.said),
                str(len(own[0].passes)), ", ".join(show.fine(p.offset_mm) for p in own[0].passes),
                own[0].choice.limiting,
            )
            for demand, own in groups
        ],
        left=(0, 1, 3, 4),
    )  # fmt: skip


def _span(span: Range, show: Show, *, sign: str = "") -> str:
    # A dash between signed numbers reads as a minus.
    return (" to " if sign else "–").join(show.tiny(v, sign=sign) for v in (span.low, span.high))


def _start_kind(one: ContourPlan) -> str:
    """Return what the start is, and what of it a person placed."""
    placed = ", ".join(one.placed)
    return f"{one.start.kind.value} ({placed} by hand)" if placed else one.start.kind.value


def show_starts(page: Page, plan: Plan, show: Show) -> None:
    """Show starts, tabs and pieces, in order of cutting."""
    if not plan.contours:
        return
    unit = show.unit.value
    page.heading("Starts in order of cutting")
    page.table(
        ("start", "cuts", "kind", f"X {unit}", f"Y {unit}", f"Ø {unit}", f"tab {unit}", "piece"),
        [
            (
                c.start.id, c.target.id, _start_kind(c), show.length(c.start.x_mm),
                show.length(c.start.y_mm),
                "" if c.start.diameter_mm == 0 else show.length(c.start.diameter_mm),
                show.length(c.tab.width_mm) if c.tab else "none",
                mass(c.slug.mass_kg) if c.tab else "cut away",
            )
            for c in plan.contours
        ],
        left=(0, 1, 2),
        most=_MOST_ROWS,
        rest="starts in plan.json",
    )  # fmt: skip
    attended = sum(o.attended for o in plan.operations)
    page.line(f"{counted(len(plan.operations), 'cut')}, {attended} of them attended", indent=2)


def show_estimate(
    page: Page,
    estimate: Estimate,
    *,
    explain: bool,
    show: Show,
    left_out: Sequence[str] = (),
    refused_lines: int = 0,
    is_refused_whole: bool = False,
    is_drilled: bool = False,
) -> None:
    """Show times with their ranges, consumption if asked, and a price for each quantity.

    Parameters
    ----------
    page : Page
    estimate : Estimate
    explain : bool
    show : Show
        Words for the lengths in a basis.
    left_out : sequence of str
        Contours that the price does not cover.
    refused_lines : int
        Places of the drawing whose lines make no contour, so that they are in no price.
    is_refused_whole : bool
        Whether nothing of the job may be cut, so that the price is none to offer.
    is_drilled : bool
        Whether small holes are what is made, and not contours cut.
    """
    told = show.alone
    page.heading("Time, likely (10–90 %)")
    page.table(
        ("operation", "whose hour", "paid", "time", "basis"),
        [
            (
                t.operation, t.kind.value, _paid(estimate, per_piece=t.per_piece),
                minutes(t.minutes), told(t.basis),
            )
            for t in estimate.times
        ],
        left=(0, 1, 2, 4),
    )  # fmt: skip
    if explain:
        page.heading("Consumption")
        page.table(
            ("item", "paid", "amount (10–90 %)", "unit price", "basis"),
            [
                (
                    c.item, _paid(estimate, per_piece=c.per_piece),
                    f"{c.amount.likely:.3g} ({c.amount.low:.3g}–{c.amount.high:.3g}) {c.unit}",
                    f"{c.unit_price} {estimate.currency}", told(c.basis),
                )
                for c in estimate.consumption
            ],
            left=(0, 1, 4),
        )  # fmt: skip
        for price in estimate.prices:
            page.heading(f"Price lines for {price.quantity}")
            page.table(
                ("item", "low", "likely", "high", "basis"),
                [
                    (i.item, str(i.low), str(i.likely), str(i.high), told(i.basis))
                    for i in price.lines
                ],
                left=(0, 4),
            )
            page.line(
                "Likely amounts add up to the total; low and high do not: not everything goes well "
                "or badly at once.",
                indent=2,
            )
    missing = not_in_price(left_out, refused_lines=refused_lines, is_drilled=is_drilled)
    _show_prices(page, estimate, is_refused_whole=is_refused_whole, left_out=missing)


def _paid(estimate: Estimate, *, per_piece: bool) -> str:
    if not per_piece:
        return "once"
    return "each piece" if estimate.pieces_each == 1 else f"each stack of {estimate.pieces_each}"


def _show_prices(page: Page, estimate: Estimate, *, left_out: str, is_refused_whole: bool) -> None:
    page.heading(f"Price, {estimate.currency}")
    if is_refused_whole:
        page.line(
            "NOT A PRICE TO OFFER: the job is refused as it stands, see the findings. It is what "
            "the cutting would come to if the refusals were lifted.",
            indent=2,
            style="bold red",
        )
    if left_out:
        page.line(left_out, indent=2, style="bold red")
    stacked = any(p.at_once > 1 for p in estimate.prices)
    page.table(
        ("quantity", "each", "together", "10–90 %", "machine hours", *(("cut",) * stacked)),
        [
            (
                str(p.quantity), f"{p.each:.2f}", f"{p.likely:.2f}", f"{p.low:.2f}–{p.high:.2f}",
                f"{p.hours.likely:.1f} ({p.hours.low:.1f}–{p.hours.high:.1f})",
                *((at_once_text(p),) * stacked),
            )
            for p in estimate.prices
        ],
        left=(5,) if stacked else (),
    )  # fmt: skip
    if len({p.at_once for p in estimate.prices}) > 1:
        page.line(
            "Plan, program and times are those of the first quantity; the others are planned as "
            "their own stacks for their price. Plan a quantity by itself to cut it.",
            indent=2,
        )


def show_findings(page: Page, findings: Sequence[Finding], *, show: Show, most: int = 4) -> None:
    """Show findings with place and remedy, the weightiest first, and not all of many alike.

    What is said alike of several contours stands once, with all their places; a remedy that was
    just given is not repeated.
    """
    if not findings:
        return
    page.heading("Findings")
    groups: dict[str, list[Finding]] = {}
    for one in sorted(findings, key=rank):
        groups.setdefault(mark_of_alike(one), []).append(one)
    shown: Counter[str] = Counter()
    left: Counter[str] = Counter()
    given = ""
    for same in groups.values():
        first = same[0]
        shown[first.code] += 1
        if shown[first.code] > most:
            left[first.code] += len(same)
            continue
        kept = {name for one in same for name in names_of(one)}
        ids = tuple(dict.fromkeys(name for one in same for name in ids_of(one)))
        message, remedy = (
            (show.told(text.replace(THESE, listed(ids)), kept=kept) for text in said_of_any(first))
            if len(same) > 1
            else (show.told(text, kept=kept) for text in (first.message, first.remedy))
        )
        page.line(f"{first.severity.value}: {message}", indent=2, style=_STYLES[first.severity])
        places = [show.alone(str(one.where), kept=kept) for one in same if str(one.where)]
        if places:
            more = f" and {len(places) - most} more" if len(places) > most else ""
            page.line(f"where: {'; '.join(dict.fromkeys(places[:most]))}{more}", indent=6)
        if remedy and remedy == given:
            page.line("remedy: as above.", indent=6)
        elif remedy:
            page.line(f"remedy: {remedy}", indent=6)
        for command in dict.fromkeys(str(one.data.get(COMMAND, "")) for one in same):
            if command:
                # In one line, however long: broken at words it could not be typed as it stands.
                page.whole(f"run: {command}", indent=6)
        given = remedy
    for code, count in left.items():
        page.line(f"… and {count} more of {code}: see --json or plan.json", indent=2)


def show_cautions(page: Page) -> None:
    """Say what can hurt someone."""
    page.heading("Before cutting")
    for caution in CAUTIONS:
        page.line(caution, indent=2)


def show_outcome(page: Page, written: Written) -> bool:
    """Name the files written and taken away; return whether earlier results stand instead."""
    if written.kept_earlier:
        page.heading("Nothing written")
        made = datetime.fromtimestamp(written.earlier_s or 0.0).astimezone()
        page.line(
            f"{written.folder} keeps its earlier results of {made:%Y-%m-%d %H:%M}, program "
            "included; they are not of this call.",
            indent=2,
            style="bold red",
        )
        return True
    show_written(page, str(written.folder), written.files)
    if written.removed:
        page.line(f"earlier files taken away: {', '.join(written.removed)}", indent=2)
    return False


def show_written(page: Page, folder: str, files: Iterable[str]) -> None:
    """Name the files written."""
    page.heading(f"Written to {folder}")
    page.line(", ".join(files), indent=2)
