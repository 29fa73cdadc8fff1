"""What a person asks for, and what comes back."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from types import MappingProxyType

from kerfwright.app.given import Forms, settle
from kerfwright.costing.records import Estimate
from kerfwright.foundation.findings import Finding, Severity
from kerfwright.motion.moves import WirePath
from kerfwright.planning.leaning import LeaningWalls
from kerfwright.planning.plan import Plan
from kerfwright.planning.rules import CornerStyle
from kerfwright.process.flushing import Bath
from kerfwright.process.technology import Flushing
from kerfwright.proof.records import Claim, Proof
from kerfwright.trade.machine import OffsetForm
from kerfwright.trade.part import ContourUse, LayerUse, LengthUnit, Part
from kerfwright.trade.requirement import Requirement
from kerfwright.trade.stack import Holding
from kerfwright.trade.strings import StringWish

_FORMS = Forms(
    paths=("drawing", "tables", "shop", "top", "kept_tables", "kept_machine"),
    texts=(
        "material", "height", "tolerance", "finish", "recast", "wire", "stock_margin", "machine",
        "upper_gap", "lower_gap", "experience", "wire_along", "clamps", "stack", "covers",
        "customer", "reference", "revision", "due",
    ),
    kinds={
        "units": LengthUnit, "offset_form": OffsetForm, "outside_corners": CornerStyle,
        "nozzles": Flushing, "bath": Bath, "strings": StringWish, "holding": Holding,
    },
    needed=(
        "drawing", "material", "height", "outside_corners", "nozzles", "bath", "strings", "holding",
    ),
    kinds_by_name={"layer_uses": LayerUse, "roles": ContourUse},
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class JobRequest:
    """A job as a person writes it; texts carry their units.

    A path may be given as its text, one of some words as that word: ``nozzles="both-open"``.

    Attributes
    ----------
    drawing : Path
    material, height : str
        The height may be left empty where the drawing is a solid, which has one.
    tolerance, finish, recast, wire, stock_margin : str or None
    quantities : tuple of int
    machine : str or None
        Name of a shipped definition or path of a file.
    units : LengthUnit or None
        Unit of the drawing where it does not say.
    layer_uses : mapping of str to LayerUse
    tables : Path or None
        Folder with the shop's own tables.
    offset_form : OffsetForm or None
        Overrides the machine definition.
    outside_corners : CornerStyle
    nozzles : Flushing
        How far the set-up lets the nozzles close on the faces.
    upper_gap, lower_gap : str or None
        From each nozzle to its face, or the height of a step in it, where it is known.
    bath : Bath
        What is around the work.
    shop : Path or None
        Folder with the shop's measured cuts and what it learned from them.
    experience : str or None
        Hash of what the shop had learned at some time, empty for nothing yet; None for what it
        knows now.
    contours : mapping of str to str
        Demands on single contours: ``{"H7": "tolerance=±0.0025 mm, finish=Ra 0.4 µm"}``; several
        ids with commas.  What is left out is the job's.
    stack : str or None
        Pieces that are cut at once, ``"8"``, or ``"auto"``; ``height`` is then that of one sheet.
    holding : Holding
        What keeps a stack together.
    covers : str or None
        Scrap sheets of a stack; without it as the rules say.
    stacks_found : mapping of int to int
        By quantity, the number in a stack that ``"auto"`` found before and that is taken as it
        was; other quantities are looked for.
    tapers : mapping of str to str
        Walls that lean: ``{"H1": "taper=1° out from top"}``; several ids with commas.
    top : Path or None
        Drawing of the top, for contours that end in another one there.
    solid : int or None
        Which solid of a STEP file that holds several, from 1.
    wire_along : str or None
        Way of the wire through a solid, in the solid's own axes: ``"z"``, ``"-x"``, ``"0 0.5 1"``.
    roles : mapping of str to ContourUse
        What single contours are, where a person says it: ``{"P2": ContourUse.NOT_CUT}``.
    starts, lead_ins, tabs : mapping of str to str
        Where a person puts start hole, lead-in or tab of a contour:
        ``{"H7": "12.5 mm, 3 mm"}``; the planner chooses the others.
    tab_widths : mapping of str to str
        How wide a person wants the tab of a contour: ``{"H7": "2 mm"}``.
    coreless : mapping of str to str
        What becomes of the inside of openings, a wish of
        :class:`kerfwright.trade.coreless.CorelessWish` by contour or for ``ALL``:
        ``{"ALL": "unattended", "H7": "never"}``.
    strings : StringWish
        Whether outlines side by side are cut with the wire threaded once.
    clamps : str or None
        Places of clamps: X, Y, width and height of each, ``"0mm,80mm,15mm,40mm"``, with ``;``
        between them.
    kept_tables, kept_machine : Path or None
        Files of the figures that a job was planned with, in place of ``tables`` and ``machine``.
    customer, reference, revision, due : str or None
        For the papers only: who asks, under which number, for which revision of the drawing, by
        when (``2026-03-31``).
    """

    drawing: Path
    material: str
    height: str
    tolerance: str | None = None
    finish: str | None = None
    recast: str | None = None
    wire: str | None = None
    stock_margin: str | None = None
    quantities: tuple[int, ...] = (1,)
    machine: str | None = None
    units: LengthUnit | None = None
    layer_uses: Mapping[str, LayerUse] = field(default_factory=lambda: MappingProxyType({}))
    tables: Path | None = None
    offset_form: OffsetForm | None = None
    outside_corners: CornerStyle = CornerStyle.ROLL
    nozzles: Flushing = Flushing.SEALED
    upper_gap: str | None = None
    lower_gap: str | None = None
    bath: Bath = Bath.SUBMERGED
    shop: Path | None = None
    experience: str | None = None
    contours: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    # Requests travel between processes, which a mapping proxy cannot.
    tapers: Mapping[str, str] = field(default_factory=dict)
    top: Path | None = None
    solid: int | None = None
    wire_along: str | None = None
    roles: Mapping[str, ContourUse] = field(default_factory=lambda: MappingProxyType({}))
    starts: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    lead_ins: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    tabs: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    tab_widths: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    coreless: Mapping[str, str] = field(default_factory=dict)
    strings: StringWish = StringWish.NEVER
    clamps: str | None = None
    kept_tables: Path | None = None
    kept_machine: Path | None = None
    stack: str | None = None
    holding: Holding = Holding.CLAMPED
    covers: str | None = None
    stacks_found: Mapping[int, int] = field(default_factory=dict)
    customer: str | None = None
    reference: str | None = None
    revision: str | None = None
    due: str | None = None

    def __post_init__(self) -> None:
        settle(self, _FORMS)

    @property
    def tables_used(self) -> Path | None:
        """Where the tables come from."""
        return self.kept_tables or self.tables

    @property
    def machine_used(self) -> str | None:
        """Where the machine definition comes from."""
        return str(self.kept_machine) if self.kept_machine else self.machine


VARYING = frozenset(
    {
        "tolerance", "finish", "recast", "wire", "height", "quantities", "contours", "starts",
        "lead_ins", "tabs", "tab_widths", "coreless", "stack", "holding", "covers", "stacks_found",
        "customer", "reference", "revision", "due",
    }
)  # fmt: skip
"""Fields of a request that may differ between plans that share a memory."""

UNSHAPING = frozenset({"material", "machine"})
"""Fields beside those on which no line hangs that plans share by their offsets."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class JobResult:
    """Everything computed for a job; later steps are None where an earlier one refused.

    Attributes
    ----------
    request : JobRequest
    part : Part
    requirement : Requirement
    plan : Plan
    path : WirePath or None
    program : str or None
        None where a refusal concerns the whole job or the proof failed.
    withheld_program : str or None
        The program that failed its proof, for looking at; never to be cut.
    claim : Claim or None
    proof : Proof or None
    estimate : Estimate or None
    findings : tuple of Finding
        Of drawing, plan and proof together.
    lean : LeaningWalls or None
        Walls that lean, where any was asked for; the contours of ``plan`` are then their sections
        of least room.
    others : tuple of JobResult
        The job planned and priced for the quantities that are cut in stacks of another number,
        see :mod:`kerfwright.app.other_stacks`; prices of ``estimate`` are theirs where they are
        of such a quantity, plan and program are those of the first quantity alone.
    """

    request: JobRequest
    part: Part
    requirement: Requirement
    plan: Plan
    path: WirePath | None
    program: str | None
    withheld_program: str | None
    claim: Claim | None
    proof: Proof | None
    estimate: Estimate | None
    findings: tuple[Finding, ...]
    lean: LeaningWalls | None = None
    others: tuple[JobResult, ...] = ()

    @property
    def stacks_found(self) -> dict[int, int]:
        """By quantity the number in a stack that was found by price; empty where it was asked."""
        stack = self.requirement.stack
        if stack is None or not stack.is_chosen or self.estimate is None:
            return {}
        return {price.quantity: price.at_once for price in self.estimate.prices}

    @property
    def is_refused(self) -> bool:
        """Whether any finding is a refusal."""
        return any(f.severity is Severity.REFUSAL for f in self.findings)
