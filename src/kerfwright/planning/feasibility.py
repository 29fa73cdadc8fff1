"""What cannot be cut as drawn: place, number, limit and remedy."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from typing import Final

import numpy as np
import shapely

from kerfwright.foundation.counts import counted
from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.foundation.kept import Kept
from kerfwright.foundation.zones import zone_asked, zone_held
from kerfwright.geometry.contour import Contour, joined_segments
from kerfwright.geometry.offset import Offset, offset_contour, unreachable
from kerfwright.geometry.rings import rolled
from kerfwright.geometry.segments import Floats
from kerfwright.planning.alike import Alike, alike_of
from kerfwright.planning.memory import Memory
from kerfwright.planning.plan import Slug
from kerfwright.planning.rules import PlanningRules
from kerfwright.process.choice import JobPasses
from kerfwright.process.technology import PassChoice
from kerfwright.trade.material import Material
from kerfwright.trade.part import PartContour, Role
from kerfwright.trade.requirement import Requirement

_UM = 1000.0
_MAGNETIC = frozenset({"steel", "carbide", "controlled-expansion"})
"""Families that a magnet holds; stainless may or may not, by grade and hardening."""
_LEAST_SHARE_UM = 0.1
"""Left to a corner where the wall itself takes the whole zone: what the proof tells apart."""
WALLS_TOO_CLOSE = "walls-closer-than-kerf"


def inside_radii(contour: Contour) -> Floats:
    """Return the radii of the bends that the wire must turn inside, mm.

    The wire runs right of the contour, so these are the clockwise arcs.
    """
    s = contour.segments
    return s.radius[s.bulge < 0]


def machine_findings(
    requirement: Requirement, *, extent_mm: tuple[float, float], mass_kg: float
) -> list[Finding]:
    """Return refusals for work beyond the machine's height, travel or table.

    Parameters
    ----------
    requirement : Requirement
    extent_mm : (float, float)
        Extent of the wire's travel in X and Y.
    mass_kg : float
        Mass of the stock.
    """
    machine = requirement.machine
    found: list[Finding] = []
    checks = (
        ("height-beyond-machine", "height", requirement.height_mm, machine.max_height_mm, "mm"),
        ("travel-beyond-machine", "travel in X", extent_mm[0], machine.travel_x_mm, "mm"),
        ("travel-beyond-machine", "travel in Y", extent_mm[1], machine.travel_y_mm, "mm"),
        ("weight-beyond-machine", "weight", mass_kg, machine.max_weight_kg, "kg"),
    )
    for code, what, value, limit, unit in checks:
        if value > limit:
            found.append(
                Finding(
                    code=code,
                    severity=Severity.REFUSAL,
                    message=f"The {what} is {value:.4g} {unit}; {machine.name} takes "
                    f"{limit:.4g} {unit}.",
                    remedy="Choose a larger machine, split the work, or re-clamp in two set-ups.",
                    data={f"value_{unit}": value, f"limit_{unit}": limit},
                )
            )
    return found


def corner_findings(
    target: PartContour,
    *,
    unreachable: Sequence[Contour],
    depths_mm: Floats,
    choice: PassChoice,
    allowed_um: float | None,
    by_mm: tuple[float, float] = (0.0, 0.0),
) -> list[Finding]:
    """Return one finding for the inside corners that stay rounder than drawn.

    Parameters
    ----------
    target : PartContour
    unreachable : sequence of Contour
        Regions that the last pass leaves at inside corners.
    depths_mm : (n,) float
        How deep they are, by :func:`corner_depths_mm`.
    choice : PassChoice
    allowed_um : float or None
        Half zone asked.  Corners that keep no more stock than it leaves beside what the last pass
        holds are not spoken of, the rule by which wires are chosen; without a tolerance, no more
        than what the last pass holds.
    by_mm : (float, float)
        From the regions to the contour, where they are those of another of its shape.
    """
    last = choice.passes[-1]
    limit = last.offset_mm
    share_um = last.tolerance_um if allowed_um is None else allowed_um - last.tolerance_um
    allowed = max(share_um, _LEAST_SHARE_UM) / _UM
    deep = int((depths_mm > allowed).sum())
    if not deep:
        return []
    worst = unreachable[int(depths_mm.argmax())]
    x0, y0, x1, y1 = worst.bounds_mm
    drawn = inside_radii(target.contour)
    tight = drawn[drawn < limit]
    said = f"drawn radii down to {tight.min():.3f} mm" if len(tight) else "drawn sharp"
    count = counted(deep, "inside corner")
    return [
        Finding(
            code="inside-radius-too-small",
            severity=Severity.WARNING,
            message=f"{count} of {target.id}, {said}, {'comes' if deep == 1 else 'come'} out "
            f"with R {limit:.3f} mm (wire radius {choice.wire.radius_mm:.3f} mm + gap "
            f"{last.gap_um / _UM:.3f} mm); up to {depths_mm.max():.3f} mm of stock stays. "
            f"{_share_words(allowed_um, last.tolerance_um)}",
            where=Place(
                contour_id=target.id,
                x_mm=(x0 + x1) / 2 + by_mm[0],
                y_mm=(y0 + y1) / 2 + by_mm[1],
            ),
            remedy=f"Allow R {limit:.3f} mm or more in inside corners, add a relief there, or "
            "ask for a thinner wire.",
            data={"corners": deep, "limit_mm": limit, "left_mm": float(depths_mm.max())},
        )
    ]


def _share_words(asked_um: float | None, holds_um: float) -> str:
    """Say what of the tolerance is left to an inside corner."""
    if asked_um is None:
        return f"No tolerance is asked; the last pass holds ±{zone_held(holds_um)}."
    share_um = asked_um - holds_um
    left = f"{zone_asked(share_um)} of it" if share_um > _LEAST_SHARE_UM else "nothing"
    return (
        f"±{zone_asked(asked_um)} is asked and the last pass holds ±{zone_held(holds_um)}, which "
        f"leaves {left} to the corner."
    )


def corner_depths_mm(regions: Sequence[Contour], *, radius_mm: float) -> Floats:
    """Return how much stock each region keeps at its deepest point, from the wire's disc on.

    A region is bounded by the wall and by arcs of the disc of `radius_mm`; one without such an
    arc, as a whole slot, is as deep as it is wide.
    """
    if not regions:
        return np.zeros(0)
    s = joined_segments(regions)
    region = np.repeat(np.arange(len(regions)), [len(r) for r in regions])
    is_disc = s.is_arc & (np.abs(s.radius - radius_mm) <= 1e-6 * radius_mm)
    discs = np.flatnonzero(is_disc)
    first = np.searchsorted(region[discs], np.arange(len(regions)))
    count = np.bincount(region[discs], minlength=len(regions))
    # Each segment beside each disc of its region: its start and middle from the disc's centre.
    each = count[region]
    index = np.repeat(np.arange(len(s)), each)
    number = np.arange(len(index)) - np.repeat(np.cumsum(each) - each, each)
    centre = s.centre[discs[first[region[index]] + number]]
    depths = np.full(len(regions), -np.inf)
    for points in (s.start, s.points_at(np.arange(len(s)), np.full(len(s), 0.5))):
        nearest = np.full(len(s), np.inf)
        np.minimum.at(nearest, index, np.hypot(*(points[index] - centre).T))
        np.maximum.at(depths, region, nearest)
    depths = np.maximum(depths - radius_mm, 0.0)
    for k in np.flatnonzero(count == 0).tolist():
        x0, y0, x1, y1 = regions[k].bounds_mm
        depths[k] = min(x1 - x0, y1 - y0)
    return depths


def slot_finding(
    target: PartContour,
    *,
    loops: int,
    missed: Sequence[Contour],
    choice: PassChoice,
    pass_number: int,
) -> Finding:
    """Return the refusal of a contour that the wire cannot run round in one piece.

    Parameters
    ----------
    target : PartContour
    loops : int
        Pieces into which the path of the pass falls; 0 where there is none.
    missed : sequence of Contour
        Regions that the pass cannot enter, largest first.
    choice : PassChoice
    pass_number : int
    """
    offset = choice.passes[pass_number - 1].offset_mm
    kerf = 2 * offset
    x0, y0, x1, y1 = (missed[0] if missed else target.contour).bounds_mm
    if loops == 0:
        what = f"is nowhere wider than the {kerf:.3f} mm that pass {pass_number} needs"
    else:
        what = (
            f"has a neck no wider than the {kerf:.3f} mm that pass {pass_number} needs: "
            f"the path falls into {loops} pieces"
        )
    return Finding(
        code="slot-below-kerf",
        severity=Severity.REFUSAL,
        message=f"{target.id} {what} (wire {choice.wire.diameter_mm:.3f} mm, offset "
        f"{offset:.4f} mm).",
        where=Place(
            contour_id=target.id,
            x_mm=(x0 + x1) / 2,
            y_mm=(y0 + y1) / 2,
            pass_number=pass_number,
        ),
        remedy=f"Widen it to more than {kerf:.3f} mm.",
        data={"needed_mm": kerf, "pieces": loops, "wire_mm": choice.wire.diameter_mm},
    )


def neighbour_findings(
    contours: Sequence[PartContour],
    *,
    choice: JobPasses,
    thinnest: PassChoice,
    rules: PlanningRules,
    memory: Memory,
) -> list[Finding]:
    """Return what is wrong between walls that lie close together.

    Between two walls with part in between: a warning where the web is thin.  Between two walls
    with waste in between: a refusal where the rough kerf along one would cut into the other.
    Distances are taken on chords within 1 µm of the arcs.

    Parameters
    ----------
    contours : sequence of PartContour
    choice : JobPasses
    thinnest : PassChoice
        The rough pass alone with the thinnest wire of the machine: less no kerf takes.
    rules, memory
    """
    found: list[Finding] = []
    alike = alike_of(contours, memory)
    for c in (c for c in contours if c.is_cut):
        found += _webs_within(c, rules, memory, alike.get(c.id))
    needed = [_rough_reach_mm(choice.of(c.id)) for c in contours]
    rings = [ring_of(c.contour) for c in contours]
    tree = shapely.STRtree(rings)
    reach = max(rules.thin_web_mm, *needed, 0.0)
    first, second = tree.query(rings, predicate="dwithin", distance=reach)
    for i, j in zip(first.tolist(), second.tolist(), strict=True):
        if i >= j:
            continue
        a, b = shapely.shortest_line(rings[i], rings[j]).coords
        width = float(np.hypot(a[0] - b[0], a[1] - b[1]))
        middle = ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)
        pair = contours[i], contours[j]
        if not _waste_between(*pair):
            if width < rules.thin_web_mm:
                names = f"between {pair[0].id} and {pair[1].id}"
                found.append(_web(names, pair[0].id, width, middle, rules))
        else:
            found += [
                _too_close(
                    contours[k],
                    pair,
                    width,
                    middle,
                    choice=choice.of(contours[k].id),
                    thinnest=thinnest,
                )
                for k in (i, j)
                if width < needed[k] and contours[k].is_cut
            ]
    return found


def _rough_reach_mm(choice: PassChoice) -> float:
    """Return how far from the wall the rough kerf of a contour reaches."""
    rough = choice.passes[0]
    return rough.offset_mm + choice.wire.radius_mm + rough.gap_um / _UM


def _too_close(
    target: PartContour,
    pair: tuple[PartContour, PartContour],
    width_mm: float,
    at: tuple[float, float],
    *,
    choice: PassChoice,
    thinnest: PassChoice,
) -> Finding:
    other = pair[1] if target is pair[0] else pair[0]
    needed_mm = _rough_reach_mm(choice)
    return Finding(
        code=WALLS_TOO_CLOSE,
        severity=Severity.REFUSAL,
        message=f"{target.id} and {other.id} are {width_mm:.3f} mm apart; the rough cut along "
        f"{target.id} takes {needed_mm:.3f} mm and would cut into {other.id}.",
        where=Place(contour_id=target.id, x_mm=at[0], y_mm=at[1]),
        remedy=f"Move them at least {needed_mm:.3f} mm apart"
        + _narrower_kerf(width_mm, choice=choice, thinnest=thinnest),
        data={"width_mm": width_mm, "needed_mm": needed_mm},
    )


def _narrower_kerf(width_mm: float, *, choice: PassChoice, thinnest: PassChoice) -> str:
    """Say what makes a kerf that fits, after the remedy that walls stand further apart."""
    least_mm, wire = _rough_reach_mm(thinnest), thinnest.wire
    if least_mm > width_mm:
        return (
            f": no kerf fits between them. The thinnest wire of the machine, {wire.diameter_mm:g} "
            f"mm {wire.name}, takes {least_mm:.3f} mm in a single pass."
        )
    others = []
    if wire.diameter_mm < choice.wire.diameter_mm:
        others.append("ask for a thinner wire")
    alone_mm = 2 * (choice.wire.radius_mm + choice.passes[0].gap_um / _UM)
    if len(choice.passes) > 1 and alone_mm <= width_mm:
        others.append("ask for fewer skim passes")
    return "".join(f", or {other}" for other in others) + "."


def _waste_between(a: PartContour, b: PartContour) -> bool:
    """Return whether waste, not part, lies between two neighbouring contours."""
    if a.id == b.parent_id:
        return a.role is Role.OPENING
    if b.id == a.parent_id:
        return b.role is Role.OPENING
    return a.role is Role.OUTLINE and b.role is Role.OUTLINE


def _webs_within(
    target: PartContour, rules: PlanningRules, memory: Memory, like: Alike | None
) -> list[Finding]:
    """Warn of fins, tongues and necks of the part that are thinner than the rule."""
    first, (x, y) = (target, (0.0, 0.0)) if like is None else (like.first, like.by_mm)
    limits = rules.thin_web_mm, rules.thin_web_length_mm
    make = partial(_thin_within, first.contour, *limits)
    thin = memory.shapes.once(make, "webs", first.contour, *limits)
    where = f"within {target.id}"
    return [_web(where, target.id, width, (u + x, v + y), rules) for width, (u, v) in thin]


def _thin_within(
    contour: Contour, thin_web_mm: float, thin_web_length_mm: float
) -> list[tuple[float, tuple[float, float]]]:
    """Return width and place of what is thinner than the rule.

    It is what a disc of the rule's width, rolled inside the part, cannot enter; corners leave
    such regions too, but short ones.
    """
    inner = offset_contour(contour, distance_mm=thin_web_mm / 2)
    if len(inner.loops) == 1 and _longest_missed(contour, inner) <= thin_web_length_mm:
        return []
    found = []
    for region in unreachable(contour, inner):
        x0, y0, x1, y1 = region.bounds_mm
        length = float(np.hypot(x1 - x0, y1 - y0))
        if length > thin_web_length_mm:
            width = abs(region.area_mm2) / length
            found.append((width, ((x0 + x1) / 2, (y0 + y1) / 2)))
    return found


def _longest_missed(contour: Contour, offset: Offset) -> float:
    """Return the longest run of whole segments that an offset has no part of, mm.

    A fin ends in such a run: its tip and what of its sides lies on segments of their own.
    """
    seen = np.zeros(len(contour), dtype=bool)
    for loop in offset.loops:
        seen[loop.source[loop.source >= 0]] = True
    if seen.all():
        return 0.0
    if not seen.any():
        return contour.length_mm
    first = int(np.flatnonzero(seen)[0])
    missed = np.where(rolled(seen, -first), 0.0, rolled(contour.segments.length, -first))
    begins = np.flatnonzero(rolled(seen, -first))
    return float(np.add.reduceat(missed, begins).max())


def _web(
    where: str, contour_id: str, width_mm: float, at: tuple[float, float], rules: PlanningRules
) -> Finding:
    return Finding(
        code="thin-web",
        severity=Severity.WARNING,
        message=f"The wall {where} is about {width_mm:.3f} mm thick; below {rules.thin_web_mm} mm "
        "it can bend or break.",
        where=Place(contour_id=contour_id, x_mm=at[0], y_mm=at[1]),
        remedy="Thicken the wall, or cut with less energy and more skim passes.",
        data={"width_mm": width_mm, "limit_mm": rules.thin_web_mm},
    )


def ring_of(contour: Contour) -> shapely.LinearRing:
    """Return a contour as chords, see :func:`chords`; made once for the same contour."""
    return _RINGS.once(lambda: shapely.LinearRing(chords(contour)), contour)


_RINGS: Final = Kept(most=1024)


def chords(contour: Contour, sagitta_mm: float = 1e-3) -> Floats:
    """Return points on the contour, chords within `sagitta_mm` of the arcs, (m, 2) mm."""
    s = contour.segments
    half = np.sqrt(2 * sagitta_mm / np.where(s.is_arc, s.radius, np.inf))
    pieces = np.maximum(1, np.ceil(np.abs(s.sweep) / 2 / np.maximum(half, 1e-6))).astype(int)
    index = np.repeat(np.arange(len(s)), pieces)
    rank = np.arange(len(index)) - np.repeat(np.cumsum(pieces) - pieces, pieces)
    return s.points_at(index, rank / pieces[index])


_BY_HAND_KG: Final = 25.0
"""Reference mass of ISO 11228-1 for lifting by hand, men and women of working age, at its best
(from memory)."""


def _to_be_hoisted(target: PartContour, what: str, mass_kg: float) -> Finding:
    """Warn of a piece that nobody holds or lifts by hand."""
    return Finding(
        code="slug-too-heavy",
        severity=Severity.WARNING,
        message=f"CAUTION: the {what} of {target.id} weighs {mass_kg:.2f} kg, more than anybody "
        f"may hold or lift by hand: {_BY_HAND_KG:g} kg is the reference mass of ISO 11228-1 at its "
        "best (from memory), and site rules may set less. Until the cut-off its tab carries it; "
        "after that nothing does.",
        where=Place(contour_id=target.id),
        remedy="Before the cut-off sling it to lifting gear rated for it, or set it on a support "
        "that carries all of it, and take up the weight; a magnet or a strap holds it in place and "
        "does not carry it. Keep hands and the lower arm out from under it. The machine's manual "
        "and your site rules for lifting come first.",
        data={"mass_kg": mass_kg, "limit_kg": _BY_HAND_KG},
    )


def piece_findings(
    target: PartContour, *, piece: Slug, material: Material, rules: PlanningRules
) -> list[Finding]:
    """Return warnings for a piece too heavy to let fall or too small to catch."""
    what = "part" if piece.is_part else "slug"
    is_magnetic = material.family in _MAGNETIC
    hold = "with a magnet" if is_magnetic else "with a clamp, glue or a copper strap"
    because = "" if is_magnetic else ", for it is not magnetic"
    if piece.mass_kg > _BY_HAND_KG:
        return [_to_be_hoisted(target, what, piece.mass_kg)]
    if piece.mass_kg > rules.heavy_slug_kg:
        return [
            Finding(
                code="slug-too-heavy",
                severity=Severity.WARNING,
                message=f"The {what} of {target.id} weighs {piece.mass_kg:.2f} kg; above "
                f"{rules.heavy_slug_kg} kg it needs a support before the cut-off.",
                where=Place(contour_id=target.id),
                remedy=f"Support it from below and hold it {hold}{because}; lift it with two "
                "people or a hoist, as your site rules ask. It can crush fingers and the lower "
                "nozzle.",
                data={"mass_kg": piece.mass_kg, "limit_kg": rules.heavy_slug_kg},
            )
        ]
    if piece.smallest_width_mm < rules.small_slug_mm:
        no_magnet = "" if is_magnetic else " No magnet holds it."
        more = (
            "."
            if piece.is_part
            else ", drill a larger start hole so that little is left, or drill the hole with a "
            "tube electrode."
        )
        return [
            Finding(
                code="slug-too-small-to-catch",
                severity=Severity.WARNING,
                message=f"The {what} of {target.id} is {piece.smallest_width_mm:.2f} mm wide; "
                f"below {rules.small_slug_mm} mm it is hard to catch and can short the wire.",
                where=Place(contour_id=target.id),
                remedy=f"Hold it {hold} at the cut-off{more}{no_magnet}",
                data={"width_mm": piece.smallest_width_mm, "limit_mm": rules.small_slug_mm},
            )
        ]
    return []
