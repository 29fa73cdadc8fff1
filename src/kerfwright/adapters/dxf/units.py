"""The unit of a drawing: taken from the header where it is clear, asked for where it is not.

A third of real drawings name no unit and several name a wrong one (measured on the corpus).
A guess that is wrong by 25.4 costs a plate, so nothing is guessed: the error shows the size
that each reading would give, which a person who knows the part can decide at a glance.
"""

from __future__ import annotations

from typing import NoReturn

from kerfwright.adapters.dxf.document import Header
from kerfwright.foundation.errors import DrawingError
from kerfwright.foundation.findings import Finding, Severity
from kerfwright.foundation.sizes import both_extents
from kerfwright.trade.part import LengthUnit

MM_PER_INCH = 25.4
"""Exact (ISO 80000-3; international inch of 1959, from memory)."""
_LARGEST_MM = 1500.0
"""Longest side a wire machine takes; common practice, no source."""
_SMALLEST_MM = 0.5
"""Shortest longest side of anything cut by wire; common practice, no source."""
_NAMED = {LengthUnit.INCH: "inches", LengthUnit.MILLIMETRE: "millimetres"}
_INSUNITS = {1: LengthUnit.INCH, 4: LengthUnit.MILLIMETRE}
_OTHER_UNITS = {
    2: ("feet", 304.8),
    3: ("miles", 1609344.0),
    5: ("centimetres", 10.0),
    6: ("metres", 1000.0),
    7: ("kilometres", 1_000_000.0),
    8: ("microinches", 0.0000254),
    9: ("mils", 0.0254),
    10: ("yards", 914.4),
    11: ("angstroms", 0.0000001),
    12: ("nanometres", 0.000001),
    13: ("micrometres", 0.001),
    14: ("decimetres", 100.0),
}
"""Codes of $INSUNITS beyond inch and millimetre (DXF reference, header variables)."""


def millimetres_per(unit: LengthUnit) -> float:
    """Return the length of a unit in millimetres."""
    return MM_PER_INCH if unit is LengthUnit.INCH else 1.0


def decide_unit(
    header: Header,
    size: tuple[float, float],
    *,
    asked: LengthUnit | None,
    name: str,
    noted: str = "",
) -> tuple[LengthUnit, tuple[Finding, ...]]:
    """Return the unit of a drawing, with a finding where a person overrules the header.

    Parameters
    ----------
    header : Header
    size : (float, float)
        Width and height in drawing units.
    asked : LengthUnit or None
        Unit that a person insists on.
    name : str
        File name for the message.
    noted : str
        What a note of the drawing says of its unit: shown to the person who decides, never taken.

    Raises
    ------
    DrawingError
        With code ``units-unknown`` if the unit is not clear.
    """
    stated = _INSUNITS.get(header.insunits) if header.insunits is not None else None
    system = {0: LengthUnit.INCH, 1: LengthUnit.MILLIMETRE}.get(
        header.measurement if header.measurement is not None else -1
    )
    if asked is not None:
        if stated is None:
            return asked, ()
        if stated is asked:
            return asked, () if system in (None, stated) else (_split(stated, header, size),)
        return asked, (
            Finding(
                code="unit-overruled",
                severity=Severity.WARNING,
                message=(
                    f"The drawing says {_NAMED[stated]}; it is read in {_NAMED[asked]} as asked: "
                    f"{_reading(size, millimetres_per(asked))}."
                ),
                remedy="Check one dimension against the customer's drawing.",
                data={"width_mm": size[0] * millimetres_per(asked)},
            ),
        )
    if stated is None:
        _refuse(_silence(header), size, header, name, noted)
    if system is not None and system is not stated:
        _refuse(
            f"the drawing contradicts itself: {_both_said(stated, header)}.",
            size,
            header,
            name,
            noted,
        )
    return stated, _check_size(stated, size, header, name, noted)


def _both_said(stated: LengthUnit, header: Header) -> str:
    system = "metric" if header.measurement else "imperial"
    return f"its unit of length is {_NAMED[stated]}, its system of measurement {system}"


def _split(stated: LengthUnit, header: Header, size: tuple[float, float]) -> Finding:
    """Return the warning that a person chose between two units that a drawing names."""
    return Finding(
        code="unit-contradicted",
        severity=Severity.WARNING,
        message=(
            f"The drawing contradicts itself: {_both_said(stated, header)}. It is read in "
            f"{_NAMED[stated]} as asked: {_reading(size, millimetres_per(stated))}."
        ),
        remedy="Check one dimension against the customer's drawing.",
        data={"width_mm": size[0] * millimetres_per(stated)},
    )


def _silence(header: Header) -> str:
    if header.insunits in _OTHER_UNITS:
        return f"the drawing says {_OTHER_UNITS[header.insunits][0]}, which is unusual for a part."
    if header.insunits in (None, 0):
        return "the drawing does not say its unit."
    return f"the drawing names the unit code {header.insunits}, which is not usual for a part."


def _check_size(
    stated: LengthUnit, size: tuple[float, float], header: Header, name: str, noted: str
) -> tuple[Finding, ...]:
    """Refuse a size that only the other unit makes plausible; remark on one that none does."""
    longest = max(size)
    as_stated = longest * millimetres_per(stated)
    other = longest * (1.0 if stated is LengthUnit.INCH else MM_PER_INCH)
    low, high = as_stated < _SMALLEST_MM, as_stated > _LARGEST_MM
    if not (low or high):
        return ()
    nearer = (high and other < as_stated) or (low and other > as_stated)
    if nearer:
        limit = f"above {_LARGEST_MM:g} mm" if high else f"below {_SMALLEST_MM:g} mm"
        _refuse(
            f"the drawing says {_NAMED[stated]}, but its longest side would be "
            f"{as_stated:.4g} mm, {limit}.",
            size,
            header,
            name,
            noted,
        )
    return (
        Finding(
            code="size-unusual",
            severity=Severity.WARNING,
            message=(
                f"The longest side is {as_stated:.4g} mm, outside {_SMALLEST_MM:g} to "
                f"{_LARGEST_MM:g} mm, though the unit is clear."
            ),
            remedy="Check the scale of the drawing.",
            data={"longest_mm": as_stated},
        ),
    )


def _reading(size: tuple[float, float], factor: float) -> str:
    return both_extents(size[0] * factor, size[1] * factor)


def _refuse(
    reason: str, size: tuple[float, float], header: Header, name: str, noted: str
) -> NoReturn:
    readings = [
        f"in millimetres it is {_reading(size, 1.0)}",
        f"in inches it is {_reading(size, MM_PER_INCH)}",
    ]
    other = _OTHER_UNITS.get(header.insunits if header.insunits is not None else -1)
    if other is not None:
        readings.append(f"in {other[0]} it would be {_reading(size, other[1])}")
    raise DrawingError(
        f"{reason} Read {'; '.join(readings)}. {noted}".rstrip(),
        code="units-unknown",
        where=name,
        remedy="Say which: --units in or --units mm.",
    )
