"""Threading, stops, order, limits and pieces: one rule broken at a time on a time line."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from tests.small_programs import (
    KERF,
    OFFSET,
    PUNCH,
    STEEL,
    WINDOW,
    Program,
    Text,
    claim_for,
    cut,
    good_programs,
)

from kerfwright.foundation.errors import InputError
from kerfwright.foundation.findings import Severity
from kerfwright.geometry.contour import Contour
from kerfwright.nc.reader import read_program
from kerfwright.nc.timeline import Happening, Timeline, WordEvent
from kerfwright.proof.prove import prove_program, prove_timeline
from kerfwright.proof.records import Claim, EventKind, Proof, StartPlace

PROGRAMS = {p.name: p for p in good_programs()}


@pytest.fixture
def window() -> Program:
    return PROGRAMS["window"]


@pytest.fixture
def timeline(window: Program) -> Timeline:
    return read_program(window.text, machine=window.claim.machine)


def refusals(timeline: Timeline, claim: Claim) -> set[str]:
    proof = prove_timeline(timeline, claim, program_sha256="")
    found = {f.code for f in proof.findings if f.severity is Severity.REFUSAL}
    assert proof.passed == (not found)
    return found


def without(timeline: Timeline, kind: WordEvent, which: int = 0) -> Timeline:
    rows = [k for k, h in enumerate(timeline.happenings) if h.kind is kind]
    kept = [h for k, h in enumerate(timeline.happenings) if k != rows[which]]
    return replace(timeline, happenings=tuple(kept))


def pieces(proof: Proof) -> list[tuple[str | None, float | None, bool, int]]:
    return [
        (e.contour_id, e.mass_kg, e.is_attended, e.line)
        for e in proof.events
        if e.kind is EventKind.PIECE_FREE
    ]


def test_the_slug_of_a_window_has_the_mass_of_its_area(window: Program) -> None:
    """(20 − 2 o − 2 r)(12 − 2 o − 2 r) less corners, start hole and lead-in, times height.

    The kerf is drawn up to 2 % wide, which takes 3 µm all round.
    """
    proof = prove_program(window.text, window.claim)
    ((name, mass, attended, line),) = pieces(proof)
    assert name == "H1"
    assert attended
    inset, corner = OFFSET[1] + KERF[1], 1.0 - OFFSET[1] - KERF[1]
    area = (20 - 2 * inset) * (12 - 2 * inset) - (4 - math.pi) * corner**2 - math.pi / 4
    area -= (5.5 - inset) * 2 * KERF[1]
    assert mass == pytest.approx(area * 20.0 * STEEL * 1e-9, rel=1.5e-3)
    tab_line = window.text.splitlines()[line - 1]
    assert "M00" in window.text.splitlines()[line - 2]
    assert tab_line.startswith("G01 X0.2000 Y6.0000")


def test_the_mass_of_a_part_leaves_out_its_openings() -> None:
    inside = replace_id(WINDOW, "H1")
    text = Text()
    cut(text, PUNCH)
    alone = prove_program(text.text(), claim_for([PUNCH]))
    claim = replace(claim_for([PUNCH]), contours=(PUNCH.part, inside))
    holed = prove_program(text.text(), claim)
    difference = pieces(alone)[0][1] - pieces(holed)[0][1]  # type: ignore[operator]
    area = abs(inside.contour.area_mm2)
    assert difference == pytest.approx(area * 20.0 * STEEL * 1e-9, rel=1e-9)


def replace_id(shape: object, name: str) -> object:
    part = WINDOW.part
    assert shape is WINDOW
    return replace(part, id=name, contour=part.contour.transformed(scale=0.5, shift_mm=(5, 4)))


def test_a_slug_that_falls_with_nobody_there_is_refused(
    timeline: Timeline, window: Program
) -> None:
    found = refusals(without(timeline, WordEvent.STOP, 0), window.claim)
    assert found == {"piece-falls-unattended"}


def test_an_optional_stop_brings_nobody(timeline: Timeline, window: Program) -> None:
    happenings = tuple(
        replace(h, kind=WordEvent.OPTIONAL_STOP) if h.kind is WordEvent.STOP else h
        for h in timeline.happenings
    )
    found = refusals(replace(timeline, happenings=happenings), window.claim)
    assert found == {"piece-falls-unattended", "piece-not-taken-out"}


def test_a_slug_left_in_while_the_skim_begins_is_refused(
    timeline: Timeline, window: Program
) -> None:
    assert refusals(without(timeline, WordEvent.STOP, 1), window.claim) == {"piece-not-taken-out"}


def test_the_piece_is_free_at_the_line_where_the_kerf_closes() -> None:
    """The tab of 2 mm is cut in ten moves: it parts where the discs meet, 2 r before its end."""
    text = PROGRAMS["window"].text.splitlines()
    row = text.index("M00") + 1
    assert text[row].startswith("G01 X0.2000 Y6.0000")
    steps = [f"G01 X0.2000 Y{4 + 0.2 * k:.4f} F2.5" for k in range(1, 11)]
    text[row : row + 1] = steps
    proof = prove_program("\n".join(text) + "\n", PROGRAMS["window"].claim)
    assert proof.passed
    ((_, _, _, line),) = pieces(proof)
    # The rough kerf begins at Y6 with radius 0.15: solid up to Y5.85; the wire takes 0.15 ahead.
    expected = math.ceil((5.85 - 0.15 - 4.0) / 0.2)
    assert line == row + expected


def test_threading_twice_and_cutting_without_wire_are_refused(
    timeline: Timeline, window: Program
) -> None:
    assert "cut-without-wire" in refusals(without(timeline, WordEvent.THREAD), window.claim)
    again = Happening(kind=WordEvent.THREAD, line=6, before_move=1)
    doubled = replace(
        timeline, happenings=(timeline.happenings[0], again, *timeline.happenings[1:])
    )
    assert "threaded-twice" in refusals(doubled, window.claim)


def test_a_start_needs_room_for_the_wire(timeline: Timeline, window: Program) -> None:
    def with_start(away: float, diameter: float) -> Claim:
        start = StartPlace(x_mm=6.0 + away, y_mm=6.0, diameter_mm=diameter)
        return replace(window.claim, starts=(start,))

    assert refusals(timeline, with_start(0.374, 1.0)) == set()
    assert refusals(timeline, with_start(0.376, 1.0)) == {"thread-outside-start"}
    assert "thread-outside-start" in refusals(timeline, with_start(0.0, 0.2))


def test_the_wire_may_be_threaded_outside_the_stock_or_at_its_edge() -> None:
    text = Text()
    cut(text, PUNCH)
    claim = claim_for([PUNCH])
    program = text.text()
    stock = Contour.from_rows([(-3, -3.5), (30, -3.5), (30, 20), (-3, 20)])
    outside = replace(claim, starts=(), stock=stock)
    assert prove_program(program, outside).passed
    edge = replace(claim, starts=(StartPlace(x_mm=12.0, y_mm=-4.05, diameter_mm=0.0),))
    assert prove_program(program, edge).passed
    nowhere = replace(claim, starts=())
    assert not prove_program(program, nowhere).passed


def test_a_part_that_is_cut_off_at_the_edge_of_the_stock_comes_free() -> None:
    """The kerf does not close on itself: with the stock's edge it goes round the part."""
    stock = Contour.from_rows([(0, 0), (30, 0), (30, 30), (0, 30)])
    wall = Contour.from_rows([(-5, -5), (15, -5), (15, 15), (-5, 15)])
    base = claim_for([PUNCH])
    part = replace(PUNCH.part, contour=wall)
    claim = replace(base, contours=(part,), stock=stock, kerf_radius_mm={1: 0.15})
    lines = ["(CUT P1 PASS 1 OFFSET 0.1500)", "G00 X15.15 Y-4", "M101", "M103 P1"]
    lines += ["G01 X15.15 Y15.15 F3", "X-4 Y15.15", "M102"]
    text = Text()
    text.add(*lines)
    freed = pieces(prove_program(text.text(), claim))
    assert len(freed) == 1
    assert freed[0][1] == pytest.approx(15 * 15 * 20.0 * STEEL * 1e-9, rel=1e-3)


def test_a_rapid_with_the_wire_threaded_may_use_open_kerf_only(
    timeline: Timeline, window: Program
) -> None:
    # The last move of the rough pass's cut-off goes home through the open lead-in.
    moves = np.flatnonzero((timeline.end_mm == [6.0, 6.0]).all(axis=1))
    rapid = timeline.is_rapid.copy()
    rapid[moves[1]] = 1
    assert refusals(replace(timeline, is_rapid=rapid), window.claim) == set()
    rapid = timeline.is_rapid.copy()
    rapid[3] = 1
    assert "rapid-through-material" in refusals(replace(timeline, is_rapid=rapid), window.claim)


@pytest.mark.parametrize(("feed", "code"), [(0.0, "feed-missing"), (5e3, "feed-too-fast")])
def test_feeds_must_be_plausible(
    timeline: Timeline, window: Program, feed: float, code: str
) -> None:
    feeds = timeline.feed_mm_per_min.copy()
    feeds[4] = feed
    assert refusals(replace(timeline, feed_mm_per_min=feeds), window.claim) == {code}


def test_limits_of_the_machine_are_kept(timeline: Timeline, window: Program) -> None:
    claim = window.claim
    low = replace(claim.machine, max_height_mm=10.0, travel_x_mm=15.0, travel_y_mm=10.0)
    assert refusals(timeline, replace(claim, machine=low)) == {"too-high", "travel"}
    stock = Contour.from_rows([(-100, -100), (100, -100), (100, 100), (-100, 100)])
    light = replace(claim.machine, max_weight_kg=6.0)
    found = refusals(timeline, replace(claim, machine=light, stock=stock))
    assert found == {"too-heavy"}


def test_headers_are_checked_against_claim_and_table(timeline: Timeline, window: Program) -> None:
    claim = window.claim
    assert "contour-not-to-cut" in refusals(timeline, replace(claim, cut_ids=frozenset()))
    more = dict(KERF) | {4: 0.139}
    assert "missing-pass" in refusals(timeline, replace(claim, kerf_radius_mm=more))
    fewer = {1: KERF[1], 2: KERF[2]}
    assert "unknown-pass" in refusals(timeline, replace(claim, kerf_radius_mm=fewer))
    table = replace(timeline, offsets_mm={1: 0.2, 2: 0.155, 3: 0.1402})
    assert refusals(table, claim) == {"offset-table"}
    bare = replace(timeline, headers=timeline.headers[1:])
    assert "cut-without-header" in refusals(bare, claim)


def test_a_program_without_headers_says_so_and_does_not_break(
    timeline: Timeline, window: Program
) -> None:
    found = refusals(replace(timeline, headers=()), window.claim)
    assert {"cut-without-header", "missing-pass"} <= found


def test_an_empty_program_is_refused(window: Program) -> None:
    proof = prove_program("%\nG21 G90 G40\nM30\n%\n", window.claim)
    assert not proof.passed
    assert {"missing-pass", "uncut-wall"} <= {f.code for f in proof.findings}


def test_times_and_lengths_follow_from_the_text(window: Program, timeline: Timeline) -> None:
    proof = prove_program(window.text, window.claim)
    cutting = timeline.is_rapid == 0
    straight = np.hypot(*(timeline.end_mm - timeline.start_mm)[cutting & (timeline.turn == 0)].T)
    arcs = sum(2 * math.pi * (1.0 - o) for o in OFFSET.values())
    assert proof.path_length_mm == pytest.approx(straight.sum() + arcs, rel=1e-9)
    slow = np.isclose(timeline.feed_mm_per_min, 2.5) & cutting
    rough = np.hypot(*(timeline.end_mm - timeline.start_mm)[slow & (timeline.turn == 0)].T).sum()
    rough += 2 * math.pi * (1.0 - OFFSET[1])
    skims = proof.path_length_mm - rough
    assert proof.cutting_time_s == pytest.approx(rough / 2.5 * 60 + skims / 6 * 60, rel=1e-9)
    assert len(proof.program_sha256) == 64


@pytest.mark.parametrize(
    "change",
    [
        {"contours": ()},
        {"kerf_radius_mm": {}},
        {"kerf_radius_mm": {1: 0.0}},
        {
            "contours": (
                replace(WINDOW.part, contour=Contour.from_rows([(0, 0), (1, 0)], is_closed=False)),
            )
        },
    ],
)
def test_an_unusable_claim_is_an_error(window: Program, change: dict[str, object]) -> None:
    with pytest.raises(InputError):
        prove_program(window.text, replace(window.claim, **change))  # type: ignore[arg-type]
