from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from kerfwright.adapters.machines import load_machine
from kerfwright.adapters.tables import load_tables
from kerfwright.adapters.wire_physics import load_wire_physics
from kerfwright.foundation.errors import InputError
from kerfwright.process.feed_advice import FeedAdvice, FeedLimit, feed_advice, feed_limits
from kerfwright.process.passes import passes_for

PHYSICS = load_wire_physics()
TABLES = load_tables()
RULES = PHYSICS.feeds


def limit(**changes: float) -> FeedLimit:
    values = {"lag_um": 40.0, "allowed_um": 10.0, "feed_exponent": 1.0}
    return FeedLimit(pass_number=1, rules=RULES, **(values | changes))


def advise(
    length_mm: list[float], turn_deg: list[float], *, given_limit: FeedLimit | None = None
) -> FeedAdvice:
    n = len(length_mm)
    return feed_advice(
        length_mm=np.array(length_mm),
        turn_rad=np.radians(turn_deg),
        radius_mm=np.zeros(n),
        sweep_rad=np.zeros(n),
        limit=given_limit or limit(),
    )


def circle(radius_mm: float, **changes: float) -> FeedAdvice:
    return feed_advice(
        length_mm=np.array([2 * math.pi * radius_mm]),
        turn_rad=np.zeros(1),
        radius_mm=np.array([radius_mm]),
        sweep_rad=np.array([2 * math.pi]),
        limit=limit(**changes),
    )


def test_a_square_corner_is_slowed_to_the_lag_that_is_allowed():
    advice = advise([5, 5], [90, 0])
    assert advice.corner_factor.tolist() == [0.25, 1.0]
    assert advice.corner_error_um[0] == pytest.approx(10)
    assert advice.before_mm[0] == pytest.approx(max(2 * 0.04, RULES.shortest_zone_mm))


def test_the_zone_lasts_until_the_full_lag_is_harmless():
    # delta 10 um in the zone; at full feed sin(phi) must be below 10/40.  From 90 degrees that
    # takes 10 ln(1 / tan(asin(0.25)/2)) = 20.6 um, less than the shortest zone.
    assert advise([5, 5], [90, 0]).after_mm[0] == pytest.approx(RULES.shortest_zone_mm)
    wide = limit(lag_um=400.0, allowed_um=100.0)
    run = 0.1 * math.log(1 / math.tan(math.asin(0.25) / 2))
    advice = advise([5, 5], [90, 0], given_limit=wide)
    assert advice.after_mm[0] == pytest.approx(run, rel=1e-9)
    assert advice.before_mm[0] == pytest.approx(RULES.lags_before * 0.4)


def test_an_even_harder_corner_stops_at_the_least_factor_and_says_so():
    advice = advise([5, 5], [90, 0], given_limit=limit(allowed_um=2.0))
    assert advice.corner_factor[0] == RULES.least_factor
    assert advice.corner_error_um.max() == pytest.approx(8.0)


def test_half_the_exponent_asks_for_the_square_of_the_factor():
    half = limit(allowed_um=20.0, feed_exponent=0.5)
    assert advise([5, 5], [90, 0], given_limit=half).corner_factor[0] == pytest.approx(0.25)


def test_a_circle_is_slowed_below_the_radius_at_which_it_errs_too_much():
    # R - sqrt(R^2 - 40^2) = 10 um at R = 85 um.
    assert circle(0.0851).arc_factor[0] == 1.0
    tight = circle(0.0849)
    assert tight.arc_factor[0] < 1.0
    assert tight.arc_error_um[0] <= 10.0


def trailing_after_an_arc_rad(radius_mm: float, *, lag_mm: float, turn_deg: float) -> float:
    """Follow guides round a circle until the wire has settled; return its angle past a corner."""
    step = lag_mm / 2000
    angles = np.arange(0.0, 20 * lag_mm / radius_mm + math.pi, step / radius_mm)
    guides = radius_mm * np.column_stack([np.sin(angles), 1 - np.cos(angles)])
    wire = guides[0] - [lag_mm, 0.0]
    for guide in guides[1:]:
        back = wire - guide
        wire = guide + back * lag_mm / math.hypot(*back)
    leaves = angles[-1] + math.radians(turn_deg)
    back = guides[-1] - wire
    across = back[1] * math.cos(leaves) - back[0] * math.sin(leaves)
    return math.atan2(-across, back[0] * math.cos(leaves) + back[1] * math.sin(leaves))


@pytest.mark.parametrize(("radius_mm", "turn_deg"), [(0.2, 40.0), (0.1, 30.0), (0.5, 60.0)])
def test_a_corner_behind_an_arc_has_the_lag_of_the_arc_on_top_of_its_turn(radius_mm, turn_deg):
    phi = trailing_after_an_arc_rad(radius_mm, lag_mm=0.04, turn_deg=turn_deg)
    assert phi == pytest.approx(math.radians(turn_deg) + math.asin(0.04 / radius_mm), abs=1e-3)
    advice = feed_advice(
        length_mm=np.array([3.0, 5.0]),
        turn_rad=np.radians([turn_deg, 0.0]),
        radius_mm=np.array([radius_mm, 0.0]),
        sweep_rad=np.array([3.0 / radius_mm, 0.0]),
        limit=limit(allowed_um=0.001),
    )
    slowest = 40 * RULES.least_factor
    assert advice.corner_error_um[0] == pytest.approx(slowest * math.sin(phi), rel=2e-3)


def test_chords_of_a_curve_add_up_to_its_corner():
    # A quarter turn in 90 chords of 1 µm: one bend of 90 degrees to a wire that trails by 40 µm.
    sharp = advise([5, 5], [90, 0])
    chords = advise([5.0] + [0.001] * 89 + [5.0], [1.0] * 90 + [0.0])
    # The wire comes round on the way: tan(phi/2) falls by exp(-89/40) at most.
    assert chords.corner_factor.min() == pytest.approx(sharp.corner_factor[0], abs=0.35)
    assert chords.corner_factor.min() < 1
    wide = advise([5.0] + [1.0] * 89 + [5.0], [1.0] * 90 + [0.0])
    assert (wide.corner_factor == 1).all()


def test_a_zigzag_of_drawing_noise_does_not_add_up():
    turns = [2.0 if k % 2 else -2.0 for k in range(200)]
    assert (advise([0.005] * 200, turns).corner_factor == 1).all()


def test_the_turns_that_are_carried_are_those_of_a_plain_loop():
    random = np.random.default_rng(3)
    length = random.uniform(0.0005, 0.2, 300)
    turn = random.normal(0, 40, 300)
    advice = advise(length.tolist(), turn.tolist(), given_limit=limit(allowed_um=0.001))
    carried, wanted = 0.0, []
    for s, a in zip(length, np.radians(turn), strict=True):
        carried = carried * math.exp(-s / 0.04) + 2 * math.tan(a / 2)
        wanted.append(min(2 * math.atan(abs(carried) / 2), math.pi / 2))
    slow = 40 * RULES.least_factor
    assert advice.corner_error_um == pytest.approx(slow * np.sin(wanted), rel=1e-6)


@given(
    turn_deg=st.floats(-170, 170),
    lag_um=st.floats(0.1, 500),
    allowed_um=st.floats(0.2, 50),
    exponent=st.floats(0.3, 2),
)
def test_the_error_keeps_the_allowance_or_the_feed_is_the_least(
    turn_deg, lag_um, allowed_um, exponent
):
    held = limit(lag_um=lag_um, allowed_um=allowed_um, feed_exponent=exponent)
    advice = advise([5, 5], [turn_deg, 0], given_limit=held)
    factor = advice.corner_factor[0]
    assert RULES.least_factor <= factor <= 1
    assert advice.corner_error_um.max() <= allowed_um * (1 + 1e-6) or factor == RULES.least_factor
    # And no slower than needed: one step up would break it.
    if RULES.least_factor < factor < 1:
        faster = lag_um * (factor + RULES.factor_step + 1e-6) ** exponent
        assert faster * math.sin(min(abs(math.radians(turn_deg)), math.pi / 2)) > allowed_um


def test_arrays_of_unequal_length_are_refused():
    with pytest.raises(InputError, match="one length"):
        feed_advice(
            length_mm=np.ones(2),
            turn_rad=np.zeros(3),
            radius_mm=np.zeros(2),
            sweep_rad=np.zeros(2),
            limit=limit(),
        )


def test_the_allowance_is_half_the_tolerance_and_the_lag_falls_from_pass_to_pass():
    wire = TABLES.catalogue.wire("0.25")
    passes = passes_for(
        5,
        material=TABLES.catalogue.material("D2"),
        height_mm=40.0,
        wire=wire,
        machine=load_machine(),
        technology=TABLES.technology,
    )
    limits = feed_limits(passes, wire=wire, height_mm=40.0, physics=PHYSICS)
    assert [one.allowed_um for one in limits] == [p.tolerance_um / 2 for p in passes]
    lags = [one.lag_um for one in limits]
    assert lags == sorted(lags, reverse=True)
    # Order of magnitude of the trade: some tens of micrometres in roughing, below one at the end.
    assert 10 < lags[0] < 100
    assert lags[-1] < 1
    doubled = replace(PHYSICS, push=replace(PHYSICS.push, pressure_kpa=8.0))
    twice = feed_limits(passes, wire=wire, height_mm=40.0, physics=doubled)
    assert twice[0].lag_um == pytest.approx(2 * limits[0].lag_um)
