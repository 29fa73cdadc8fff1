"""Material, thickness and number of pieces of a job, held against what its drawing writes."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Final

from kerfwright.app.demand_kinds import size_text
from kerfwright.app.drawing_says import Saying
from kerfwright.app.papers.common import OTHER_HEIGHT, OTHER_MATERIAL, OTHER_QUANTITY
from kerfwright.foundation.counts import counted
from kerfwright.foundation.findings import Finding, Severity
from kerfwright.foundation.shortened import shortened
from kerfwright.trade.catalogue import Catalogue
from kerfwright.trade.requirement import Requirement
from kerfwright.trade.statements import Asks

_MOST_LETTERS: Final = 60
_SAME: Final = 1e-3
"""Share by which two heights may differ that are one: 25.4 and 1 in."""


def asked_otherwise(
    sayings: Iterable[Saying], requirement: Requirement, *, catalogue: Catalogue
) -> Iterator[Finding]:
    """Yield a finding where the job asks another material, thickness or number than is written.

    What the drawing writes in several ways, or what may mean several things, is kept by any of
    them: which of them holds is asked where they are offered.

    Parameters
    ----------
    sayings : iterable of Saying
        What the drawing says.
    requirement : Requirement
        What is planned and priced; its height is that of one piece, not of a stack.
    catalogue : Catalogue
        Names of materials.
    """
    written: dict[Asks, list[Saying]] = {}
    for one in sayings:
        is_offered = any(reading.option for reading in one.statement.readings)
        if is_offered and one.statement.asks in _NUMBER_OF:
            written.setdefault(one.statement.asks, []).append(one)
    materials = written.get(Asks.MATERIAL, [])
    if materials and requirement.material.id not in _meant(materials):
        yield _material(materials[0], requirement, catalogue)
    heights = written.get(Asks.HEIGHT, [])
    asked_mm = requirement.height_mm
    if heights and not any(abs(float(h) - asked_mm) <= _SAME * asked_mm for h in _meant(heights)):
        yield _height(heights[0], asked_mm)
    counts = written.get(Asks.QUANTITY, [])
    if counts and not {int(n) for n in _meant(counts)} & set(requirement.quantities):
        yield _quantity(counts[0], requirement.quantities)


_NUMBER_OF: Final = {
    Asks.MATERIAL: "material",
    Asks.HEIGHT: "height_mm",
    Asks.QUANTITY: "pieces",
}
"""What there is one of in a job, and the number of a reading that says it."""


def _meant(sayings: Iterable[Saying]) -> list[float | int | str]:
    """Return all that some statements may mean."""
    return [
        reading.data[_NUMBER_OF[one.statement.asks]]
        for one in sayings
        for reading in one.statement.readings
        if reading.option and _NUMBER_OF[one.statement.asks] in reading.data
    ]


def _material(one: Saying, requirement: Requirement, catalogue: Catalogue) -> Finding:
    meant = _meant((one,))
    names = " or ".join(m.name for m in catalogue.materials if m.id in meant)
    return Finding(
        code=OTHER_MATERIAL,
        severity=Severity.WARNING,
        message=f"The drawing writes the material as “{_short(one)}”, {names}, and "
        f"{requirement.material.name} is what is planned and quoted.",
        where=one.where,
        remedy=_remedy("material"),
        data={"line": "material", "text": one.statement.text, "asked": requirement.material.name},
    )


def _height(one: Saying, asked_mm: float) -> Finding:
    (written_mm, *_) = (float(value) for value in _meant((one,)))
    written, asked = (size_text(round(value, 4)) for value in (written_mm, asked_mm))
    return Finding(
        code=OTHER_HEIGHT,
        severity=Severity.WARNING,
        message=f"The drawing writes the thickness as “{_short(one)}”, {written}, and "
        f"{asked} is what is planned and quoted.",
        where=one.where,
        remedy=_remedy("height"),
        data={
            "line": "height",
            "text": one.statement.text,
            "written_mm": written_mm,
            "asked_mm": asked_mm,
        },
    )


def _quantity(one: Saying, quantities: Sequence[int]) -> Finding:
    wanted = " or ".join(counted(int(n), "piece") for n in _meant((one,)))
    *most, last = quantities
    asked = f"{', '.join(str(n) for n in most)} and " * bool(most) + counted(last, "piece")
    verb = "is" if last == 1 else "are"
    return Finding(
        code=OTHER_QUANTITY,
        severity=Severity.NOTE,
        message=f"The drawing writes “{_short(one)}”, {wanted}, and {asked} {verb} what is quoted.",
        where=one.where,
        remedy=_remedy("quantity"),
        data={"line": "quantity", "text": one.statement.text},
    )


def _remedy(line: str) -> str:
    return (
        f"Take it over from what the drawing says into the line {line!r}, or ask which holds. "
        "Nothing was changed."
    )


def _short(one: Saying) -> str:
    return shortened(" ".join(one.statement.text.split()), _MOST_LETTERS)
