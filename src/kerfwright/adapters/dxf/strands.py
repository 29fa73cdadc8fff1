"""From shapes in drawing units to chains of lines and arcs in millimetres."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from kerfwright.adapters.dxf.shapes import Conic, Drawn, Rows, Spline, arc_rows, curve_of, extent_of
from kerfwright.foundation.counts import counted
from kerfwright.foundation.errors import InputError, sentence
from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.foundation.tolerances import Tolerances
from kerfwright.geometry.contour import Contour
from kerfwright.geometry.curves import Curve
from kerfwright.geometry.fitting import Fit, fit_arcs
from kerfwright.geometry.segments import Floats, Segments


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Strands:
    """Chains ready to be joined, each with its entity.

    Attributes
    ----------
    chains : tuple of ((n, 3) float, bool)
        Rows x, y, bulge in mm; whether closed.
    drawn : tuple of Drawn
        Entity of each chain.
    unread : tuple of Drawn
        Entities whose numbers make no curve, each with a finding.
    findings : tuple of Finding
    """

    chains: tuple[tuple[Floats, bool], ...]
    drawn: tuple[Drawn, ...]
    unread: tuple[Drawn, ...]
    findings: tuple[Finding, ...]

    def place(self, strand: int, x_mm: float | None = None, y_mm: float | None = None) -> Place:
        """Return where a strand is; its first vertex if no point is given."""
        rows = self.chains[strand][0]
        return Place(
            x_mm=float(rows[0, 0]) if x_mm is None else x_mm,
            y_mm=float(rows[0, 1]) if y_mm is None else y_mm,
            layer=self.drawn[strand].layer,
            entity=self.drawn[strand].name,
        )


def strands_of(drawn: Sequence[Drawn], *, scale: float, tolerances: Tolerances) -> Strands:
    """Convert entities to chains; all free curves are fitted together.

    Parameters
    ----------
    drawn : sequence of Drawn
    scale : float
        Millimetres per drawing unit.
    tolerances : Tolerances
    """
    findings: list[Finding] = []
    curves: list[Curve] = []
    parts: list[list[Floats | int]] = []
    used: list[Drawn] = []
    unread: list[Drawn] = []
    for entity in drawn:
        pieces: list[Floats | int] = []
        try:
            for shape in entity.shapes:
                _add(shape, pieces, curves, scale, tolerances)
        except InputError as error:
            unread.append(entity)
            findings.append(
                Finding(
                    code="curve-unreadable",
                    severity=Severity.WARNING,
                    message=sentence(
                        f"{entity.name} is no curve and was left out: {error.message}"
                    ),
                    where=Place(layer=entity.layer, entity=entity.name),
                    remedy="Draw it again; the contour it belongs to stays open without it.",
                )
            )
            continue
        parts.append(pieces)
        used.append(entity)
    fits = fit_arcs(curves, tolerances=tolerances)
    chains = []
    for entity, pieces in zip(used, parts, strict=True):
        fitted = [p if isinstance(p, np.ndarray) else fits[p].vertices for p in pieces]
        chains.append(_joined(entity, fitted, tolerances=tolerances))
        worst = max((fits[p].deviation_mm for p in pieces if isinstance(p, int)), default=0.0)
        if worst > tolerances.fit_mm:
            findings.append(_not_fitted(entity, chains[-1][0], worst, tolerances))
    if fits:
        findings.append(_replaced(fits))
    return Strands(
        chains=tuple(chains),
        drawn=tuple(used),
        unread=tuple(unread),
        findings=tuple(findings),
    )


def _add(
    shape: Rows | Conic | Spline,
    pieces: list[Floats | int],
    curves: list[Curve],
    scale: float,
    tolerances: Tolerances,
) -> None:
    if isinstance(shape, Rows):
        pieces.append(shape.rows * (scale, scale, 1.0))
        return
    if isinstance(shape, Conic):
        rows = arc_rows(shape, scale=scale, tolerances=tolerances)
        if rows is not None:
            pieces.append(rows)
            return
    size_mm = max(extent_of(shape)) * scale
    if size_mm > _LARGEST_CURVE_MM:
        raise InputError(
            f"it spans {size_mm:.4g} mm, above the {_LARGEST_CURVE_MM:g} mm fitted",
            code="curve-too-large",
        )
    pieces.append(len(curves))
    curves.append(curve_of(shape, scale=scale))


_LARGEST_CURVE_MM = 10_000.0
"""No machine takes more; a damaged coordinate would ask for arcs without end."""


def _joined(
    entity: Drawn, parts: Sequence[Floats], *, tolerances: Tolerances
) -> tuple[Floats, bool]:
    """Put the parts of one entity in a row; a curve that returns loses its doubled end."""
    rows = np.concatenate([*(part[:-1] for part in parts[:-1]), parts[-1]])
    is_closed = entity.is_closed
    is_vertex_list = len(entity.shapes) == 1 and isinstance(entity.shapes[0], Rows)
    if is_closed and not is_vertex_list:
        is_closed = float(np.hypot(*(rows[-1, :2] - rows[0, :2]))) <= tolerances.merge_mm
        is_closed = is_closed and len(rows) > 2
        rows = rows[:-1] if is_closed else rows
    return _halved(rows, is_closed=is_closed), is_closed


def _halved(rows: Floats, *, is_closed: bool) -> Floats:
    """Cut arcs beyond half a turn in two: their short chord would carry little."""
    count = len(rows) if is_closed else len(rows) - 1
    wide = np.flatnonzero(np.abs(rows[:count, 2]) > _HALF_TURN_BULGE)
    if not len(wide):
        return rows
    ends = rows[(wide + 1) % len(rows), :2]
    segments = Segments.from_ends(rows[wide, :2], ends, rows[wide, 2])
    middle = segments.points_at(np.arange(len(wide)), np.full(len(wide), 0.5))
    bulge = np.tan(np.arctan(rows[wide, 2]) / 2)
    rows = rows.copy()
    rows[wide, 2] = bulge
    return np.insert(rows, wide + 1, np.column_stack([middle, bulge]), axis=0)


_HALF_TURN_BULGE = 1.0 + 1e-9
"""tan(180° / 4), with room for rounding."""


def _not_fitted(entity: Drawn, rows: Floats, worst_mm: float, tolerances: Tolerances) -> Finding:
    return Finding(
        code="curve-not-fitted",
        severity=Severity.WARNING,
        message=(
            f"The arcs in place of {entity.name} leave it by {worst_mm * 1000:.2f} µm, above the "
            f"{tolerances.fit_mm * 1000:g} µm allowed."
        ),
        where=Place(
            layer=entity.layer,
            entity=entity.name,
            x_mm=float(rows[0, 0]),
            y_mm=float(rows[0, 1]),
        ),
        remedy="Check the curve for a cusp or a fault.",
        data={"deviation_um": worst_mm * 1000},
    )


def _replaced(fits: Sequence[Fit]) -> Finding:
    worst_um = max(fit.deviation_mm for fit in fits) * 1000
    pieces = sum(len(fit.vertices) - 1 for fit in fits)
    return Finding(
        code="curves-replaced",
        severity=Severity.NOTE,
        message=(
            f"{counted(len(fits), 'spline or ellipse', 'splines and ellipses')} became {pieces} "
            f"lines and arcs; the largest "
            f"distance is {worst_um:.2f} µm."
        ),
        data={"curves": len(fits), "pieces": pieces, "deviation_um": worst_um},
    )


def contours_of(strands: Strands) -> tuple[Contour, ...]:
    """Return the chains as contours, for the picture."""
    return tuple(Contour(rows, closed) for rows, closed in strands.chains)
