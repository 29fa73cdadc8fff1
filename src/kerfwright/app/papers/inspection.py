"""The inspection sheet: what is measured, between which limits."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from enum import StrEnum
from typing import Final

import numpy as np

from kerfwright.app.papers.arcs import ROUND_MM, TURN_SHARE, arcs_of, radii_of
from kerfwright.app.papers.common import (
    CONTRADICTED,
    NOT_PLANNED,
    Heading,
    OwnDemand,
    heading_of,
    left_out_ids,
    own_demands,
    zones_off_the_line,
)
from kerfwright.app.papers.lands import LandFacts, lands_of
from kerfwright.app.records import JobResult
from kerfwright.foundation.findings import Finding
from kerfwright.geometry.contour import Contour
from kerfwright.trade.part import PartContour, Role
from kerfwright.trade.requirement import Requirement

_UM: Final = 1000.0
WALLS_OF_A_SIZE: Final = 2


class FeatureKind(StrEnum):
    """What is measured."""

    DIAMETER = "diameter"
    ALONG_X = "along X"
    ALONG_Y = "along Y"
    RADIUS = "radius"


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """One size of one contour.

    Attributes
    ----------
    contour : PartContour
    kind : FeatureKind
    nominal_mm : float
    x_mm, y_mm : float
        Middle of the feature.
    walls : int
        How many walls of the tolerance the size has in it: 2, and of a radius 1, or -1 where the
        radius shrinks as the contour grows.
    places : int
        At how many places of the contour it is.
    """

    contour: PartContour
    kind: FeatureKind
    nominal_mm: float
    x_mm: float
    y_mm: float
    walls: int = WALLS_OF_A_SIZE
    places: int = 1

    @property
    def walls_in_it(self) -> int:
        """How many walls the size has in it, whichever way they move it."""
        return abs(self.walls)


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """The sizes between which a feature is good.

    Attributes
    ----------
    low_mm, high_mm : float or None
        None where that end is open, as one limit alone leaves it.
    words : str
        How the limits were asked: empty for the tolerance of the walls, ``"H7"`` for a fit,
        ``"drawing"`` for limits of the drawing's own, ``"max (drawing)"`` for one of them.
    wall_half_um : float
        What the limits leave each of the two walls, ±; infinite where an end is open.
    has_one_limit : bool
        Whether one of its ends is a single limit of the drawing.
    """

    low_mm: float | None
    high_mm: float | None
    words: str
    wall_half_um: float
    has_one_limit: bool = False

    def moved(self, by_mm: float) -> Limits:
        """Return the same limits, counted from a line that lies elsewhere."""
        low, high = (None if end is None else end + by_mm for end in (self.low_mm, self.high_mm))
        return replace(self, low_mm=low, high_mm=high)

    @property
    def middle_mm(self) -> float | None:
        """The middle of both; None where an end is open."""
        if self.low_mm is None or self.high_mm is None:
            return None
        return (self.low_mm + self.high_mm) / 2


Limiter = Callable[[Measured, Requirement], Limits | None]
"""Gives the limits of a size; None where nothing is asked of it.

The place at which fits come in."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Feature:
    """A line of the sheet; ``limits`` is None where nothing was asked."""

    measured: Measured
    limits: Limits | None


@dataclass(frozen=True, slots=True, kw_only=True)
class InspectionSheet:
    """What the inspector is given.

    Attributes
    ----------
    heading : Heading
    features : tuple of Feature
        In the order of the drawing; empty where no program was proved.
    tolerance_um, ra_um, recast_um : float or None
        As asked of every wall that has no demand of its own.
    tolerance_said : str
        That tolerance as written, where its zone does not lie about the drawn line; or empty.
    own : tuple of OwnDemand
    left_out : tuple of str
        Contours that were not cut.
    corner_radius_mm : float or None
        Radius in which inside corners come out that are drawn sharper; None where none is.
    is_withheld : bool
    pieces : int
        Of a full stack; 1 without one.
    to_measure : tuple of int
        Which of them, from 1 on top; empty without a stack, or where all are.
    contradictions : tuple of Finding
        Dimensions that write another size than is drawn, which is the one that is cut.
    lands : tuple of LandFacts
        Openings with a straight land: at which heights their sizes hold.
    short_arcs : mapping of str to int
        How many arcs of a contour turn too little for their radius to be measured.
    """

    heading: Heading
    features: tuple[Feature, ...]
    tolerance_um: float | None
    ra_um: float | None
    recast_um: float | None
    own: tuple[OwnDemand, ...]
    left_out: tuple[str, ...]
    corner_radius_mm: float | None
    is_withheld: bool
    tolerance_said: str = ""
    pieces: int = 1
    to_measure: tuple[int, ...] = ()
    contradictions: tuple[Finding, ...] = ()
    lands: tuple[LandFacts, ...] = ()
    short_arcs: Mapping[str, int] = field(default_factory=dict)

    @property
    def wider_than_asked_ids(self) -> tuple[str, ...]:
        """Contours whose walls were asked for less than the limits of a size on them need."""
        found = [
            f.measured.contour.id
            for f in self.features
            if f.limits is not None
            and f.limits.wall_half_um < self._asked_um(f.measured.contour.id) - _HAIR_UM
        ]
        return tuple(dict.fromkeys(found))

    def _asked_um(self, contour_id: str) -> float:
        own = [o.demand.tolerance_um for o in self.own if contour_id in o.contour_ids]
        asked = own[0] if own else self.tolerance_um
        # A wall of which nothing is asked is cut as coarsely as may be.
        return float("inf") if asked is None else asked


_HAIR_UM: Final = 1e-6
"""Rounding of sums: no difference that anybody measures."""


def wall_limits(measured: Measured, requirement: Requirement) -> Limits | None:
    """Return what the tolerance of the walls leaves a size between two of them.

    ``size = nominal ± 2 t``: each wall may lie ``t`` to either side of its line, and the worst
    pair lies ``t`` off both ways.  A radius has one wall, counted from the drawn centre.

    Parameters
    ----------
    measured : Measured
    requirement : Requirement

    References
    ----------
    Worst case of a chain of two links; see ``docs/process/sizes.md``.
    """
    half_um = requirement.demand_on(measured.contour.id).tolerance_um
    if half_um is None:
        return None
    away_mm = measured.walls_in_it * half_um / _UM
    nominal_mm = measured.nominal_mm
    return Limits(
        low_mm=max(nominal_mm - away_mm, 0.0),
        high_mm=nominal_mm + away_mm,
        words="",
        wall_half_um=half_um,
    )


def inspection_of(result: JobResult, *, limiter: Limiter = wall_limits) -> InspectionSheet:
    """Return the inspection sheet of a job.

    Parameters
    ----------
    result : JobResult
    limiter : Limiter
        Gives the limits of each size.
    """
    wanted = result.requirement
    planned = {c.target.id for c in result.plan.contours}
    is_withheld = result.program is None
    sizes = (
        []
        if is_withheld
        else [m for c in result.part.contours if c.id in planned for m in _sizes(c)]
    )
    sharp_mm = {
        f.where.contour_id: float(f.data["limit_mm"])
        for f in result.findings
        if f.code == "inside-radius-too-small" and "limit_mm" in f.data
    }
    sizes = [m for m in sizes if not _is_too_sharp(m, sharp_mm)]
    corners = [
        float(f.data["limit_mm"])
        for f in result.findings
        if f.code == "inside-radius-too-small" and "limit_mm" in f.data
    ]
    off = zones_off_the_line(result).get(None)
    stack = wanted.stack
    sample = stack.measured(int(result.plan.rules.stack_measured)) if stack else ()
    pieces = stack.pieces if stack else 1
    return InspectionSheet(
        heading=heading_of(result),
        features=tuple(Feature(measured=m, limits=limiter(m, wanted)) for m in sizes),
        tolerance_um=wanted.tolerance_um,
        ra_um=wanted.ra_um,
        recast_um=wanted.max_recast_um,
        own=own_demands(result),
        left_out=left_out_ids(result),
        corner_radius_mm=max(corners, default=None),
        is_withheld=is_withheld,
        tolerance_said=off.said if off else "",
        pieces=pieces,
        to_measure=sample if len(sample) < pieces else (),
        contradictions=tuple(f for f in result.findings if f.code in {CONTRADICTED, *NOT_PLANNED}),
        lands=() if is_withheld else lands_of(result.plan),
        short_arcs={} if is_withheld else _short_arcs(result, planned),
    )


def _is_too_sharp(measured: Measured, sharp_mm: Mapping[str | None, float]) -> bool:
    """Tell whether a radius is that of an inside corner which comes out larger than drawn."""
    if measured.kind is not FeatureKind.RADIUS:
        return False
    is_opening = measured.contour.role is Role.OPENING
    is_inside_corner = (measured.walls > 0) is is_opening
    return is_inside_corner and measured.nominal_mm < sharp_mm.get(measured.contour.id, 0.0)


def _short_arcs(result: JobResult, planned: set[str]) -> dict[str, int]:
    counts = {
        c.id: radii_of(arcs_of(c.contour)).too_short
        for c in result.part.contours
        if c.id in planned and circle_of(c.contour) is None
    }
    return {name: count for name, count in counts.items() if count}


def circle_of(contour: Contour) -> tuple[tuple[float, float], float] | None:
    """Return centre and diameter, mm, of a contour that is a full circle; else None.

    Examples
    --------
    >>> circle_of(Contour.circle((1.0, 2.0), radius_mm=4.0))
    ((1.0, 2.0), 8.0)
    """
    s = contour.segments
    if not s.is_arc.all():
        return None
    away = np.abs(s.centre - s.centre[0]).max()
    if max(float(away), float(np.ptp(s.radius))) > ROUND_MM:
        return None
    turns = abs(float(s.sweep.sum())) / (2 * np.pi)
    if abs(turns - 1.0) > TURN_SHARE:
        return None
    x, y = s.centre.mean(axis=0)
    return (float(x), float(y)), 2 * float(s.radius.mean())


def _sizes(target: PartContour) -> Iterator[Measured]:
    round_one = circle_of(target.contour)
    if round_one is not None:
        (x, y), diameter_mm = round_one
        yield Measured(
            contour=target, kind=FeatureKind.DIAMETER, nominal_mm=diameter_mm, x_mm=x, y_mm=y
        )
        return
    x0, y0, x1, y1 = target.contour.bounds_mm
    x, y = (x0 + x1) / 2, (y0 + y1) / 2
    for kind, nominal_mm in ((FeatureKind.ALONG_X, x1 - x0), (FeatureKind.ALONG_Y, y1 - y0)):
        yield Measured(contour=target, kind=kind, nominal_mm=nominal_mm, x_mm=x, y_mm=y)
    arcs = arcs_of(target.contour)
    for arc in arcs:
        if arc.is_bore:
            x, y = arc.centre_mm
            yield Measured(
                contour=target,
                kind=FeatureKind.DIAMETER,
                nominal_mm=2 * arc.radius_mm,
                x_mm=x,
                y_mm=y,
            )
    for arc, places in radii_of(arcs).distinct:
        x, y = arc.centre_mm
        yield Measured(
            contour=target,
            kind=FeatureKind.RADIUS,
            nominal_mm=arc.radius_mm,
            x_mm=x,
            y_mm=y,
            walls=1 if arc.is_inside else -1,
            places=places,
        )


def bores_of(contour: Contour) -> list[tuple[tuple[float, float], float]]:
    """Return centre and diameter of the arcs of half a turn or more: a pin or gauge finds them."""
    return [(one.centre_mm, 2 * one.radius_mm) for one in arcs_of(contour) if one.is_bore]
