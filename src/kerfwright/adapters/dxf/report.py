"""Findings about a drawing: what was left out, mended or refused, with its place."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from kerfwright.adapters.dxf import pieces
from kerfwright.adapters.dxf.entities import Harvest, LeftOut
from kerfwright.adapters.dxf.layers import Reason
from kerfwright.adapters.dxf.shapes import Drawn
from kerfwright.adapters.dxf.strands import Strands
from kerfwright.foundation.counts import counted
from kerfwright.foundation.findings import NOWHERE, Finding, Place, Severity
from kerfwright.foundation.places import place_words
from kerfwright.foundation.tolerances import Tolerances
from kerfwright.geometry.assembly import Assembly, Branched, Chain, NearEnds
from kerfwright.geometry.contour import Contour
from kerfwright.geometry.crossing import Crossing, CrossingKind
from kerfwright.geometry.overlaps import Repair, RepairKind
from kerfwright.trade.part import LayerUse, PartContour, Role
from kerfwright.trade.roles import piece_name

_GROUP_ABOVE = 20
"""More findings of one code than this become one with a count and the first places."""
_FIRST = 5
_SEVERITY = {
    Reason.ANNOTATION: Severity.NOTE,
    Reason.UNREAD: Severity.WARNING,
    Reason.LAYER: Severity.NOTE,
    Reason.LINE_TYPE: Severity.WARNING,
    Reason.INVISIBLE: Severity.NOTE,
    Reason.IGNORED: Severity.NOTE,
    Reason.PERSON: Severity.NOTE,
    Reason.NOT_PLANE: Severity.WARNING,
    Reason.INVALID: Severity.WARNING,
    Reason.NOT_A_HOLE: Severity.WARNING,
}
_REMEDY = {
    Reason.UNREAD: "Explode it to lines, arcs and polylines if it bounds material.",
    Reason.LAYER: "Name its layer as opening or outline if it bounds material.",
    Reason.LINE_TYPE: "Draw it with a continuous line if it bounds material.",
    Reason.NOT_PLANE: "Project it onto the XY plane if it bounds material.",
    Reason.INVALID: "Draw it again, near the origin, if it bounds material.",
    Reason.NOT_A_HOLE: "Draw start holes as circles or points.",
}
_CODE = {
    Reason.ANNOTATION: "annotation-left-out",
    Reason.UNREAD: "kind-not-read",
    Reason.LAYER: "hidden-layer-left-out",
    Reason.LINE_TYPE: "line-type-left-out",
    Reason.INVISIBLE: "invisible-left-out",
    Reason.IGNORED: "layer-ignored",
    Reason.PERSON: "piece-left-out",
    Reason.NOT_PLANE: "not-plane-left-out",
    Reason.INVALID: "entity-invalid",
    Reason.NOT_A_HOLE: "no-start-hole",
}
_REMARKS = {
    "fit-points": (
        "spline-from-fit-points",
        Severity.WARNING,
        (
            "splines are given by points only; the curve between them is ezdxf's reading and may "
            "differ from the CAD program's"
        ),
        "Export splines with control points.",
    ),
    "wide": (
        "polyline-width",
        Severity.NOTE,
        "polylines have a width; their middle line was taken",
        "",
    ),
    "zero-scale": (
        "insert-scale-zero",
        Severity.WARNING,
        "insertions have a scale of 0, which was read as 1",
        "Check the size of what they place.",
    ),
}


_SUGGESTS = (
    (re.compile(r"start|thread(?!ed)|pilot", re.IGNORECASE), LayerUse.START),
    (re.compile(r"stock|blank|raw", re.IGNORECASE), LayerUse.STOCK),
    (re.compile(r"clamp|fixture", re.IGNORECASE), LayerUse.CLAMP),
)
"""Names that drafters give to layers of start holes, stock and clamps."""


_SAYS_OPENING = re.compile(
    r"(?<![a-z])(dies?|openings?|cavit(y|ies)|holes?|slots?|windows?)(?![a-z])", re.IGNORECASE
)
"""Names of layers whose contours are openings, whose inside leaves (common practice)."""


def about_roles(contours: Sequence[PartContour], *, given: frozenset[str]) -> list[Finding]:
    """Warn of outlines on a layer whose name says that the inside leaves.

    With the edge of the stock on a layer of its own, what lies in it is read as parts.

    Parameters
    ----------
    contours : sequence of PartContour
    given : frozenset of str
        Layers whose use somebody gave, in lower case: not doubted.
    """
    parts = Counter(
        c.layer
        for c in contours
        if c.role is Role.OUTLINE
        and c.parent_id is None
        and c.layer.lower() not in given
        and _SAYS_OPENING.search(c.layer)
    )
    return [
        Finding(
            code="layer-name-suggests-use",
            severity=Severity.WARNING,
            message=f"{counted(count, 'contour')} on layer {name} "
            f"{'are' if count > 1 else 'is'} read as the edge of a part; the layer's name sounds "
            "like openings.",
            where=Place(layer=name),
            remedy=f"If the inside leaves, say --layer {name}=opening; if it is the part, say "
            f"--layer {name}=outline.",
            data={"contours": count},
        )
        for name, count in sorted(parts.items())
    ]


def _suggested_uses(harvest: Harvest) -> list[Finding]:
    """Warn of layers whose name says a use that nobody gave: read as part, never guessed."""
    names = sorted({d.layer for d in harvest.drawn if d.use is None})
    return [
        Finding(
            code="layer-name-suggests-use",
            severity=Severity.WARNING,
            message=f"Layer {name} is read as part of the work; its name sounds like {use.value}.",
            where=Place(layer=name),
            remedy=f"If so, say --layer {name}={use.value}; if not, say what it is.",
        )
        for name in names
        for pattern, use in _SUGGESTS
        if pattern.search(name)
    ]


def about_harvest(harvest: Harvest, *, scale: float) -> list[Finding]:
    """Return findings on what was not used and on doubtful readings."""
    findings = [
        _left_out(reason, [e for e in harvest.left_out if e.reason is reason], scale)
        for reason in Reason
        if any(entry.reason is reason for entry in harvest.left_out)
    ]
    for key, (code, severity, words, remedy) in _REMARKS.items():
        count = harvest.remarks[key]
        if count:
            findings.append(
                Finding(
                    code=code,
                    severity=severity,
                    message=f"{count} {words}.",
                    remedy=remedy,
                    data={"count": count},
                )
            )
    findings += _suggested_uses(harvest)
    if harvest.on_paper:
        findings.append(
            Finding(
                code="paper-space-left-out",
                severity=Severity.NOTE,
                message=f"{harvest.on_paper} entities in paper space were left out.",
                data={"count": harvest.on_paper},
            )
        )
    return findings


def _left_out(reason: Reason, entries: Sequence[LeftOut], scale: float) -> Finding:
    kinds = Counter(entry.kind for entry in entries)
    layers = sorted({entry.layer for entry in entries})
    listed = ", ".join(f"{count} {kind}" for kind, count in sorted(kinds.items()))
    first = entries[0]
    return Finding(
        code=_CODE[reason],
        severity=_SEVERITY[reason],
        message=(
            f"Left out ({reason.value}): {listed}, on layer{'s' if len(layers) > 1 else ''} "
            f"{', '.join(layers[:_FIRST])}{' ...' if len(layers) > _FIRST else ''}."
        ),
        where=Place(
            layer=first.layer,
            entity=first.name,
            x_mm=None if first.x is None else first.x * scale,
            y_mm=None if first.y is None else first.y * scale,
        ),
        remedy=_REMEDY.get(reason, ""),
        data={
            "count": len(entries),
            **{f"count_{kind}": n for kind, n in sorted(kinds.items())},
            **_taken_back(reason, entries),
        },
    )


def _taken_back(reason: Reason, entries: Sequence[LeftOut]) -> dict[str, str]:
    """Return the names of pieces that a person left out and may take in again."""
    if reason is not Reason.PERSON:
        return {}
    return {"pieces": pieces.BETWEEN.join(dict.fromkeys(piece_name(e.name) for e in entries))}


def about_planes(drawn: Iterable[Drawn], *, scale: float, tolerances: Tolerances) -> list[Finding]:
    """Return a finding where geometry was flattened onto XY."""
    heights = [(entity.low * scale, entity.high * scale) for entity in drawn]
    low = min((h[0] for h in heights), default=0.0)
    high = max((h[1] for h in heights), default=0.0)
    if max(-low, high) <= tolerances.merge_mm:
        return []
    one = high - low <= tolerances.merge_mm
    return [
        Finding(
            code="flattened",
            severity=Severity.NOTE if one else Severity.WARNING,
            message=(
                f"All geometry lies at Z {low:.4f} mm and was flattened to XY."
                if one
                else f"Geometry at Z {low:.4f} to {high:.4f} mm was flattened to XY."
            ),
            remedy="" if one else "Check that the drawing is one plane view.",
            data={"low_mm": low, "high_mm": high},
        )
    ]


def about_repairs(
    repairs: Iterable[Repair], strands: Strands, owner: Mapping[int, str]
) -> list[Finding]:
    """Return a finding for each thing mended; doubled points of an entity are one.

    Parameters
    ----------
    repairs : iterable of Repair
    strands : Strands
    owner : mapping of int to str
        Contour of each strand that is in one.
    """
    groups: dict[tuple[int, int], list[Repair]] = {}
    for number, one in enumerate(repairs):
        is_point = one.kind is RepairKind.ZERO_LENGTH
        groups.setdefault((-1, one.strands[0]) if is_point else (number, 0), []).append(one)
    findings = [(group, _mended(group, strands)) for group in groups.values()]
    return [
        replace(one, where=replace(one.where, contour_id=owner.get(group[0].strands[-1])))
        for group, one in findings
    ]


def _mended(group: Sequence[Repair], strands: Strands) -> Finding:
    repair, count = group[0], len(group)
    first, last = strands.drawn[repair.strands[0]], strands.drawn[repair.strands[-1]]
    size_um = repair.size_mm * 1000
    match repair.kind:
        case RepairKind.ZERO_LENGTH:
            severity = Severity.NOTE
            words = f"{first.name} has {counted(count, 'doubled point')}, taken once."
        case RepairKind.DUPLICATE:
            severity = Severity.NOTE
            words = f"{first.name} lies on {last.name} a second time and was dropped."
        case RepairKind.OVERLAP:
            severity = Severity.WARNING
            words = (
                f"{first.name} runs over {last.name} for {repair.size_mm:.4f} mm; that stretch "
                "of it was dropped."
            )
        case RepairKind.GAP:
            severity = Severity.NOTE if repair.shift_um <= 1.0 else Severity.WARNING
            words = (
                f"A gap of {size_um:.2f} µm between {first.name} and {last.name} was closed; "
                f"their ends moved by up to {repair.shift_um:.2f} µm."
            )
    return Finding(
        code=f"{repair.kind.value}-mended",
        severity=severity,
        message=words,
        where=strands.place(repair.strands[0], repair.x_mm, repair.y_mm),
        data={"size_mm": repair.size_mm, "shift_um": repair.shift_um, "count": count},
    )


def about_branchings(branched: Iterable[Branched], strands: Strands) -> list[Finding]:
    """Return a refusal for each network with a branching."""
    findings = []
    for network in branched:
        layers = sorted({strands.drawn[s].layer for s in network.strands})
        x, y = (float(v) for v in network.points_mm[0])
        more = len(network.points_mm) - 1
        single = pieces.offered([(s,) for s in network.strands], strands)
        loose = [piece_name(strands.drawn[s].name) for s in network.loose] if single else []
        findings.append(
            Finding(
                code="contour-branches",
                severity=Severity.REFUSAL,
                message=(
                    f"{network.ends[0]} pieces meet at {place_words(x, y)}"
                    + (f" and {counted(more, 'more place')} likewise" if more else "")
                    + f"; {len(network.strands)} connected entities on layer"
                    f"{'s' if len(layers) > 1 else ''} {', '.join(layers[:_FIRST])} "
                    "make no single contour."
                ),
                where=strands.place(network.strands[0], x, y),
                remedy=(
                    "Delete the piece too many, or put construction lines on a layer of their "
                    "own and have it ignored." + pieces.way_out(single, loose=loose)
                ),
                data={
                    "branchings": more + 1,
                    "entities": len(network.strands),
                    **single,
                    **({"loose_pieces": ",".join(loose)} if loose else {}),
                },
            )
        )
    return findings


def about_open_chains(
    assembly: Assembly, near: Sequence[NearEnds], strands: Strands
) -> list[Finding]:
    """Return refusals for broken contours and warnings for other open chains."""
    findings = []
    broken: set[int] = set()
    for ends in near:
        if ends.chains[0] in broken and ends.chains[1] in broken:
            continue
        broken |= set(ends.chains)
        findings.append(_gap(ends, assembly, strands))
    for number, chain in enumerate(assembly.open_chains):
        if number in broken:
            continue
        rows = chain.contour.vertices
        begin, end = rows[0, :2], rows[-1, :2]
        ends_words = (
            f"from {place_words(*begin)} to {place_words(*end)}, "
            f"{chain.contour.length_mm:.3f} mm long"
        )
        names = _names(chain.strands, strands)
        findings.append(
            Finding(
                code="edge-shared" if chain.was_cut else "open-chain-left-out",
                severity=Severity.REFUSAL if chain.was_cut else Severity.WARNING,
                message=(
                    f"{names} would close a contour only along an edge that belongs to another "
                    f"one: {ends_words}."
                    if chain.was_cut
                    else f"{names} is open and was taken for construction: {ends_words}."
                ),
                where=strands.place(chain.strands[0], float(begin[0]), float(begin[1])),
                remedy=(
                    "Draw each contour closed, with an edge of its own, a kerf apart."
                    if chain.was_cut
                    else "Close it if it bounds material."
                ),
                data={
                    "length_mm": chain.contour.length_mm,
                    **pieces.offered([chain.strands], strands),
                },
            )
        )
    return findings


def _names(numbers: Sequence[int], strands: Strands) -> str:
    names = [strands.drawn[k].name for k in numbers]
    if len(names) <= 3:
        return " + ".join(names)
    return f"{names[0]} + ... + {names[-1]} ({len(names)} entities)"


def _gap(ends: NearEnds, assembly: Assembly, strands: Strands) -> Finding:
    chains = [assembly.open_chains[k] for k in dict.fromkeys(ends.chains)]
    (ax, ay), (bx, by) = ends.first_mm, ends.second_mm
    names = " and ".join(_names(chain.strands, strands) for chain in chains)
    single = pieces.offered([chain.strands for chain in chains], strands)
    return Finding(
        code="contour-gap",
        severity=Severity.REFUSAL,
        message=(
            f"The contour of {names} does not close: its ends at {place_words(ax, ay)} and "
            f"{place_words(bx, by)} lie {ends.gap_mm:.4f} mm apart, too far to be joined unasked."
        ),
        where=strands.place(chains[0].strands[0], ax, ay),
        remedy="Join the two ends in the drawing." + pieces.way_out(single),
        data={"gap_mm": ends.gap_mm, "x2_mm": bx, "y2_mm": by, **single},
    )


def about_crossings(
    crossings: Sequence[Crossing], loops: Sequence[Chain], strands: Strands
) -> list[Finding]:
    """Return one finding for each loop or pair of loops that meet, at the first place."""
    met: dict[tuple[int, int], list[Crossing]] = {}
    for crossing in crossings:
        pair = sorted((crossing.first_contour, crossing.second_contour))
        met.setdefault((pair[0], pair[1]), []).append(crossing)
    return [_crossing(pair, places, loops, strands) for pair, places in met.items()]


def _crossing(
    pair: tuple[int, int], places: Sequence[Crossing], loops: Sequence[Chain], strands: Strands
) -> Finding:
    serious = [c for c in places if c.kind is not CrossingKind.TOUCHING]
    first = (serious or places)[0]
    count = len(serious or places)
    layers = sorted({strands.drawn[s].layer for k in pair for s in loops[k].strands})
    other = f", or have layer {' or '.join(layers)} ignored" if len(layers) > 1 else ""
    verb = {
        CrossingKind.CROSSING: "cross",
        CrossingKind.TOUCHING: "touch",
        CrossingKind.OVERLAPPING: "run over",
    }[first.kind]
    alone = pair[0] == pair[1]
    one = _names(loops[pair[0]].strands, strands)
    words = (
        f"The contour of {one} {verb}{'es' if verb in ('cross', 'touch') else 's'} itself"
        if alone
        else f"The contours of {one} and of {_names(loops[pair[1]].strands, strands)} {verb} "
        "each other"
    ).replace("run overs", "runs over")
    more = f" and at {counted(count - 1, 'more place')}" if count > 1 else ""
    kind = "touches" if not serious else "crosses"
    return Finding(
        code=f"contour-{kind}-itself" if alone else f"contours-{verb.replace(' ', '-')}",
        severity=Severity.REFUSAL if serious else Severity.WARNING,
        message=f"{words} at {place_words(first.x_mm, first.y_mm)}{more}.",
        where=strands.place(loops[pair[0]].strands[0], first.x_mm, first.y_mm),
        remedy=(
            f"Draw contours that do not cross{other}."
            if serious
            else "Leave a wall between them, or draw them as one contour."
        ),
        data={
            "places": count,
            **pieces.offered([loops[k].strands for k in dict.fromkeys(pair)], strands),
        },
    )


def without_area(contour: Contour, place: Place) -> Finding:
    """Return the refusal of a closed contour that bounds nothing."""
    return Finding(
        code="contour-without-area",
        severity=Severity.WARNING,
        message=(
            f"A closed contour of {contour.length_mm:.4f} mm bounds only "
            f"{abs(contour.area_mm2):.3g} mm²."
        ),
        where=place,
        remedy="Delete it, or draw the two sides apart.",
        data={"area_mm2": contour.area_mm2, "length_mm": contour.length_mm},
    )


def grouped(findings: Sequence[Finding]) -> tuple[Finding, ...]:
    """Put many findings of one code together, in the place of the first of them."""
    counts = Counter((f.code, f.severity) for f in findings)
    members: dict[tuple[str, Severity], list[Finding]] = {}
    for finding in findings:
        members.setdefault((finding.code, finding.severity), []).append(finding)
    result: list[Finding] = []
    for key, same in members.items():
        result.extend(same if counts[key] <= _GROUP_ABOVE else [_group(same)])
    return tuple(result)


def _group(same: Sequence[Finding]) -> Finding:
    first = same[0]
    places = "; ".join(str(f.where) for f in same[:_FIRST] if f.where is not NOWHERE)
    largest = {
        f"largest_{name}": max(_numbers(same, name)) for name in first.data if _numbers(same, name)
    }
    return Finding(
        code=first.code,
        severity=first.severity,
        message=f"{len(same)} times, first: {first.message} First places: {places}; ...",
        where=first.where,
        remedy=first.remedy,
        data={"count": len(same), **largest},
    )


def _numbers(findings: Sequence[Finding], name: str) -> list[float]:
    return [float(f.data[name]) for f in findings if isinstance(f.data.get(name), int | float)]
