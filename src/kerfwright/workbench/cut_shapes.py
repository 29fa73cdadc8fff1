"""Documents of a shown cut and of reasons, made in the worker that computed them."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Any, Final

from kerfwright.adapters.json_shapes import finding_shape, plain
from kerfwright.adapters.papers.words import Units, in_unit, names_of
from kerfwright.app.papers.same_remarks import mark_of_alike
from kerfwright.app.records import JobResult
from kerfwright.app.share_words import share_words
from kerfwright.app.shown_cut import ShownCut
from kerfwright.app.sure_words import range_why
from kerfwright.foundation.answers import Answer
from kerfwright.foundation.findings import Finding
from kerfwright.trade.part import LengthUnit
from kerfwright.workbench.page_words import on_page
from kerfwright.workbench.space_documents import space_shape

Document = dict[str, Any]
INCHES: Final = Units(unit=LengthUnit.INCH)
_LAYER: Final = re.compile(r"\blayer ([^,]+)")
"""A layer may be called as a length is."""
_MOST_WORST: Final = 40
"""Places that are listed; the map shows all."""


def verdict_shape(result: JobResult, shown: ShownCut | None, *, files: Iterable[str]) -> Document:
    """Return what came of writing and proving the program."""
    proof, claim = result.proof, result.claim
    return {
        "gouge_um": plain(proof.max_gouge_um) if proof else None,
        "leftover_um": plain(proof.max_leftover_um) if proof else None,
        "lines": len(result.program.splitlines()) if result.program else 0,
        "findings": findings_shape(proof.findings, by="proof") if proof else [],
        "files": list(files),
        "passes_um": claim.tolerance_um if claim else None,
        "program_sha256": proof.program_sha256 if proof else "",
        "pieces": _pieces(shown) if shown else [],
        "contours": list(shown.deviations.contour_ids) if shown else [],
        "leaning": [] if shown is None else list(shown.leaning),
        "asked_um": _asked(result),
        "space": space_shape(shown.space) if shown and shown.space else None,
        "worst": [plain(one) for one in shown.deviations.worst[:_MOST_WORST]] if shown else [],
    }


def findings_shape(findings: Iterable[Finding], *, by: str) -> list[Document]:
    """Return findings, each with the key of its reason, and in inches as the papers say them."""
    return [
        finding_shape(one)
        | {
            "remedy": on_page(one.remedy),
            "why": f"{by} {number} {one.code.replace('-', ' ')}",
            "message_inch": in_unit(one.message, INCHES, kept=names_of(one)),
            "alike": mark_of_alike(one),
            "remedy_inch": in_unit(on_page(one.remedy), INCHES, kept=names_of(one)),
        }
        for number, one in enumerate(findings, start=1)
    ]


def reasons_shape(answers: Iterable[Answer]) -> dict[str, Document]:
    """Return reasons by key: the place of the number, else its title."""
    return {one.path or one.title: _reason(one) for one in answers}


def _reason(answer: Answer) -> Document:
    reason = answer.reason
    return {
        "title": answer.title,
        "quantity": reason.quantity,
        "value": plain(reason.value),
        "formula": reason.formula,
        "inputs": plain(reason.inputs),
        "in_inches": _in_inches(reason.formula, *(said for _, said in reason.inputs)),
        "source": str(reason.source),
        "range": plain(reason.range),
        "range_why": range_why(reason),
        "shares": [[share_words(name), plain(share)] for name, share in reason.shares],
    }


def _in_inches(*said: object) -> Document:
    """Return the texts that hold lengths, each with those in inches alone."""
    texts = [one for one in said if isinstance(one, str)]
    found = {one: in_unit(one, INCHES, kept=_LAYER.findall(one)) for one in texts}
    return {one: inch for one, inch in found.items() if inch != one}


def _asked(result: JobResult) -> dict[str, float]:
    """Return the tolerance asked of each contour, where one is."""
    wanted = result.requirement
    found = {}
    for one in result.part.contours:
        own = wanted.contours.get(one.id)
        asked = wanted.tolerance_um if own is None or own.tolerance_um is None else own.tolerance_um
        if asked is not None:
            found[one.id] = asked
    return found


def _pieces(shown: ShownCut) -> list[Document]:
    found, chain = [], 0
    for one in shown.pieces:
        event = one.piece.event
        end = chain + 1 + len(one.piece.holes_mm)
        found.append(
            {
                "contour_id": event.contour_id,
                "minute": one.minute,
                "line": event.line,
                "mass_kg": event.mass_kg,
                "is_attended": event.is_attended,
                "is_heavy": one.is_heavy,
                "caution": one.caution,
                "message": event.message,
                "x_mm": event.x_mm,
                "y_mm": event.y_mm,
                "first_chain": chain,
                "end_chain": end,
            }
        )
        chain = end
    return found
