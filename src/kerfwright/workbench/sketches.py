"""Drafts of drawings that cannot be used as they are: what is on them, and what would mend them."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from kerfwright.adapters.dxf import sketch_drawing
from kerfwright.adapters.json_shapes import plain
from kerfwright.app.enquiries import Asked
from kerfwright.app.enquiry_lines import layer_uses_of, roles_of, units_of
from kerfwright.app.ledger import ledger_of
from kerfwright.trade.drawing_files import is_solid_name
from kerfwright.trade.roles import parted
from kerfwright.workbench.binary import sketch_bytes
from kerfwright.workbench.computed import Drafted
from kerfwright.workbench.cut_shapes import findings_shape
from kerfwright.workbench.workers import Report

Document = dict[str, Any]


def sketch(asked: Asked, drawing: Path, sha256: str, progress: Report) -> Drafted:
    """Return the lines of a drawing of which no part can be made, with their findings.

    The unit of a drawing that does not say it, for one, is a line of the ledger.
    """
    progress("reading the drawing", 0.0)
    unit, uses = units_of(asked), layer_uses_of(asked)
    _, pieces = parted(roles_of(asked))
    if is_solid_name(drawing):
        return blank(asked, is_solid=True)
    found = sketch_drawing(drawing, unit=unit, layer_uses=uses, pieces_out=pieces)
    bare = blank(asked, is_solid=False)
    key = repr((sha256, unit, sorted(uses.items()), sorted(pieces)))
    # Reasons are those of a plan, and there is none.
    findings = [one | {"why": ""} for one in findings_shape(found.findings, by="finding")]
    shown = {"geometry_key": f"sketch {key}", "findings": findings}
    return Drafted(draft=bare.draft | shown, geometry=sketch_bytes(found.lines), wire=b"")


def blank(asked: Asked, *, is_solid: bool) -> Drafted:
    """Return the draft of a file that holds no drawing at all: its ledger can still be written."""
    document: Document = {
        "drawing_unit": "mm",
        "is_solid": is_solid,
        "geometry_key": "",
        "contours": [],
        "shape_key": "",
        "stock_is_drawn": False,
        "ledger": [plain(line) for line in ledger_of(asked, None, None, is_solid=is_solid)],
        "passes": [],
        "decided_by": "none",
        "wire_mm": None,
        "currency": "",
        "prices": [],
        "not_offered": "",
        "left_out": [],
        "strip": None,
        "findings": [],
        "says": [],
        "is_refused": True,
    }
    return Drafted(draft=document, geometry=b"", wire=b"")
