"""Which wire gets round the contours, and its path on each pass."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, replace
from functools import partial
from typing import Final

from kerfwright.foundation.findings import Finding, Severity
from kerfwright.geometry.contour import Contour, MovedContours
from kerfwright.geometry.offset import Offset, OffsetLoop, offset_passes, unreachable
from kerfwright.planning import feasibility
from kerfwright.planning.alike import Alike, alike_of
from kerfwright.planning.memory import Memory
from kerfwright.planning.room import has_room, start_room_mm, with_true_remedy
from kerfwright.planning.rules import PlanningRules
from kerfwright.planning.starts import share_out_given
from kerfwright.planning.unroughed import (
    Unroughed,
    find_unroughed,
    is_too_deep,
    kerf_radii_mm,
    refusal_of,
    width_mm,
)
from kerfwright.process.choice import JobPasses, choose_by_contour, is_guided, passes_of
from kerfwright.process.technology import PassChoice, Technology
from kerfwright.trade.catalogue import Catalogue
from kerfwright.trade.material import Wire
from kerfwright.trade.part import Part, PartContour
from kerfwright.trade.requirement import Requirement

_ROUNDING: Final = 1e-6
_NAMED: Final = 4
"""Contours named before a sentence says how many more there are."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Paths:
    """The offset loops of one contour for every pass, or why there are none.

    Attributes
    ----------
    target : PartContour
    loops : tuple of OffsetLoop
    unreachable : sequence of Contour
        Regions that the last pass leaves.
    refusal : Finding or None
    tips : Unroughed or None
        Where a later pass goes through full metal, not too far for it.
    """

    target: PartContour
    loops: tuple[OffsetLoop, ...]
    unreachable: Sequence[Contour]
    refusal: Finding | None
    tips: Unroughed | None = None


def choose_wire(
    part: Part,
    requirement: Requirement,
    technology: Technology,
    catalogue: Catalogue,
    rules: PlanningRules,
    memory: Memory,
) -> tuple[JobPasses, list[Paths], list[Finding]]:
    """Return the wire that reaches what the drawing asks, the usual one unless it asks.

    One wire cuts the whole job, so every contour with its own passes has a say.
    """
    alike = alike_of(part.contours, memory)

    def with_wire(wire: Wire | None) -> tuple[JobPasses, list[Paths]]:
        choice = choose_by_contour(
            replace(requirement, wire=wire),
            [c.id for c in part.to_cut],
            technology=technology,
            catalogue=catalogue,
        )
        return choice, [paths_of(c, choice.of(c.id), memory, alike.get(c.id)) for c in part.to_cut]

    room = partial(start_room_mm, requirement, technology=technology, rules=rules)
    with_remedies = partial(
        _with_remedies,
        part,
        requirement,
        catalogue=catalogue,
        room=room,
        with_wire=with_wire,
        in_passes=partial(_in_passes, requirement, technology),
    )
    choice, paths = with_wire(requirement.wire)
    # No wire helps an opening in which no start hole fits, or a wall of which more is asked than
    # the process holds: they do not decide.
    needed_mm = room()
    hopeless = choice.beyond | {
        c.id for c in part.to_cut if not _has_start(c, needed_mm, memory.shapes, alike.get(c.id))
    }

    def all_fit(paths: Sequence[Paths], choice: JobPasses) -> bool:
        asking = (p for p in paths if p.target.id not in hopeless)
        return all(p.refusal is None and _radii_fit(p, requirement, choice) for p in asking)

    if requirement.wire is not None or all_fit(paths, choice):
        return choice, with_remedies(choice, paths), []
    # Without a wire that gets everywhere, the thickest of those that get round most contours.
    best = choice, paths
    for wire in _thinner(choice.wire, requirement, catalogue):
        if wire.diameter_mm < rules.thinnest_wire_mm:
            break
        other, other_paths = with_wire(wire)
        if _refusals(other_paths, hopeless) < _refusals(best[1], hopeless):
            best = other, other_paths
        if all_fit(other_paths, other):
            best = other, other_paths
            break
    if best[0] is choice:
        return choice, with_remedies(choice, paths), []
    asking = [p for p in paths if p.target.id not in hopeless]
    narrow = [p for p in asking if p.refusal is not None]
    tight = [p for p in asking if p.refusal is None and not _radii_fit(p, requirement, choice)]
    return best[0], with_remedies(*best), [_thinner_wire(choice, best[0], narrow, tight)]


def _in_passes(
    requirement: Requirement, technology: Technology, count: int, choice: PassChoice
) -> PassChoice:
    wire = choice.wire
    passes = passes_of(count, requirement=requirement, wire=wire, technology=technology)
    return replace(choice, passes=passes)


def _has_start(target: PartContour, needed_mm: float, shapes: Memory, like: Alike | None) -> bool:
    first = target if like is None else like.first
    return shapes.once(partial(has_room, first, needed_mm), "has start", first, needed_mm)


def _with_remedies(
    part: Part,
    requirement: Requirement,
    choice: JobPasses,
    paths: list[Paths],
    *,
    catalogue: Catalogue,
    room: Callable[..., float],
    with_wire: Callable[[Wire], tuple[JobPasses, list[Paths]]],
    in_passes: Callable[[int, PassChoice], PassChoice],
) -> list[Paths]:
    """Return the paths with refusals whose remedies hold: a thinner wire only if it gets round."""
    if not any(p.refusal for p in paths):
        return paths
    thinner = _thinner(choice.wire, requirement, catalogue)
    given = share_out_given(part.contours, part.given_starts)

    def has_start(target: PartContour, wire: Wire | None) -> bool:
        needed_mm = room(wire_mm=None if wire is None else wire.diameter_mm)
        return bool(given.get(target.id)) or has_room(target, needed_mm)

    def kerf_mm(target: PartContour, wire: Wire) -> float | None:
        passes, others = with_wire(wire)
        path = next(p for p in others if p.target is target)
        return None if path.refusal else 2 * passes.of(target.id).passes[0].offset_mm

    def fits_alone(target: PartContour, wide_mm: float) -> bool:
        """Return whether some smaller number of passes roughs a dead end."""
        now = choice.of(target.id)
        fewer = (in_passes(count, now) for count in range(len(now.passes) - 1, 0, -1))
        return any(
            2 * one.passes[0].offset_mm < wide_mm
            and _paths_of(target, one, Memory(), None).refusal is None
            for one in fewer
        )

    return [
        p
        if p.refusal is None
        else replace(
            p,
            refusal=with_true_remedy(
                p.refusal,
                p.target,
                choice.of(p.target.id),
                has_start=partial(has_start, p.target),
                thinner=thinner,
                kerf_mm=partial(kerf_mm, p.target),
                fits_in_fewer=partial(fits_alone, p.target),
            ),
        )
        for p in paths
    ]


def _refusals(paths: Sequence[Paths], hopeless: AbstractSet[str]) -> int:
    return sum(p.refusal is not None for p in paths if p.target.id not in hopeless)


def _thinner(wire: Wire, requirement: Requirement, catalogue: Catalogue) -> list[Wire]:
    """Return thinner wires of a kind that the machine guides, the thickest first."""
    found = [
        w
        for w in catalogue.wires
        if w.kind == wire.kind
        and w.diameter_mm < wire.diameter_mm
        and w.diameter_mm in requirement.machine.wire_diameters_mm
    ]
    return sorted(found, key=lambda w: -w.diameter_mm)


def thinnest_alone(
    requirement: Requirement, catalogue: Catalogue, technology: Technology
) -> PassChoice:
    """Return the rough pass alone with the thinnest wire that the machine guides.

    With the wire asked for, or the usual one, where it guides none of the catalogue.

    Parameters
    ----------
    requirement : Requirement
    catalogue : Catalogue
    technology : Technology
    """
    guided = [w for w in catalogue.wires if is_guided(w, requirement.machine)]
    usual = requirement.wire or catalogue.default_wire
    wire = min(guided or [usual], key=lambda w: w.diameter_mm)
    return PassChoice(
        wire=wire,
        passes=passes_of(1, requirement=requirement, wire=wire, technology=technology),
        limiting="none",
        further=(),
        findings=(),
    )


def _radii_fit(path: Paths, requirement: Requirement, passes: JobPasses) -> bool:
    """Return whether the wire gets into every drawn inside radius, to the tolerance asked.

    What stays where the wire is wider, and what the last pass holds besides, keep within it.
    """
    name = path.target.id
    choice = passes.of(name)
    last = choice.passes[-1]
    radii = feasibility.inside_radii(path.target.contour)
    if not len(radii) or float(radii.min()) >= last.offset_mm:
        return True
    tight = [c for c in path.unreachable if _has_bend(c, last.offset_mm)]
    depths = feasibility.corner_depths_mm(tight, radius_mm=last.offset_mm)
    asked_um = requirement.demand_on(name).tolerance_um
    allowed_mm = 0.0 if asked_um is None else max(0.0, asked_um - last.tolerance_um) / 1000
    return bool((depths <= allowed_mm).all())


def _has_bend(region: Contour, wire_mm: float) -> bool:
    """Return whether a bend of the wall that the wire's disc does not get into bounds a region."""
    s = region.segments
    return bool((s.is_arc & (s.radius < (1 - _ROUNDING) * wire_mm)).any())


def _thinner_wire(
    usual: JobPasses, chosen: JobPasses, narrow: Sequence[Paths], tight: Sequence[Paths]
) -> Finding:
    """Say what asks for a thinner wire: slots and necks, inside radii, or both.

    Parameters
    ----------
    usual, chosen : JobPasses
    narrow : sequence of Paths
        Those that the usual wire does not get round.
    tight : sequence of Paths
        Those that it gets round, with inside radii that it does not get into.
    """
    said, instead = [], []
    if narrow:
        necks = [p.refusal for p in narrow if p.refusal is not None]
        needed_mm = max(float(f.data["needed_mm"]) for f in necks)
        what = "slot" if all(f.data.get("pieces", 0) == 0 for f in necks) else "neck"
        said.append(
            f"the {what} of {_ids(narrow)} is narrower than the {needed_mm:.3f} mm that the "
            "thicker wire needs"
        )
        instead.append(f"{what}s of more than {needed_mm:.3f} mm")
    if tight:
        radii = [float(feasibility.inside_radii(p.target.contour).min()) for p in tight]
        finest_mm = max(usual.of(p.target.id).passes[-1].offset_mm for p in tight)
        said.append(f"the smallest inside radius of {_ids(tight)} is {min(radii):.3f} mm")
        instead.append(f"inside radii of {finest_mm:.3f} mm or more")
    would = " and ".join(instead)
    return Finding(
        code="thinner-wire-chosen",
        severity=Severity.NOTE,
        message=f"Wire {chosen.wire.diameter_mm:.2f} mm instead of "
        f"{usual.wire.diameter_mm:.2f} mm: {', and '.join(said)}.",
        remedy=f"{would[:1].upper()}{would[1:]} would let the faster wire cut it.",
        data={"wire_mm": chosen.wire.diameter_mm, "usual_mm": usual.wire.diameter_mm},
    )


def _ids(paths: Sequence[Paths]) -> str:
    """Return the contours of some paths, a long list shortened."""
    ids = [p.target.id for p in paths]
    more = f" and {len(ids) - _NAMED} more" if len(ids) > _NAMED else ""
    return ", ".join(ids[:_NAMED]) + more


def paths_of(
    target: PartContour, choice: PassChoice, memory: Memory, like: Alike | None = None
) -> Paths:
    """Offset one contour for every pass; the wire runs in the waste, right of travel.

    Parameters
    ----------
    target : PartContour
    choice : PassChoice
    memory : Memory
    like : Alike or None
        Which contour has its shape, where one is worked out already; the same for all calls.
    """
    passes = tuple((p.offset_mm, p.gap_um) for p in choice.passes)
    return memory.once(
        partial(_paths_of, target, choice, memory.shapes, like),
        "paths",
        target,
        choice.wire.diameter_mm,
        passes,
    )


def _paths_of(target: PartContour, choice: PassChoice, shapes: Memory, like: Alike | None) -> Paths:
    distances_mm = tuple(-p.offset_mm for p in choice.passes)
    offsets = _offsets_of(target.contour, distances_mm, shapes, like)
    for number, offset in enumerate(offsets, start=1):
        if len(offset.loops) != 1:
            refusal = feasibility.slot_finding(
                target,
                loops=len(offset.loops),
                missed=_unreachable(target.contour, distances_mm, number, shapes, like),
                choice=choice,
                pass_number=number,
            )
            return Paths(target=target, loops=(), unreachable=(), refusal=refusal)
    radii_mm = kerf_radii_mm(choice)
    found = _unroughed(target.contour, distances_mm, radii_mm, shapes, like)
    if found is not None and is_too_deep(found, choice):
        missed = _unreachable(target.contour, distances_mm, 1, shapes, like)
        refusal = refusal_of(target, found, choice, wide_mm=width_mm(missed, found))
        return Paths(target=target, loops=(), unreachable=(), refusal=refusal)
    return Paths(
        target=target,
        tips=found,
        loops=tuple(o.loops[0] for o in offsets),
        unreachable=_unreachable(target.contour, distances_mm, len(offsets), shapes, like),
        refusal=None,
    )


def _offsets_of(
    contour: Contour, distances_mm: tuple[float, ...], shapes: Memory, like: Alike | None = None
) -> tuple[Offset, ...]:
    """Return the offsets of a contour, those of its like moved."""

    def make() -> tuple[Offset, ...]:
        if like is None:
            return offset_passes(contour, distances_mm=distances_mm)
        first = _offsets_of(like.first.contour, distances_mm, shapes)
        return tuple(offset.moved(like.by_mm) for offset in first)

    return shapes.once(make, "offsets", contour, distances_mm)


def _unroughed(
    contour: Contour,
    distances_mm: tuple[float, ...],
    radii_mm: tuple[float, ...],
    shapes: Memory,
    like: Alike | None = None,
) -> Unroughed | None:
    """Return where a later pass goes furthest into full metal, that of its like moved."""

    def make() -> Unroughed | None:
        if like is None:
            offsets = _offsets_of(contour, distances_mm, shapes)
            return find_unroughed([o.loops[0] for o in offsets], radii_mm)
        found = _unroughed(like.first.contour, distances_mm, radii_mm, shapes)
        return None if found is None else found.moved(like.by_mm)

    return shapes.once(make, "unroughed", contour, distances_mm, radii_mm)


def _unreachable(
    contour: Contour,
    distances_mm: tuple[float, ...],
    number: int,
    shapes: Memory,
    like: Alike | None = None,
) -> Sequence[Contour]:
    """Return what a pass of some leaves in the corners of a contour, that of its like moved."""

    def make() -> Sequence[Contour]:
        if like is None:
            return unreachable(contour, _offsets_of(contour, distances_mm, shapes)[number - 1])
        first = _unreachable(like.first.contour, distances_mm, number, shapes)
        return MovedContours(first, like.by_mm)

    return shapes.once(make, "unreachable", contour, distances_mm, number)
