"""What lies around the part on layers of their own: the edge of the stock and the clamps."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from kerfwright.adapters.dxf.shapes import Drawn
from kerfwright.adapters.dxf.strands import Strands, strands_of
from kerfwright.foundation.findings import NOWHERE, Finding, Place, Severity
from kerfwright.foundation.tolerances import Tolerances
from kerfwright.geometry.assembly import Assembly, assemble
from kerfwright.geometry.contour import Contour
from kerfwright.trade.part import LayerUse

AROUND: Final = frozenset({LayerUse.STOCK, LayerUse.CLAMP})
"""Uses of layers whose contours are no walls."""


def stock_of(
    drawn: Sequence[Drawn], *, scale: float, tolerances: Tolerances
) -> tuple[Contour | None, list[Finding]]:
    """Return the largest closed contour on the stock layer, counter-clockwise, in mm.

    Parameters
    ----------
    drawn : sequence of Drawn
        All that is drawn, whatever it is for.
    scale : float
        Millimetres for a unit of the drawing.
    tolerances : Tolerances
    """
    mine = [d for d in drawn if d.use is LayerUse.STOCK]
    if not mine:
        return None, []
    strands, assembly = _assembled(mine, scale, tolerances)
    loops = sorted(assembly.loops, key=lambda c: -abs(c.contour.area_mm2))
    findings = list(strands.findings)
    if len(loops) != 1:
        findings.append(
            Finding(
                code="stock-unclear",
                severity=Severity.WARNING,
                message=(
                    f"The stock layer holds {len(loops)} closed contours instead of 1"
                    + ("; the largest was taken." if loops else "; no stock was read.")
                ),
                where=strands.place(0) if strands.chains else NOWHERE,
                remedy="Leave one closed outline on the stock layer.",
                data={"contours": len(loops)},
            )
        )
    return (_counter_clockwise(loops[0].contour) if loops else None), findings


def clamps_of(
    drawn: Sequence[Drawn], *, scale: float, tolerances: Tolerances
) -> tuple[tuple[Contour, ...], list[Finding]]:
    """Return every closed contour on the layers of clamps, counter-clockwise, in mm.

    What is on them and does not close is refused: a nozzle would run into what nobody read.

    Parameters
    ----------
    drawn, scale, tolerances
        As of :func:`stock_of`.
    """
    mine = [d for d in drawn if d.use is LayerUse.CLAMP]
    if not mine:
        return (), []
    strands, assembly = _assembled(mine, scale, tolerances)
    closed = [c.contour for c in assembly.loops if abs(c.contour.area_mm2) > 0]
    left = [c.contour for c in assembly.open_chains]
    left += [c for network in assembly.branched for c in network.chains]
    left += [c.contour for c in assembly.loops if not abs(c.contour.area_mm2) > 0]
    layer = mine[0].layer
    points = [c.vertices[0, :2].tolist() for c in left]
    places = [
        *(Place(layer=layer, x_mm=x, y_mm=y) for x, y in points),
        *(Place(layer=entity.layer, entity=entity.name) for entity in strands.unread),
    ]
    findings = [*strands.findings, *(_not_closed(place) for place in places)]
    return tuple(_counter_clockwise(c) for c in closed), findings


def _not_closed(place: Place) -> Finding:
    return Finding(
        code="clamp-not-closed",
        severity=Severity.REFUSAL,
        message="A line on a layer of clamps does not close to an outline: where the clamp stands "
        "that it belongs to is not known.",
        where=place,
        remedy="Close the outline of each clamp by itself, or put the line on another layer.",
    )


def _assembled(
    drawn: Sequence[Drawn], scale: float, tolerances: Tolerances
) -> tuple[Strands, Assembly]:
    strands = strands_of(drawn, scale=scale, tolerances=tolerances)
    return strands, assemble(strands.chains, tolerances=tolerances)


def _counter_clockwise(contour: Contour) -> Contour:
    return contour if contour.area_mm2 > 0 else contour.reversed()
