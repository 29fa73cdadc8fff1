"""Versioned JSON shapes of plans, proofs and estimates; the way back is in `plan_claims`.

A shape is not the record: records may change from release to release, a shape keeps its
``format`` and ``version`` until its meaning changes.  Lengths are in mm unless a name says
otherwise; derived lengths are rounded to 1e-6 mm, vertices keep every digit.
"""

from __future__ import annotations

import dataclasses
import json
from collections.abc import Iterable, Mapping
from decimal import Decimal
from enum import Enum
from typing import Any, Final

from kerfwright.adapters.lean_shapes import solid_shape, splits_shape, walls_shape
from kerfwright.app.drawing_says import Saying
from kerfwright.app.sure_words import range_why
from kerfwright.costing.records import Estimate
from kerfwright.foundation.answers import Answer
from kerfwright.foundation.findings import Finding
from kerfwright.foundation.ranges import Range
from kerfwright.foundation.sources import Reason
from kerfwright.geometry.contour import Contour
from kerfwright.planning.plan import ContourPlan, Plan
from kerfwright.planning.stacking import hold_holes
from kerfwright.process.technology import Flushing, Pass
from kerfwright.process.wire_state import WireState
from kerfwright.proof.records import Claim, Proof
from kerfwright.trade.part import Part, PartContour

PLAN_FORMAT, PLAN_VERSION = "kerfwright-plan", 3
PROOF_FORMAT, PROOF_VERSION = "kerfwright-proof", 1
ESTIMATE_FORMAT, ESTIMATE_VERSION = "kerfwright-estimate", 1
DRAWING_FORMAT, DRAWING_VERSION = "kerfwright-drawing", 1

_DECIMALS = 6
"""A millionth of a millimetre: below any exactness that is claimed for a path."""

Document = dict[str, Any]


def to_text(document: Mapping[str, Any]) -> str:
    """Return JSON with a stable order of keys, without NaN, with a line break at the end.

    Each key is a line, and each item of a list of objects: a difference between two plans shows
    as the lines that differ.

    Raises
    ------
    ValueError
        If a number is not finite; that is a fault of ours, never something to write down.
    """

    def one_line(value: object) -> str:
        return json.dumps(value, ensure_ascii=False, allow_nan=False)

    lines: list[str] = []
    for key, value in document.items():
        if isinstance(value, list) and value and isinstance(value[0], dict):
            items = ",\n  ".join(one_line(item) for item in value)
            lines.append(f"{one_line(key)}: [\n  {items}\n ]")
        elif isinstance(value, dict) and any(isinstance(v, list | dict) for v in value.values()):
            inner = to_text(value).rstrip().replace("\n", "\n ")
            lines.append(f"{one_line(key)}: {inner}")
        else:
            lines.append(f"{one_line(key)}: {one_line(value)}")
    body = ",\n ".join(lines)
    return "{\n " + body + "\n}\n"


def plain(value: Any) -> Any:
    """Return enums, decimals, ranges and records as what JSON can hold; floats rounded."""
    # Most values of a large document are of these; asked first they cost a tenth of the others.
    kind = type(value)
    if kind in _AS_THEY_ARE:
        return value
    if kind is float:
        return round(value, _DECIMALS)
    match value:
        case Enum():
            return value.value
        case bool() | int() | str() | None:
            return value
        case float():
            return round(value, _DECIMALS)
        case Decimal():
            # Money is a string: a binary fraction would not keep its cents.
            return str(value)
        case Range():
            return {
                "low": plain(value.low),
                "likely": plain(value.likely),
                "high": plain(value.high),
            }
        case Contour():
            return {"closed": value.is_closed, "vertices": value.vertices.tolist()}
        case Mapping():
            return {str(k): plain(v) for k, v in value.items()}
        case _ if dataclasses.is_dataclass(value):
            return {name: plain(getattr(value, name)) for name in _names_of(kind)}
        case Iterable():
            return [plain(v) for v in value]
    raise TypeError(f"no JSON shape for {type(value).__name__}")


_AS_THEY_ARE: Final = frozenset({bool, int, str, type(None)})


_names: Final[dict[type, tuple[str, ...]]] = {}


def _names_of(kind: type) -> tuple[str, ...]:
    """Return the names of the fields of a record."""
    if kind not in _names:
        _names[kind] = tuple(f.name for f in dataclasses.fields(kind))
    return _names[kind]


def finding_shape(finding: Finding) -> Document:
    """Return a finding; unknown fields of its place are left out."""
    where = {k: v for k, v in plain(finding.where).items() if v is not None}
    return {
        "code": finding.code,
        "severity": finding.severity.value,
        "message": finding.message,
        "where": where,
        "remedy": finding.remedy,
        "data": plain(finding.data),
    }


def _findings(findings: Iterable[Finding]) -> list[Document]:
    return [finding_shape(f) for f in findings]


def reason_shape(reason: Reason) -> Document:
    """Return why a number has its value, how sure it is and who brings the uncertainty.

    Where it has no range, or one of no width, ``range_why`` says why.
    """
    return {
        "quantity": reason.quantity,
        "value": plain(reason.value),
        "formula": reason.formula,
        "inputs": {name: plain(value) for name, value in reason.inputs},
        "source": str(reason.source),
        "range": plain(reason.range),
        **({"range_why": said} if (said := range_why(reason)) else {}),
        "shares": {name: plain(share) for name, share in reason.shares},
    }


def answer_shape(answer: Answer) -> Document:
    """Return a reason with the name to ask for it and its place in the documents."""
    return {
        "name": answer.title,
        "path": answer.path or None,
        **reason_shape(answer.reason),
    }


def _contour_shape(target: PartContour) -> Document:
    return {
        "id": target.id,
        "kind": target.role.value,
        "kind_from": target.role_from.value,
        "is_cut": target.is_cut,
        "parent_id": target.parent_id,
        "layer": target.layer,
        "entities": list(target.entities),
        "length_mm": plain(target.contour.length_mm),
        "area_mm2": plain(abs(target.contour.area_mm2)),
        "vertices": target.contour.vertices.tolist(),
    }


def _pass_shape(one: Pass) -> Document:
    names = (
        "offset_mm", "feed_mm_per_min", "feed_sigma_log", "stock_feed_factor", "gap_um",
        "stock_um", "ra_um", "recast_um", "tolerance_um",
    )  # fmt: skip
    return {
        "number": one.number,
        "kind": "rough" if one.is_rough else "skim",
        **{name: plain(getattr(one, name)) for name in names},
        **({} if one.guides_factor == 1 else {"guides_factor": plain(one.guides_factor)}),
        "ranges": {
            "feed_mm_per_min": plain(one.feed_range_mm_per_min),
            "gap_um": plain(one.gap_range_um),
            "stock_um": plain(one.stock_range_um),
            "ra_um": plain(one.ra_range_um),
            "recast_um": plain(one.recast_range_um),
            "tolerance_um": plain(one.tolerance_range_um),
            "size_error_um": plain(one.size_error_um),
        },
        "reasons": [reason_shape(r) for r in one.reasons],
    }


def _wire_state_shape(state: WireState) -> Document:
    document = {
        f.name: plain(getattr(state, f.name))
        for f in dataclasses.fields(state)
        # The range of the breaks stands in their reason.
        if f.name not in {"reasons", "layer", "pass_number", "breaks_range"}
    }
    layer = {
        f.name: plain(getattr(state.layer, f.name))
        for f in dataclasses.fields(state.layer)
        if f.name not in {"reasons", "pass_number"}
    }
    reasons = [reason_shape(r) for r in state.reasons]
    return {"pass": state.pass_number, **document, **layer, "reasons": reasons}


def _flushing_shape(contour: ContourPlan) -> Document:
    state = contour.flushing
    document = {
        f.name: plain(getattr(state, f.name))
        for f in dataclasses.fields(state)
        if f.name not in {"reasons", "counted_sigma_log", "counted_ends"}
    }
    if state.nozzles is Flushing.SEALED or not state.has_wire:
        # Closed nozzles are what open ones are told against.
        del document["breaks_closed"], document["breaks_unslowed"]
    if state.breaks_by_taper == 1.0:
        # Of an upright wall there is nothing to say.
        del document["breaks_by_taper"]
    if (upright := contour.lean.upright) is not None:
        # Of the set-up, which a measured cut is held against: the angle slows it besides.
        document["upright"] = {
            name: plain(getattr(upright, name))
            for name in ("nozzles", "tables_factor", "learned_factor")
        }
    reasons = [reason_shape(r) for r in state.reasons]
    mean = {"rate_factor": plain(state.rate_factor)}
    return {"contour_id": contour.target.id, **document, **mean, "reasons": reasons}


def _start_shape(contour: ContourPlan) -> Document:
    start = contour.start
    return {
        "id": start.id,
        "contour_id": start.contour_id,
        "kind": start.kind.value,
        "placed": list(contour.placed),
        "x_mm": plain(start.x_mm),
        "y_mm": plain(start.y_mm),
        "diameter_mm": plain(start.diameter_mm),
        "clearance_mm": plain(start.clearance_mm),
    }


def saying_shape(saying: Saying) -> Document:
    """Return one thing that the drawing says; unknown fields of its place are left out."""
    said = saying.statement
    return {
        "asks": said.asks.value,
        "text": said.text,
        "readings": [
            {
                "words": r.words,
                "data": plain(r.data),
                "option": r.option,
                "of_picked": r.of_picked,
            }
            for r in said.readings
        ],
        "remark": said.remark,
        "written_as": saying.kind.value,
        "where": {k: v for k, v in plain(saying.where).items() if v is not None},
        "contours": list(saying.contour_ids),
        "sheet": saying.sheet,
    }


def drawing_shape(part: Part, *, says: Iterable[Saying] = ()) -> Document:
    """Return what was read from a drawing and what it says, for ``check``."""
    return {
        "format": DRAWING_FORMAT,
        "version": DRAWING_VERSION,
        "units": "mm",
        "drawing": part.name,
        "drawing_sha256": part.sha256,
        "drawing_unit": part.drawing_unit.value,
        "contours": [_contour_shape(c) for c in part.contours],
        "given_starts": plain(part.given_starts),
        "stock": plain(part.stock),
        "left_out": dict(sorted(part.left_out.items())),
        "says": [saying_shape(saying) for saying in says],
        "findings": _findings(part.findings),
    }


def _stack_shape(plan: Plan) -> Document:
    """Return the stack of a plan and where its screws go; nothing where there is none."""
    stack = plan.requirement.stack
    if stack is None:
        return {}
    shape: Document = plain(stack)
    # Who chose the number is no matter of the plan: a job read from its folder asks for it.
    shape.pop("is_chosen")
    return {"stack": shape | {"screws": plain(hold_holes(plan))}}


def _contour_passes(contour: ContourPlan) -> Document:
    passes, follows = contour.cut_passes, contour.follows
    begins = {} if follows is None else {"first_pass": follows.first_pass, "why": follows.why}
    return {
        "contour_id": contour.target.id,
        **begins,
        "offsets_mm": [plain(p.offset_mm) for p in passes],
        "feeds_mm_per_min": [plain(p.feed_mm_per_min) for p in passes],
        "stock_um": [plain(p.stock_um) for p in passes],
        "stock_by": contour.choice.stock_by.value,
        "decided_by": contour.choice.limiting,
    }


def _recast_left(plan: Plan) -> Document:
    """Return the recast left on the wall, or why none is predicted."""
    left = plan.choice.recast_left_um
    if left is not None:
        return {"recast_left_um": plain(left)}
    why = "no recast is limited, so none left is predicted"
    return {"recast_left_um": None, "recast_left_why": why}


def plan_shape(
    plan: Plan,
    *,
    claim: Claim | None = None,
    program: str | None = None,
    program_sha256: str | None = None,
) -> Document:
    """Return the plan.

    Parameters
    ----------
    plan : Plan
    claim : Claim, optional
        What a program was checked against; its tolerance is kept, so that a program can be
        checked again from the document alone.
    program : str, optional
        Name of the program file, if one was written.
    program_sha256 : str, optional
        Its digest.
    """
    part, wanted, wire = plan.part, plan.requirement, plan.choice.wire
    return {
        "format": PLAN_FORMAT,
        "version": PLAN_VERSION,
        "units": "mm",
        "drawing": {"name": part.name, "unit": part.drawing_unit.value, "sha256": part.sha256},
        "program": {"name": program, "sha256": program_sha256} if program else None,
        "wire_diameter_mm": plain(wire.diameter_mm),
        "height_mm": plain(wanted.height_mm),
        **solid_shape(part),
        **_stack_shape(plan),
        "requirement": {
            "material": wanted.material.id,
            "material_name": wanted.material.name,
            "density_kg_per_m3": plain(wanted.material.density_kg_per_m3),
            "tolerance_um": plain(wanted.tolerance_um),
            "ra_um": plain(wanted.ra_um),
            "max_recast_um": plain(wanted.max_recast_um),
            "contours": plain(wanted.contours),
            "wire_asked": wanted.wire is not None,
            "quantities": list(wanted.quantities),
            "stock_margin_mm": plain(wanted.stock_margin_mm),
        },
        "proof_tolerance_um": plain(claim.tolerance_um) if claim else None,
        "machine": plain(wanted.machine),
        "wire": {"kind": wire.kind, "name": wire.name, "diameter_mm": plain(wire.diameter_mm)},
        "passes": [_pass_shape(p) for p in plan.passes],
        "passes_decided_by": plan.choice.limiting,
        **_recast_left(plan),
        "further_passes": list(plan.choice.further),
        "contour_passes": [_contour_passes(c) for c in plan.walls],
        "contours": [_contour_shape(c) for c in part.contours],
        "start_holes": [_start_shape(c) for c in plan.contours],
        "tabs": [{"contour_id": c.target.id, **plain(c.tab)} for c in plan.contours if c.tab],
        "slugs": [{"contour_id": c.target.id, **plain(c.slug)} for c in plan.contours if c.tab],
        **_coreless_shape(plan),
        **_strings_shape(plan),
        "wire_states": [_wire_state_shape(s) for s in plan.wire_states],
        "flushing": [_flushing_shape(c) for c in plan.walls],
        "unreachable": [
            {"contour_id": c.target.id, "vertices": u.vertices.tolist()}
            for c in plan.contours
            for u in c.unreachable
        ],
        "operations": plain(plan.operations),
        **_leaning_shape(plan, claim),
        "stock": plain(plan.stock),
        **({"clamps": plain(plan.clamps)} if plan.clamps else {}),
        "left_out": dict(sorted(part.left_out.items())),
        "findings": _findings(plan.findings),
    }


def _leaning_shape(plan: Plan, claim: Claim | None) -> Document:
    """Return the walls that lean and what that takes off their feeds, in plans that have any."""
    if claim is None or not claim.walls:
        return {}
    return {
        "walls": walls_shape(claim),
        **({"splits": splits_shape(claim)} if claim.splits else {}),
        "taper_factors": {c.target.id: plain(c.lean.skim_factor) for c in plan.walls},
        "rough_taper_factors": {c.target.id: plain(c.lean.rough_factor) for c in plan.walls},
    }


def _coreless_shape(plan: Plan) -> Document:
    """Return the openings whose inside is cut away whole, in plans that have any."""
    found = [(c.target.id, c.coreless) for c in plan.contours if c.coreless is not None]
    if not found:
        return {}
    return {
        "scrap_mm": plain(plan.rules.coreless_scrap_mm),
        "coreless": [
            {
                "contour_id": name,
                "why": one.why.value,
                "slug_width_mm": plain(one.slug_width_mm),
                "limit_mm": plain(one.limit_mm),
                "loops": one.loops.count,
                "loops_mm": plain(one.loops.length_mm),
                "kerf_mm": plain(one.kerf_mm),
                "pitch_mm": plain(one.pitch_mm),
                "overlap_share": plain(one.overlap_share),
                "least_overlap_share": plain(plan.rules.coreless_least_overlap_share),
                "most_feed_factor": plain(one.most_feed_factor),
            }
            for name, one in found
        ],
    }


def _strings_shape(plan: Plan) -> Document:
    """Return the outlines that are cut with the wire threaded once, in plans that have any."""
    if not plan.strings:
        return {}
    return {
        "strings": plain(plan.strings),
        "string_neck_mm": plain(plan.rules.string_neck_mm),
        "string_frame_mm": plain(plan.rules.string_frame_mm),
    }


def proof_shape(proof: Proof) -> Document:
    """Return the verdict on a program."""
    document = {
        f.name: plain(getattr(proof, f.name))
        for f in dataclasses.fields(proof)
        if f.name != "findings"
    }
    head = {"format": PROOF_FORMAT, "version": PROOF_VERSION, "units": "mm"}
    return {**head, **document, "findings": _findings(proof.findings)}


def estimate_shape(estimate: Estimate) -> Document:
    """Return times, consumption and prices; money as strings."""
    shape = {"format": ESTIMATE_FORMAT, "version": ESTIMATE_VERSION, **plain(estimate)}
    shape["reasons"] = [
        written | {"range_why": said} if (said := range_why(reason)) else written
        for written, reason in zip(shape["reasons"], estimate.reasons, strict=True)
    ]
    if all(price.at_once == 1 for price in estimate.prices):
        del shape["pieces_each"]
        for price in shape["prices"]:
            del price["at_once"]
    return shape
