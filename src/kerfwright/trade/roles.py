"""What contours are, where a person says so, and what follows for those inside them."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import replace

import numpy as np

from kerfwright.foundation.errors import InputError
from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.foundation.tolerances import DEFAULT_TOLERANCES
from kerfwright.geometry.contour import Contour
from kerfwright.trade.part import ContourUse, GivenStart, Part, PartContour, Role, RoleFrom
from kerfwright.trade.sheet_frames import frames_of

_ROLES = {ContourUse.OPENING: Role.OPENING, ContourUse.OUTLINE: Role.OUTLINE}
_ASIDE = frozenset({ContourUse.REFERENCE, ContourUse.START, ContourUse.STOCK})
_ASKS_FOR_ROLE = "layer-name-suggests-use"
"""A finding that asks what a layer is for, answered once every contour on it has a word."""
_WORDS = {
    ContourUse.OPENING: "an opening: what is inside leaves",
    ContourUse.OUTLINE: "an outline: what is outside leaves",
    ContourUse.NOT_CUT: "not cut; the wire keeps clear of it",
    ContourUse.REFERENCE: "a reference line: no wall, and nothing keeps clear of it",
    ContourUse.START: "a start hole",
    ContourUse.STOCK: "the edge of the stock",
}


_PIECE = re.compile(r"[A-Z][A-Z0-9_]*-[0-9A-F]+")
"""A single piece of the drawing by kind and handle; the name of a contour has no hyphen."""


def piece_name(entity: str) -> str:
    """Return the name by which a person speaks of an entity.

    >>> piece_name("LINE 12E")
    'LINE-12E'
    """
    return entity.upper().replace(" ", "-")


def is_piece(name: str) -> bool:
    """Return whether a name is that of a single piece instead of a contour."""
    return _PIECE.fullmatch(name) is not None


def parted(
    uses: Mapping[str, ContourUse],
) -> tuple[dict[str, ContourUse], frozenset[str]]:
    """Return what is said of contours, and the pieces said to be no contour.

    Raises
    ------
    InputError
        ``piece-role`` where a single piece is said to be anything but a reference line.

    Examples
    --------
    >>> contours, pieces = parted({"LINE-12E": ContourUse.REFERENCE})
    >>> contours, sorted(pieces)
    ({}, ['LINE-12E'])
    """
    pieces = frozenset(name for name in uses if is_piece(name))
    for name in sorted(pieces):
        if uses[name] is not ContourUse.REFERENCE:
            raise InputError(
                f"{name} is a single piece, not a contour: it cannot be {uses[name].value}",
                code="piece-role",
                where=name,
                remedy="Say reference to leave it out, or give the role to the contour.",
            )
    return {name: use for name, use in uses.items() if name not in pieces}, pieces


def with_roles(part: Part, uses: Mapping[str, ContourUse]) -> Part:
    """Return the part with contours taken as a person says, names unchanged.

    A contour without a word of its own follows the one around it where that one's role was
    given, or where the one around it is no wall any more: inside an outline lie openings, inside
    an opening lie outlines, and what lies in nothing is an outline.

    What frames the sheet is a reference line unless a person gives it another role.

    Parameters
    ----------
    part : Part
        As read.
    uses : mapping of str to ContourUse
        By the name of the contour.

    Raises
    ------
    InputError
        ``contour-unknown``; ``start-not-a-circle``; ``stock-twice`` for more than one edge of
        the stock.
    """
    frames = {name: found for name, found in frames_of(part).items() if name not in uses}
    if not uses and not frames:
        return part
    given, uses = uses, dict(uses) | dict.fromkeys(frames, ContourUse.REFERENCE)
    _require_sense(part, uses)
    around = {c.id: c for c in part.contours}
    kept = [c for c in part.contours if uses.get(c.id) not in _ASIDE]
    aside = tuple(
        replace(
            c,
            use=uses[c.id],
            role_from=RoleFrom.PERSON if c.id in given else c.role_from,
            is_cut=False,
        )
        for c in part.contours
        if uses.get(c.id) in _ASIDE
    )
    settled: dict[str, PartContour] = {}
    for c in sorted(kept, key=lambda c: _depth(c, around)):
        settled[c.id] = _settled(c, around, settled, uses)
    stocks = [c for c in aside if c.use is ContourUse.STOCK]
    holes = [_hole(c) for c in aside if c.use is ContourUse.START]
    return replace(
        part,
        contours=tuple(settled[c.id] for c in kept),
        given_starts=(*part.given_starts, *holes),
        stock=_counter_clockwise(stocks[0].contour) if stocks else part.stock,
        construction=(
            *part.construction,
            *(c.contour for c in aside if c.use is ContourUse.REFERENCE),
        ),
        findings=(
            *_still_asked(part, uses),
            *frames.values(),
            # What follows from a frame alone is how the drawing reads.
            *(_notes(part, settled, [c for c in aside if c.id in given]) if given else ()),
        ),
        set_aside=aside,
    )


def _require_sense(part: Part, uses: Mapping[str, ContourUse]) -> None:
    known = [c.id for c in part.contours]
    odd = [name for name in uses if name not in known]
    if odd:
        raise InputError(
            f"a role is given to contour {', '.join(odd)}, which the drawing does not have; it "
            f"has {', '.join(known) or 'none'}",
            code="contour-unknown",
            remedy="Take the ids that `kerfwright check` lists.",
        )
    for c in part.contours:
        if uses.get(c.id) is ContourUse.START and _circle(c.contour) is None:
            raise InputError(
                f"{c.id} is no circle, so it cannot be a start hole",
                code="start-not-a-circle",
                where=c.id,
                remedy="Say not-cut for a hole of another shape, and place the start in it.",
            )
    stocks = [name for name, use in uses.items() if use is ContourUse.STOCK]
    if len(stocks) > 1 or (stocks and part.stock is not None):
        named = ", ".join([*stocks, *(["the stock layer"] if part.stock is not None else [])])
        raise InputError(
            f"the stock has one edge, and {named} are said to be it",
            code="stock-twice",
            remedy="Leave one of them.",
        )
    if all(uses.get(c.id) in {*_ASIDE, ContourUse.NOT_CUT} for c in part.contours):
        raise InputError(
            "no contour is left that is cut",
            code="no-contour-left",
            remedy="Leave at least one opening or outline.",
        )


def _depth(c: PartContour, around: Mapping[str, PartContour]) -> int:
    depth, parent = 0, c.parent_id
    while parent is not None:
        depth, parent = depth + 1, around[parent].parent_id
    return depth


def _settled(
    c: PartContour,
    around: Mapping[str, PartContour],
    settled: Mapping[str, PartContour],
    uses: Mapping[str, ContourUse],
) -> PartContour:
    """Return a contour with its role, once the one around it has its own."""
    use, parent = uses.get(c.id), c.parent_id
    while parent is not None and uses.get(parent) in _ASIDE:
        parent = around[parent].parent_id
    role, origin = c.role, c.role_from
    outer = settled[parent] if parent is not None else None
    follows = parent != c.parent_id or (
        outer is not None and outer.role is not around[outer.id].role
    )
    if use in _ROLES:
        role, origin = _ROLES[use], RoleFrom.PERSON
    elif follows and origin is RoleFrom.DRAWING:
        inside_outline = outer is not None and outer.role is Role.OUTLINE
        role = Role.OPENING if inside_outline else Role.OUTLINE
    if use is not None:
        origin = RoleFrom.PERSON
    return replace(
        c,
        role=role,
        # Outlines run counter-clockwise and openings clockwise: the part stays on the left.
        contour=c.contour if role is c.role else c.contour.reversed(),
        parent_id=parent,
        role_from=origin,
        is_cut=use is not ContourUse.NOT_CUT,
        use=use,
    )


def _circle(contour: Contour) -> tuple[float, float, float] | None:
    """Return centre and diameter of a contour that is one circle, else None."""
    s = contour.segments
    if not s.is_arc.all():
        return None
    x0, y0, x1, y1 = contour.bounds_mm
    centre, diameter = np.array([(x0 + x1) / 2, (y0 + y1) / 2]), x1 - x0
    off = np.abs(np.hypot(*(s.start - centre).T) - diameter / 2).max()
    slack = DEFAULT_TOLERANCES.gap_mm
    if max(off, abs(y1 - y0 - diameter), np.ptp(s.radius)) > slack:
        return None
    return float(centre[0]), float(centre[1]), float(diameter)


def _hole(c: PartContour) -> GivenStart:
    found = _circle(c.contour)
    assert found is not None
    return GivenStart(x_mm=found[0], y_mm=found[1], diameter_mm=found[2])


def _counter_clockwise(contour: Contour) -> Contour:
    return contour if contour.area_mm2 > 0 else contour.reversed()


def _still_asked(part: Part, uses: Mapping[str, ContourUse]) -> tuple[Finding, ...]:
    open_layers = {c.layer for c in part.contours if c.id not in uses}
    return tuple(
        f for f in part.findings if f.code != _ASKS_FOR_ROLE or f.where.layer in open_layers
    )


def _notes(
    part: Part, settled: Mapping[str, PartContour], aside: Iterable[PartContour]
) -> list[Finding]:
    """Say what a person gave, and what followed from it."""
    before = {c.id: c for c in part.contours}
    found = []
    for c in (*settled.values(), *aside):
        was = before[c.id].role
        if c.use is not None:
            words = (
                f"{c.id} is {_WORDS[c.use]}, as a person says; the drawing reads as {was.value}."
            )
            code = "role-given"
        elif c.role is not was:
            inside = f"inside {c.parent_id}" if c.parent_id else "inside no other contour"
            words = f"{c.id} is an {c.role.value} now: it lies {inside}."
            code = "role-follows"
        else:
            continue
        found.append(
            Finding(code=code, severity=Severity.NOTE, message=words, where=Place(contour_id=c.id))
        )
    return found
