"""Prices of small hand-made plans, worked out by hand beside each check."""

from __future__ import annotations

import dataclasses
import itertools
from decimal import Decimal

import numpy as np
import pytest
from tests.unit.process.samples import machine

from kerfwright.adapters.tables import load_tables
from kerfwright.costing.estimate import estimate
from kerfwright.costing.rates import ConsumableRates, HourRates, HumanMinutes, RateTable
from kerfwright.costing.records import TimeKind
from kerfwright.foundation.errors import InputError
from kerfwright.geometry.contour import Contour
from kerfwright.motion.moves import Cut, CutKind, Moves, Purpose, Stop, WirePath
from kerfwright.planning.plan import (
    ContourPlan,
    Operation,
    OperationKind,
    Plan,
    RoughAttendance,
    Slug,
    Span,
    Start,
    StartKind,
    Tab,
)
from kerfwright.process.technology import Pass, PassChoice
from kerfwright.trade.part import LengthUnit, Part, PartContour, Role
from kerfwright.trade.requirement import Requirement

RULES = load_tables().rules

TABLES = load_tables()
NO_SOURCES: dict = {}

RATES = RateTable(
    currency="EUR",
    hour=HourRates(
        machine_unattended_per_h=Decimal(30),
        machine_attended_per_h=Decimal(90),
        programming_per_h=Decimal(60),
        bench_per_h=Decimal(60),
        sources=NO_SOURCES,
    ),
    minutes=HumanMinutes(
        programming_base=20,
        programming_per_contour=3,
        set_up=45,
        loading_per_piece=10,
        threading_automatic=1,
        threading_by_hand=5,
        attended_stop=3,
        removal_per_piece_freed=3,
        start_hole_handling=3,
        inspection_base=5,
        inspection_per_contour=3,
        inspection_usual_um=10,
        inspection_most=5,
        human_sigma_log=0.2,
        sources=NO_SOURCES,
    ),
    consumption=ConsumableRates(
        electricity_per_kwh=Decimal("0.20"),
        filter_price=Decimal(90),
        filter_life_h=150,
        resin_price_per_l=Decimal(12),
        resin_l_per_h=0.02,
        electrode_price_per_m=Decimal(8),
        sources=NO_SOURCES,
    ),
    drilling=TABLES.technology.small_hole,
    minimum_order=Decimal(0),
    same_price_share=0.01,
    sources=NO_SOURCES,
)

SQUARE = np.array([[0.0, 0, 0], [25, 0, 0], [25, 25, 0], [0, 25, 0]])
POINT = (12.5, 12.5)


def one_pass(number, feed, sigma):
    return Pass(
        number=number,
        is_rough=number == 1,
        offset_mm=0.2,
        gap_um=40,
        stock_um=0,
        feed_mm_per_min=feed,
        feed_sigma_log=sigma,
        ra_um=2.8,
        recast_um=12,
        tolerance_um=25,
    )


def moves(*steps):
    """Steps are (length along x, purpose, feed); odd ones go back, so the run ends near."""
    ends, x = [], POINT[0]
    for i, (length, _, _) in enumerate(steps):
        x += length if i % 2 == 0 else -length
        ends.append((x, POINT[1]))
    n = len(steps)
    return Moves(
        start_mm=np.array(POINT),
        end_mm=np.array(ends),
        centre_mm=np.zeros((n, 2)),
        turn=np.zeros(n, dtype=np.int8),
        purpose=np.array([p for _, p, _ in steps], dtype=np.int8),
        feed_mm_per_min=np.array([f for _, _, f in steps], dtype=float),
    )


def cut(kind, number, run, *, threads=False, stop=False):
    return Cut(
        contour_id="H1",
        pass_number=number,
        kind=kind,
        offset_mm=0.2,
        condition=number,
        threads=threads,
        cuts_wire=False,
        stop_before=Stop(instruction="support the slug") if stop else None,
        stop_after=None,
        moves=run,
        nominal=None,
        offset_on_left=True,
    )


def operation(number, kind, pass_number, *, attended):
    return Operation(
        number=number,
        kind=kind,
        contour_id="H1",
        pass_number=pass_number,
        span=Span.BODY,
        attended=attended,
    )


def plan(*, quantities=(1,), start=StartKind.DRILLED, on=None):
    wall = Contour(SQUARE, is_closed=True)
    choice = PassChoice(
        wire=TABLES.catalogue.default_wire,
        passes=(one_pass(1, 2.0, 0.35), one_pass(2, 8.0, 0.25)),
        limiting="tolerance",
        further=(),
        findings=(),
    )
    target = PartContour(id="H1", role=Role.OPENING, contour=wall, layer="0", entities=())
    return Plan(
        part=Part(
            name="square.dxf",
            sha256="",
            drawing_unit=LengthUnit.MILLIMETRE,
            contours=(target,),
            given_starts=(),
            stock=None,
            construction=(),
            left_out={},
            findings=(),
        ),
        requirement=Requirement(
            material=TABLES.catalogue.material("D2"),
            height_mm=50.0,
            machine=on or machine(),
            quantities=quantities,
        ),
        choice=choice,
        contours=(
            ContourPlan(
                target=target,
                start=Start(
                    id="S1",
                    contour_id="H1",
                    kind=start,
                    x_mm=POINT[0],
                    y_mm=POINT[1],
                    diameter_mm=0.0 if start is StartKind.EDGE else 1.0,
                    clearance_mm=5.0,
                ),
                lead_station_mm=12.5,
                tab=Tab(
                    start_station_mm=96,
                    end_station_mm=100,
                    width_mm=4,
                    weight_n=2,
                    flushing_n=3,
                    safety=4,
                ),
                slug=Slug(is_part=False, area_mm2=600, mass_kg=0.23, smallest_width_mm=25),
                skims_before_cut_off=False,
                rough_attendance=RoughAttendance.NONE,
                loops=(),
                unreachable=(),
                choice=choice,
            ),
        ),
        operations=(
            operation(1, OperationKind.ROUGH, 1, attended=False),
            operation(2, OperationKind.CUT_OFF, 1, attended=True),
            operation(3, OperationKind.SKIM, 2, attended=False),
        ),
        stock=None,
        rules=RULES,
        findings=(),
    )


def path():
    rough = moves((5, Purpose.LEAD_IN, 2), (95, Purpose.WALL, 2), (90, Purpose.RETURN, 0))
    tab = moves((2, Purpose.CUT_OFF, 2), (2, Purpose.CUT_OFF, 2))
    skim = moves((50, Purpose.WALL, 8), (50, Purpose.WALL, 8))
    return WirePath(
        cuts=(
            cut(CutKind.ROUGH, 1, rough, threads=True),
            cut(CutKind.CUT_OFF, 1, tab, stop=True),
            cut(CutKind.SKIM, 2, skim, threads=True),
        )
    )


def times(est):
    return {t.operation: t.minutes.likely for t in est.times}


def money(price):
    return {line.item: line.likely for line in price.lines}


def test_minutes_of_every_operation_by_hand():
    # 100 mm at 2 mm/min and 90 mm back through open kerf at 500 mm/min; a tab of 4 mm at 2;
    # 100 mm at 8.  The hole: 51.365 mm at 20 mm/min (see the test of small holes).
    assert times(estimate(plan(), path(), rates=RATES)) == pytest.approx(
        {
            "programming": 20 + 3,
            "set-up": 45,
            "loading": 10,
            "start-hole drilling": 51.365 / 20,
            "start-hole handling": 3,
            "threading": 2,
            "rough pass": 50 + 90 / 500,
            "cut-off": 2,
            "skim pass 2": 12.5,
            "attended stops": 3,
            "removal": 3,
            "inspection": 8,
        }
    )


@pytest.mark.parametrize(
    ("tolerance_um", "minutes"),
    [(None, 5 + 3), (25.0, 5 + 3), (10.0, 5 + 3), (5.0, 5 + 6), (2.5, 5 + 12), (1.0, 5 + 15)],
)
def test_tight_walls_take_longer_to_measure(tolerance_um, minutes):
    # By hand: 5 min and 3 min times 10 µm over the tolerance, at most five times.
    asked = plan()
    wanted = dataclasses.replace(asked.requirement, tolerance_um=tolerance_um)
    asked = dataclasses.replace(asked, requirement=wanted)
    assert times(estimate(asked, path(), rates=RATES))["inspection"] == pytest.approx(minutes)


def test_the_price_of_one_piece_by_hand():
    # Minutes above at 60 (programming, bench), 90 (attended) and 30 an hour.
    # Wire runs 64.68 min at 10 m/min and 0.414787 g/m: 0.268284 kg at 12.00.
    # Electricity 6 kW * 1.078 h = 6.468 kWh; filters 1.078/150 of 90; resin 0.02156 l at 12;
    # tube 0.8 * 50 + 1.5 * 0.91 mm at 8.00 a metre.
    (price,) = estimate(plan(), path(), rates=RATES).prices
    assert money(price) == {
        "programming": Decimal("23.00"),
        "set-up": Decimal("67.50"),
        "loading": Decimal("15.00"),
        "start-hole drilling": Decimal("2.57"),
        "start-hole handling": Decimal("3.00"),
        "threading": Decimal("1.00"),
        "rough pass": Decimal("25.09"),
        "cut-off": Decimal("3.00"),
        "skim pass 2": Decimal("6.25"),
        "attended stops": Decimal("4.50"),
        "removal": Decimal("3.00"),
        "inspection": Decimal("8.00"),
        "wire": Decimal("3.22"),
        "electricity": Decimal("1.29"),
        "filters": Decimal("0.65"),
        "resin": Decimal("0.26"),
        "drilling electrodes": Decimal("0.33"),
    }
    assert price.likely == Decimal("167.66")
    assert price.each == Decimal("167.66")


def test_set_up_and_programming_are_paid_once():
    # 23.00 + 67.50 once; the rest of the single price, 77.15, is paid for each piece, but
    # rounding to the cent comes after multiplying.
    one, ten = estimate(plan(quantities=(1, 10)), path(), rates=RATES).prices
    assert money(ten)["programming"] == money(one)["programming"]
    assert money(ten)["set-up"] == money(one)["set-up"]
    assert money(ten)["skim pass 2"] == Decimal("62.50")
    summed = float(ten.likely - money(ten).get("rounding", Decimal(0)))
    assert summed == pytest.approx(90.50 + 10 * 77.15, abs=0.10)
    assert float(ten.each) == pytest.approx(float(ten.likely) / 10, abs=0.005)


def test_likely_lines_add_up_to_the_total_to_the_cent():
    for price in estimate(plan(quantities=(1, 3, 7, 1000)), path(), rates=RATES).prices:
        assert sum(line.likely for line in price.lines) == price.likely


def test_machine_hours_by_hand():
    # Attended 45 + 10 + 2 + 3, alone 2 + 50.18 + 12.5: 124.68 min; ten pieces 45 + 796.8 min.
    one, ten = estimate(plan(quantities=(1, 10)), path(), rates=RATES).prices
    assert one.hours.likely == pytest.approx(124.68 / 60)
    assert ten.hours.likely == pytest.approx(841.8 / 60)


def test_a_machine_without_threading_needs_a_hand_each_time():
    est = estimate(plan(on=machine(threads_itself=False)), path(), rates=RATES)
    (line,) = (t for t in est.times if t.operation == "threading")
    assert line.kind is TimeKind.MACHINE_ATTENDED
    assert line.minutes.likely == 10


def test_an_edge_start_or_a_given_hole_is_not_drilled():
    for start in (StartKind.EDGE, StartKind.GIVEN):
        est = estimate(plan(start=start), path(), rates=RATES)
        assert not any("start-hole" in name for name in times(est))
        assert not any(c.item == "drilling electrodes" for c in est.consumption)


def test_the_cut_off_is_attended_and_the_rest_is_not():
    kinds = {t.operation: t.kind for t in estimate(plan(), path(), rates=RATES).times}
    assert kinds["cut-off"] is TimeKind.MACHINE_ATTENDED
    assert kinds["rough pass"] is kinds["skim pass 2"] is TimeKind.MACHINE_UNATTENDED


def test_a_skim_alone_on_the_body_and_watched_on_the_tab_makes_two_lines():
    # The part is skimmed alone while the frame holds it; after the cut-off someone stands by
    # for the skim of its tab: 4 mm at 8 mm/min.
    p = plan()
    on_tab = dataclasses.replace(p.operations[2], number=4, span=Span.TAB, attended=True)
    p = dataclasses.replace(p, operations=(*p.operations, on_tab))
    tab = cut(CutKind.SKIM, 2, moves((4, Purpose.WALL, 8)))
    est = estimate(p, WirePath(cuts=(*path().cuts, tab)), rates=RATES)
    assert times(est)["skim pass 2"] == 12.5
    assert times(est)["skim pass 2, attended"] == 0.5
    kinds = {t.operation: t.kind for t in est.times}
    assert kinds["skim pass 2"] is TimeKind.MACHINE_UNATTENDED
    assert kinds["skim pass 2, attended"] is TimeKind.MACHINE_ATTENDED


def test_open_kerf_is_run_through_at_the_programmed_feed_where_there_is_one():
    run = moves((50, Purpose.WALL, 2), (50, Purpose.RETURN, 100))
    est = estimate(plan(), WirePath(cuts=(cut(CutKind.ROUGH, 1, run),)), rates=RATES)
    assert times(est)["rough pass"] == pytest.approx(25.5)


def test_moving_between_start_holes_takes_time_at_idle_speed():
    first, second, third = path().cuts
    away = dataclasses.replace(third.moves, start_mm=np.array([112.5, 12.5]))
    far = dataclasses.replace(third, moves=away)
    est = estimate(plan(), WirePath(cuts=(first, second, far)), rates=RATES)
    # From the end of the rough cut (12.5 + 5 - 95 + 90 = 12.5) nothing; from the end of the
    # tab at 12.5 to 112.5 are 100 mm at 500 mm/min.
    assert times(est)["positioning"] == pytest.approx(0.2)


def test_the_rate_moves_passes_and_wire_together_and_people_apart():
    # Only cutting: 90 an hour would be one lognormal with the mean deviation of its parts.
    (price,) = estimate(plan(), path(), rates=RATES).prices
    by_cause = {s.cause: s for s in price.spread}
    # Lines that follow the cutting rate: 25.09 + 3.00 + 6.25 + 3.22 + 1.29 + 0.65 + 0.26.
    assert by_cause["cutting rate"].share_of_price == pytest.approx(39.76 / 167.66)
    assert by_cause["drilling rate"].share_of_price == pytest.approx(2.57 / 167.66)
    assert by_cause["wear of the tube"].share_of_price == pytest.approx(0.33 / 167.66)
    assert sum(s.share_of_variance for s in price.spread) == pytest.approx(1)
    assert price.low < price.likely < price.high


def test_the_range_of_the_total_by_hand():
    # Line by line from the amounts above: mean m exp(s^2/2); variance of one cause alone
    # mean^2 (exp(s^2) - 1).  The cutting lines are 28.09 at 0.35, 6.25 at 0.25 and 5.42 of
    # consumables at the mean weighted by time, (52.18 * 0.35 + 12.5 * 0.25)/64.68 = 0.330674.
    mean = 28.09 * 1.063162 + 6.25 * 1.031743 + 5.42 * 1.056194  # 42.0370
    # The tube: 40 mm of wear at 0.25 and 1.365 mm through the face, together at 0.241673.
    mean += 2.57 * 1.083287 + 0.33 * 1.029634 + (23 + 67.5 + 15 + 3 + 1 + 4.5 + 3 + 8) * 1.020201
    # Together: sums of products of means with exp(s_i s_j) - 1 for 0.35, 0.25, 0.330674.
    a, b, c = 29.86422, 6.448394, 5.724571
    variance = a * a * 0.130319 + b * b * 0.064494 + c * c * 0.115553
    variance += 2 * (a * b * 0.091442 + a * c * 0.122688 + b * c * 0.086179)
    variance += 2.784048**2 * 0.173511 + 0.339779**2 * 0.060145 + 0.0408108 * 1.040811 * 5413.5
    sigma = np.sqrt(np.log(1 + variance / mean**2))
    middle = mean / np.exp(sigma**2 / 2)
    (price,) = estimate(plan(), path(), rates=RATES).prices
    assert float(price.high) == pytest.approx(middle * np.exp(1.28155 * sigma), abs=0.02)
    assert float(price.low) == pytest.approx(middle / np.exp(1.28155 * sigma), abs=0.02)


def test_people_alone_make_a_range_narrower_than_the_sum_of_their_ranges():
    (price,) = estimate(plan(), path(), rates=RATES).prices
    assert price.high < sum(line.high for line in price.lines)
    assert price.low > sum(line.low for line in price.lines)


def test_a_small_order_is_billed_at_the_minimum():
    rates = dataclasses.replace(RATES, minimum_order=Decimal("500.00"))
    one, ten = estimate(plan(quantities=(1, 10)), path(), rates=rates).prices
    assert one.likely == one.low == one.high == Decimal("500.00")
    assert money(one)["minimum order"] == Decimal("332.34")
    assert sum(line.likely for line in one.lines) == one.likely
    assert ten.likely > 500
    assert "minimum order" not in money(ten)


@pytest.mark.parametrize("minimum", [0, 500, 10_000])
def test_the_total_is_the_price_each_times_the_pieces_to_the_cent(minimum: int):
    rates = dataclasses.replace(RATES, minimum_order=Decimal(minimum))
    quantities = (1, 3, 7, 11, 350)
    for price in estimate(plan(quantities=quantities), path(), rates=rates).prices:
        assert price.likely == price.each * price.quantity
        assert price.likely == sum(line.likely for line in price.lines)
        assert price.each == price.each.quantize(Decimal("0.01"))
        assert price.likely >= minimum
        assert price.low <= price.likely <= price.high
        # Half a cent a piece is all that whole cents can move, a cent at the least we bill.
        assert abs(money(price).get("rounding", 0)) <= Decimal("0.01") * price.quantity


def test_the_basis_says_length_and_feed():
    basis = {t.operation: t.basis for t in estimate(plan(), path(), rates=RATES).times}
    assert basis["rough pass"] == "100.0 mm at 2.00 mm/min, 90.0 mm through open kerf"
    assert basis["skim pass 2"] == "100.0 mm at 8.00 mm/min"


def test_reasons_repeat_the_numbers():
    est = estimate(plan(), path(), rates=RATES)
    reasons = {r.quantity: r for r in est.reasons}
    assert reasons["cutting_min"].value == pytest.approx(64.68)
    assert reasons["wire_kg"].value == est.consumption[0].amount.likely
    assert "drilling_min" in reasons


def test_a_cutting_move_without_a_feed_is_refused():
    broken = cut(CutKind.ROUGH, 1, moves((5, Purpose.WALL, 2), (5, Purpose.WALL, 0)))
    with pytest.raises(InputError, match="move 2 of pass 1 has a feed of 0") as caught:
        estimate(plan(), WirePath(cuts=(broken,)), rates=RATES)
    assert caught.value.code == "feed-missing"


def test_a_cut_with_a_pass_that_the_plan_has_not_is_refused():
    broken = cut(CutKind.SKIM, 3, moves((5, Purpose.WALL, 2)))
    with pytest.raises(InputError) as caught:
        estimate(plan(), WirePath(cuts=(broken,)), rates=RATES)
    assert caught.value.code == "pass-unknown"


def test_a_piece_never_gets_dearer_in_larger_numbers():
    prices = estimate(plan(quantities=tuple(range(1, 60))), path(), rates=RATES).prices
    for fewer, more in itertools.pairwise(prices):
        # Half a cent of each of the 17 lines may be rounded either way.
        assert more.each <= fewer.each + Decimal("0.09")
        assert more.likely > fewer.likely


def test_half_the_feed_doubles_the_cutting_and_leaves_people_alone():
    def slowed(c):
        return dataclasses.replace(
            c, moves=dataclasses.replace(c.moves, feed_mm_per_min=c.moves.feed_mm_per_min / 2)
        )

    slow = WirePath(cuts=tuple(slowed(c) for c in path().cuts))
    fast_times = times(estimate(plan(), path(), rates=RATES))
    slow_times = times(estimate(plan(), slow, rates=RATES))
    for name in ("cut-off", "skim pass 2"):
        assert slow_times[name] == pytest.approx(2 * fast_times[name])
    # Open kerf goes at idle speed whatever the feed.
    assert slow_times["rough pass"] == pytest.approx(100 + 0.18)
    assert slow_times["inspection"] == fast_times["inspection"]


def test_a_job_without_rates_costs_nothing_and_has_no_range():
    free = dataclasses.replace(
        RATES,
        hour=HourRates(
            machine_unattended_per_h=Decimal(0),
            machine_attended_per_h=Decimal(0),
            programming_per_h=Decimal(0),
            bench_per_h=Decimal(0),
            sources=NO_SOURCES,
        ),
        consumption=ConsumableRates(
            electricity_per_kwh=Decimal(0),
            filter_price=Decimal(0),
            filter_life_h=150,
            resin_price_per_l=Decimal(0),
            resin_l_per_h=0.02,
            electrode_price_per_m=Decimal(0),
            sources=NO_SOURCES,
        ),
    )
    p = plan()
    wire = dataclasses.replace(p.choice.wire, price_per_kg=0.0)
    p = dataclasses.replace(p, choice=dataclasses.replace(p.choice, wire=wire))
    (price,) = estimate(p, path(), rates=free).prices
    assert price.low == price.likely == price.high == 0
    assert price.spread == ()
