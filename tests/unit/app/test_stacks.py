"""Stacks: heights, the curve against hand calculation, its reasons, screws and sheets."""

from __future__ import annotations

import math
from dataclasses import replace
from decimal import Decimal
from functools import cache, partial
from importlib.resources import files
from pathlib import Path
from types import MappingProxyType

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.soak import tries

from kerfwright.adapters.dxf import read_drawing
from kerfwright.adapters.machines import load_machine
from kerfwright.adapters.tables import load_tables
from kerfwright.app.asked_stacks import pieces_asked
from kerfwright.app.offers import Shop
from kerfwright.app.papers.inspection import inspection_of
from kerfwright.app.plan_job import Extent
from kerfwright.app.records import JobRequest, JobResult
from kerfwright.app.sheets import share_outside
from kerfwright.app.stack_prices import StackPrices, cheapest, counts_for
from kerfwright.app.stacks import StackCurve
from kerfwright.app.stacks import stack_curve as curve_of
from kerfwright.foundation.errors import InputError
from kerfwright.foundation.findings import Finding, Severity
from kerfwright.planning.plan import Plan
from kerfwright.planning.stacking import hold_holes, most_pieces, stack_findings, stack_of
from kerfwright.process.stack_shape import bow_share
from kerfwright.trade.requirement import Requirement
from kerfwright.trade.stack import Holding, Stack
from kerfwright.wiring import answers, plan_job, what_if
from kerfwright.wiring.stacks import stack_curve

WHEEL = Path(str(files("kerfwright") / "data/samples/escape_wheel.dxf"))
CLICK = WHEEL.with_name("click.dxf")
"""Of two contours: all ways to ask for it are soon priced."""
RULES = load_tables().rules
ASKED = JobRequest(drawing=WHEEL, material="C270", height="2 mm", quantities=(40,))
SHARE = Decimal("1.01")
priced = partial(plan_job, extent=Extent.PRICED)


def at_once(result: JobResult) -> int:
    """Return the number in a stack of the plan."""
    assert result.requirement.stack is not None
    return result.requirement.stack.pieces


@pytest.fixture(scope="module")
def curve():  # type: ignore[no-untyped-def]
    return stack_curve(replace(ASKED, quantities=(12,)))


@pytest.fixture(scope="module")
def bolted() -> JobResult:
    return plan_job(replace(ASKED, stack="8", holding=Holding.BOLTED))


def test_the_height_of_a_stack_counts_sheets_covers_and_joints() -> None:
    stack = Stack(pieces=8, sheet_mm=0.5, joint_mm=0.02, covers=2)
    assert stack.height_mm == pytest.approx(10 * 0.5 + 9 * 0.02)
    assert stack.covers_above == 1
    # The first piece lies under one cover, the last above one.
    assert stack.middle_mm(1) == pytest.approx(8 * 0.52 + 0.25)
    assert stack.middle_mm(8) == pytest.approx(0.52 + 0.25)


@settings(max_examples=tries(80), deadline=None)
@given(limit=st.floats(1, 300), sheet=st.floats(0.05, 20), covers=st.sampled_from([None, 0, 1, 4]))
def test_the_most_pieces_fit_and_one_more_does_not(
    limit: float, sheet: float, covers: int | None
) -> None:
    most = most_pieces(limit, sheet_mm=sheet, rules=RULES, covers=covers)
    if most >= 2:
        stack = stack_of(most, sheet_mm=sheet, rules=RULES, covers=covers)
        assert stack.height_mm <= limit + 1e-6
    if 1 <= most < 500:
        higher = stack_of(max(most + 1, 2), sheet_mm=sheet, rules=RULES, covers=covers)
        assert higher.height_mm > limit - 1e-6


@given(quantity=st.integers(1, 2000), most=st.integers(1, 500))
def test_every_count_of_the_curve_saves_a_stack_against_the_one_before(
    quantity: int, most: int
) -> None:
    counts = counts_for(quantity, most)
    assert counts[0] == 1
    loads = [math.ceil(quantity / n) for n in counts]
    assert loads == sorted(set(loads), reverse=True)
    assert all(n <= max(most, 1) for n in counts)


def test_the_area_rate_of_each_stack_is_that_of_the_published_relation(curve) -> None:  # type: ignore[no-untyped-def]
    """A = K_m K_s / (1/(v0 H) + 1/A_inf) / (1 + (H/H_f)^2): PROCESS section 4, by hand.

    v0 = 12 mm/min, A_inf = 220 mm2/min, H_f = 250 mm, K_m = 1.2 for brass, K_s = 0.72 of the
    tables; slower only where the stock's edge or the wire takes the feed back.
    """
    law = load_tables().technology.rough
    for point in curve.points:
        h = point.stack.height_mm
        by_hand = 1.2 * law.shop_derate / (1 / (12 * h) + 1 / 220) / (1 + (h / 250) ** 2)
        assert point.area_rate_mm2_per_min <= by_hand * 1.0001
        assert point.area_rate_mm2_per_min >= by_hand * 0.8
    rates = [p.area_rate_mm2_per_min for p in curve.points]
    assert rates == sorted(rates)


def test_a_point_of_the_curve_costs_what_the_planned_stack_costs(curve) -> None:  # type: ignore[no-untyped-def]
    four = next(p for p in curve.points if p.stack.pieces == 4)
    planned = priced(replace(ASKED, quantities=(12,), stack="4"))
    assert planned.estimate is not None
    assert planned.estimate.prices[0].each == four.offer.each
    single = priced(replace(ASKED, quantities=(12,)))
    assert single.estimate is not None
    assert curve.points[0].offer.each == single.estimate.prices[0].each


def test_a_point_of_the_curve_tells_the_most_passes_also_those_of_a_short_contour() -> None:
    click = replace(ASKED, drawing=CLICK, tolerance="±0.01 mm")
    cut = priced(click).plan.contours
    short = min(cut, key=lambda c: c.target.contour.length_mm).target.id
    wanted = replace(click, contours={short: "tolerance=±0.005 mm"})
    point = stack_curve(wanted).points[1]
    planned = priced(replace(wanted, stack=str(point.stack.pieces))).plan
    counts = {c.target.id: len(c.passes) for c in planned.contours}
    assert point.offer.passes == counts[short] == max(counts.values()) > min(counts.values())


def test_the_best_count_is_the_cheapest_within_a_hundredth_and_says_why(curve) -> None:  # type: ignore[no-untyped-def]
    best = curve.points[curve.best]
    assert best.offer.each <= min(p.offer.each for p in curve.points) * Decimal("1.01")
    assert f"A stack of {best.stack.pieces}" in curve.why[0]
    assert len(curve.why) == 2


def test_auto_plans_the_best_count() -> None:
    few = replace(ASKED, quantities=(3,), stack="auto")
    result = priced(few)
    found = stack_curve(replace(ASKED, quantities=(3,)))
    assert found.best is not None
    assert result.requirement.stack is not None
    assert result.requirement.stack.pieces == found.points[found.best].stack.pieces


def test_another_quantity_of_a_stack_found_by_price_costs_what_its_own_plan_would() -> None:
    asked = replace(ASKED, drawing=CLICK, quantities=(3,), stack="auto")
    result = priced(asked)
    found = what_if(result)
    assert found is not None
    offers = {a.instead: a for a in found.alternatives if a.demand == "quantity"}
    assert offers
    for instead, one in offers.items():
        fresh = priced(replace(asked, quantities=(int(instead),)))
        assert one.offer.each == fresh.estimate.prices[0].each
        assert at_once(fresh) != at_once(result)
        assert f"in stacks of {at_once(fresh)}," in one.sentence or at_once(fresh) == 1


def test_another_quantity_of_a_stack_that_was_asked_for_is_stacked_as_is_cheapest_for_it() -> None:
    """Forty wheels in one stack: fifty are one stack of fifty, not one of forty and one of ten."""
    asked = replace(ASKED, drawing=CLICK, height="0.8 mm", quantities=(40,), stack="40")
    result = priced(asked)
    found = what_if(result)
    assert found is not None
    offers = {a.instead: a for a in found.alternatives if a.demand == "quantity"}
    assert set(offers) == {"25", "50"}
    for instead, one in offers.items():
        fresh = priced(replace(asked, quantities=(int(instead),), stack="auto"))
        assert one.offer.each == fresh.estimate.prices[0].each
        assert f"in stacks of {at_once(fresh)}," in one.sentence
    assert offers["50"].saved_each > 0


@settings(max_examples=tries(200), deadline=None)
@given(
    quantity=st.integers(1, 400),
    fixed=st.integers(0, 40000),
    base=st.integers(100, 90000),
    steps=st.lists(st.integers(0, 60000), min_size=30, max_size=30),
    closed=st.integers(0, 8),
)
def test_the_number_found_in_few_steps_is_that_of_the_whole_curve(
    quantity: int, fixed: int, base: int, steps: list[int], closed: int
) -> None:
    """Whatever is paid once, and however the cost of a load grows with its height."""
    counts = counts_for(quantity, 500)
    loads = [math.ceil(quantity / n) for n in counts]
    totals = [fixed + many * (base + sum(steps[: k + 1])) for k, many in enumerate(loads)]
    prices: list[Decimal | None] = [
        Decimal(max(total / 100, 100.0) / quantity).quantize(Decimal("0.01")) for total in totals
    ]
    # The highest cannot be cut as asked.
    prices[max(len(prices) - closed, 1) :] = [None] * min(closed, len(prices) - 1)
    found = cheapest(prices.__getitem__, loads)
    least = min(price for price in prices if price is not None)
    # The lowest stack within a hundredth, as the curve takes it.
    expected = next(k for k, p in enumerate(prices) if p is not None and p <= least * SHARE)
    assert prices[found] is not None
    assert found == expected


def test_most_numbers_in_a_stack_are_never_priced() -> None:
    asked: list[int] = []
    counts = counts_for(1000, 500)
    loads = [math.ceil(1000 / n) for n in counts]

    def each(k: int) -> Decimal:
        asked.append(k)
        return Decimal(loads[k] * (200 + 2 * counts[k]) / 1000).quantize(Decimal("0.01"))

    every = [each(k) for k in range(len(counts))]
    asked.clear()
    found = cheapest(each, loads)
    assert found == next(k for k, p in enumerate(every) if p <= min(every) * SHARE)
    assert len(asked) == len(set(asked)) <= len(counts) / 3


def test_quantities_count_pieces_and_the_last_stack_is_paid_whole(bolted: JobResult) -> None:
    # 9 pieces take two stacks of 8, as 16 do; only their inspection is less.
    two = priced(replace(ASKED, stack="8", quantities=(8, 9, 16)))
    assert two.estimate is not None
    eight, nine, sixteen = two.estimate.prices
    assert nine.hours.likely == pytest.approx(sixteen.hours.likely)
    assert eight.likely < nine.likely < sixteen.likely
    assert nine.each == (nine.likely / 9).quantize(nine.each)


@pytest.mark.parametrize(
    ("pieces", "most", "which"),
    [
        (40, 5, (1, 11, 20, 30, 40)),
        (40, 1, (20,)),
        (8, 2, (1, 8)),
        (3, 5, (1, 2, 3)),
        (1, 5, (1,)),
    ],
)
def test_first_last_and_some_between_are_measured(
    pieces: int, most: int, which: tuple[int, ...]
) -> None:
    stack = Stack(pieces=pieces, sheet_mm=0.8, joint_mm=0.02)
    assert stack.measured(most) == which


def test_inspection_is_paid_for_the_pieces_measured_of_every_stack(tmp_path: Path) -> None:
    def minutes(result: JobResult) -> float:
        assert result.estimate is not None
        return next(t.minutes.likely for t in result.estimate.times if t.operation == "inspection")

    (tmp_path / "planning.toml").write_text("[stack]\nstack_measured = 500\n", "utf-8")
    asked = replace(ASKED, stack="8", quantities=(8, 11))
    some, every = (priced(replace(asked, tables=t)) for t in (None, tmp_path))
    assert minutes(some) == pytest.approx(minutes(every) * 5 / 8)
    # 11 pieces: a stack of 8, of which 5 are measured, and one of 3, of which all are.
    assert some.estimate is not None
    assert every.estimate is not None
    people, hour = load_tables().rates.minutes, load_tables().rates.hour
    each = people.inspection_base + people.inspection_per_contour * len(some.plan.contours)
    saved = [
        e.likely - s.likely
        for s, e in zip(some.estimate.prices, every.estimate.prices, strict=True)
    ]
    for (quantity, left), more in zip(((8, 3), (11, 3)), saved, strict=True):
        # Rounded to whole cents a piece.
        due = Decimal(left * each) * hour.bench_per_h / 60
        assert abs(more - due) <= Decimal("0.01") * quantity


def test_the_inspection_sheet_says_which_pieces(bolted: JobResult) -> None:
    sheet = inspection_of(bolted)
    assert (sheet.pieces, sheet.to_measure) == (8, (1, 3, 4, 6, 8))
    single = inspection_of(priced(replace(ASKED, quantities=(1,))))
    assert (single.pieces, single.to_measure) == (1, ())


def test_the_proof_sweeps_the_whole_height_and_the_program_says_it_is_a_stack(
    bolted: JobResult,
) -> None:
    assert bolted.proof is not None
    assert bolted.proof.passed
    assert bolted.claim is not None
    assert bolted.claim.height_mm == pytest.approx(8 * 2 + 7 * 0.02)
    assert "STACK OF 8 SHEETS OF 2 MM, BOLTED" in (bolted.program or "")


def test_screws_lie_in_the_frame_clear_of_parts_and_edges(bolted: JobResult) -> None:
    holes = hold_holes(bolted.plan)
    assert len(holes) == 4
    assert bolted.plan.stock is not None
    x0, y0, x1, y1 = bolted.plan.stock.bounds_mm
    for h in holes:
        # The wheel is round, 64 mm: beyond it lie kerf, head and clearance.
        assert math.hypot(h.x_mm, h.y_mm) > 32 + 0.3 + 6.6
        assert min(h.x_mm - x0, x1 - h.x_mm, h.y_mm - y0, y1 - h.y_mm) >= 3.3 + 3 - 0.01


def test_where_there_is_no_room_for_screws_a_warning_says_so() -> None:
    tight = priced(replace(ASKED, stack="4", holding=Holding.BOLTED, stock_margin="3 mm"))
    assert "stack-no-room-for-screws" in [f.code for f in tight.findings]
    welded = priced(replace(ASKED, stack="4", holding=Holding.WELDED, stock_margin="3 mm"))
    assert "stack-weld-near-part" in [f.code for f in welded.findings]


def test_the_bow_of_a_string_is_a_parabola_and_sheets_are_alike_about_the_middle(curve) -> None:  # type: ignore[no-untyped-def]
    # q z (H - z) / 2T over q H^2 / 8T at a quarter: 3/4.
    assert bow_share(2.5, height_mm=10.0) == pytest.approx(0.75)
    walls = [s.wall_um for s in curve.sheets]
    assert walls == pytest.approx(walls[::-1])
    assert sum(walls) == pytest.approx(0.0, abs=1e-9)
    assert walls[len(walls) // 2] > walls[0]
    assert all(s.holds_um > 0 for s in curve.sheets)


@pytest.mark.parametrize("text", ["0", "-3", "many", "2.5", "501", ""])
def test_a_stack_that_is_no_count_is_refused(text: str) -> None:
    with pytest.raises(InputError) as fault:
        pieces_asked(text)
    assert fault.value.code == "stack-value"


def test_covers_without_a_stack_are_refused_and_a_stack_beyond_the_machine_too() -> None:
    with pytest.raises(InputError):
        plan_job(replace(ASKED, covers="2"))
    high = plan_job(replace(ASKED, stack="400"))
    assert high.program is None
    assert "height-beyond-machine" in [f.code for f in high.findings]


def test_the_reason_of_every_line_of_a_stacked_price_gives_its_value() -> None:
    result = priced(replace(ASKED, stack="8", quantities=(8, 12)))
    checked = 0
    for answer in answers(result):
        inputs = dict(answer.reason.inputs)
        if "stacks" not in inputs or not answer.about.startswith("price for"):
            continue
        if answer.name == "pieces at once":
            continue
        loads = {"price for 8": 1, "price for 12": 2}[answer.about]
        assert inputs["stacks"] in {loads, 1}
        product = math.prod(float(v) for v in inputs.values())
        if "minutes" in inputs:
            product /= 60
        assert answer.reason.value == pytest.approx(product, abs=0.006)
        checked += 1
    assert checked > 20


@cache
def foil_plan() -> Plan:
    """A plan of foil in stacks; what is asked of the stack is put in its place."""
    return priced(replace(ASKED, height="0.5 mm", stack="8")).plan


def stack_codes(stack: Stack) -> dict[str, Finding]:
    plan = foil_plan()
    asked = replace(plan.requirement, stack=stack, height_mm=stack.height_mm)
    return {f.code: f for f in stack_findings(replace(plan, requirement=asked))}


def test_more_sheets_than_anybody_is_known_to_cut_are_warned_of_with_the_limit() -> None:
    found = stack_codes(stack_of(500, sheet_mm=0.05, rules=RULES))
    said = found["stack-beyond-known"]
    assert said.severity is Severity.WARNING
    assert said.data == {"sheets": 502, "limit": 100}
    assert "502 sheets in one stack; more than 100" in said.message
    assert "--stack" in said.remedy
    within = stack_codes(stack_of(98, sheet_mm=0.5, rules=RULES))
    assert "stack-beyond-known" not in within


def test_one_at_a_time_frees_no_stack_of_pieces() -> None:
    one = replace(stack_of(1, sheet_mm=0.5, rules=RULES), is_chosen=True)
    assert "stack-pieces-come-free" not in stack_codes(one)


def test_air_that_is_much_of_the_height_is_said_not_to_be_counted() -> None:
    # By hand: 501 joints of 0.02 mm are 10.02 of 502 x 0.05 + 10.02 = 35.12 mm, 28.5 %.
    said = stack_codes(stack_of(500, sheet_mm=0.05, rules=RULES))["stack-joints-not-counted"]
    assert said.data["air_share"] == pytest.approx(10.02 / 35.12)
    assert said.message.startswith("29% of the height of 35.12 mm (1.38 in) is air")
    assert said.data["metal_mm"] == pytest.approx(25.1)
    # 0.8 mm wheels: 41 joints are 2.4 %.
    assert "stack-joints-not-counted" not in stack_codes(stack_of(40, sheet_mm=0.8, rules=RULES))


@pytest.mark.parametrize(("height", "is_thin"), [("0.6 mm", True), ("2 mm", False)])
def test_tabs_of_a_stack_count_as_a_block_and_thin_covers_bend(height: str, is_thin: bool) -> None:
    result = priced(replace(ASKED, height=height, stack="4", covers="2"))
    found = {f.code: f for f in result.findings}
    tabs = found["stack-tabs-as-one-block"]
    # Bending goes with the cube of the height: 6 leaves of t to one block of 6 t are 1 to 36.
    assert "36 times softer" in tabs.message
    assert (tabs.severity is Severity.WARNING) == is_thin
    assert ("stack-covers-bend" in found) == is_thin
    alone = priced(replace(ASKED, height=height))
    assert not {"stack-tabs-as-one-block", "stack-covers-bend"} & {f.code for f in alone.findings}


def test_sheets_that_come_out_beyond_the_tolerance_are_warned_of_by_plan_and_curve() -> None:
    sheets = replace(ASKED, material="304", height="0.8 mm")
    tight = replace(sheets, tolerance="±0.0025 mm", stack="90", quantities=(90,))
    told = [f for f in priced(tight).findings if f.code == "sheets-beyond-tolerance"]
    loose = priced(replace(tight, tolerance="±0.05 mm"))
    assert "sheets-beyond-tolerance" not in {f.code for f in loose.findings}
    (said,) = told
    assert said.data["holds_um"] > said.data["asked_um"] == pytest.approx(2.5)
    assert 0 < said.data["pieces_beyond"] <= 90
    assert "is not promised" in said.message
    # A sheet that holds twice what is asked has 31.7 % beyond one deviation: tables of the normal
    # distribution, from memory.
    assert share_outside(10.0, holds_um=20.0) == pytest.approx(0.3173, abs=5e-5)
    outside = said.data["share_outside"]
    assert 0.0455 < outside == share_outside(2.5, holds_um=said.data["holds_um"])
    assert f"{outside:.1%} of the walls of these pieces" in said.message
    # The curve has one figure for a stack: that of the sheet that holds least.
    found = stack_curve(tight)
    assert found.points[-1].stack.pieces == 90
    assert found.points[-1].holds_um == pytest.approx(said.data["holds_um"])


def test_a_stack_takes_the_pass_that_its_sheets_need_for_the_tolerance_asked() -> None:
    """Three passes hold 5 um in a single sheet, at the ends of this stack 5.3."""
    wheels = replace(ASKED, drawing=WHEEL, material="304", height="0.5 mm")
    asked = replace(wheels, tolerance="±0.005 mm", quantities=(40,))
    assert len(priced(asked).plan.passes) == 3
    stacked = priced(replace(asked, stack="40"))
    assert len(stacked.plan.passes) == 4
    found = {f.code: f for f in stacked.findings}
    assert "sheets-beyond-tolerance" not in found
    told = found["pass-more-for-sheets"]
    assert told.data["holds_um"] == pytest.approx(5.3, abs=0.05)
    assert (told.data["fewer"], told.data["passes"]) == (3, 4)
    # What is asked stays what is asked: measured and promised by it.
    assert stacked.plan.requirement.tolerance_um == pytest.approx(5.0)
    # A hundredth wider than what the sheets hold needs no pass.
    wide = priced(replace(asked, stack="40", tolerance="±0.0054 mm"))
    assert len(wide.plan.passes) == 3
    assert "pass-more-for-sheets" not in {f.code for f in wide.findings}


def test_auto_chooses_no_more_sheets_than_are_known_to_be_cut_and_says_so() -> None:
    def found(known: float) -> StackCurve:
        tables = load_tables()
        shop = Shop(
            part=read_drawing(CLICK, unit=None, layer_uses=MappingProxyType({})),
            catalogue=tables.catalogue,
            technology=tables.technology,
            rates=tables.rates,
            physics=None,
            rules=replace(tables.rules, stack_known_sheets=known),
        )
        single = Requirement(
            material=tables.catalogue.material("304"), height_mm=0.2, machine=load_machine()
        )
        curve = curve_of(shop, single, quantity=120, holding=Holding.CLAMPED)
        prices = StackPrices(shop, single, holding=Holding.CLAMPED)
        assert curve.best is not None
        assert prices.cheapest(120) == curve.points[curve.best].stack.pieces
        return curve

    free, bound = found(math.inf), found(20)
    assert free.best is not None
    assert bound.best is not None
    assert free.points[free.best].stack.sheets > 20
    assert bound.points[bound.best].stack.sheets <= 20
    # What a higher one would cost is still on the curve, for who asks it by number.
    assert bound.points[-1].stack.sheets > 20
    assert any("more than 20 (stack_known_sheets" in said for said in bound.why)
    assert not any("stack_known_sheets" in said for said in free.why)
