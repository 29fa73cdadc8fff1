"""What a piece costs by the number in a stack, computed in a worker."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, Final

from kerfwright.adapters.stack_shape import curve_shape
from kerfwright.app.records import JobRequest
from kerfwright.app.solids import require_no_solid
from kerfwright.app.stack_lines import curve_answers
from kerfwright.app.stacks import shape_text, sheets_told
from kerfwright.foundation.recent import Recent
from kerfwright.wiring.stacks import stack_curve
from kerfwright.workbench.cut_shapes import reasons_shape
from kerfwright.workbench.read_parts import read_part
from kerfwright.workbench.tasks import Progress, job_key

Document = dict[str, Any]
_Curve = tuple[Document, dict[str, Document]]
_MOST_CURVES: Final = 24
_curves: Recent[tuple[str, int], _Curve] = Recent(_MOST_CURVES)
_POINT: Final = (
    *("pieces", "covers", "height_mm", "stacks", "each", "machine_minutes_each", "passes"),
    *("area_rate_mm2_per_min", "tolerance_um", "blocks"),
)


def curve(request: JobRequest, sha256: str, quantity: int, progress: Progress) -> _Curve:
    """Price a piece at every sensible number in a stack; its reasons beside it.

    Parameters
    ----------
    request : JobRequest
        The number that it asks for in a stack changes nothing here.
    sha256 : str
        Of its drawing.
    quantity : int
        Of pieces.
    progress : callable
    """
    bare = replace(request, stack=None)

    def make() -> _Curve:
        progress("reading the drawing", 0.0)
        part = read_part(request, sha256)
        require_no_solid(part)
        found = stack_curve(bare, part=part, quantity=quantity, progress=progress)
        whole = curve_shape(found)
        document = {
            "currency": found.currency,
            "quantity": found.quantity,
            "best": found.best,
            "why": list(found.why),
            "points": [{name: point[name] for name in _POINT} for point in whole["points"]],
            "sheets": [
                {"name": name, "piece": shape.piece, "said": shape_text(shape)}
                for name, shape in sheets_told(found.sheets)
            ],
        }
        return document, reasons_shape(curve_answers(found))

    return _curves.once((job_key(bare, sha256), quantity), make)
