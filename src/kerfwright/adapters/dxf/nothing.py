"""What is said of a drawing that has no lines, or none that close."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from pathlib import Path

from kerfwright.adapters.dxf.entities import Harvest
from kerfwright.foundation.errors import DrawingError
from kerfwright.foundation.findings import Finding, Severity


def no_geometry(path: Path, found: Harvest) -> DrawingError:
    """Return the refusal of a drawing without a line to cut along."""
    kinds = Counter(entry.kind for entry in found.left_out)
    listed = ", ".join(f"{n} {kind}" for kind, n in sorted(kinds.items()))
    reasons = ", ".join(sorted({entry.reason.value for entry in found.left_out}))
    paper = f"; paper space holds {found.on_paper} entities" if found.on_paper else ""
    return DrawingError(
        (
            f"the model space holds no contour lines, but {listed}"
            if listed
            else "the model space is empty"
        )
        + (f" ({reasons})" if reasons else "")
        + f"{paper}.",
        code="no-geometry",
        where=path.name,
        remedy="Draw the part with lines, arcs, circles, polylines, splines or ellipses.",
    )


def nothing_closed(path: Path, findings: Sequence[Finding], found: Harvest) -> DrawingError:
    """Return the refusal of a drawing whose lines close nowhere, by its worst findings."""
    reasons = [f for f in findings if f.severity is Severity.REFUSAL]
    reasons = reasons or [f for f in findings if f.severity is Severity.WARNING]
    said = " ".join(f"{f.message}" for f in reasons[:3])
    more = f" ({len(reasons) - 3} more.)" if len(reasons) > 3 else ""
    remedies = list(dict.fromkeys(f.remedy for f in reasons[:3] if f.remedy))
    return DrawingError(
        f"no usable closed contour can be read from {len(found.drawn)} entities. {said}{more}",
        code="no-closed-contour",
        where=f"{path.name}, {reasons[0].where}" if reasons else path.name,
        remedy=" ".join(remedies) or "Close the contours.",
    )
