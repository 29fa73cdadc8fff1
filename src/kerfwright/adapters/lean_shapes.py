"""JSON shapes of leaning walls, and the way back."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import numpy as np

from kerfwright.geometry.contour import Contour
from kerfwright.geometry.ruled import RuledWall
from kerfwright.geometry.segments import Segments
from kerfwright.proof.records import Claim
from kerfwright.trade.part import Part
from kerfwright.trade.walls import (
    LeaningShape,
    PairedWall,
    SplitWall,
    TaperedWall,
    VariedWall,
    WallPart,
)

Document = dict[str, Any]


def walls_shape(claim: Claim) -> list[Document]:
    """Return the leaning walls of a claim, every digit kept.

    Parameters
    ----------
    claim : Claim
    """
    drawn = {c.id: c for c in claim.contours}
    return [
        {
            "contour_id": name,
            "allowance_um": claim.lean_allowance_um.get(name, 0.0),
            **_wall_shape(shape),
        }
        for name, shape in claim.walls.items()
        if name in drawn
    ]


def solid_shape(part: Part) -> Document:
    """Return the solid that a plan's part is; nothing where it is a drawing.

    Its points are not kept: a proof reads them from the solid anew.

    Parameters
    ----------
    part : Part
    """
    if part.solid is None:
        return {}
    return {
        "solid": {"height_mm": part.solid.height_mm, "volume_mm3": part.solid.volume_mm3},
    }


def splits_shape(claim: Claim) -> list[Document]:
    """Return the walls of a claim that are made in two cuts.

    Parameters
    ----------
    claim : Claim
    """
    drawn = {c.id: c.contour for c in claim.contours}
    return [
        {
            "first_id": split.first_id,
            "second_id": split.second_id,
            "first": split.first.value,
            "second": split.second.value,
            "edge_mm": split.edge_mm,
            "land_at_top": split.land_at_top,
            "height_mm": split.height_mm,
            "slope": split.slope,
            "angle_deg": math.degrees(math.atan(split.slope)),
            "vertices": drawn[split.second_id].vertices.tolist(),
        }
        for split in claim.splits
    ]


def split_from(row: Mapping[str, Any]) -> tuple[SplitWall, Contour]:
    """Return a wall made in two cuts, and the contour of the second, from their document.

    Parameters
    ----------
    row : mapping
    """
    split = SplitWall(
        first_id=str(row["first_id"]),
        second_id=str(row["second_id"]),
        second=WallPart(row["second"]),
        edge_mm=float(row["edge_mm"]),
        land_at_top=bool(row["land_at_top"]),
        height_mm=float(row["height_mm"]),
        slope=float(row["slope"]),
    )
    return split, Contour.from_rows(row["vertices"])


def _wall_shape(shape: LeaningShape) -> Document:
    match shape:
        case TaperedWall():
            return {
                "kind": "tapered",
                "angle_deg": math.degrees(math.atan(abs(shape.rise))),
                "rise": shape.rise,
                "reference_mm": shape.reference_mm,
                "constant_keys": sorted(shape.constant_keys),
                "vertices": shape.contour.vertices.tolist(),
            }
        case VariedWall():
            return {
                "kind": "varied",
                "begins": list(shape.begins),
                "ends": list(shape.ends),
                "rounds": sorted(shape.rounds),
                "constant_arcs": sorted(shape.constant_arcs),
                "reference_mm": shape.reference_mm,
                "vertices": shape.contour.vertices.tolist(),
            }
        case PairedWall():
            return {
                "kind": "paired",
                "lower": shape.lower.vertices.tolist(),
                "upper": shape.upper.vertices.tolist(),
                "lower_mm": shape.ruled.lower_mm,
                "upper_mm": shape.ruled.upper_mm,
                "ruled_lower": _rows(shape.ruled.lower),
                "ruled_upper": _rows(shape.ruled.upper),
            }


def _rows(side: Segments) -> list[list[float]]:
    rows: list[list[float]] = np.column_stack([side.start, side.bulge]).tolist()
    return rows


def walls_from(document: Mapping[str, Any]) -> dict[str, Any]:
    """Return the leaning walls of a plan document as fields of a claim.

    Parameters
    ----------
    document : mapping
        A plan; one without walls has none.
    """
    rows = document.get("walls") or []
    return {
        "walls": {str(row["contour_id"]): _wall(row) for row in rows},
        "lean_allowance_um": {str(r["contour_id"]): float(r["allowance_um"]) for r in rows},
    }


def _wall(row: Mapping[str, Any]) -> LeaningShape:
    if row["kind"] == "tapered":
        return TaperedWall(
            contour=Contour.from_rows(row["vertices"]),
            rise=float(row["rise"]),
            reference_mm=float(row["reference_mm"]),
            constant_keys=frozenset(int(k) for k in row["constant_keys"]),
        )
    if row["kind"] == "varied":
        return VariedWall(
            contour=Contour.from_rows(row["vertices"]),
            begins=tuple(float(v) for v in row["begins"]),
            ends=tuple(float(v) for v in row["ends"]),
            rounds=frozenset(int(k) for k in row["rounds"]),
            constant_arcs=frozenset(int(k) for k in row["constant_arcs"]),
            reference_mm=float(row["reference_mm"]),
        )
    return PairedWall(
        lower=Contour.from_rows(row["lower"]),
        upper=Contour.from_rows(row["upper"]),
        ruled=RuledWall(
            lower=_side(row["ruled_lower"]),
            upper=_side(row["ruled_upper"]),
            lower_mm=float(row["lower_mm"]),
            upper_mm=float(row["upper_mm"]),
        ),
    )


def _side(rows: list[list[float]]) -> Segments:
    table = np.array(rows, dtype=np.float64)
    return Segments.from_ends(table[:, :2], np.roll(table[:, :2], -1, axis=0), table[:, 2])
