"""From words with units to the requirement of a job."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import replace
from types import MappingProxyType
from typing import Final

from kerfwright.app.clamp_zones import clamps_asked
from kerfwright.app.named_texts import named_texts
from kerfwright.app.records import JobRequest
from kerfwright.app.tapers import read_tapers
from kerfwright.foundation.errors import InputError
from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.foundation.places import place_mm
from kerfwright.foundation.units import (
    LENGTH_FORMS,
    UM_PER_MM,
    ToleranceText,
    length_mm,
    most_mm,
)
from kerfwright.foundation.zones import zone_asked
from kerfwright.trade import roughness
from kerfwright.trade.asked_sizes import not_of_a_size
from kerfwright.trade.catalogue import Catalogue
from kerfwright.trade.coreless import CorelessWish
from kerfwright.trade.fits import FitTable, tolerance_of_wall
from kerfwright.trade.machine import Machine
from kerfwright.trade.part import Part, PartContour
from kerfwright.trade.placement import Placeable, Placement
from kerfwright.trade.requirement import Demand, Requirement

CONTOUR_FORM: Final = "H7: tolerance=±0.0025mm, finish=Ra0.4um, recast=5um"
"""How demands on contours are written; any of the three, and several ids with commas."""
ALL_CONTOURS: Final = "ALL"
"""In place of ids: a wish for all contours."""
CORELESS_FORM: Final = "unattended, or H1,H2: always"
DEMANDS: Final = ("tolerance", "finish", "recast")
"""What a contour may ask of its own."""
ZONE_OFF_THE_LINE: Final = "zone-off-the-line"
"""Code of the warning that the middle of a zone is not the drawn line; ``data`` has ``said``,
``half_um`` and ``shift_um`` of each wall."""
_NAME: Final = re.compile(rf"\b({'|'.join(DEMANDS)})\b\s*[=:]?", re.IGNORECASE)


def read_requirement(
    request: JobRequest, *, catalogue: Catalogue, machine: Machine, fits: FitTable
) -> tuple[Requirement, tuple[Finding, ...]]:
    """Return the requirement and remarks on how its texts were understood.

    Raises
    ------
    InputError
        If a text cannot be read; the message names the accepted forms.
    UnknownNameError
        If the material or wire is in no table.
    """
    given = {"tolerance": request.tolerance, "finish": request.finish, "recast": request.recast}
    asked, remarks = _demand(
        {name: text for name, text in given.items() if text is not None}, fits=fits
    )
    contours, own_remarks = read_contour_demands(request.contours, fits=fits)
    remarks += own_remarks
    if request.offset_form is not None:
        dialect = replace(machine.dialect, offset_form=request.offset_form)
        machine = replace(machine, dialect=dialect)
    margin = None if request.stock_margin is None else length_mm(request.stock_margin)
    requirement = Requirement(
        material=catalogue.material(request.material),
        height_mm=read_height_mm(request.height),
        machine=machine,
        tolerance_um=asked.tolerance_um,
        ra_um=asked.ra_um,
        max_recast_um=asked.max_recast_um,
        wire=None if request.wire is None else catalogue.wire(request.wire),
        quantities=request.quantities,
        contours=MappingProxyType(contours),
        walls=MappingProxyType(read_tapers(request.tapers)),
        placements=MappingProxyType(read_placements(request)),
    )
    wishes = read_coreless(request.coreless)
    requirement = replace(
        requirement,
        coreless=wishes.pop(ALL_CONTOURS, CorelessWish.SMALL),
        coreless_of=MappingProxyType(wishes),
        strings=request.strings,
        clamps=() if request.clamps is None else clamps_asked(request.clamps),
    )
    if margin is not None:
        requirement = replace(requirement, stock_margin_mm=margin)
    return requirement, tuple(remarks)


_LEAST_HEIGHT_MM, _MOST_HEIGHT_MM = 0.001, 3000.0


def read_height_mm(text: str) -> float:
    """Read the height of the work, in mm.

    Raises
    ------
    InputError
        As :func:`kerfwright.foundation.units.length_mm`; code ``height-out-of-range`` where it is
        no foil any more, or taller than any wire machine takes.
    """
    found = length_mm(text, what="height")
    if not _LEAST_HEIGHT_MM <= found <= _MOST_HEIGHT_MM:
        raise InputError(
            f"height {text!r} is {found:g} mm; from {_LEAST_HEIGHT_MM:g} mm to "
            f"{_MOST_HEIGHT_MM:g} mm is work that a wire can cut",
            code="height-out-of-range",
            remedy="Look at the unit: 25mm, 1in, 50um.",
        )
    return found


RECAST_FORMS: Final = "5 µm, 0.005 mm, 0.0002 in or 200 µin"


def read_recast_um(text: str, *, of: str = "") -> float:
    """Read the deepest recast layer that is allowed, in µm.

    Raises
    ------
    InputError
        As :func:`kerfwright.foundation.units.most_mm`, with the forms in which shops write one.

    Examples
    --------
    >>> read_recast_um("200 µin"), read_recast_um("max 0.0002 in")
    (5.08, 5.08)
    """
    try:
        return round(most_mm(text, what=f"recast layer{of}") * UM_PER_MM, 9)
    except InputError as error:
        remedy = error.remedy.replace(LENGTH_FORMS, RECAST_FORMS)
        raise InputError(error.message, code=error.code, remedy=remedy) from None


def _demand(
    texts: Mapping[str, str], *, fits: FitTable, contour_id: str | None = None
) -> tuple[Demand, list[Finding]]:
    """Read the texts of one demand by their names."""
    of = f" of {contour_id}" if contour_id else ""
    half_um = ra_um = recast_um = None
    remarks: list[Finding] = []
    if "tolerance" in texts:
        if contour_id is None:
            not_of_a_size(texts["tolerance"])
        said = tolerance_of_wall(texts["tolerance"], what=f"tolerance{of}", table=fits)
        half_um = said.half_um
        if said.shift_um:
            remarks.append(_off_the_line(said, contour_id))
        elif said.note:
            remarks.append(_remark("tolerance-read", said.note, contour_id))
    if "finish" in texts:
        finish = roughness.finish(texts["finish"])
        ra_um = finish.ra_um
        if finish.note:
            remarks.append(_remark("finish-read", finish.note, contour_id))
    if "recast" in texts:
        recast_um = read_recast_um(texts["recast"], of=of)
    return Demand(tolerance_um=half_um, ra_um=ra_um, max_recast_um=recast_um), remarks


def read_contour_demands(
    given: Mapping[str, str], *, fits: FitTable
) -> tuple[dict[str, Demand], list[Finding]]:
    """Return the demands on single contours by id, and remarks on how they were understood.

    Raises
    ------
    InputError
        If a text cannot be read; the message names the accepted forms.
    """
    found: dict[str, Demand] = {}
    remarks: list[Finding] = []
    for name, texts in contour_texts(given).items():
        found[name], said = _demand(texts, fits=fits, contour_id=name)
        remarks += said
    return found, remarks


def read_placements(request: JobRequest) -> dict[str, Placement]:
    """Return where a person put start, lead-in and tab of single contours.

    Raises
    ------
    InputError
        If a place or a width cannot be read.
    """
    found: dict[str, Placement] = {}
    for what, places in (
        (Placeable.START, request.starts),
        (Placeable.LEAD_IN, request.lead_ins),
        (Placeable.TAB, request.tabs),
    ):
        for ids, text in places.items():
            spot = place_mm(text, what=f"{what.value} of {ids}")
            name = ids.strip().upper()
            found[name] = found.get(name, Placement()).moved(what, spot)
    for ids, text in request.tab_widths.items():
        name = ids.strip().upper()
        width_mm = length_mm(text, what=f"tab width of {ids}")
        found[name] = replace(found.get(name, Placement()), tab_width_mm=width_mm)
    return found


def read_coreless(given: Mapping[str, str]) -> dict[str, CorelessWish]:
    """Return what becomes of the inside of openings, by id, or for :data:`ALL_CONTOURS`.

    Raises
    ------
    InputError
        Code ``coreless-wish``.
    """
    found: dict[str, CorelessWish] = {}
    for ids, text in given.items():
        names = [name for name in re.split(r"[,;\s]+", ids) if name]
        known = [wish.value for wish in CorelessWish]
        if not names or text.strip().casefold() not in known:
            raise InputError(
                f"{ids or 'nothing'}: {text!r} says nothing of the inside of openings",
                code="coreless-wish",
                remedy=f'Write it as "{CORELESS_FORM}", with one of {", ".join(known)}.',
            )
        for name in names:
            found[name.upper()] = CorelessWish(text.strip().casefold())
    return found


def contour_texts(given: Mapping[str, str]) -> dict[str, dict[str, str]]:
    """Return the texts of each contour by name: ``{"H7": {"tolerance": "±0.0025mm"}}``.

    Raises
    ------
    InputError
        Code ``contour-demand``.
    """
    found: dict[str, dict[str, str]] = {}
    for ids, text in given.items():
        names = [name.upper() for name in re.split(r"[,;\s]+", ids) if name]
        if not names:
            raise _unread(f"no contour is named before {text!r}")
        for name in names:
            own = found.setdefault(name, {})
            for what, value in named_demands(text, ids).items():
                if own.setdefault(what, value) != value:
                    raise _unread(f"{what} of {name} is given twice: {own[what]} and {value}")
    return found


def named_demands(text: str, ids: str) -> dict[str, str]:
    """Return the text of each demand in ``"tolerance=±2 µm, finish=Ra 0.4 µm"`` by its name.

    Raises
    ------
    InputError
        Code ``contour-demand``.
    """
    return named_texts(text, _NAME, ids=ids, what="demand", unread=_unread)


def _unread(message: str) -> InputError:
    return InputError(
        message,
        code="contour-demand",
        remedy=f'Write it as "{CONTOUR_FORM}", with any of {", ".join(DEMANDS)}; several contours '
        'as "H1,H2: …".',
    )


def _off_the_line(said: ToleranceText, contour_id: str | None) -> Finding:
    """Warn that a zone does not lie about the drawn line, to which the wall is cut."""
    at_end = abs(said.shift_um) >= said.half_um
    whose = f"{contour_id}: " if contour_id else ""
    return Finding(
        code=ZONE_OFF_THE_LINE,
        severity=Severity.WARNING,
        message=f"{whose}{said.note} Where it shows the nominal size, the wall comes out at "
        f"{'the end' if at_end else 'one side'} of the zone, and "
        f"{'one in two or more' if at_end else 'more than usual'} would miss it.",
        where=Place(contour_id=contour_id) if contour_id else Place(),
        remedy="Draw the walls at the middle of the zone and ask "
        f"±{zone_asked(said.half_um)}; ask that too where the drawing already shows the middle.",
        data={"said": said.said, "half_um": said.half_um, "shift_um": said.shift_um},
    )


def _remark(code: str, message: str, contour_id: str | None) -> Finding:
    where = Place(contour_id=contour_id) if contour_id else Place()
    return Finding(code=code, severity=Severity.NOTE, message=message, where=where)


def tolerances_asked(request: JobRequest, part: Part) -> Iterator[tuple[PartContour, str, bool]]:
    """Yield each contour to cut with its tolerance as written, and whether that is its own.

    A contour of which no tolerance is asked is left out.

    Parameters
    ----------
    request : JobRequest
        With texts that can be read.
    part : Part
    """
    own = contour_texts(request.contours)
    for one in part.to_cut:
        mine = own.get(one.id.upper(), {}).get("tolerance")
        text = request.tolerance if mine is None else mine
        if text is not None:
            yield one, text, mine is not None
