"""A contour at the bottom joined to one at the top: which is meant, and how they are matched."""

from __future__ import annotations

from dataclasses import dataclass

from kerfwright.foundation.errors import InputError
from kerfwright.foundation.places import place_words
from kerfwright.foundation.sizes import both_lengths
from kerfwright.geometry.matching import Matched, Matching, match_contours
from kerfwright.geometry.ruled import WallPlace, crossing
from kerfwright.trade.part import Part, PartContour
from kerfwright.trade.walls import PairedWall, Pairing

_APART_MM = 1e-3
"""Elevations and height may differ by a micrometre: digits of inch drawings."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Joined:
    """Two contours joined.

    Attributes
    ----------
    shape : PairedWall
    reason : str
        Which contour, and why matched so, in plain words.
    """

    shape: PairedWall
    reason: str


def joined(one: PartContour, asked: Pairing, *, height_mm: float, top: Part | None) -> Joined:
    """Return a contour of the bottom joined to that of the top.

    Where nobody says how, they are matched corner to corner if both have corners; where rulings
    then cross, the other ways are tried, and the first without a crossing is taken.

    Parameters
    ----------
    one : PartContour
    asked : Pairing
    height_mm : float
        Of the work.
    top : Part or None
        Drawing of the top.

    Raises
    ------
    InputError
        ``top-unknown``, ``top-role``, ``elevations-not-height``, ``rulings-cross``; those of
        :func:`match_contours`.
    """
    above = _above(one, asked, top)
    _require_apart(top, height_mm)
    done, place = _matched(one, above, asked, asked.how, height_mm)
    reason = done.reason
    if place is not None and asked.how is None and not asked.pairs_mm:
        first = f"by {done.how.value} its rulings would cross at {_said(place)}"
        for how in Matching.LENGTH, Matching.CORNERS:
            if how is done.how or place is None:
                continue
            try:
                done, place = _matched(one, above, asked, how.value, height_mm)
            except InputError:
                continue
            reason = first
    if place is not None:
        raise InputError(
            f"rulings cross {place.height_mm:.4g} mm up: the wall would pass through itself",
            code="rulings-cross",
            where=place_words(place.x_mm, place.y_mm),
            remedy="Match the contours otherwise: by corners, by length or by given pairs.",
        )
    return Joined(
        shape=PairedWall(lower=one.contour, upper=above.contour, ruled=done.wall),
        reason=f"ends in {asked.top_id} of the top; matched by {done.how.value}: {reason}",
    )


def _above(one: PartContour, asked: Pairing, top: Part | None) -> PartContour:
    found = [c for c in top.contours if c.id == asked.top_id] if top is not None else []
    if not found:
        known = ", ".join(c.id for c in top.contours) if top is not None else "no such drawing"
        raise InputError(
            f"contour {one.id} is to end in contour {asked.top_id} of the top; there is {known}",
            code="top-unknown",
            remedy="Give the drawing of the top with --top, and an id that it has; the drawing "
            "itself, where it holds both faces at two elevations.",
        )
    if found[0].role is not one.role:
        raise InputError(
            f"contour {one.id} is an {one.role.value}, {asked.top_id} of the top an "
            f"{found[0].role.value}",
            code="top-role",
            remedy="Draw both as the same, or name another contour.",
        )
    return found[0]


def _matched(
    one: PartContour, above: PartContour, asked: Pairing, how: str | None, height_mm: float
) -> tuple[Matched, WallPlace | None]:
    """Return a matching, and where its rulings cross."""
    done = match_contours(
        one.contour,
        above.contour,
        lower_mm=0.0,
        upper_mm=height_mm,
        how=None if how is None else Matching(how),
        pairs=asked.pairs_mm,
    )
    return done, crossing(done.wall)


def _said(place: WallPlace) -> str:
    return f"{place_words(place.x_mm, place.y_mm)}, {place.height_mm:.4g} mm up"


def _require_apart(top: Part | None, height_mm: float) -> None:
    """Refuse a top drawn at another height above the bottom than the work has."""
    for finding in () if top is None else top.findings:
        if finding.code != "read-at-elevation":
            continue
        apart = float(finding.data["apart_mm"])
        if abs(apart - height_mm) > _APART_MM:
            raise InputError(
                f"bottom and top are drawn {both_lengths(apart)} apart; the work is "
                f"{both_lengths(height_mm)} high",
                code="elevations-not-height",
                remedy="Draw the faces as far apart as the work is high, or give that height.",
            )
