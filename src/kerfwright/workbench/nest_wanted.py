"""The request of a nest that a page wants."""

from __future__ import annotations

from kerfwright.adapters.machines import load_machine
from kerfwright.adapters.tables import load_tables
from kerfwright.app import nest, nest_wishes
from kerfwright.app.clamp_zones import zone
from kerfwright.app.nest_wishes import NestRequest
from kerfwright.foundation.errors import InputError
from kerfwright.workbench.desk import Desk
from kerfwright.workbench.nest_shapes import NestWanted
from kerfwright.workbench.nest_tasks import PartToLay


def request_of(wanted: NestWanted, desk: Desk) -> tuple[NestRequest, tuple[PartToLay, ...]]:
    """Return the request of a nest and its parts, every text held to what can be read.

    Raises
    ------
    KerfwrightError
        If a job is not there or named twice, or a text cannot be read.
    """
    jobs = [one.job for one in wanted.parts]
    twice = next((job for job in jobs if jobs.count(job) > 1), None)
    if twice is not None:
        raise InputError(
            f"{twice} is named twice", code="nest-part-twice", remedy="Give it one quantity."
        )
    found = [desk.folder.read(job) for job in jobs]
    request = NestRequest(
        parts=tuple(
            (desk.folder.drawing_of(enquiry), one.quantity)
            for enquiry, one in zip(found, wanted.parts, strict=True)
        ),
        part_turns={},
        layer_uses={},
        sheets=tuple(wanted.sheets),
        thickness=wanted.thickness,
        material=wanted.material,
        wire=wanted.wire or None,
        web=wanted.web or None,
        frame=wanted.frame or None,
        clamps=tuple(wanted.clamps),
        want=wanted.want,
        budget_s=wanted.seconds,
        seed=wanted.seed,
        fills_openings=wanted.fills_openings,
        tables=desk.tables,
    )
    for text in wanted.sheets:
        nest_wishes.sheet_size(nest_wishes.with_count(text, what="sheet")[0])
    for text in wanted.clamps:
        zone(text)
    tables = load_tables(request.tables)
    kerf = nest.kerf_of(
        request,
        catalogue=tables.catalogue,
        technology=tables.technology,
        machine=load_machine(None),
    )
    nest.room_of(request, kerf, rules=tables.rules)
    turns = tuple(one.turns for one in wanted.parts)
    parts = tuple(
        PartToLay(job=e.id, sha256=e.drawing_sha256, asked=dict(e.asked), turns=t)
        for e, t in zip(found, turns, strict=True)
    )
    return request, parts
