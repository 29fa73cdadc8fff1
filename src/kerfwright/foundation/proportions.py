"""How sure a share is that was counted."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from scipy.special import ndtri

LEVEL: Final = 0.95


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """A count of a whole, and the interval in which the share behind it lies.

    Attributes
    ----------
    count, of : int
    low, high : float
        0 and 1 where nothing was counted.
    """

    count: int
    of: int
    low: float
    high: float


def wilson(count: int, of: int, *, level: float = LEVEL) -> Share:
    """Return a counted share with Wilson's score interval.

    ``(p + z²/2n ± z √(p(1-p)/n + z²/4n²)) / (1 + z²/n)`` with ``p = count/n``.

    Parameters
    ----------
    count, of : int
        So many of so many.
    level : float
        Of confidence.

    Returns
    -------
    Share

    Raises
    ------
    ValueError
        If the count is not within the whole, or the level not between 0 and 1.

    Validity
    --------
    Counts of one kind, each independent of the others.  Its mean coverage is near the level for
    any share and from a few counts on; the textbook interval around ``p`` is not.

    References
    ----------
    E. B. Wilson, Probable inference, the law of succession, and statistical inference, Journal of
    the American Statistical Association 22 (1927) 209-212 (from memory).

    Examples
    --------
    >>> share = wilson(81, 263)
    >>> round(share.low, 4), round(share.high, 4)
    (0.2553, 0.3662)
    """
    if not 0 <= count <= of or not 0 < level < 1:
        raise ValueError(f"{count} of {of} at a level of {level} is no share")
    if of == 0:
        return Share(count=0, of=0, low=0.0, high=1.0)
    z = float(ndtri((1 + level) / 2))
    p, weight = count / of, 1 + z * z / of
    middle = (p + z * z / (2 * of)) / weight
    half = z * math.sqrt(p * (1 - p) / of + z * z / (4 * of * of)) / weight
    # Rounding of the last bit must not take 0 of n below 0.
    return Share(
        count=count,
        of=of,
        low=0.0 if count == 0 else max(0.0, middle - half),
        high=1.0 if count == of else min(1.0, middle + half),
    )
