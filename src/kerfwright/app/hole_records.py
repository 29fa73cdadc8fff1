"""What a person asks for of small holes, and what comes back."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from kerfwright.app.given import Forms, settle
from kerfwright.costing.records import Estimate
from kerfwright.foundation.findings import Finding, Severity
from kerfwright.planning.hole_plan import HolePlan
from kerfwright.proof.hole_records import HoleClaim, HoleProof
from kerfwright.trade.part import LengthUnit

_FORMS = Forms(
    paths=("source", "tables", "kept_tables", "kept_machine"),
    texts=(
        "material", "height", "tolerance", "position", "recast", "diameters", "centre", "clear",
        "machine", "customer", "reference", "revision", "due",
    ),
    kinds={"units": LengthUnit},
    needed=("source",),
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class HoleRequest:
    """A job of small holes as a person writes it; texts carry their units.

    A path may be given as its text, a unit as its word.

    Attributes
    ----------
    source : Path
        Drawing (``.dxf``), table (``.csv``), pattern (``.toml``) or the folder of a wire job.
    material, height : str or None
        A wire job gives its own.
    tolerance, position, recast : str or None
        For holes that do not say otherwise.
    diameters : str or None
        Circles of a drawing that are holes: ``0.3mm..3mm``.
    layers : tuple of str
        Of a drawing.
    centre : str or None
        Where the axes of turning cross: ``0mm,0mm,40mm``.
    clear : str or None
        Of the tube above the work between holes.
    quantities : tuple of int
    machine : str or None
        Name of a shipped definition or path of a file.
    units : LengthUnit or None
        Of a drawing that does not say.
    tables : Path or None
    kept_tables, kept_machine : Path or None
        Files of the figures that a job was planned with.
    customer, reference, revision, due : str or None
        For the papers only.
    """

    source: Path
    material: str | None = None
    height: str | None = None
    tolerance: str | None = None
    position: str | None = None
    recast: str | None = None
    diameters: str | None = None
    layers: tuple[str, ...] = ()
    centre: str | None = None
    clear: str | None = None
    quantities: tuple[int, ...] = (1,)
    machine: str | None = None
    units: LengthUnit | None = None
    tables: Path | None = None
    kept_tables: Path | None = None
    kept_machine: Path | None = None
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


@dataclass(frozen=True, slots=True, kw_only=True)
class HoleResult:
    """Everything computed for a job of small holes; later steps are None where one refused.

    Attributes
    ----------
    request : HoleRequest
    plan : HolePlan
    program : str or None
        None where a refusal concerns the whole job or the proof failed.
    withheld_program : str or None
        The program that failed its proof, for looking at; never to be run.
    claim : HoleClaim or None
    proof : HoleProof or None
    estimate : Estimate or None
    findings : tuple of Finding
        Of source, plan and proof together.
    """

    request: HoleRequest
    plan: HolePlan
    program: str | None
    withheld_program: str | None
    claim: HoleClaim | None
    proof: HoleProof | None
    estimate: Estimate | None
    findings: tuple[Finding, ...]

    @property
    def is_refused(self) -> bool:
        """Whether any finding is a refusal."""
        return any(f.severity is Severity.REFUSAL for f in self.findings)
