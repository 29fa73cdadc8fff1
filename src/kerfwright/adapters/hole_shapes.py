"""Versioned JSON shapes of plans and proofs of small holes, and the way back from a plan."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from typing import Any

from kerfwright.adapters.json_shapes import Document, finding_shape, plain
from kerfwright.foundation.errors import InputError
from kerfwright.planning.hole_plan import HolePlan, PlannedHole
from kerfwright.proof.hole_records import ClaimedHole, HoleClaim, HoleProof, Vector
from kerfwright.trade.drill import (
    AxisLetter,
    DrillDialect,
    DrillMachine,
    TubeHolder,
    TurningAxis,
)
from kerfwright.trade.hole_work import Hole
from kerfwright.trade.part import LengthUnit

PLAN_FORMAT, PLAN_VERSION = "kerfwright-hole-plan", 1
PROOF_FORMAT, PROOF_VERSION = "kerfwright-hole-proof", 1
_STROKE = (
    "lip_mm", "feed_way_mm", "run_on_mm", "beyond_mm", "used_mm", "used_most_mm",
    "not_through_chance", "needs_mm",
    "minutes", "feed_mm_per_min", "dressed_mm",
)  # fmt: skip


def plan_shape(
    plan: HolePlan, *, claim: HoleClaim | None, program: str | None, program_sha256: str | None
) -> Document:
    """Return the plan; with the claim a program can be checked again from it alone."""
    work = plan.work
    return {
        "format": PLAN_FORMAT,
        "version": PLAN_VERSION,
        "units": "mm",
        "source": {
            "name": work.source.name,
            "unit": work.source.unit.value,
            "sha256": work.source.sha256,
        },
        "program": {"name": program, "sha256": program_sha256} if program else None,
        "material": {"id": work.material.id, "name": work.material.name},
        "machine": plain(work.machine),
        "centre_mm": plain(work.centre_mm),
        "electrodes": [{**plain(e), "makes_mm": plain(e.makes_mm)} for e in plan.electrodes],
        "changes": plain(plan.changes),
        "order": plain(plan.order),
        "turning_z_mm": plain(plan.turning_z_mm),
        "box_mm": plain(plan.box_mm),
        "quantities": list(work.quantities),
        "claim": _claim_shape(claim) if claim else None,
        "holes": [_hole_shape(one) for one in plan.holes],
        "left_out": [plain(hole) for hole in plan.left_out],
        "unused_rows": [
            {"line": row.line, "text": row.text, "code": row.finding.code}
            for row in work.source.unused
        ],
        "findings": [finding_shape(f) for f in plan.findings],
    }


def _claim_shape(claim: HoleClaim) -> Document:
    """Return what is claimed besides the holes and the machine."""
    return {
        f.name: plain(getattr(claim, f.name))
        for f in dataclasses.fields(claim)
        if f.name not in {"holes", "machine"}
    }


def _hole_shape(one: PlannedHole) -> Document:
    hole = one.hole
    return {
        "number": one.number,
        "id": hole.id,
        "group": hole.group,
        # Vectors keep every digit: a millionth of a radian is a micrometre at a metre.
        "mouth_mm": list(hole.mouth_mm),
        "into": list(hole.into),
        "outward": list(hole.outward),
        "slope_deg": hole.slope_deg,
        "diameter_mm": hole.diameter_mm,
        "depth_mm": hole.depth_mm,
        "kind": "through" if hole.is_through else "blind",
        "room_mm": hole.room_mm,
        "tolerance_um": hole.tolerance_um,
        "position_um": hole.position_um,
        "max_recast_um": hole.max_recast_um,
        "line": hole.line,
        "tube": one.electrode.tube,
        "condition": one.electrode.condition,
        "angles_deg": plain(one.angles_deg),
        "at_mm": plain(one.at_mm),
        "clear_z_mm": plain(one.clear_z_mm),
        "guide_gap_mm": plain(one.guide_gap_mm),
        "rise_k": plain(one.rise_k),
        **{name: plain(getattr(one.stroke, name)) for name in _STROKE},
    }


def proof_shape(proof: HoleProof) -> Document:
    """Return the verdict on a program."""
    fields = {
        f.name: plain(getattr(proof, f.name))
        for f in dataclasses.fields(proof)
        if f.name != "findings"
    }
    return {
        "format": PROOF_FORMAT,
        "version": PROOF_VERSION,
        "units": "mm",
        **fields,
        "findings": [finding_shape(f) for f in proof.findings],
    }


def is_hole_plan(document: Mapping[str, Any]) -> bool:
    """Return whether a document is a plan of small holes."""
    return document.get("format") == PLAN_FORMAT


def claim_from(document: Mapping[str, Any], *, usual_tolerance_um: float) -> HoleClaim:
    """Return what a program is checked against, from the plan of its job.

    Parameters
    ----------
    document : mapping
    usual_tolerance_um : float
        Half zone of the diameter of holes that ask for none.

    Raises
    ------
    InputError
        Code ``json-format`` or ``json-broken``.
    """
    found = document.get("format"), document.get("version")
    if found != (PLAN_FORMAT, PLAN_VERSION) or document.get("claim") is None:
        raise InputError(
            "this plan of small holes holds nothing that a program could be checked against",
            code="json-format",
            remedy="Make the job anew with this version of kerfwright.",
        )
    try:
        claim = document["claim"]
        numbers = {
            name: float(claim[name])
            for name in (
                "wear_low", "wear_likely", "wear_high", "breakthrough_diameters", "between_mm",
                "turning_mm", "guide_spare_mm", "dress_diameters",
            )
        }  # fmt: skip
        return HoleClaim(
            holes=tuple(_claimed(h, usual_tolerance_um) for h in document["holes"]),
            machine=machine_from(document["machine"]),
            centre_mm=_vector(claim["centre_mm"]),
            box_low_mm=_vector(claim["box_low_mm"]),
            box_high_mm=_vector(claim["box_high_mm"]),
            tube_mm={int(k): float(v) for k, v in claim["tube_mm"].items()},
            overcut_mm={int(k): float(v) for k, v in claim["overcut_mm"].items()},
            **numbers,
        )
    except (KeyError, TypeError, ValueError, IndexError) as fault:
        raise InputError(
            f"the plan cannot be read: {type(fault).__name__} {fault}",
            code="json-broken",
            remedy="Make the job anew; plan.json is not meant to be edited.",
        ) from fault


def _claimed(hole: Mapping[str, Any], usual_tolerance_um: float) -> ClaimedHole:
    wanted = Hole(
        id=str(hole["id"]),
        mouth_mm=_vector(hole["mouth_mm"]),
        into=_vector(hole["into"]),
        outward=_vector(hole["outward"]),
        diameter_mm=float(hole["diameter_mm"]),
        depth_mm=float(hole["depth_mm"]),
        is_through=hole["kind"] == "through",
    )
    asked = hole["tolerance_um"]
    return ClaimedHole(
        id=wanted.id,
        mouth_mm=wanted.mouth_mm,
        into=wanted.into,
        diameter_mm=wanted.diameter_mm,
        depth_mm=wanted.depth_mm,
        is_through=wanted.is_through,
        tolerance_um=usual_tolerance_um if asked is None else float(asked),
        slope_deg=wanted.slope_deg,
        room_mm=None if hole["room_mm"] is None else float(hole["room_mm"]),
        condition=int(hole["condition"]),
        feed_mm_per_min=float(hole["feed_mm_per_min"]),
    )


def _vector(values: Any) -> Vector:
    x, y, z = (float(v) for v in values)
    return x, y, z


def machine_from(document: Mapping[str, Any]) -> DrillMachine:
    """Return the machine that a plan was made for."""
    fields = {k: v for k, v in document.items() if k not in {"tubes", "axes", "dialect"}}
    tubes = dict(document["tubes"])
    tubes["diameters_mm"] = tuple(tubes["diameters_mm"])
    dialect = dict(document["dialect"])
    dialect["unit"] = LengthUnit(dialect["unit"])
    axes = tuple(
        TurningAxis(**{**axis, "letter": AxisLetter(axis["letter"])}) for axis in document["axes"]
    )
    return DrillMachine(
        tubes=TubeHolder(**tubes), axes=axes, dialect=DrillDialect(**dialect), **fields
    )
