"""The limits of each size: from a fit that was asked, from the drawing, else from the walls."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Final

from kerfwright.app.contour_sizes import reaches
from kerfwright.app.drawing_says import Saying
from kerfwright.app.papers.common import ZoneOffTheLine
from kerfwright.app.papers.inspection import (
    WALLS_OF_A_SIZE,
    FeatureKind,
    Limiter,
    Limits,
    Measured,
    wall_limits,
)
from kerfwright.app.papers.one_limits import one_limits
from kerfwright.app.records import JobRequest
from kerfwright.app.requirements import contour_texts
from kerfwright.foundation.units import UM_PER_MM
from kerfwright.trade.asked_sizes import read_asked_limits
from kerfwright.trade.fits import FitTable, looks_like_fit, read_fit
from kerfwright.trade.requirement import Requirement
from kerfwright.trade.statements import Asks

_SYMBOL: Final = re.compile(r"[A-Za-z]{1,2}\d{1,2}$")


@dataclass(frozen=True, slots=True, kw_only=True)
class AskedSize:
    """A size with its limits, as somebody wrote it.

    Attributes
    ----------
    contour_ids : tuple of str
        Empty for every contour.
    nominal_mm : float
    lower_um, upper_um : float
        From the nominal.
    words : str
        As on the inspection sheet.
    is_radius : bool
        Whether it is one wall from its centre, and no size between two.
    """

    contour_ids: tuple[str, ...]
    nominal_mm: float
    lower_um: float
    upper_um: float
    words: str
    is_radius: bool = False

    def fits(self, measured: Measured) -> bool:
        """Return whether a size of the sheet is this one."""
        if self.is_radius is not (measured.kind is FeatureKind.RADIUS):
            return False
        is_there = not self.contour_ids or measured.contour.id in self.contour_ids
        away_mm = measured.nominal_mm - self.nominal_mm
        return is_there and reaches(away_mm, lower_um=self.lower_um, upper_um=self.upper_um)

    @property
    def limits(self) -> Limits:
        """Its limits, and half of the zone of each wall."""
        half_um = (self.upper_um - self.lower_um) / 2
        return Limits(
            low_mm=self.nominal_mm + self.lower_um / UM_PER_MM,
            high_mm=self.nominal_mm + self.upper_um / UM_PER_MM,
            words=self.words,
            wall_half_um=half_um / (1 if self.is_radius else WALLS_OF_A_SIZE),
        )


def limiter_of(
    request: JobRequest,
    sayings: Iterable[Saying],
    *,
    fits: FitTable,
    zones: Mapping[str | None, ZoneOffTheLine] = MappingProxyType({}),
) -> Limiter:
    """Return what gives each size of a job its limits.

    A fit that was asked holds for the size that it names, and for no other; else the limits that
    the drawing writes at a size; else what the tolerance of the walls leaves it.  One limit alone
    (``R5 MAX``) narrows whichever of them holds.  Beside a fit of
    the contour that is the job's tolerance, unless this is a fit too.

    Parameters
    ----------
    request : JobRequest
    sayings : iterable of Saying
        What the drawing says.
    fits : FitTable
    zones : mapping
        Zones of walls that do not lie about the drawn line, by contour; under None the job's.
    """
    own = {
        name: texts["tolerance"]
        for name, texts in contour_texts(request.contours).items()
        if "tolerance" in texts
    }
    is_fit_of_job = request.tolerance is not None and looks_like_fit(request.tolerance)
    says = tuple(sayings)
    known = (*_asked_fits(request, fits), *_of_drawing(says))
    single = one_limits(says)

    def both_ends(measured: Measured, requirement: Requirement) -> Limits | None:
        for one in known:
            if one.fits(measured):
                return one.limits
        name = measured.contour.id
        is_own = name in own and not _is_of_a_size(own[name])
        if not is_own and is_fit_of_job:
            return None
        if not is_own and name in own:
            # What is asked beside a fit is what the job asks.
            requirement = replace(requirement, contours=MappingProxyType({}))
        of_walls, zone = wall_limits(measured, requirement), zones.get(name if is_own else None)
        if of_walls is None or zone is None:
            return of_walls
        shift_mm = measured.walls * zone.shift_um / UM_PER_MM
        return of_walls.moved(shift_mm)

    def limits(measured: Measured, requirement: Requirement) -> Limits | None:
        found = both_ends(measured, requirement)
        for one in single:
            if one.fits(measured):
                found = one.narrowed(found, measured.walls_in_it)
        return found

    return limits


def _asked_fits(request: JobRequest, table: FitTable) -> list[AskedSize]:
    """Return the fits and limits of a size asked of single contours, then the job's."""
    texts: Mapping[str, Mapping[str, str]] = contour_texts(request.contours)
    said: list[tuple[tuple[str, ...], str]] = [
        ((name,), own["tolerance"]) for name, own in texts.items() if "tolerance" in own
    ]
    if request.tolerance is not None:
        said.append(((), request.tolerance))
    found = []
    for ids, text in said:
        fit = read_fit(text, table=table) if looks_like_fit(text) else None
        size = fit or read_asked_limits(text)
        if size is not None:
            found.append(
                AskedSize(
                    contour_ids=ids,
                    nominal_mm=size.nominal_mm,
                    lower_um=size.lower_um,
                    upper_um=size.upper_um,
                    words=fit.symbol if fit else "asked",
                )
            )
    return found


def _is_of_a_size(text: str) -> bool:
    return looks_like_fit(text) or read_asked_limits(text) is not None


def _of_drawing(sayings: Iterable[Saying]) -> list[AskedSize]:
    """Return the sizes whose limits the drawing writes, where they have but one meaning."""
    found = []
    for one in sayings:
        said = one.statement
        # Of what may be meant in inches or in millimetres, only what is drawn can be taken.
        meant = [r for r in said.readings if r.option] or said.readings
        if said.asks not in {Asks.TOLERANCE, Asks.FIT, Asks.RADIUS} or len(meant) != 1:
            continue
        data = meant[0].data
        if said.asks is Asks.RADIUS and one.contour_ids and "half_um" in data:
            half_um = float(data["half_um"])
            found.append(
                AskedSize(
                    contour_ids=one.contour_ids,
                    nominal_mm=float(data["radius_mm"]),
                    lower_um=-half_um,
                    upper_um=half_um,
                    words="drawing",
                    is_radius=True,
                )
            )
        if not one.contour_ids or "nominal_mm" not in data or "size_half_um" not in data:
            continue
        half_um, shift_um = float(data["size_half_um"]), float(data["size_shift_um"])
        symbol = _SYMBOL.search(said.text.strip()) if said.asks is Asks.FIT else None
        found.append(
            AskedSize(
                contour_ids=one.contour_ids,
                nominal_mm=float(data["nominal_mm"]),
                lower_um=shift_um - half_um,
                upper_um=shift_um + half_um,
                words=f"{symbol[0]} (drawing)" if symbol else "drawing",
            )
        )
    return found
