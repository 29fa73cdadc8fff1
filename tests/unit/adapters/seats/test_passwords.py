"""What is kept of a password, at the cost of today."""

from __future__ import annotations

from argon2 import PasswordHasher

from kerfwright.adapters.seats.passwords import hashed, is_of_today, is_right

GOOD = "four words of some kind"


def test_a_password_is_kept_at_the_cost_that_rfc_9106_names_second() -> None:
    # RFC 9106 (4): Argon2id, 3 passes over 64 MiB, 4 lanes.
    kept = hashed(GOOD)
    assert kept.startswith("$argon2id$v=19$m=65536,t=3,p=4$")
    assert is_of_today(kept)
    assert is_right(kept, GOOD)
    assert not is_right(kept, GOOD + "!")


def test_a_password_that_is_kept_cheaply_opens_and_is_not_of_today() -> None:
    cheap = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1).hash(GOOD)
    assert is_right(cheap, GOOD)
    assert not is_of_today(cheap)


def test_nobody_has_the_password_that_nobody_has() -> None:
    assert not is_right(None, "nobody has this password")
