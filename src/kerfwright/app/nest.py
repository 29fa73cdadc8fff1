"""Nest parts in sheets: room from kerf and web, the nest, its check, and what is left over."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

from kerfwright.app.nest_wishes import Engine, NestRequest
from kerfwright.foundation.errors import InputError
from kerfwright.foundation.findings import Finding, Severity
from kerfwright.foundation.units import length_mm
from kerfwright.nesting.check import LEFT_OVER, Checked, check
from kerfwright.nesting.records import (
    Instance,
    Kind,
    Packer,
    Placement,
    Room,
    Sheet,
    Solution,
    Stop,
    Tell,
)
from kerfwright.nesting.remnants import Left, remnants_of
from kerfwright.nesting.solve import nest
from kerfwright.planning.rules import PlanningRules
from kerfwright.process.passes import passes_for
from kerfwright.process.technology import Technology
from kerfwright.trade.catalogue import Catalogue
from kerfwright.trade.machine import Machine
from kerfwright.trade.material import Material, Wire

_UM: Final = 1000.0
_MM3_PER_M3: Final = 1e9


@dataclass(frozen=True, slots=True, kw_only=True)
class Kerf:
    """What is cut between parts.

    Attributes
    ----------
    material : Material
    wire : Wire
    thickness_mm : float
    side_mm : float
        From an outline to the far side of its rough kerf.
    """

    material: Material
    wire: Wire
    thickness_mm: float
    side_mm: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class UsedSheet:
    """One sheet of a nest.

    Attributes
    ----------
    sheet : Sheet
    parts : tuple of (Placement, Kind)
        Each where it lies.
    left : tuple of Left
        What is worth keeping, the largest first.
    """

    sheet: Sheet
    parts: tuple[tuple[Placement, Kind], ...]
    left: tuple[Left, ...]

    @property
    def parts_mm2(self) -> float:
        """Metal of the parts, mm²."""
        return math.fsum(kind.area_mm2 for _, kind in self.parts)

    @property
    def used_mm2(self) -> float:
        """Metal that is gone for another job, mm²."""
        return self.sheet.area_mm2 - math.fsum(one.area_mm2 for one in self.left)

    @property
    def density(self) -> float:
        """Metal of the parts over the metal that is gone: 1 would waste nothing."""
        return self.parts_mm2 / self.used_mm2 if self.used_mm2 > 0 else 0.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class NestResult:
    """A nest with its check.

    Attributes
    ----------
    request : NestRequest
    kerf : Kerf
    instance : Instance
    solution : Solution
    checked : Checked
    sheets : tuple of UsedSheet
    findings : tuple of Finding
        Of drawings and check together.
    """

    request: NestRequest
    kerf: Kerf
    instance: Instance
    solution: Solution
    checked: Checked
    sheets: tuple[UsedSheet, ...]
    findings: tuple[Finding, ...]

    @property
    def is_refused(self) -> bool:
        """Whether the nest does not hold, or is empty: then no sheet may be cut from it."""
        return not self.checked.holds or not self.solution.placements or any(
            f.severity is Severity.REFUSAL and f.code != LEFT_OVER for f in self.findings
        )  # fmt: skip

    def mass_kg(self, area_mm2: float) -> float:
        """Return the mass of an area of this sheet metal."""
        volume_m3 = area_mm2 * self.kerf.thickness_mm / _MM3_PER_M3
        return volume_m3 * self.kerf.material.density_kg_per_m3


def kerf_of(
    request: NestRequest, *, catalogue: Catalogue, technology: Technology, machine: Machine
) -> Kerf:
    """Return the rough kerf in the material at hand, with as many skims as there are.

    With most skims most stock is left for them, and the rough kerf lies farthest out.
    """
    material = catalogue.material(request.material)
    wire = catalogue.wire(request.wire) if request.wire else catalogue.default_wire
    thickness = length_mm(request.thickness, what="thickness")
    if not thickness > 0:
        raise InputError(
            f"thickness must be above 0, got {request.thickness}", code="nest-thickness"
        )
    rough = passes_for(
        len(technology.passes),
        material=material,
        height_mm=thickness,
        wire=wire,
        machine=machine,
        technology=technology,
    )[0]
    side = rough.offset_mm + wire.radius_mm + rough.gap_um / _UM
    return Kerf(material=material, wire=wire, thickness_mm=thickness, side_mm=side)


def room_of(request: NestRequest, kerf: Kerf, *, rules: PlanningRules) -> Room:
    """Return what stays free around the parts.

    Between parts: two rough kerfs and the web.  Beside a clamp: the offset, half the nozzle and
    the clearance of clamps.
    """

    def given(text: str | None, usual_mm: float, what: str) -> float:
        return usual_mm if text is None else length_mm(text, what=what)

    between = 2 * kerf.side_mm + given(request.web, rules.nest_web_mm, "web")
    if request.spacing is not None:
        if request.web is not None:
            raise InputError(
                "web and spacing are both given; the spacing is two kerfs and the web",
                code="nest-contradiction",
                remedy="Give one of them.",
            )
        between = length_mm(request.spacing, what="spacing")
        if between < 2 * kerf.side_mm:
            raise InputError(
                f"a spacing of {between:.3f} mm is less than two rough kerfs of this wire, "
                f"{2 * kerf.side_mm:.3f} mm: nothing would stand between the parts",
                code="nest-spacing",
                remedy="Give more, or a thinner wire.",
            )
    return Room(
        between_mm=between,
        edge_mm=kerf.side_mm + given(request.frame, rules.nest_frame_mm, "frame"),
        clamp_mm=kerf.side_mm + rules.clamp_reach_mm,
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ground:
    """All that a nest of some parts follows from.

    Attributes
    ----------
    request : NestRequest
    instance : Instance
    kerf : Kerf
    rules : PlanningRules
    remarks : tuple of Finding
        Of the drawings.
    """

    request: NestRequest
    instance: Instance
    kerf: Kerf
    rules: PlanningRules
    remarks: tuple[Finding, ...] = ()


def ground_of(
    request: NestRequest,
    kinds: Sequence[Kind],
    sheets: Sequence[Sheet],
    *,
    kerf: Kerf,
    room: Room,
    rules: PlanningRules,
    remarks: Sequence[Finding] = (),
) -> Ground:
    """Return what is to be nested in what.

    Parameters
    ----------
    request : NestRequest
    kinds, sheets : sequence
        Of the drawings; remnants stand first among the sheets.
    kerf, room, rules
    remarks : sequence of Finding
        Of the drawings.

    Raises
    ------
    InputError
        Code ``nest-part-unknown`` if turns are given for what is no part of it.
    """
    instance = Instance(kinds=_own_names(kinds), sheets=tuple(sheets), room=room, want=request.want)
    unknown = set(request.part_turns) - {k.id for k in instance.kinds}
    if unknown:
        raise InputError(
            f"turns are given for {', '.join(sorted(unknown))}, which is no part of this nest; "
            f"its parts are {', '.join(k.id for k in instance.kinds)}",
            code="nest-part-unknown",
            remedy="Take one of those names.",
        )
    return Ground(
        request=request, instance=instance, kerf=kerf, rules=rules, remarks=tuple(remarks)
    )


def nest_parts(
    ground: Ground,
    *,
    packer: Packer | None,
    tell: Tell = lambda _what, _share: None,
    stop: Stop = lambda: False,
) -> NestResult:
    """Nest, check by other code, and work out what is left.

    Parameters
    ----------
    ground : Ground
    packer : Packer or None
        The engine, where there is one.
    tell, stop : callable
    """
    request = ground.request
    solution = nest(
        ground.instance,
        packer=None if request.engine is Engine.GRID else packer,
        budget_s=request.budget_s,
        seed=request.seed,
        steps=request.steps,
        fills_openings=request.fills_openings,
        tell=tell,
        stop=stop,
    )
    return judged(ground, solution)


def judged(ground: Ground, solution: Solution) -> NestResult:
    """Return a nest, whoever laid it, with its check and what is left of the sheets."""
    checked = check(ground.instance, solution)
    used = tuple(_used(ground, solution, number) for number in range(len(solution.sheets)))
    return NestResult(
        request=ground.request,
        kerf=ground.kerf,
        instance=ground.instance,
        solution=solution,
        checked=checked,
        sheets=used,
        findings=(*ground.remarks, *checked.findings),
    )


def _own_names(kinds: Sequence[Kind]) -> tuple[Kind, ...]:
    """Return the kinds, drawings of the same name told apart by a number."""
    seen: dict[str, int] = {}
    found = []
    for kind in kinds:
        times = seen[kind.id] = seen.get(kind.id, 0) + 1
        found.append(kind if times == 1 else replace(kind, id=f"{kind.id}_{times}"))
    return tuple(found)


def _used(ground: Ground, solution: Solution, number: int) -> UsedSheet:
    instance, rules = ground.instance, ground.rules
    sheet = next(s for s in instance.sheets if s.id == solution.sheets[number])
    parts = tuple(
        (p, instance.kind(p.kind).placed(p)) for p in solution.placements if p.sheet == number
    )
    return UsedSheet(
        sheet=sheet,
        parts=parts,
        left=remnants_of(
            sheet,
            [kind for _, kind in parts],
            kerf_mm=ground.kerf.side_mm,
            least_width_mm=rules.remnant_width_mm,
            least_area_mm2=rules.remnant_area_mm2,
        ),
    )
