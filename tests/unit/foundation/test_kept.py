"""Results are kept by the very records they were made from, and only so many of them."""

from __future__ import annotations

from itertools import count

from kerfwright.foundation.kept import Kept


def test_the_same_records_and_key_are_worked_out_once() -> None:
    kept, made, wire, material = Kept(most=4), count(), ["wire"], ["material"]
    found = {kept.once(lambda: next(made), wire, material, key=5.0) for _ in range(3)}
    assert found == {0}


def test_another_record_key_or_order_is_worked_out_anew() -> None:
    kept, made, wire, material = Kept(most=9), count(), ["wire"], ["material"]
    ways: tuple[tuple[tuple[object, ...], float], ...] = (
        ((wire, material), 5.0),
        ((wire, material), 6.0),
        ((material, wire), 5.0),
        ((wire,), 5.0),
        # Equal, yet not the same: the work is done again.
        ((["wire"], material), 5.0),
    )
    found = [kept.once(lambda: next(made), *records, key=key) for records, key in ways]
    assert found == [0, 1, 2, 3, 4]


def test_the_result_asked_for_least_recently_goes_first() -> None:
    kept, made, records = Kept(most=2), count(), (["a"], ["b"], ["c"])
    a, b, c = records
    assert [kept.once(lambda: next(made), one) for one in (a, b, a, c)] == [0, 1, 0, 2]
    assert kept.once(lambda: next(made), a) == 0
    assert kept.once(lambda: next(made), b) == 3


def test_what_a_result_was_made_from_is_held_so_that_its_place_is_not_taken() -> None:
    kept, made = Kept(most=1000), count()
    found = [kept.once(lambda: next(made), [k]) for k in range(500)]
    # Each list would be freed at once, and the next put where it stood, were it not held.
    assert found == list(range(500))
