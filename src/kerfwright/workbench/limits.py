"""How often something may be tried: waits that grow with failures, and so much in a time.

No wait is longer than :data:`MOST_WAIT_S`, so that nobody is locked out for good by somebody who
types wrong passwords in his name; and from an address that a seat logged in from before, only its
own failures count.
"""

from __future__ import annotations

import ipaddress
import math
import time
from collections import OrderedDict, deque
from collections.abc import Callable, Hashable, Iterable
from dataclasses import dataclass, field
from typing import Final

from kerfwright.foundation.errors import InputError

FREE_TRIES: Final = 5
MOST_WAIT_S: Final = 30.0
_FORGOTTEN_S: Final = 15 * 60.0
_MOST_KEYS: Final = 20_000
"""Those that failed last are remembered; more than these are of one who has many addresses."""
_NETWORK_BITS: Final = 64
"""Of an IPv6 address: whoever has one has all below it (RFC 6177, from memory)."""


class WaitError(InputError):
    """Something is tried too often.

    Parameters
    ----------
    message, code, remedy : str
    wait_s : float
        After which it may be tried again.
    """

    def __init__(self, message: str, *, code: str, wait_s: float, remedy: str = "") -> None:
        super().__init__(message, code=code, remedy=remedy)
        self.wait_s = wait_s


@dataclass(slots=True)
class _Tries:
    count: int = 0
    last_s: float = 0.0


@dataclass(slots=True, kw_only=True)
class Waits:
    """Waits between tries that fail.

    Attributes
    ----------
    now_s : callable
        Seconds of a clock that only goes forward.
    """

    now_s: Callable[[], float] = time.monotonic
    _tries: OrderedDict[Hashable, _Tries] = field(default_factory=OrderedDict, init=False)

    def begin(self, keys: Iterable[Hashable]) -> None:
        """Count a try, until it is known for good as a failure, or refuse it.

        Raises
        ------
        WaitError
            Code ``log-in-wait``; a try that is refused counts as none.
        """
        now_s = self.now_s()
        found = [self._of(key, now_s) for key in keys]
        wait_s = max((wait_after_s(one.count) + one.last_s - now_s for one in found), default=0.0)
        if wait_s > 0:
            raise WaitError(
                f"too many tries failed; the next is taken in {math.ceil(wait_s)} s",
                code="log-in-wait",
                wait_s=wait_s,
                remedy="An owner can give a new password with kerfwright seats password.",
            )
        for one in found:
            one.count, one.last_s = one.count + 1, now_s

    def passed(self, keys: Iterable[Hashable]) -> None:
        """Forget the tries of these keys: one was right."""
        for key in keys:
            self._tries.pop(key, None)

    def _of(self, key: Hashable, now_s: float) -> _Tries:
        found = self._tries.pop(key, None)
        if found is None or now_s - found.last_s > _FORGOTTEN_S:
            found = _Tries(last_s=now_s)
        self._tries[key] = found
        while len(self._tries) > _MOST_KEYS:
            self._tries.popitem(last=False)
        return found


def wait_after_s(failures: int) -> float:
    """Return how long the next try waits after some failures in a row, s.

    >>> [wait_after_s(n) for n in (0, 4, 5, 6, 7, 99)]
    [0.0, 0.0, 1.0, 2.0, 4.0, 30.0]
    """
    if failures < FREE_TRIES:
        return 0.0
    return min(MOST_WAIT_S, 2.0 ** min(failures - FREE_TRIES, 10))


def network_of(address: str) -> str:
    """Return what of an address is one person's.

    >>> network_of("10.0.0.7"), network_of("2001:db8:1:2:3::4"), network_of("somewhere")
    ('10.0.0.7', '2001:db8:1:2::/64', 'somewhere')
    """
    try:
        found = ipaddress.ip_address(address.partition("%")[0])
    except ValueError:
        return address
    if found.version == 4:
        return str(found)
    return str(ipaddress.ip_network((found, _NETWORK_BITS), strict=False))


@dataclass(slots=True, kw_only=True)
class Allowance:
    """So many, of so much, in a stretch of time.

    Attributes
    ----------
    most : int
    most_bytes : int
    within_s : float
    now_s : callable
    """

    most: int
    most_bytes: int
    within_s: float
    now_s: Callable[[], float] = time.monotonic
    _taken: dict[Hashable, deque[tuple[float, int]]] = field(default_factory=dict, init=False)

    def take(self, key: Hashable, size: int) -> None:
        """Take one of some bytes, or refuse it.

        Raises
        ------
        WaitError
            Code ``uploads-wait``.
        """
        now_s = self.now_s()
        taken = self._taken.setdefault(key, deque())
        while taken and taken[0][0] <= now_s - self.within_s:
            taken.popleft()
        if len(taken) >= self.most or sum(s for _, s in taken) + size > self.most_bytes:
            wait_s = taken[0][0] + self.within_s - now_s if taken else self.within_s
            raise WaitError(
                f"more than {self.most} uploads or {self.most_bytes // 2**20} MB within"
                f" {self.within_s:.0f} s",
                code="uploads-wait",
                wait_s=wait_s,
                remedy=f"Send the rest in {math.ceil(wait_s)} s, or use kerfwright batch.",
            )
        taken.append((now_s, size))
