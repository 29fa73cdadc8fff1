"""A ruled wall between two contours: which point above belongs to which below.

Between two matched pairs the points of both contours are paired by their share of the arc length;
a piece ends wherever either contour has a vertex, so lines and arcs stay whole pieces where both
have one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from kerfwright.foundation.errors import InputError
from kerfwright.geometry.contour import Contour
from kerfwright.geometry.ruled import RuledWall
from kerfwright.geometry.segments import Floats, Segments

_SHARP_RAD = 1e-3
"""A joint that turns by more is a corner: fitted splines have kinks below this."""
_MOST_CORNERS = 400
"""More corners than this are not matched one by one: the search grows with their square."""
_SAME_MM = 1e-9
_STARTS = 720
"""Turns of the start that are tried when matching by arc length: half a degree of a circle."""

Pairs = tuple[tuple[float, float], ...]
"""Arc lengths below and above that belong together, ascending below."""


class Matching(StrEnum):
    """How the points of two contours are paired."""

    CORNERS = "corners"
    """Corner to corner, between them by share of the arc length."""
    LENGTH = "length"
    """By share of the arc length, from the start at which the wire leans least."""
    GIVEN = "given"
    """At given pairs, between them by share of the arc length."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Matched:
    """A matching that was made.

    Attributes
    ----------
    wall : RuledWall
    how : Matching
    reason : str
        Why it was matched so, in plain words.
    pairs : tuple of (float, float)
        Arc lengths below and above that were set, mm.
    """

    wall: RuledWall
    how: Matching
    reason: str
    pairs: Pairs


def match_contours(
    lower: Contour,
    upper: Contour,
    *,
    lower_mm: float,
    upper_mm: float,
    how: Matching | None = None,
    pairs: Sequence[tuple[float, float]] = (),
) -> Matched:
    """Join two contours by rulings.

    Parameters
    ----------
    lower, upper : Contour
        Closed, both with the material on the left.
    lower_mm, upper_mm : float
    how : Matching or None
        None chooses: given pairs if there are any, corner to corner where both have corners, else
        by arc length.
    pairs : sequence of (float, float)
        Arc lengths below and above that belong together, mm; both in the same order of travel.

    Raises
    ------
    InputError
        ``match-pairs`` if pairs are missing or not in order, ``match-corners`` if a contour has
        no corners to match, ``match-sense`` if the contours run opposite ways.

    Examples
    --------
    >>> square = Contour.from_rows([(0, 0), (10, 0), (10, 10), (0, 10)])
    >>> larger = square.transformed(scale=1.2, shift_mm=(-1.0, -1.0))
    >>> done = match_contours(square, larger, lower_mm=0.0, upper_mm=20.0)
    >>> done.how.value, len(done.wall)
    ('corners', 4)
    """
    if lower.area_mm2 * upper.area_mm2 <= 0:
        raise InputError(
            "the lower and the upper contour run opposite ways, or one encloses nothing",
            code="match-sense",
            remedy="Give both with the material on the same side.",
        )
    below, above = _corner_stations(lower), _corner_stations(upper)
    how, reason = _choice(how, pairs, below, above)
    match how:
        case Matching.GIVEN:
            anchors = _in_order(pairs, lower, upper)
        case Matching.CORNERS:
            anchors = _by_corners(lower, upper, below, above)
        case Matching.LENGTH:
            anchors = (_least_lean(lower, upper),)
    wall = _joined(lower, upper, anchors, lower_mm=lower_mm, upper_mm=upper_mm)
    return Matched(wall=wall, how=how, reason=reason, pairs=anchors)


def _choice(
    how: Matching | None,
    pairs: Sequence[tuple[float, float]],
    below: Floats,
    above: Floats,
) -> tuple[Matching, str]:
    counts = f"{len(below)} corners below, {len(above)} above"
    if how is Matching.GIVEN and not pairs:
        raise InputError("a matching by given pairs needs at least one pair", code="match-pairs")
    if how is Matching.CORNERS and (not len(below) or not len(above)):
        raise InputError(
            f"corners cannot be matched: there are {counts}",
            code="match-corners",
            remedy="Match by length, or give pairs.",
        )
    if how is not None:
        return how, "as asked"
    if pairs:
        return Matching.GIVEN, "pairs are given"
    most = max(len(below), len(above))
    if len(below) and len(above) and most <= _MOST_CORNERS:
        if len(below) == len(above):
            return Matching.CORNERS, f"both have {len(below)} corners"
        return Matching.CORNERS, f"{counts}: those left over meet a point between corners"
    return Matching.LENGTH, f"{counts}: by share of the length, from the start of least lean"


def _corner_stations(contour: Contour) -> Floats:
    s = contour.segments
    a, b = np.roll(s.end_tangent, 1, axis=0), s.start_tangent
    turn = np.arctan2(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0], (a * b).sum(axis=1))
    result: Floats = contour.stations_mm[np.abs(turn) > _SHARP_RAD]
    return result


def _in_order(pairs: Sequence[tuple[float, float]], lower: Contour, upper: Contour) -> Pairs:
    """Return given pairs ascending below, refused unless they ascend above too, once round."""
    below = np.mod([p[0] for p in pairs], lower.length_mm)
    above = np.mod([p[1] for p in pairs], upper.length_mm)
    order = np.argsort(below, kind="stable")
    below, above = below[order], above[order]
    steps = np.mod(np.diff(np.append(above, above[0])), upper.length_mm)
    is_once = len(pairs) == 1 or abs(steps.sum() - upper.length_mm) < _SAME_MM * len(pairs)
    if not is_once or (np.diff(below) <= _SAME_MM).any() or (len(pairs) > 1 and (steps <= 0).any()):
        raise InputError(
            f"the pairs {[(round(float(a), 3), round(float(b), 3)) for a, b in pairs]} do not "
            "follow each other in the same order on both contours",
            code="match-pairs",
            remedy="Give each point once, in the order of travel of both contours.",
        )
    return tuple(zip(below.tolist(), above.tolist(), strict=True))


def _by_corners(lower: Contour, upper: Contour, below: Floats, above: Floats) -> Pairs:
    """Match each corner of the contour with fewer to one of the other, in order, least lean."""
    few, many = (below, above) if len(below) <= len(above) else (above, below)
    owner, other = (lower, upper) if few is below else (upper, lower)
    a, b = owner.points_at(few), other.points_at(many)
    cost = ((a[:, None, :] - b[None, :, :]) ** 2).sum(axis=2)
    best: tuple[float, list[int]] | None = None
    for shift in range(len(many)):
        total, chosen = _cheapest(np.roll(cost, -shift, axis=1))
        if best is None or total < best[0] - _SAME_MM:
            best = total, [(c + shift) % len(many) for c in chosen]
    assert best is not None
    found = [(float(few[i]), float(many[j])) for i, j in enumerate(best[1])]
    if few is not below:
        found = [(j, i) for i, j in found]
    return tuple(sorted(found))


def _cheapest(cost: Floats) -> tuple[float, list[int]]:
    """Return the least cost of giving each row a column, columns ascending, and the columns."""
    rows, columns = cost.shape
    total = np.full((rows + 1, columns + 1), np.inf)
    total[0] = 0.0
    for i in range(1, rows + 1):
        ways = total[i - 1, :-1] + cost[i - 1]
        total[i, 1:] = np.minimum.accumulate(ways)
    chosen: list[int] = []
    j = columns
    for i in range(rows, 0, -1):
        ways = total[i - 1, :j] + cost[i - 1, :j]
        j = int(np.argmin(ways))
        chosen.append(j)
    return float(total[rows, columns]), chosen[::-1]


def _least_lean(lower: Contour, upper: Contour) -> tuple[float, float]:
    """Return the pair of starts from which matching by length leans least in the mean square."""
    share = np.arange(_STARTS) / _STARTS
    a = lower.points_at(share * lower.length_mm)
    b = upper.points_at(share * upper.length_mm)
    # Sum of squares of a[i] − b[i + k] is least where their correlation is largest.
    spectrum = np.conj(np.fft.fft(a - a.mean(axis=0), axis=0)) * np.fft.fft(
        b - b.mean(axis=0), axis=0
    )
    shift = int(np.argmax(np.fft.ifft(spectrum, axis=0).real.sum(axis=1)))
    return 0.0, float(shift / _STARTS * upper.length_mm)


def _joined(
    lower: Contour, upper: Contour, anchors: Pairs, *, lower_mm: float, upper_mm: float
) -> RuledWall:
    below, above = _breaks(lower, upper, anchors)
    return RuledWall(
        lower=_cut(lower, below), upper=_cut(upper, above), lower_mm=lower_mm, upper_mm=upper_mm
    )


def _breaks(lower: Contour, upper: Contour, anchors: Pairs) -> tuple[Floats, Floats]:
    """Return where pieces begin, with the end: every vertex of both, in spans between anchors."""
    first = np.array([a for a, _ in anchors])
    second = np.array([b for _, b in anchors])
    spans_low = _spans(first, lower.length_mm)
    spans_up = _spans(second, upper.length_mm)
    below, above = [], []
    for k in range(len(anchors)):
        low_at = _within(lower, first[k], spans_low[k])
        up_at = _within(upper, second[k], spans_up[k])
        share = np.unique(np.concatenate([[0.0], low_at / spans_low[k], up_at / spans_up[k]]))
        # Shares of one vertex reached from both sides differ by rounding only.
        keep = np.append(True, np.diff(share) > _SAME_MM)
        share = share[keep & (share < 1.0 - _SAME_MM)]
        below.append(first[k] + share * spans_low[k])
        above.append(second[k] + share * spans_up[k])
    below.append(np.array([first[0] + lower.length_mm]))
    above.append(np.array([second[0] + upper.length_mm]))
    return np.concatenate(below), np.concatenate(above)


def _spans(at: Floats, length_mm: float) -> Floats:
    if len(at) == 1:
        return np.array([length_mm])
    result: Floats = np.mod(np.diff(np.append(at, at[0])), length_mm)
    return result


def _within(contour: Contour, begin: float, span: float) -> Floats:
    """Return the vertices of a contour inside a span, as lengths from its beginning."""
    ahead = np.mod(contour.stations_mm - begin, contour.length_mm)
    ahead = np.where(contour.length_mm - ahead < _SAME_MM, 0.0, ahead)
    result: Floats = ahead[(ahead > _SAME_MM) & (ahead < span - _SAME_MM)]
    return result


def _cut(contour: Contour, breaks: Floats) -> Segments:
    """Return the contour cut at arc lengths that go once round and hold all its vertices."""
    length = contour.length_mm
    middle = (breaks[:-1] + breaks[1:]) / 2
    index, _ = contour.locate(middle)
    points = contour.points_at(np.mod(breaks[:-1], length))
    s = contour.segments
    # Vertices to the last digit, not by way of their arc length.
    gap = np.abs(contour.stations_mm[index] - np.mod(breaks[:-1], length))
    gap = np.minimum(gap, length - gap)
    points = np.where((gap < _SAME_MM)[:, None], s.start[index], points)
    share = np.diff(breaks) / s.length[index]
    bulge = np.where(s.is_arc[index], np.tan(s.sweep[index] * share / 4), 0.0)
    return Segments.from_ends(points, np.roll(points, -1, axis=0), bulge)
