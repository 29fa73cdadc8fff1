"""What runs in a worker process for the measured cuts of a job; answers are plain documents."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

from kerfwright.adapters.job_folder import ESTIMATE, JOB
from kerfwright.adapters.json_shapes import finding_shape, plain
from kerfwright.adapters.learning_rules import load_cut_limits, load_learning_rules
from kerfwright.app.at_machine import confirmed_words, learned_words
from kerfwright.app.record_cuts import Recorded
from kerfwright.foundation.errors import InputError
from kerfwright.foundation.findings import Severity
from kerfwright.learning.batch import CutOfJob
from kerfwright.wiring.measured import (
    at_machine,
    confirm_sizes,
    mend_sizes,
    record_cut,
    set_offset,
    take_back,
)
from kerfwright.workbench.workers import Report

Document = dict[str, Any]
_OF_CUT = (
    "pass_number", "minutes", "length_mm", "size_error_um", "ra_um", "wire_kg", "breaks", "note",
)  # fmt: skip

_BOUNDS = ("minutes", "feed_mm_per_min", "ra_um", "wire_kg", "size_error_um")


def look(place: Path, shop: Path, tables: Path | None, progress: Report) -> Document:
    """Return the passes of a job as predicted, and its measured cuts; none without a plan."""
    progress("reading the measured cuts", 0.0)
    limits = load_cut_limits(tables)
    bounds = {"bounds": {name: plain(getattr(limits, name)) for name in _BOUNDS}}
    if not _is_planned(place):
        return {"shop_folder": str(shop), "passes": [], "cuts": [], "outcomes": []} | bounds
    found = at_machine(place, shop=shop, tables=tables)
    far = load_learning_rules(tables).far_deviations
    passes = []
    for one in found.passes:
        document = plain(one) | {"wire_kg": plain(one.minutes.likely * found.wire_kg_per_min)}
        document.pop("feed_share")
        beyond = math.exp(far * one.minutes.sigma_log)
        document["believed_min"] = (one.minutes.likely / beyond, one.minutes.likely * beyond)
        document["leaves_um"] = found.leaves_um.get(one.number, (0.0, 0.0))
        passes.append(document)
    return {
        "shop_folder": str(shop),
        "passes": passes,
        "cuts": [_cut(one, found.in_question) for one in found.cuts],
        "outcomes": [plain(o) | {"is_inside": o.is_inside} for o in found.outcomes],
    } | bounds


def keep(
    texts: dict[str, str], place: Path, shop: Path, tables: Path | None, progress: Report
) -> Document:
    """Keep a cut and learn from it."""
    progress("learning from the cut", 0.0)
    if not _is_planned(place):
        raise InputError(
            "this job has no plan yet, so nothing of it was cut",
            code="job-not-planned",
            remedy="Fill in its lines and let its program be proved.",
        )
    done = record_cut(texts, job=place, shop=shop, tables=tables)
    found = _recorded(done, is_withdrawn=False)
    return found | {"desk": look(place, shop, tables, progress)}


def give_back(
    batch: str, place: Path, shop: Path, tables: Path | None, progress: Report
) -> Document:
    """Take a cut back and learn from those that are left."""
    progress("learning from the cuts that are left", 0.0)
    done = take_back(batch, job=place, shop=shop, tables=tables)
    found = _recorded(done, is_withdrawn=True)
    return found | {"desk": look(place, shop, tables, progress)}


def confirm(
    pass_number: int, place: Path, shop: Path, tables: Path | None, progress: Report
) -> Document:
    """Let the sizes of a pass of a job count that were in question."""
    progress("learning from the sizes", 0.0)
    said = f"{place.resolve().name}:{pass_number}"
    done = confirm_sizes(said, shop=shop, reason="confirmed on the page", tables=tables)
    found = _recorded(done, is_withdrawn=False) | {"sentence": plain(confirmed_words(done))}
    return found | {"desk": look(place, shop, tables, progress)}


def mend(
    reason: str,
    pass_number: int,
    place: Path,
    shop: Path,
    tables: Path | None,
    progress: Report,
) -> Document:
    """Let the sizes of a pass of a job count no more, as their cause is gone."""
    progress("learning from the sizes", 0.0)
    said = f"{place.resolve().name}:{pass_number}"
    done = mend_sizes(said, shop=shop, reason=reason, tables=tables)
    found = _recorded(done, is_withdrawn=False)
    found |= {"sentence": plain(confirmed_words(done, is_mended=True))}
    return found | {"desk": look(place, shop, tables, progress)}


def offset_set(
    said: Document, place: Path, shop: Path, tables: Path | None, progress: Report
) -> Document:
    """Count sizes from before an offset was set as with it."""
    progress("learning from the sizes", 0.0)
    done, words = set_offset(
        said["of"],
        said["by"],
        is_larger=said["way"] == "larger",
        cut_since=said["cut_since"],
        is_sure=said["is_sure"],
        reason=said["reason"],
        shop=shop,
        tables=tables,
    )
    found = _recorded(done, is_withdrawn=False)
    found |= {"sentence": plain(words)}
    return found | {"desk": look(place, shop, tables, progress)}


def _is_planned(place: Path) -> bool:
    return (place / JOB).is_file() and (place / ESTIMATE).is_file()


def _recorded(done: Recorded, *, is_withdrawn: bool) -> Document:
    asked = [f for f in done.findings if f.severity is Severity.WARNING]
    notes = [f for f in done.findings if f.severity is not Severity.WARNING]
    return {
        "batch": done.name,
        "sentence": plain(learned_words(done, is_withdrawn=is_withdrawn)),
        "questions": [finding_shape(f) for f in asked],
        "notes": [finding_shape(f) for f in notes],
    }


def _cut(one: CutOfJob, in_question: frozenset[tuple[int, float]]) -> Document:
    size = one.cut.pass_number, one.cut.size_error_um
    return {
        "batch": one.batch.name,
        "taken_back": one.batch.withdrawn,
        "is_size_in_question": not one.batch.withdrawn and size in in_question,
        "is_size_confirmed": one.cut.is_size_confirmed,
        "is_size_mended": one.cut.is_size_mended,
        **{name: plain(getattr(one.cut, name)) for name in _OF_CUT},
    }
