"""The reader gives back what the writer was given: the two share no code."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.soak import SOAK, tries

from kerfwright.geometry.segments import Segments
from kerfwright.nc.reader import read_program
from kerfwright.nc.timeline import Timeline
from kerfwright.nc.writer import write_program
from kerfwright.trade.machine import ArcForm, OffsetForm
from wire_samples import cut, machine, moves, path, random_rows

_STATIONS = np.linspace(0.0, 1.0, 9)
_BULGE_SLACK = 0.75
"""Digits by which an arc through both ends may leave one whose radius runs between its two radii,
which differ by 1.5 digits at most."""

_MISMATCH_MM = {"generic-mm": 0.002, "generic-inch": 0.0002 * 25.4}
"""NISTIR 6556, from memory."""


def _digit_mm(name: str, decimals: int) -> float:
    return 10.0**-decimals * (25.4 if name == "generic-inch" else 1.0)


def _sampled(line: Timeline) -> list[np.ndarray]:
    """Return (9, 2) points along each feed move, the radius running evenly between its ends."""
    out = []
    for i in np.flatnonzero(line.is_rapid == 0):
        start, end, centre = line.start_mm[i], line.end_mm[i], line.centre_mm[i]
        if line.turn[i] == 0:
            out.append(start + (end - start) * _STATIONS[:, None])
            continue
        a, b = start - centre, end - centre
        sweep = np.arctan2(a[0] * b[1] - a[1] * b[0], a @ b) * line.turn[i] % (2 * np.pi)
        at = np.arctan2(a[1], a[0]) + sweep * line.turn[i] * _STATIONS
        radius = np.hypot(*a) + (np.hypot(*b) - np.hypot(*a)) * _STATIONS
        out.append(centre + np.stack([np.cos(at), np.sin(at)], axis=1) * radius[:, None])
    return out


def _true(rows: list[tuple[float, float, float]]) -> Segments:
    table = np.array(rows)
    return Segments.from_ends(table[:-1, :2], table[1:, :2], table[:-1, 2])


def _as_segments(line: Timeline) -> Segments:
    feed = line.is_rapid == 0
    a, b = (line.start_mm - line.centre_mm)[feed], (line.end_mm - line.centre_mm)[feed]
    turn = line.turn[feed]
    sweep = np.arctan2(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0], (a * b).sum(axis=1)) * turn
    bulge = np.where(turn == 0, 0.0, np.tan(np.mod(sweep, 2 * np.pi) / 4) * turn)
    return Segments.from_ends(line.start_mm[feed], line.end_mm[feed], bulge)


def _farthest_mm(points: np.ndarray, segments: Segments) -> float:
    every = np.arange(len(segments))
    worst = 0.0
    for point in points:
        distance = segments.distances(every, np.broadcast_to(point, (len(every), 2)))
        worst = max(worst, float(distance.min()))
    return worst


@settings(max_examples=2000 if SOAK else 20, deadline=None)
@given(
    seed=st.integers(0, 10**6),
    step_mm=st.sampled_from([0.0003, 0.004, 0.05, 1.0, 20.0]),
    name_decimals=st.sampled_from(
        [("generic-mm", 4), ("generic-mm", 5), ("generic-inch", 5), ("generic-inch", 6)]
    ),
    form=st.sampled_from(list(ArcForm)),
)
def test_the_path_read_stays_within_a_tenth_micrometre_and_half_a_digit(
    seed: int, step_mm: float, name_decimals: tuple[str, int], form: ArcForm
) -> None:
    name, decimals = name_decimals
    digit = _digit_mm(name, decimals)
    device = machine(name, arc_form=form, decimals=decimals)
    rows = random_rows(seed, count=12, step_mm=step_mm)
    rows.append((rows[-1][0] + 1.0, rows[-1][1], 0.0))
    text = write_program(path(cut(moves(rows))), machine=device, title="random")
    line = read_program(text, machine=device)
    limit = 1e-4 + digit / 2
    true = _true(rows)
    assert _farthest_mm(np.concatenate(_sampled(line)), true) <= limit
    # The other way: nothing of the true path was left out.
    every = np.repeat(np.arange(len(true)), len(_STATIONS))
    points = true.points_at(every, np.tile(_STATIONS, len(true)))
    assert _farthest_mm(points, _as_segments(line)) <= limit + _BULGE_SLACK * digit
    # Rounding by itself keeps every end within half a digit in x and in y.
    np.testing.assert_allclose(line.end_mm[-1], rows[-1][:2], rtol=0, atol=digit * 0.501)
    arcs = line.turn != 0
    first = np.hypot(*(line.start_mm - line.centre_mm)[arcs].T)
    last = np.hypot(*(line.end_mm - line.centre_mm)[arcs].T)
    assert np.abs(first - last).max(initial=0.0) < _MISMATCH_MM[name]


@settings(max_examples=tries(60), deadline=None)
@given(
    seed=st.integers(0, 10**6),
    name=st.sampled_from(["generic-mm", "generic-inch"]),
    form=st.sampled_from(list(ArcForm)),
    numbers=st.booleans(),
)
def test_moves_of_a_millimetre_come_back_one_by_one(
    seed: int, name: str, form: ArcForm, numbers: bool
) -> None:
    device = machine(name, arc_form=form, block_numbers=numbers)
    digit = _digit_mm(name, device.dialect.decimals)
    rows = [(x, y, np.clip(b, -0.4, 0.4)) for x, y, b in random_rows(seed, count=30, step_mm=3.0)]
    wanted = moves(rows)
    line = read_program(write_program(path(cut(wanted)), machine=device, title="x"), machine=device)
    feed = line.is_rapid == 0
    assert int(feed.sum()) == len(wanted)
    # Arcs that leave their chord by less than a micrometre may come back as lines.
    begin = np.vstack([wanted.start_mm[None], wanted.end_mm[:-1]])
    bulges = np.array([b for _, _, b in rows[:-1]])
    clear = np.abs(bulges) * np.hypot(*(wanted.end_mm - begin).T) / 2 > 1e-3
    assert clear.any()
    np.testing.assert_array_equal(line.turn[feed][clear], wanted.turn[clear])
    np.testing.assert_allclose(line.end_mm[feed], wanted.end_mm, rtol=0, atol=digit * 0.501)
    assert line.feed_mm_per_min[feed] == pytest.approx(wanted.feed_mm_per_min, abs=2e-3)


@pytest.mark.parametrize("name", ["generic-mm", "generic-inch"])
@pytest.mark.parametrize(("on_left", "sign"), [(True, -1.0), (False, 1.0)])
def test_a_circle_in_the_controller_form_reads_as_the_circle_of_the_exact_offset(
    name: str, on_left: bool, sign: float
) -> None:
    device = machine(name, offset_form=OffsetForm.CONTROLLER)
    # From the side on which the wire runs, tangent onto a counter-clockwise circle of radius 5.
    rows = [(5.0, -3.0, 0.0), (5.0, 0.0, 1.0), (-5.0, 0.0, 1.0), (5.0, 0.0, 0.0), (5.0, 3.0, 0.0)]
    run = moves(rows)
    text = write_program(
        path(cut(run, nominal=run, offset_mm=0.18, offset_on_left=on_left)),
        machine=device,
        title="circle",
    )
    line = read_program(text, machine=device)
    arcs = np.flatnonzero(line.turn)
    assert len(arcs) == 2
    for points in (line.start_mm[arcs], line.end_mm[arcs]):
        radius = np.hypot(*(points - [0.0, 0.0]).T)
        np.testing.assert_allclose(radius, 5.0 + sign * 0.18, rtol=0, atol=1e-4)


@pytest.mark.parametrize(("on_left", "rolls"), [(True, 0), (False, 4)])
def test_a_rectangle_in_the_controller_form_reads_as_the_rectangle_of_the_exact_offset(
    on_left: bool, rolls: int
) -> None:
    device = machine(offset_form=OffsetForm.CONTROLLER)
    y0 = 4.0 if on_left else -4.0
    corners = [(5.0, y0), (5.0, 0.0), (20.0, 0.0), (20.0, 10.0), (0.0, 10.0), (0.0, 0.0)]
    run = moves([*corners, (7.0, 0.0), (5.0, y0)])
    one = cut(run, nominal=run, offset_mm=0.25, offset_on_left=on_left)
    line = read_program(write_program(path(one), machine=device, title="box"), machine=device)
    assert int((line.turn != 0).sum()) == rolls
    # The four walls run at exactly the offset.
    d = 0.25 if on_left else -0.25
    x, y = line.end_mm[2:-2, 0], line.end_mm[2:-2, 1]
    assert x.max() == pytest.approx(20.0 - d, abs=1e-12)
    assert x.min() == pytest.approx(d, abs=1e-12)
    assert y.max() == pytest.approx(10.0 - d, abs=1e-12)
    assert y.min() == pytest.approx(d, abs=1e-12)


def test_a_rounded_slot_in_the_controller_form_reads_as_the_slot_of_the_exact_offset() -> None:
    device = machine(offset_form=OffsetForm.CONTROLLER)
    rows = [
        (0.0, 0.0, 0.0), (0.0, -2.0, 0.0), (6.0, -2.0, 1.0), (6.0, 2.0, 0.0), (-6.0, 2.0, 1.0),
        (-6.0, -2.0, 0.0), (1.0, -2.0, 0.0), (1.0, 0.0, 0.0),
    ]  # fmt: skip
    run = moves(rows)
    one = cut(run, nominal=run, offset_mm=0.15, offset_on_left=True)
    line = read_program(write_program(path(one), machine=device, title="slot"), machine=device)
    exact = _true(
        [
            (-6.0, -1.85, 0.0),
            (6.0, -1.85, 1.0),
            (6.0, 1.85, 0.0),
            (-6.0, 1.85, 1.0),
            (-6.0, -1.85, 0.0),
        ]
    )
    wall = dataclasses.replace(
        line, is_rapid=np.where((np.arange(len(line)) > 0) & (np.arange(len(line)) < 6), 0, 1)
    )
    inner = np.concatenate(_sampled(wall)[1:])
    assert _farthest_mm(inner, exact) < 1e-12
