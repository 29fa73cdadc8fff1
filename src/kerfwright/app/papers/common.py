"""What several papers share: their kinds, their heading, their digests, and why there is none."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from kerfwright.app.records import JobResult
from kerfwright.app.requirements import ZONE_OFF_THE_LINE
from kerfwright.foundation.errors import InputError
from kerfwright.foundation.findings import Finding, Severity
from kerfwright.trade.part import LengthUnit
from kerfwright.trade.requirement import Demand
from kerfwright.trade.stack import Stack


class PaperKind(StrEnum):
    """A paper by the one who reads it."""

    QUOTE = "quote"
    """The customer."""
    SET_UP = "set-up"
    """The operator of the wire machine."""
    INSPECTION = "inspection"
    """The inspector, and with his figures the customer."""
    HOLES = "holes"
    """Who drills the start holes."""
    PATH = "path"
    """Not a paper: the path of the wire centre as SVG and DXF."""


CONTRADICTED: Final = "dimension-contradicts-line"
"""Code of the warning that a dimension writes another size than is drawn; ``data`` has both, mm."""
ASKS_CLOSER: Final = "drawing-asks-closer"
"""Code of the warning that the drawing asks closer than the job; ``data`` has both, µm."""
ASKS_OFF_THE_LINE: Final = "drawing-asks-off-the-line"
"""Code of the warning that limits of the drawing do not lie about the drawn line, and the plan
holds close about that line; ``data`` has ``half_um`` and ``shift_um`` of each wall."""
OTHER_MATERIAL: Final = "drawing-asks-other-material"
"""Code of the warning that the drawing writes another material than the job asks."""
OTHER_HEIGHT: Final = "drawing-asks-other-height"
"""Code of the warning that the drawing writes another thickness; ``data`` has both, mm."""
OTHER_QUANTITY: Final = "drawing-asks-other-quantity"
"""Code of the note that no price is made for as many pieces as the drawing writes."""
ASKS_OTHER: Final = frozenset({OTHER_MATERIAL, OTHER_HEIGHT, OTHER_QUANTITY})
NOT_UNDERSTOOD: Final = "drawing-text-not-understood"
"""Code of the finding that words at a contour were not understood."""
FRAME_NOT_PLANNED: Final = "tolerance-frame-not-planned"
"""Code of the warning that a geometrical tolerance is shown only."""
HOLES_CONTRADICTED: Final = "hole-callout-contradicts-drawing"
"""Code of the warning that another number of holes is named than is drawn."""
NO_RECAST: Final = "drawing-allows-no-recast"
"""Code of the warning that the drawing allows no recast layer at all, which no wire cut keeps."""
NOT_PLANNED: Final = frozenset({NOT_UNDERSTOOD, FRAME_NOT_PLANNED, HOLES_CONTRADICTED, NO_RECAST})
"""What the drawing asks, maybe, and nobody planned or priced."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Heading:
    """What identifies the job on every paper.

    Attributes
    ----------
    drawing, revision, customer, reference, due : str
        ``drawing`` is the file's name without its folder; the others are empty where nothing was
        said.
    material : str
    height_mm : float
    unit : LengthUnit
        Of the drawing.
    drawing_sha256 : str
    stack : Stack or None
        Sheets cut at once; the height is then that of the stack.
    """

    drawing: str
    revision: str
    customer: str
    reference: str
    due: str
    material: str
    height_mm: float
    unit: LengthUnit
    drawing_sha256: str
    stack: Stack | None = None

    @property
    def piece_mm(self) -> float:
        """Thickness of one piece: what the customer asked for, however it is cut."""
        return self.height_mm if self.stack is None else self.stack.sheet_mm


@dataclass(frozen=True, slots=True, kw_only=True)
class Digests:
    """SHA-256 of the files that a paper goes with; empty where there is no such file.

    Attributes
    ----------
    drawing, job, plan, program, proof : str
    """

    drawing: str
    job: str
    plan: str
    program: str
    proof: str


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnDemand:
    """What is asked of some contours only.

    Attributes
    ----------
    contour_ids : tuple of str
    demand : Demand
    tolerance_said : str
        The tolerance as it was written, where its zone does not lie about the drawn line; or
        empty.
    """

    contour_ids: tuple[str, ...]
    demand: Demand
    tolerance_said: str = ""


def own_demands(result: JobResult) -> tuple[OwnDemand, ...]:
    """Return the demands on contours that are not those of the job."""
    usual = result.requirement.demand
    zones = zones_off_the_line(result)
    found = []
    for demand, group in result.plan.contours_by_demand():
        by_words: dict[str, list[str]] = {}
        for c in group:
            zone = zones.get(c.target.id)
            by_words.setdefault(zone.said if zone else "", []).append(c.target.id)
        found += [
            OwnDemand(contour_ids=tuple(ids), demand=demand, tolerance_said=said)
            for said, ids in by_words.items()
            if demand != usual or said
        ]
    return tuple(found)


@dataclass(frozen=True, slots=True, kw_only=True)
class ZoneOffTheLine:
    """A zone of each wall whose middle is not the drawn line.

    Attributes
    ----------
    said : str
        As it was written.
    shift_um : float
        Middle of the zone, above 0 for a larger size, whose two walls each have it.
    """

    said: str
    shift_um: float


def zones_off_the_line(result: JobResult) -> dict[str | None, ZoneOffTheLine]:
    """Return such zones by contour; under None that of the job."""
    return {
        f.where.contour_id: ZoneOffTheLine(
            said=str(f.data["said"]), shift_um=float(f.data["shift_um"])
        )
        for f in result.findings
        if f.code == ZONE_OFF_THE_LINE
    }


def heading_of(result: JobResult) -> Heading:
    """Return the heading of a job's papers."""
    request, part = result.request, result.part
    return Heading(
        drawing=part.name,
        revision=request.revision or "",
        customer=request.customer or "",
        reference=request.reference or "",
        due=request.due or "",
        material=result.requirement.material.name,
        height_mm=result.requirement.height_mm,
        stack=result.requirement.stack,
        unit=part.drawing_unit,
        drawing_sha256=part.sha256,
    )


def refusals(result: JobResult) -> tuple[Finding, ...]:
    """Return the refusals of a job, each once."""
    found = (f for f in result.findings if f.severity is Severity.REFUSAL)
    return tuple({(f.code, f.message, str(f.where)): f for f in found}.values())


def no_program(result: JobResult) -> InputError:
    """Return why a job has no papers: nothing of it passed its proof.

    Parameters
    ----------
    result : JobResult
        Without a program.
    """
    why = refusals(result)
    said = " ".join(f.message for f in why[:_MOST_SAID])
    more = f" And {len(why) - _MOST_SAID} more." if len(why) > _MOST_SAID else ""
    return InputError(
        f"There is no proved program for what is asked now, so there are no papers. {said}{more}",
        code="not-proved",
        remedy=why[0].remedy if why else "Mend what the findings name.",
    )


_MOST_SAID = 2
"""So many refusals are said in full; the others stand among the findings."""


def left_out_ids(result: JobResult) -> tuple[str, ...]:
    """Return the contours of the drawing that the plan does not cut."""
    planned = {c.target.id for c in result.plan.contours}
    return tuple(c.id for c in result.part.to_cut if c.id not in planned)
