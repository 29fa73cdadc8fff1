"""Finishes as drawings write them, brought to Ra in micrometres."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Final

from kerfwright.foundation.counts import refuse_below_nought
from kerfwright.foundation.errors import InputError, RangeError
from kerfwright.foundation.sources import COMMON_PRACTICE, Source, SourceTag
from kerfwright.foundation.units import UM_PER_MICROINCH, number, tidy

FINISH_FORMS: Final = "Ra 0.8 µm, 16 µin Ra, 32 RMS, Rz 6.3 µm, VDI 24, N6 or √0.8 µm"

RMS_PER_RA: Final = 1.11
"""An averaging instrument scaled to read the root mean square of a sine reads pi/(2 sqrt 2) =
1.1107 times the mean; that is what RMS on an inch drawing means.  It is no measured Rq: the meter
averages, and only its scale is stretched."""
RMS_SOURCE: Final = Source(
    tag=SourceTag.FROM_MEMORY,
    citation="ASME B46.1, rms-scaled instruments read 11 % above Ra; the sine gives 1.1107",
)
RQ_PER_RA: Final = math.sqrt(math.pi / 2)
"""The root mean square itself, of heights that are spread normally, as those of a sparked wall
nearly are: 1.2533 times the mean.  Dividing by it gives the Ra at which the Rq asked is met."""
RQ_SOURCE: Final = Source(
    tag=SourceTag.COMPUTED,
    citation="Rq/Ra = sqrt(pi/2) of a Gaussian profile; 1.1-1.3 is usual",
)
RZ_PER_RA: Final = 6.0
"""Spark-eroded surfaces lie between 5 and 7."""
VDI_SOURCE: Final = Source(
    tag=SourceTag.READ, citation="VDI 3400, K = 20 log10(10 Ra), as quoted in a trade journal, 2024"
)
N_SOURCE: Final = Source(tag=SourceTag.READ, citation="ISO 1302, N1 to N12")
ISO_UNIT: Final = Source(
    tag=SourceTag.FROM_MEMORY, citation="ISO 21920-1: a roughness without a unit is in µm"
)
INCH_UNIT: Final = Source(
    tag=SourceTag.COMMON_PRACTICE, citation="RMS without a unit is in µin on inch drawings"
)
AS_WRITTEN: Final = Source(tag=SourceTag.READ, citation="as written")

_N_GRADES_UM: Final = (0.025, 0.05, 0.1, 0.2, 0.4, 0.8, 1.6, 3.2, 6.3, 12.5, 25.0, 50.0)
_VDI_CLASSES: Final = range(46)
_SMALLEST_UIN: Final = 4.0
"""The finest value that inch drawings usually ask; from here on a bare Ra may be either unit."""
_METRIC_ONLY: Final = (6.3, 12.5)
"""Preferred values in µm that are none in µin."""

_KINDS: Final = {
    "ra": "ra",
    "aa": "ra",
    "cla": "ra",
    "rq": "rq",
    "rms": "rms",
    "rz": "rz",
}
_VALUE: Final = (
    r"(\d+(?:[.,]\d+)?|[.,]\d+)\s*(um|uin(?:ch)?|u\"|microns?|micro[ -]?inch(?:es)?)?\.?"
)
_KIND: Final = "|".join(_KINDS)
_BEFORE: Final = re.compile(
    rf"(?:max\.?\s*)?({_KIND})\s*[:=]?\s*(?:max(?:\.(?!\d))?|<=?|≤)?\s*{_VALUE}(?:\s*max\.?)?"
)
_AFTER: Final = re.compile(rf"{_VALUE}\s*({_KIND})?(?:\s*max\.?)?")
_SYMBOL: Final = re.compile(rf"√\s*{_VALUE}|{_VALUE}\s*√")
"""The surface symbol with its value, which is Ra (ISO 1302, ASME Y14.36M; from memory)."""
_VDI: Final = re.compile(r"vdi\s*(?:3400)?\s*(?:class|ref\.?|k)?\s*(\d+)")
_GRADE: Final = re.compile(r"n\s*(\d+)")


@dataclass(frozen=True, slots=True, kw_only=True)
class Finish:
    """A finish as asked.

    Attributes
    ----------
    ra_um : float
        Arithmetic mean roughness, µm.
    said : str
        What the drawing or the person says.
    note : str
        How it was brought to Ra; empty if it was written so.
    source : Source
        Of that conversion.
    """

    ra_um: float
    said: str
    note: str
    source: Source


def vdi_ra_um(vdi_class: int) -> float:
    """Return the Ra of a VDI 3400 class: ``Ra = 0.1 * 10^(K/20)``.

    Parameters
    ----------
    vdi_class : int
        0 to 45.

    Raises
    ------
    RangeError
        If the class is not in the table.

    References
    ----------
    VDI 3400 as quoted in a trade journal (read).

    Examples
    --------
    >>> round(vdi_ra_um(24), 3)
    1.585
    """
    if vdi_class not in _VDI_CLASSES:
        raise RangeError(
            f"VDI {vdi_class} is no class; they run from {_VDI_CLASSES[0]} to {_VDI_CLASSES[-1]}.",
            code="finish-out-of-range",
            remedy="Write one of these, or the roughness with its unit, such as Ra 0.8 µm.",
        )
    return float(0.1 * 10 ** (vdi_class / 20))


def finish(text: str) -> Finish:
    """Read a finish.

    Parameters
    ----------
    text : str
        ``"Ra 0.8"``, ``"0.8 µm Ra"``, ``"16 µin Ra"``, ``"32 RMS"``, ``"Rz 6.3"``,
        ``"VDI 24"``, ``"N6"``.

    Raises
    ------
    InputError
        Code ``finish-unreadable`` or ``finish-unit-missing``: a bare ``"Ra 32"`` may be µm or
        µin.
    RangeError
        Code ``finish-out-of-range``: no such class or grade, or a roughness of 0.

    Examples
    --------
    >>> finish("16 uin Ra").ra_um
    0.4064
    """
    plain = tidy(text)
    if match := _VDI.fullmatch(plain):
        ra_um = vdi_ra_um(int(match.group(1)))
        return Finish(
            ra_um=ra_um, said=text, note=f"{text} is Ra {ra_um:.3g} µm.", source=VDI_SOURCE
        )
    if match := _GRADE.fullmatch(plain):
        return _grade(int(match.group(1)), said=text)
    if match := _BEFORE.fullmatch(plain):
        return _measured(_KINDS[match.group(1)], match.group(2), match.group(3), said=text)
    if match := _SYMBOL.fullmatch(plain):
        return _measured("ra", match[1] or match[3], match[2] or match[4], said=text)
    if match := _AFTER.fullmatch(plain):
        kind = match.group(3)
        if kind is None and match.group(2) is None:
            raise _refusal(
                f"finish {text!r} names no parameter and no unit", code="finish-unit-missing"
            )
        return _measured(_KINDS[kind or "ra"], match.group(1), match.group(2), said=text)
    refuse_below_nought(plain, what="finish", said=text)
    raise _refusal(f"finish {text!r} cannot be read", code="finish-unreadable")


def _grade(grade: int, *, said: str) -> Finish:
    if not 1 <= grade <= len(_N_GRADES_UM):
        raise RangeError(
            f"N{grade} is no grade; they run from N1 to N12.",
            code="finish-out-of-range",
            remedy="Write one of these, or the roughness with its unit, such as Ra 0.8 µm.",
        )
    ra_um = _N_GRADES_UM[grade - 1]
    return Finish(ra_um=ra_um, said=said, note=f"N{grade} is Ra {ra_um:g} µm.", source=N_SOURCE)


def _measured(kind: str, digits: str, unit: str | None, *, said: str) -> Finish:
    value = number(digits, what="finish")
    notes: list[str] = []
    sources: list[Source] = []
    if unit is None:
        unit, source = _unit_of_bare(kind, value, said=said)
        sources.append(source)
        notes.append(f"Without a unit {said!r} is taken as {'µm' if unit == 'um' else 'µin'}.")
    if value == 0:
        raise RangeError(
            f"finish {said!r} must be above 0.",
            code="finish-out-of-range",
            remedy="Write the roughness with its unit, such as Ra 0.8 µm or 32 µin.",
        )
    # Six decimals of a micrometre drop the rounding noise of the conversion, nothing else.
    value_um = value if unit.startswith(("um", "micron")) else round(value * UM_PER_MICROINCH, 6)
    if kind == "rms":
        notes.append(f"RMS is taken as {RMS_PER_RA:g} Ra, the scale of an averaging instrument.")
        sources.append(RMS_SOURCE)
        value_um /= RMS_PER_RA
    elif kind == "rq":
        notes.append(f"Rq is taken as {RQ_PER_RA:.4g} Ra, that of a Gaussian profile.")
        sources.append(RQ_SOURCE)
        value_um /= RQ_PER_RA
    elif kind == "rz":
        notes.append(f"Rz is taken as {RZ_PER_RA:g} Ra, a guide for spark-eroded walls.")
        sources.append(COMMON_PRACTICE)
        value_um /= RZ_PER_RA
    return Finish(
        ra_um=value_um,
        said=said,
        note=" ".join(notes),
        source=sources[-1] if sources else AS_WRITTEN,
    )


def _unit_of_bare(kind: str, value: float, *, said: str) -> tuple[str, Source]:
    """Decide the unit only where practice leaves one reading."""
    if kind == "rz":
        return "um", ISO_UNIT
    if kind in ("rms", "rq"):
        if value >= _SMALLEST_UIN:
            return "uin", INCH_UNIT
    elif value < _SMALLEST_UIN or value in _METRIC_ONLY:
        return "um", ISO_UNIT
    raise _refusal(f"finish {said!r} may be in µm or in µin", code="finish-unit-missing")


def _refusal(message: str, *, code: str) -> InputError:
    return InputError(f"{message}.", code=code, remedy=f"Write it as {FINISH_FORMS}.")
