"""Passwords, kept so that whoever reads the table cannot read them.

Argon2id with the cost that RFC 9106 (4) names second: 3 passes over 64 MiB, 4 lanes.
"""

from __future__ import annotations

import functools
from typing import TYPE_CHECKING

from kerfwright.foundation.errors import MissingPackageError

if TYPE_CHECKING:
    from argon2 import PasswordHasher


@functools.cache
def _hasher() -> PasswordHasher:
    try:
        from argon2 import PasswordHasher
        from argon2.profiles import RFC_9106_LOW_MEMORY
    except ImportError as fault:
        raise MissingPackageError(
            "log-in needs argon2-cffi, not installed here",
            code="seats-not-installed",
            remedy='Install "kerfwright[workbench]".',
        ) from fault
    return PasswordHasher.from_parameters(RFC_9106_LOW_MEMORY)


@functools.cache
def _of_nobody() -> str:
    return hashed("nobody has this password")


def hashed(password: str) -> str:
    """Return what is kept of a password: kind, cost, salt and hash.

    Raises
    ------
    MissingPackageError
        Code ``seats-not-installed``.
    """
    return _hasher().hash(password)


def is_right(kept: str | None, password: str) -> bool:
    """Return whether a password is the one that is kept.

    Parameters
    ----------
    kept : str or None
        None where there is nobody of that name, which takes as long to say.
    password : str
    """
    from argon2.exceptions import InvalidHashError, VerificationError

    # Made before it is needed: the first unknown name would take twice as long to refuse.
    nobody = _of_nobody()
    try:
        _hasher().verify(kept or nobody, password)
    except (VerificationError, InvalidHashError):
        return False
    return kept is not None


def is_of_today(kept: str) -> bool:
    """Return whether a password is kept at the cost of today."""
    return not _hasher().check_needs_rehash(kept)
