"""The way back from a plan's JSON: contours, machine and what a program is checked against."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from kerfwright.adapters.json_shapes import PLAN_FORMAT, PLAN_VERSION
from kerfwright.adapters.lean_shapes import split_from, walls_from
from kerfwright.adapters.table_files import numbers_of
from kerfwright.app.plan_job import TAB_SHARE
from kerfwright.foundation.errors import InputError
from kerfwright.geometry.contour import Contour
from kerfwright.proof.records import Claim, StartPlace
from kerfwright.proof.slack import proof_tolerance_um
from kerfwright.trade.clamps import Clamps
from kerfwright.trade.machine import ArcForm, Dialect, Machine, OffsetForm, Tilt
from kerfwright.trade.part import LengthUnit, PartContour, Role, RoleFrom
from kerfwright.trade.walls import SplitWall

_MOST = 1e12
"""Of any number of a plan: what is larger is no length, feed or weight, and no sum may run over."""


def contours_from(document: Mapping[str, Any]) -> tuple[PartContour, ...]:
    """Return the contours of a plan document, vertex for vertex.

    Raises
    ------
    InputError
        If the document is not a plan of this version, or a contour has another shape.
    """
    _expect(document, PLAN_FORMAT, PLAN_VERSION)
    try:
        return tuple(
            PartContour(
                id=str(c["id"]),
                role=Role(c["kind"]),
                contour=Contour.from_rows(c["vertices"]),
                layer=str(c["layer"]),
                entities=tuple(str(e) for e in c["entities"]),
                parent_id=c["parent_id"],
                role_from=RoleFrom(c.get("kind_from", RoleFrom.DRAWING)),
                is_cut=bool(c.get("is_cut", True)),
            )
            for c in document["contours"]
        )
    except (KeyError, TypeError, ValueError, IndexError) as fault:
        raise _broken(fault) from fault


def claim_from(document: Mapping[str, Any]) -> Claim:
    """Return what a plan document says a program must do.

    Raises
    ------
    InputError
        If the document is not a plan of this version or lacks a field.
    """
    contours = contours_from(document)
    if document.get("proof_tolerance_um") is None:
        raise InputError(
            "this job was refused before there was a program to prove",
            code="job-refused",
            remedy="Mend what its findings name and plan it again.",
        )
    try:
        wanted, passes = document["requirement"], document["passes"]
        radius_mm = float(document["wire_diameter_mm"]) / 2
        starts: Sequence[Mapping[str, Any]] = document["start_holes"]
        machine = machine_from(document["machine"])
        splits, seconds = _seconds(document, contours)
        return Claim(
            contours=(*contours, *seconds),
            cut_ids=frozenset(str(s["contour_id"]) for s in starts) | {c.id for c in seconds},
            splits=splits,
            kerf_radius_mm={
                int(p["number"]): radius_mm + float(p["gap_um"]) / 1000.0 for p in passes
            },
            height_mm=float(document["height_mm"]),
            density_kg_per_m3=float(wanted["density_kg_per_m3"]),
            starts=tuple(
                StartPlace(
                    x_mm=float(s["x_mm"]),
                    y_mm=float(s["y_mm"]),
                    diameter_mm=float(s["diameter_mm"]),
                )
                for s in starts
                if s.get("kind") != "channel"
            ),
            stock=_contour(document["stock"]),
            machine=machine,
            wire_diameter_mm=float(document["wire_diameter_mm"]),
            # Worked out again: a document must not be able to widen it.
            tolerance_um=proof_tolerance_um(machine),
            min_tab_mm={
                str(t["contour_id"]): TAB_SHARE * float(t["width_mm"]) for t in document["tabs"]
            },
            coreless_ids=frozenset(str(c["contour_id"]) for c in document.get("coreless", ())),
            scrap_mm=float(document.get("scrap_mm", 0.0)),
            strings=tuple(
                tuple(str(name) for name in s["contour_ids"]) for s in document.get("strings", ())
            ),
            string_neck_mm=float(document.get("string_neck_mm", 0.0)),
            string_frame_mm=float(document.get("string_frame_mm", 0.0)),
            clamps=_clamps(document),
            **_planned_cuts(document),
            **walls_from(document),
        )
    except (KeyError, TypeError, ValueError, IndexError) as fault:
        raise _broken(fault) from fault


def _seconds(
    document: Mapping[str, Any], contours: Sequence[PartContour]
) -> tuple[tuple[SplitWall, ...], tuple[PartContour, ...]]:
    """Return the walls made in two cuts, and the contours of the second."""
    made = [split_from(row) for row in document.get("splits", ())]
    drawn = {c.id: c for c in contours}
    seconds = [replace(drawn[s.first_id], id=s.second_id, contour=wall) for s, wall in made]
    return tuple(split for split, _ in made), tuple(seconds)


def _planned_cuts(document: Mapping[str, Any]) -> dict[str, Any]:
    """Return the passes of each contour, with offset, feed and condition of each."""
    passes: Sequence[Mapping[str, Any]] = document["passes"]
    rough = {str(f["contour_id"]): f for f in document["flushing"]}
    # Plans made before stretches beside the edge had a feed of their own have one for all.
    rough_factor = {
        name: float(f.get("along_factor", f["rate_factor"])) for name, f in rough.items()
    }
    tapers: Mapping[str, float] = document.get("taper_factors", {})
    # Plans made before the lift of the mouths was counted have one factor for all passes.
    rough_tapers: Mapping[str, float] = document.get("rough_taper_factors", tapers)
    leaning = {str(w["contour_id"]) for w in document.get("walls", ())}
    # A leaning wire has one feed, which is that beside the edge where any of its path runs there.
    beside = {name: f for name, f in rough.items() if f.get("beside") or name in leaning}
    numbers: dict[str, tuple[int, ...]] = {}
    offset_mm, feed_mm_per_min, condition = {}, {}, {}
    edge_feed_mm_per_min = {}
    for own in document["contour_passes"]:
        name, offsets = str(own["contour_id"]), own["offsets_mm"]
        feeds = own["feeds_mm_per_min"]
        mine = passes[int(own.get("first_pass", 1)) - 1 :][: len(offsets)]
        numbers[name] = tuple(int(p["number"]) for p in mine)
        for p, offset, feed in zip(mine, offsets, feeds, strict=True):
            key = name, int(p["number"])
            factor = rough_factor[name] if p["kind"] == "rough" else 1.0
            taper = float((rough_tapers if p["kind"] == "rough" else tapers).get(name, 1.0))
            factor *= taper
            offset_mm[key] = float(offset)
            feed_mm_per_min[key] = float(feed) * factor
            condition[key] = int(p["number"])
            if p["kind"] == "rough" and name in beside:
                factor = float(beside[name].get("beside_factor", rough_factor[name])) * taper
                edge_feed_mm_per_min[key] = float(feed) * factor
    reaches = [float(f.get("edge_reach_mm", 0.0)) for f in beside.values()]
    return {
        "pass_numbers": numbers,
        "offset_mm": offset_mm,
        "feed_mm_per_min": feed_mm_per_min,
        "condition": condition,
        "edge_feed_mm_per_min": edge_feed_mm_per_min,
        "edge_reach_mm": max(reaches, default=0.0),
    }


def machine_from(document: Mapping[str, Any]) -> Machine:
    """Return the machine that a plan was made for."""
    dialect = dict(document["dialect"])
    dialect |= {
        "unit": LengthUnit(dialect["unit"]),
        "arc_form": ArcForm(dialect["arc_form"]),
        "offset_form": OffsetForm(dialect["offset_form"]),
    }
    plain_fields = {k: v for k, v in document.items() if k not in {"dialect", "tilt"}}
    tilt = document.get("tilt")
    plain_fields["tilt"] = Tilt(**tilt) if tilt else None
    plain_fields["wire_diameters_mm"] = tuple(plain_fields["wire_diameters_mm"])
    return Machine(**plain_fields, dialect=Dialect(**dialect))


def _contour(document: Mapping[str, Any] | None) -> Contour | None:
    if document is None:
        return None
    return Contour.from_rows(document["vertices"], is_closed=bool(document["closed"]))


def _clamps(document: Mapping[str, Any]) -> Clamps | None:
    found = document.get("clamps")
    if found is None:
        return None
    zones = tuple(Contour.from_rows(z["vertices"]) for z in found["zones"])
    return Clamps(zones=zones, reach_mm=float(found["reach_mm"]))


def _expect(document: Mapping[str, Any], name: str, version: int) -> None:
    found = document.get("format"), document.get("version")
    if found != (name, version):
        raise InputError(
            f"expected {name} version {version}, found {found[0]} version {found[1]}",
            code="json-format",
            remedy="Make the job anew with this version of kerfwright.",
        )
    for key, value in numbers_of(document):
        if not abs(value) <= _MOST:
            raise InputError(
                f"the plan cannot be read: {key} is {value!r}",
                code="json-broken",
                remedy="Make the job anew; plan.json is not meant to be edited.",
            )


def _broken(fault: Exception) -> InputError:
    return InputError(
        f"the plan cannot be read: {type(fault).__name__} {fault}",
        code="json-broken",
        remedy="Make the job anew; plan.json is not meant to be edited.",
    )
