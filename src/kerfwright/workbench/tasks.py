"""What runs in a worker process: each task takes a request and returns shapes and bytes.

A drawing that was read stays in the memory of its worker, so that an edit of the ledger reads no
file again.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any, Final

from kerfwright.adapters.job_result import write_job
from kerfwright.adapters.json_shapes import plain
from kerfwright.adapters.owned_files import digest
from kerfwright.adapters.papers.make import Order, Papers
from kerfwright.adapters.papers.wanted import Wanted
from kerfwright.app.enquiries import CONTOUR, CORELESS, TAPER, Asked
from kerfwright.app.ledger import ledger_of
from kerfwright.app.papers.common import left_out_ids
from kerfwright.app.places import places_of, refusal_of, tab_end_of, try_place, try_width
from kerfwright.app.plan_job import Extent, is_refused_whole
from kerfwright.app.records import JobRequest, JobResult
from kerfwright.app.requirements import named_demands, read_placements
from kerfwright.app.savings_answers import savings_answers
from kerfwright.app.shown_answers import cut_answers, finding_answers
from kerfwright.app.shown_cut import ShownCut
from kerfwright.app.space_answers import space_answers
from kerfwright.app.strip import Strip
from kerfwright.foundation.errors import InputError
from kerfwright.foundation.findings import Severity
from kerfwright.foundation.places import place_mm
from kerfwright.foundation.recent import Recent
from kerfwright.foundation.units import length_mm
from kerfwright.planning.limits import Ground
from kerfwright.planning.memory import Memory
from kerfwright.planning.plan import ContourPlan
from kerfwright.trade.part import Part, PartContour
from kerfwright.trade.placement import TAB_WIDTH, Placeable, Placement
from kerfwright.trade.shapes import same_shapes, shape_key
from kerfwright.wiring import (
    answers,
    drawing_says,
    job_costs,
    job_strip,
    plan_job,
    shown_cut,
    what_if,
    why_no_what_if,
)
from kerfwright.wiring.papers import papers_as_asked
from kerfwright.wiring.placing import grounds_of
from kerfwright.wiring.stacks import sheets_of
from kerfwright.workbench.binary import (
    deviation_bytes,
    geometry_bytes,
    path_bytes,
    piece_bytes,
    wire_bytes,
)
from kerfwright.workbench.computed import Drafted, Proved
from kerfwright.workbench.cut_shapes import findings_shape, reasons_shape, verdict_shape
from kerfwright.workbench.figures import Stamp, stamp_of
from kerfwright.workbench.memories import memory_of
from kerfwright.workbench.outcome import not_offered
from kerfwright.workbench.page_words import on_page
from kerfwright.workbench.pdf_pages import page_count, page_picture  # noqa: F401 by name
from kerfwright.workbench.price_shapes import price_shapes
from kerfwright.workbench.read_parts import HowRead, read_drawn, read_part
from kerfwright.workbench.savings_shapes import nothing_shape, savings_shape
from kerfwright.workbench.says import says_shape
from kerfwright.workbench.space_binary import space_bytes, wall_bytes

Progress = Callable[[str, float], None]
Document = dict[str, Any]
_MOST_DRAFTS: Final = 24
"""Drafts kept by a worker, so that undo and redo show their price at once."""
_MOST_RESULTS: Final = 2
"""Plans kept until somebody asks for their reasons; they are larger than drafts."""
_Savings = tuple[Document, dict[str, Document]]
_grounds: Recent[tuple[str, str], Ground] = Recent(_MOST_DRAFTS)
"""Where things may stand, by draft and contour: a hand that drags asks many times a second."""
_chosen: Recent[str, Callable[[str], Ground | None]] = Recent(_MOST_RESULTS)
"""By job, what gives the ground of each of its contours."""
_drafts: Recent[str, Drafted] = Recent(_MOST_DRAFTS)
_savings: Recent[str, _Savings] = Recent(_MOST_DRAFTS)
_results: Recent[str, tuple[Part, JobResult | None]] = Recent(_MOST_RESULTS)
_whole: Recent[str, tuple[JobResult, ShownCut | None]] = Recent(_MOST_RESULTS)
"""Proved jobs of a moment ago: undo, or the same drawing in another job, finds its proof done."""


def draft(
    request: JobRequest | None,
    asked: Asked,
    drawing: Path,
    sha256: str,
    progress: Progress,
) -> Drafted:
    """Plan and price a job, or only read its drawing where the request is not complete."""
    key = _draft_key(request, asked, sha256)

    def make() -> Drafted:
        part, result = _planned(key, request, asked, drawing, sha256, progress)
        strip = job_strip(result) if result is not None else None
        geometry_key = HowRead.as_asked(asked, sha256).key
        lean = None if result is None else result.lean
        if result is not None and lean is not None:
            # The edges of a leaning wall move with its angle and with the height of the work.
            wanted = result.requirement
            shape = (geometry_key, sorted(wanted.walls.items()), wanted.height_mm)
            geometry_key = digest(repr(shape).encode())
        return Drafted(
            draft=_draft(asked, part, result, strip) | {"geometry_key": geometry_key},
            geometry=geometry_bytes(part, lean),
            wire=wire_bytes(strip.wire) if strip is not None else b"",
        )

    return _drafts.once(key, make)


def reasons(
    request: JobRequest | None,
    asked: Asked,
    drawing: Path,
    sha256: str,
    progress: Progress,
) -> dict[str, Document]:
    """Return why every number of a draft has its value, and every finding of it.

    A task of its own: the price is shown before anybody can ask for its reasons.
    """
    key = _draft_key(request, asked, sha256)
    part, result = _planned(key, request, asked, drawing, sha256, progress)
    found = answers(result) if result is not None else ()
    findings = part.findings if result is None else result.findings
    return reasons_shape((*found, *finding_answers(findings, by="finding")))


def _draft_key(request: JobRequest | None, asked: Asked, sha256: str) -> str:
    return repr((_placeless(request), sorted(asked.items()), sha256, _stamp(request)))


def job_key(request: JobRequest, sha256: str) -> str:
    """Return what all numbers of a job follow from."""
    return repr((_placeless(request), sha256, _stamp(request)))


def _placeless(request: JobRequest | None) -> JobRequest | None:
    """Return a request that two jobs with one drawing share: its folder decides no number."""
    return None if request is None else replace(request, drawing=Path(request.drawing.name))


def _planned(
    key: str,
    request: JobRequest | None,
    asked: Asked,
    drawing: Path,
    sha256: str,
    progress: Progress,
) -> tuple[Part, JobResult | None]:
    """Return the drawing of a draft and its plan, those of a moment ago where they are the same."""

    def make() -> tuple[Part, JobResult | None]:
        progress("reading the drawing", 0.0)
        part = read_drawn(drawing, HowRead.as_asked(asked, sha256))
        if request is None:
            return part, None
        memory = memory_of(request, part, _stamp(request))
        return part, plan_job(
            request, part=part, extent=Extent.PRICED, progress=progress, memory=memory
        )

    return _results.once(key, make)


def try_at(
    request: JobRequest,
    sha256: str,
    contour_id: str,
    what: str,
    place: str | tuple[float, float],
    progress: Progress,
) -> Document:
    """Hold a place of a contour to the planner's limits."""
    ground = _ground(request, sha256, contour_id, progress)
    before = read_placements(request).get(contour_id, Placement())
    if what == TAB_WIDTH:
        width = length_mm(place, what=what) if isinstance(place, str) else place
        found = try_width(ground, before, width)
    else:
        spot = place_mm(place, what=what) if isinstance(place, str) else place
        found = try_place(ground, before, Placeable(what), spot)
    document: Document = plain(found)
    document["checks"] = [
        {"limit": limit.value, "said": plain(said), "state": state}
        for limit, said, state in found.checks
    ]
    return document


def check_placed(
    request: JobRequest, sha256: str, contour_ids: tuple[str, ...], progress: Progress
) -> None:
    """Refuse places at which nothing may stand, before a job takes them.

    Raises
    ------
    InputError
        ``place-refused``, with the limit that is broken; ``not-cut`` for a contour that is not cut.
    """
    placed = read_placements(request)
    for contour_id in contour_ids:
        placement = placed.get(contour_id, Placement())
        if not placement.placed:
            continue
        refusal = refusal_of(_ground(request, sha256, contour_id, progress), placement)
        if refusal is not None:
            words, remedy = refusal
            raise InputError(
                f"the {' and '.join(placement.placed)} of {contour_id} cannot be so: {words}",
                code="place-refused",
                where=contour_id,
                remedy=f"{remedy} The line stays as it was.".strip(),
            )


def _ground(request: JobRequest, sha256: str, contour_id: str, progress: Progress) -> Ground:
    """Return the ground of a contour, that of the draft before where nothing else changed."""
    # Where things stand already does not change where they may stand.
    bare = replace(request, starts={}, lead_ins={}, tabs={}, tab_widths={})
    key = job_key(bare, sha256)

    def choose() -> Callable[[str], Ground | None]:
        progress("choosing the passes", 0.0)
        part = read_part(request, sha256)
        return grounds_of(bare, part, memory=memory_of(bare, part, _stamp(bare)))

    def make() -> Ground:
        ground = _chosen.once(key, choose)(contour_id)
        if ground is None:
            raise InputError(
                f"{contour_id} is not cut, so nothing can be placed on it", code="not-cut"
            )
        return ground

    return _grounds.once((key, contour_id), make)


def _stamp(request: JobRequest | None) -> Stamp:
    """Return when the shop's own files changed last: a draft is as old as they are."""
    if request is None:
        return ()
    machine = [] if request.machine is None else [Path(request.machine)]
    return stamp_of((request.tables, request.shop), machine)


def prove(
    request: JobRequest, folder: Path, sha256: str, asked: Asked, progress: Progress
) -> Proved:
    """Do the whole job and write its folder; returns the verdict and what can be looked at."""

    def make() -> tuple[JobResult, ShownCut | None]:
        part = read_part(request, sha256)
        done = plan_job(request, part=part, progress=progress)
        progress("measuring the wall", 1.0)
        return done, shown_cut(done)

    done, shown = _whole.once(job_key(request, sha256), make)
    result = replace(done, request=request)
    written = write_job(result, folder, asked=asked)
    verdict = verdict_shape(result, shown, files=written.files)
    proof = result.proof
    answers_found = (
        *(answers(result) if proof else ()),
        *(cut_answers(shown) if shown else ()),
        *(space_answers(shown.space) if shown and shown.space else ()),
        *(finding_answers(proof.findings, by="proof") if proof else ()),
    )
    return Proved(
        verdict=verdict | {"is_proved": result.program is not None and not written.kept_earlier},
        reasons=reasons_shape(answers_found),
        path=path_bytes(shown.path) if shown else b"",
        pieces=piece_bytes([one.piece for one in shown.pieces]) if shown else b"",
        deviations=deviation_bytes(shown.deviations) if shown else b"",
        space=space_bytes(shown.space) if shown and shown.space else b"",
        walls=wall_bytes(shown.space) if shown and shown.space else b"",
    )


def papers(
    request: JobRequest,
    folder: Path,
    sha256: str,
    wanted: Wanted,
    made_on: date,
    asked: Asked,
    progress: Progress,
) -> Papers:
    """Make the papers of a job as it is asked now, its program proved anew."""
    part = read_part(request, sha256)
    order = Order(
        paper=wanted.paper,
        unit=wanted.unit,
        number=wanted.number,
        made_on=made_on,
        asks_what_if=wanted.asks_what_if,
        shows_pages=True,
    )
    return papers_as_asked(
        request, folder, order, words=wanted.words, part=part, asked=asked, progress=progress
    )


def savings(
    request: JobRequest, sha256: str, progress: Progress
) -> tuple[Document, dict[str, Document]]:
    """Price the job with each demand changed, with reasons; of a refused one what lifts that."""

    def make() -> _Savings:
        progress("pricing the job as asked", 0.0)
        part = read_part(request, sha256)
        # For this question only: what all its alternatives need is much to keep.
        memory = Memory()
        result = plan_job(request, part=part, extent=Extent.PRICED, memory=memory)
        found = what_if(result, memory=memory, progress=progress)
        if found is None:
            return nothing_shape(result, on_page(why_no_what_if(result))), {}
        return savings_shape(found), reasons_shape(savings_answers(found))

    return _savings.once(job_key(request, sha256), make)


def _draft(asked: Asked, part: Part, result: JobResult | None, strip: Strip | None) -> Document:
    plans = {} if result is None else {c.target.id: c for c in result.plan.contours}
    findings = part.findings if result is None else result.findings
    choice = None if result is None or not result.plan.passes else result.plan.choice
    estimate = None if result is None else result.estimate
    sheets = () if result is None else sheets_of(result)
    every = (*part.contours, *part.set_aside)
    costs = {} if result is None else job_costs(result, strip)
    shapes = {c.id: n for n, alike in enumerate(same_shapes(every)) for c in alike}
    document: Document = {
        "drawing_unit": part.drawing_unit.value,
        "is_solid": part.solid is not None,
        "contours": [
            _contour(c, plans.get(c.id), asked, shapes[c.id], is_planned=result is not None)
            | _leaning(c, asked, result)
            | {"cost": plain(costs.get(c.id))}
            for c in every
        ],
        "shape_key": shape_key(sorted(every, key=lambda c: c.id)),
        "stock_is_drawn": part.stock is not None,
        "ledger": [
            plain(line)
            for line in ledger_of(
                asked, part, result, sheets=sheets, is_solid=part.solid is not None
            )
        ],
        "passes": [] if result is None else [_pass(p) for p in result.plan.passes],
        "decided_by": choice.limiting if choice else "none",
        "wire_mm": choice.wire.diameter_mm if choice else None,
        "currency": estimate.currency if estimate else "",
        "prices": [] if result is None else price_shapes(result),
        "not_offered": "",
        "left_out": [] if result is None else list(left_out_ids(result)),
        "strip": _strip(strip) if strip is not None else None,
        "findings": findings_shape(findings, by="finding"),
        "says": says_shape(drawing_says(part), asked, part),
        "is_refused": any(f.severity is Severity.REFUSAL for f in findings),
    }
    refused = result is not None and is_refused_whole(result)
    return not_offered(document, by=document["findings"]) if refused else document


def _contour(
    target: PartContour,
    planned: ContourPlan | None,
    asked: Asked,
    shape: int,
    *,
    is_planned: bool,
) -> Document:
    start = None if planned is None else planned.start
    lead_in, tab = (None, None) if planned is None else places_of(planned)
    own = asked.get(CONTOUR + target.id, "")
    return {
        "id": target.id,
        "role": target.role.value,
        "role_from": target.role_from.value,
        "use": target.use.value if target.use else None,
        "coreless": asked.get(CORELESS + target.id, ""),
        "is_coreless": planned is not None and planned.coreless is not None,
        "own": named_demands(own, target.id) if own else {},
        "shape": shape,
        "lead_in": lead_in,
        "tab": tab,
        "tab_end": tab_end_of(planned) if planned else None,
        "placed": list(planned.placed) if planned else [],
        "layer": target.layer,
        "parent_id": target.parent_id,
        "length_mm": plain(target.contour.length_mm),
        "bounds_mm": target.contour.bounds_mm,
        # Before anything is planned, nothing is refused.
        "is_cut": target.is_cut and (planned is not None or not is_planned),
        "start": (start.x_mm, start.y_mm, start.diameter_mm) if start else None,
        "tab_mm": plain(planned.tab.width_mm) if planned and planned.tab else None,
        "slug_kg": plain(planned.slug.mass_kg) if planned and planned.tab else None,
    }


def _leaning(target: PartContour, asked: Asked, result: JobResult | None) -> Document:
    """Return how a wall leans: as asked, and as it is made."""
    lean = None if result is None else result.lean
    walls = {} if lean is None else lean.of_contours
    wall = walls.get(target.id)
    return {
        "taper": asked.get(TAPER + target.id, ""),
        "leans_deg": None if wall is None else plain(wall.lean_deg),
        "leans": "" if wall is None else wall.reason,
    }


def _pass(one: Any) -> Document:
    names = ("offset_mm", "gap_um", "stock_um", "ra_um", "recast_um", "tolerance_um")
    return {
        "number": one.number,
        "kind": "rough" if one.is_rough else "skim",
        "feed_mm_per_min": plain(one.feed_range_mm_per_min),
        **{name: plain(getattr(one, name)) for name in names},
        "tolerance_range_um": plain(one.tolerance_range_um),
    }


def _strip(strip: Strip) -> Document:
    return {
        "total_min": strip.total_min,
        "attended_min": sum(s.minutes for s in strip.stretches if s.is_attended),
        "stretches": [plain(s) for s in strip.stretches],
    }
