"""Whatever sizes a shop has measured: of those that count a worse one never betters a promise.

All are confirmed here but where a test says otherwise: one in question does not count.
"""

from __future__ import annotations

import dataclasses

from hypothesis import given, settings
from hypothesis import strategies as st
from tests.soak import tries

from kerfwright.adapters.learning_rules import load_learning_rules
from kerfwright.learning.records import CROSSED, Measure
from kerfwright.learning.sizes import MeasuredSize, SizeBook, answers, size_groups, sizes_known
from kerfwright.process.experience import SizeRecord

RULES = load_learning_rules()
UNIT_UM = 2.5
GROSS = RULES.gross_size_tolerances / RULES.size_share_of_tolerance


def row(machine: str, material: str, number: int, job: int) -> tuple[str, ...]:
    together = f"{machine} {material} {number}"
    by_kind = {"machine": machine, "material": material, "pass": f"{number}"}
    by_kind |= {"combination": together}
    return (*(f"{kind} {by_kind.get(kind, 'same')}" for kind in CROSSED), f"job {job}")


ASKED = row("a", "steel", 3, 0)[:-1]

rows = st.builds(
    row, st.just("a"), st.sampled_from(["steel", "steel", "carbide"]),
    st.sampled_from([3, 3, 4]), st.integers(0, 8),
)  # fmt: skip
sizes = st.floats(-2 * GROSS, 2 * GROSS) | st.floats(-2.0, 2.0)
records = st.lists(st.tuples(rows, sizes), min_size=1, max_size=14)


def held(known: list[tuple[tuple[str, ...], float]], *, is_confirmed: bool = True) -> float:
    sizes = [
        MeasuredSize(
            value=value,
            close_um=UNIT_UM * value,
            names=row[:-1],
            record=SizeRecord(job=row[-1], pass_number=3, size_um=UNIT_UM * value),
            is_confirmed=is_confirmed,
        )
        for row, value in known
    ]
    found = sizes_known(
        SizeBook.of(size_groups(sizes, answers(sizes, RULES), RULES), ASKED),
        ASKED,
        unit_um=UNIT_UM,
        tolerance_um=2 * UNIT_UM,
        variance=RULES.shares[Measure.SIZE],
        rules=RULES,
    )
    assert found is not None
    return found.tolerance_um(best_um=1.0, is_proven=True)


@settings(max_examples=tries(300), deadline=None)
@given(known=records, worse=st.floats(1.0, 30.0), data=st.data())
def test_a_size_further_off_to_its_side_never_narrows_what_is_held(known, worse, data) -> None:
    which = data.draw(st.sampled_from(range(len(known))))
    names, value = known[which]
    moved = [*known]
    moved[which] = (names, value * worse)
    assert held(moved) >= held(known) * (1 - 1e-9)


@settings(max_examples=tries(150), deadline=None)
@given(known=records, worse=st.floats(1.0, 30.0))
def test_nor_do_all_of_them_together(known, worse) -> None:
    assert held([(n, v * worse) for n, v in known]) >= held(known) * (1 - 1e-9)


@settings(max_examples=tries(100), deadline=None)
@given(known=records, data=st.data())
def test_order_and_side_of_the_sizes_do_not_matter(known, data) -> None:
    assert held(data.draw(st.permutations(known))) == held(known)
    mirrored = held([(n, -v) for n, v in known])
    assert abs(mirrored - held(known)) < 1e-9


@settings(max_examples=tries(100), deadline=None)
@given(known=records)
def test_what_is_held_lies_between_the_machine_and_the_widest_sizes_and_the_tables(known) -> None:
    assert held(known) >= 1.0
    widest = 2 * max(abs(v) for _, v in known)
    assert held(known) <= UNIT_UM * (widest + 2) * (1 + 1e-9)


@settings(max_examples=tries(100), deadline=None)
@given(known=records)
def test_unanswered_far_sizes_leave_no_less_than_the_sizes_within_the_limit(known) -> None:
    near = [(n, v) for n, v in known if abs(v) <= GROSS]
    alone = [(n, v) for n, v in known if abs(v) > GROSS][:1]
    if near:
        assert held(near + alone, is_confirmed=False) >= held(near, is_confirmed=False)


def test_rules_of_before_hold_nothing_by_sizes() -> None:
    then = dataclasses.replace(RULES, size_prior_jobs=0.0)
    names, record = row("a", "steel", 3, 0), SizeRecord(job="J", pass_number=3, size_um=2.5)
    one = [MeasuredSize(value=1.0, close_um=2.5, names=names[:-1], record=record)]
    assert size_groups(one, answers(one, then), then) == ()
