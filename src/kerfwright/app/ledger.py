"""The ledger: for each line asked, what we answer and how sure we are, in both unit systems."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from kerfwright.app.enquiries import (
    CONTOUR,
    LAYER,
    LINES,
    NOT_OF_SOLIDS,
    OF_CONTOURS,
    OF_SOLIDS,
    TAPER,
    Asked,
    needed_lines,
)
from kerfwright.app.line_hints import first_ids, title_and_hint
from kerfwright.app.own_answers import own_answer
from kerfwright.app.papers.common import ASKS_OFF_THE_LINE, OTHER_HEIGHT, OTHER_MATERIAL
from kerfwright.app.records import JobResult
from kerfwright.app.requirements import ZONE_OFF_THE_LINE
from kerfwright.app.said import NOTHING, Said
from kerfwright.app.stack_lines import (
    COVERS_WHY,
    PIECES_WHY,
    SHEETS_WHY,
    covers_text,
    high_text,
    pieces_text,
    sheets_text,
)
from kerfwright.costing.records import Price
from kerfwright.costing.strings import strings_said
from kerfwright.foundation.counts import counted
from kerfwright.foundation.directed import Use
from kerfwright.foundation.findings import Finding, Severity
from kerfwright.foundation.units import (
    UnitSystem,
    length_text,
    roughness_text,
    small_length_text,
)
from kerfwright.foundation.zones import zone_text
from kerfwright.planning.stacking import hold_holes
from kerfwright.process.stack_shape import SheetShape
from kerfwright.process.technology import Pass
from kerfwright.trade.part import LengthUnit, Part
from kerfwright.trade.stack import Holding, Stack


@dataclass(frozen=True, slots=True, kw_only=True)
class LedgerLine:
    """One line of the ledger.

    Attributes
    ----------
    name : str
        One of :data:`kerfwright.app.enquiries.LINES`.
    title : str
    asked : str
        Text as written; empty where nothing is asked.
    is_needed : bool
        Whether nothing can be planned without it.
    hint : str
        How the value may be written.
    answer : Said
        What we hold against it.
    sure : Said
        How sure that is.
    severity : Severity or None
        That of the weightiest finding that speaks of this line.
    noticed : str
        Key of that finding's reason; empty where none speaks of it.
    why : tuple of str
        Places of its numbers, see :attr:`kerfwright.foundation.answers.Answer.path`.
    """

    name: str
    title: str
    asked: str
    is_needed: bool
    hint: str
    answer: Said = NOTHING
    sure: Said = NOTHING
    severity: Severity | None = None
    noticed: str = ""
    why: tuple[str, ...] = ()


def _own_lines(asked: Asked) -> dict[str, str]:
    """Return the lines about layers and contours; contours of which one thing is said, in one."""
    found = {name: text for name, text in asked.items() if name.startswith(LAYER)}
    groups: dict[tuple[str, str], list[str]] = {}
    for begin in OF_CONTOURS:
        for name, text in asked.items():
            if name.startswith(begin):
                groups.setdefault((begin, text), []).append(name.removeprefix(begin))
    return found | {begin + ",".join(ids): text for (begin, text), ids in groups.items()}


_SPEAKS_OF: Final = {
    "tolerance": ("tolerance-", "program-too-coarse"),
    "finish": ("finish-",),
    "recast": ("recast-",),
    "height": ("height-", OTHER_HEIGHT),
    "wire": ("wire-",),
    "material": ("poorly-conducting", "material-", OTHER_MATERIAL),
    "machine": ("travel-", "weight-", "controller-form"),
    "units": ("units-",),
    "wire-along": ("wire-direction", "faces-not-for-wire"),
    "clamps": ("clamp-",),
    "stack": ("stack-", "sheets-"),
    "holding": ("stack-no-room", "stack-weld"),
    "covers": ("stack-covers",),
}
"""How the codes of findings begin that speak of a line."""
_OF_WALLS: Final = ("taper-", "wall-", "ring-", "relief-", "ruled-", "lean", "angle-", "uv-")
"""How those begin that speak of a leaning wall."""


def ledger_of(
    asked: Asked,
    part: Part | None,
    result: JobResult | None,
    *,
    sheets: tuple[SheetShape, ...] = (),
    is_solid: bool = False,
) -> tuple[LedgerLine, ...]:
    """Return every line with its answer.

    Parameters
    ----------
    asked : mapping of str to str
        See :data:`kerfwright.app.enquiries.LINES`.
    part : Part or None
        The drawing; None where it could not be read.
    result : JobResult or None
        None while a line is missing that the plan needs.
    sheets : tuple of SheetShape
        How those of its stack come out, from the top.
    is_solid : bool
        Whether a solid came in: it has a height, and other lines than a drawing.
    """
    answers = {} if result is None else _answers(result) | _stack(result, sheets)
    findings: tuple[Finding, ...] = ()
    if part is not None:
        findings = part.findings if result is None else result.findings
        answers = _of_file(part, findings) | answers
    lines = []
    others = NOT_OF_SOLIDS if is_solid else OF_SOLIDS
    texts = {n: asked.get(n, "") for n in LINES if asked.get(n) or n not in others}
    texts |= _own_lines(asked)
    needed = needed_lines(is_solid=is_solid)
    if result is not None:
        answers |= {name: _leans(name, result) for name in texts if name.startswith(TAPER)}
        answers |= {name: own_answer(name, result) for name in texts if name.startswith(CONTOUR)}
    for name, text in texts.items():
        title, hint = title_and_hint(name)
        answer, sure, why = answers.get(name, (NOTHING, NOTHING, ()))
        severity, noticed = _weightiest(name, findings)
        lines.append(
            LedgerLine(
                name=name,
                title=title,
                asked=text,
                is_needed=name in needed,
                hint=hint,
                answer=answer,
                sure=sure,
                severity=severity,
                noticed=noticed,
                why=why,
            )
        )
    return tuple(lines)


"""Contours named in a title."""
_Answer = tuple[Said, Said, tuple[str, ...]]


def _of_file(part: Part, findings: tuple[Finding, ...]) -> dict[str, _Answer]:
    """Return what the file itself says of its unit, and a solid of its height and way."""
    answers: dict[str, _Answer] = {"units": (_unit(part), NOTHING, ())}
    if part.solid is not None:
        height_mm = part.solid.height_mm
        told = [n for n, f in enumerate(findings, start=1) if f.code == "wire-direction"]
        why = tuple(f"finding {number} wire direction" for number in told)
        high = _both(lambda s: length_text(height_mm, system=s, decimals=_DECIMALS[s]))
        answers["height"] = (high, NOTHING, why)
        answers["wire-along"] = (_both(lambda s: f"through {_said(high, s)}"), NOTHING, why)
    return answers


def _said(said: Said, system: UnitSystem) -> str:
    return said.metric if system is UnitSystem.METRIC else said.inch


def _answers(result: JobResult) -> dict[str, _Answer]:
    wanted, machine = result.requirement, result.requirement.machine
    material = wanted.material
    answers: dict[str, _Answer] = {
        "material": (_same(material.name), NOTHING, ()),
        "height": (
            _both(lambda s: length_text(wanted.height_mm, system=s, decimals=_DECIMALS[s])),
            _both(lambda s: _takes(machine.max_height_mm, s)),
            ("plan/height_mm",),
        ),
        "machine": (_same(machine.name), NOTHING, ()),
    }
    away = [c.target.id for c in result.plan.contours if c.coreless is not None]
    if away:
        answers["coreless"] = (_same(f"{first_ids(away)} cut away whole"), NOTHING, ())
    if result.plan.strings:
        on = [name for one in result.plan.strings for name in one.contour_ids]
        answers["strings"] = (
            _same(f"{first_ids(on)} on {strings_said(len(result.plan.strings))}"),
            NOTHING,
            (),
        )
    if result.estimate is not None:
        answers["quantity"] = _pieces(result.estimate.prices, result.estimate.currency)
    if not result.plan.passes:
        return answers
    last, wire = result.plan.passes[-1], result.plan.choice.wire
    chosen = "as asked" if wanted.wire is not None else "the plan’s choice"
    answers["wire"] = (
        _both(lambda s: f"{_wire_text(wire.diameter_mm, s)} {wire.name}, {chosen}"),
        NOTHING,
        ("plan/wire_diameter_mm",),
    )
    answers["tolerance"] = (
        _both(lambda s: f"holds {_zone(last.tolerance_um, Use.HELD, s)} {_after(last)}"),
        _read_as(
            wanted.tolerance_um,
            lambda um, s: _zone(um, Use.ASKED, s),
            sure=_how_sure_of_size(last),
        ),
        (f"plan/passes/{last.number}/tolerance_um",),
    )
    answers["finish"] = (
        _both(lambda s: f"leaves {roughness_text(last.ra_um, system=s)} {_after(last)}"),
        _read_as(
            wanted.ra_um,
            lambda um, s: roughness_text(um, system=s),
            sure=_starting(is_measured=_is_finish_measured(last)),
        ),
        _why_left("ledger/finish", wanted.ra_um, f"plan/passes/{last.number}/ra_um"),
    )
    answers["recast"] = _recast(last, wanted.max_recast_um)
    return answers


def _stack(result: JobResult, sheets: tuple[SheetShape, ...]) -> dict[str, _Answer]:
    """Return what is held against the lines of a stack; nothing where none is asked."""
    stack = result.requirement.stack
    if stack is None:
        return {}
    machine = result.requirement.machine
    return {
        "height": (
            _both(lambda s: high_text(stack, s)),
            _both(lambda s: _takes(machine.max_height_mm, s)),
            ("plan/height_mm",),
        ),
        "stack": (
            _same(
                pieces_text(
                    stack,
                    () if result.estimate is None else result.estimate.prices,
                    result.requirement.quantities,
                )
            ),
            _both(lambda s: sheets_text(sheets, s)),
            (PIECES_WHY, SHEETS_WHY),
        ),
        "covers": (_same(covers_text(stack)), NOTHING, (COVERS_WHY,)),
        "holding": (_same(_held(result, stack)), NOTHING, (PIECES_WHY,)),
    }


def _takes(most_mm: float, system: UnitSystem) -> str:
    return f"machine takes {length_text(most_mm, system=system, decimals=1)}"


def _held(result: JobResult, stack: Stack) -> str:
    """Say what keeps a stack together."""
    if stack.holding is not Holding.BOLTED:
        return stack.holding.value
    count = len(hold_holes(result.plan)) if result.plan.passes else 0
    return f"bolted with {counted(count, 'screw')}, as the set-up sheet says"


def _leans(name: str, result: JobResult) -> _Answer:
    """Say how far the walls of a line lean; the reason is the finding that says how."""
    walls = {} if result.lean is None else result.lean.of_contours
    leaning = [walls[one] for one in name.removeprefix(TAPER).split(",") if one in walls]
    if not leaning:
        return _same("cannot lean as asked: see the findings"), NOTHING, ()
    most = max(leaning, key=lambda wall: wall.lean_deg)
    why = tuple(
        f"finding {number} wall leans"
        for number, one in enumerate(result.findings, start=1)
        if one.code == "wall-leans" and one.where.contour_id == most.contour_id
    )
    return _same(f"leans by up to {most.lean_deg:.2f}°"), NOTHING, why[:1]


def _recast(last: Pass, limit_um: float | None) -> _Answer:
    # No cut tells how deep its recast layer is: the figure is the tables'.
    return (
        _both(lambda s: f"leaves {small_length_text(last.recast_um, system=s)}"),
        _read_as(
            limit_um,
            lambda um, s: f"at most {zone_text(um, Use.ASKED, system=s)}",
            sure=_starting(is_measured=False),
        ),
        _why_left("ledger/recast", limit_um, f"plan/passes/{last.number}/recast_um"),
    )


def _why_left(against: str, limit_um: float | None, itself: str) -> tuple[str, ...]:
    """Return the reasons of what is left: first how it stands against a limit asked."""
    return (itself,) if limit_um is None else (against, itself)


_NO_MOVE_LOG: Final = 1e-6
"""Below it a factor is that of the tables, computed anew."""
_DECIMALS: Final = {UnitSystem.METRIC: 2, UnitSystem.INCH: 4}


def _both(write: Callable[[UnitSystem], str]) -> Said:
    return Said(metric=write(UnitSystem.METRIC), inch=write(UnitSystem.INCH))


def _zone(half_um: float, use: Use, system: UnitSystem) -> str:
    return f"±{zone_text(half_um, use, system=system)}"


def _same(text: str) -> Said:
    return Said(metric=text, inch=text)


def _after(last: Pass) -> str:
    return f"after {counted(last.number, 'pass', 'passes')}"


def _wire_text(diameter_mm: float, system: UnitSystem) -> str:
    return length_text(diameter_mm, system=system, decimals=_DECIMALS[system])


def _starting(*, is_measured: bool) -> Said:
    return _same("from this shop’s cuts" if is_measured else "starting value, not measured here")


def _is_finish_measured(one: Pass) -> bool:
    """Return whether measured finishes moved the roughness of a pass; times alone move none."""
    return one.learned is not None and abs(math.log(one.learned.ra_factor)) > _NO_MOVE_LOG


def _how_sure_of_size(one: Pass) -> Said:
    """Say whether what a pass holds stands on measured sizes, of its own or lent by others."""
    if one.learned is None:
        return _starting(is_measured=False)
    sizes = one.learned.sizes
    if sizes is None:
        # Experience from before every size counted.
        return _starting(is_measured=one.learned.is_size_proven)
    if not sizes.count and sizes.lent_jobs:
        return _same("not measured here, moved by sizes of this shop’s other cuts")
    return _starting(is_measured=sizes.count > 0)


def _read_as(
    limit_um: float | None,
    write: Callable[[float, UnitSystem], str],
    *,
    sure: Said,
) -> Said:
    """Say how a demand was read, whatever it was written as, and how sure the answer is."""
    if limit_um is None:
        return sure
    return _both(lambda s: f"read as {write(limit_um, s)}; {_said(sure, s)}")


def _pieces(prices: Iterable[Price], currency: str) -> _Answer:
    texts = [f"{p.quantity} at {currency} {p.each:,}" for p in prices]
    keys = tuple(f"estimate/prices/{p.quantity}/each" for p in prices)
    return _same(", ".join(texts)), NOTHING, keys


def _unit(part: Part) -> Said:
    return _same("millimetres" if part.drawing_unit is LengthUnit.MILLIMETRE else "inches")


def _weightiest(name: str, findings: Sequence[Finding]) -> tuple[Severity | None, str]:
    """Return how weighty the weightiest finding of a line is, and the key of its reason."""
    begins = _SPEAKS_OF.get(name, ())
    ids = name.removeprefix(CONTOUR).split(",") if name.startswith(CONTOUR) else ()
    leaning = name.removeprefix(TAPER).split(",") if name.startswith(TAPER) else ()

    def is_of_it(one: Finding) -> bool:
        if leaning:
            return one.where.contour_id in leaning and one.code.startswith(_OF_WALLS)
        if one.code == ZONE_OFF_THE_LINE:
            # A zone that a contour asks by itself is that contour's, not the job's.
            own = one.where.contour_id
            return own in ids if own else name == "tolerance"
        if one.code == ASKS_OFF_THE_LINE:
            # No tolerance mends it, and whoever asks one should know.
            return name == "tolerance" or one.where.contour_id in ids
        return bool(begins) and one.code.startswith(begins)

    found = [(number, f) for number, f in enumerate(findings, start=1) if is_of_it(f)]
    order = (Severity.REFUSAL, Severity.WARNING, Severity.NOTE)
    for severity in order:
        for number, one in found:
            if one.severity is severity:
                return severity, f"finding {number} {one.code.replace('-', ' ')}"
    return None, ""
