"""Steps of a tolerance whose zone lies to one side of the drawn line: the side stays."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

from kerfwright.app.asks import Asks
from kerfwright.app.enquiries import CONTOUR
from kerfwright.app.requirements import ZONE_OFF_THE_LINE
from kerfwright.app.what_if import Alternative, Offer, WhatIf
from kerfwright.foundation.findings import Finding
from kerfwright.foundation.units import UM_PER_MM, tolerance

_LINE: Final = "tolerance"
_ABOUT: Final = re.compile(r"(tolerance=)?±([\d.]+) ?(mm|in|µm)")
_UNITS_UM: Final = {"mm": UM_PER_MM, "in": 25.4 * UM_PER_MM, "µm": 1.0}
_HAIR: Final = 1e-6
"""Share of a zone that is no difference: rounding of the numbers."""
_DIGITS: Final = 7
"""Decimals of a limit in its unit: below that is rounding of the sums."""


@dataclass(frozen=True, slots=True)
class OneSided:
    """A zone of a wall that does not lie about the drawn line.

    Attributes
    ----------
    said : str
        As it is asked.
    half_um, shift_um : float
        Half of it, and where its middle lies.
    """

    said: str
    half_um: float
    shift_um: float

    def with_half(self, half_um: float) -> tuple[float, float]:
        """Return lower and upper limit of another width, µm: the limit nearer the line stays.

        Where the zone holds the line within, its middle stays.

        Examples
        --------
        >>> OneSided("+6/0 um", 3.0, 3.0).with_half(5.0)
        (0.0, 10.0)
        >>> OneSided("+1/-5 um", 3.0, -2.0).with_half(4.0)
        (-6.0, 2.0)
        """
        lower, upper = self.shift_um - self.half_um, self.shift_um + self.half_um
        hair = _HAIR * self.half_um
        if lower >= -hair:
            return lower, lower + 2 * half_um
        if upper <= hair:
            return upper - 2 * half_um, upper
        return self.shift_um - half_um, self.shift_um + half_um


def with_zones_kept(found: WhatIf, findings: Iterable[Finding]) -> WhatIf:
    """Return a what-if whose steps ask for zones on the side on which the job asks them.

    A step is worked out as half of a zone, which is all that a price knows of it; asked as ± it
    would let the wall cross the limit that the customer wrote.

    Parameters
    ----------
    found : WhatIf
    findings : iterable of Finding
        Of the job; those of zones off the line say which they are.
    """
    zones = {
        f.where.contour_id or "": OneSided(
            str(f.data["said"]), float(f.data["half_um"]), float(f.data["shift_um"])
        )
        for f in findings
        if f.code == ZONE_OFF_THE_LINE
    }
    if not zones:
        return found
    return replace(
        found,
        alternatives=tuple(_alternative(one, zones) for one in found.alternatives),
        front=tuple(_offer(one, zones) for one in found.front),
    )


def _offer(one: Offer, zones: Mapping[str, OneSided]) -> Offer:
    return replace(one, asks=_asks(one.asks, zones)[0])


def _alternative(one: Alternative, zones: Mapping[str, OneSided]) -> Alternative:
    asks, said = _asks(one.asks, zones)
    offer = _offer(one.offer, zones)
    if not said:
        return replace(one, offer=offer)
    step = f"{one.step} (half of the zone: {'; '.join(said)})"
    return replace(
        one, asks=asks, offer=offer, step=step, sentence=one.sentence.replace(one.step, step, 1)
    )


def _asks(asks: Asks, zones: Mapping[str, OneSided]) -> tuple[Asks, tuple[str, ...]]:
    """Return lines that keep the side of each zone, and what became of which."""
    kept: list[tuple[str, str]] = []
    said: dict[str, None] = {}
    for line, text in asks:
        is_own = line.startswith(CONTOUR)
        if _ABOUT.search(text) is None or not (is_own or line == _LINE):
            kept.append((line, text))
            continue
        ids = line.removeprefix(CONTOUR).split(",") if is_own else [""]
        for zone, names in _alike(ids, zones):
            new, words = _moved(text, zone)
            kept.append((CONTOUR + ",".join(names) if is_own else line, new))
            said |= dict.fromkeys([words] if words else [])
    return tuple(kept), tuple(said)


def _alike(
    ids: Sequence[str], zones: Mapping[str, OneSided]
) -> list[tuple[OneSided | None, list[str]]]:
    groups: dict[OneSided | None, list[str]] = {}
    for one in ids:
        groups.setdefault(zones.get(one), []).append(one)
    return list(groups.items())


def _moved(text: str, zone: OneSided | None) -> tuple[str, str]:
    """Return the text of a line with the zone on its side, and words for the change."""
    match = _ABOUT.search(text)
    if zone is None or match is None:
        return text, ""
    name, number, unit = match.groups()
    half_um = tolerance(f"±{number} {unit}").half_um
    if math.isclose(half_um, zone.half_um):
        limits = zone.said
    else:
        lower, upper = (round(v / _UNITS_UM[unit], _DIGITS) for v in zone.with_half(half_um))
        limits = f"{upper + 0.0:+.6g}/{lower + 0.0:+.6g} {unit}"
    new = text[: match.start()] + (name or "") + limits + text[match.end() :]
    return new, "" if limits == zone.said else f"{limits} in place of {zone.said}"
