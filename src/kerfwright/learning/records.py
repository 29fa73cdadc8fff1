"""Measured cuts and the rules by which they are weighed."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from types import MappingProxyType
from typing import Final, NamedTuple

from kerfwright.foundation.errors import InputError
from kerfwright.foundation.sources import Source
from kerfwright.process.feed_spread import Beyond
from kerfwright.process.technology import Flushing
from kerfwright.trade.machine import Machine
from kerfwright.trade.material import Material, Wire

SIZE_ERROR_IS: Final = (
    "where this pass should leave it (the stock left for its skims is no error), on one side, "
    "+ is more metal"
)
"""What a size error is measured from, the same words wherever one is asked for or refused."""


class Measure(StrEnum):
    """What is learned."""

    FEED = "feed"
    RA = "ra"
    SIZE = "size"
    WIRE = "wire"
    BREAKS = "breaks"


class Input(StrEnum):
    """What may make a cut differ from the tables."""

    MACHINE = "machine"
    FAMILY = "family"
    MATERIAL = "material"
    WIRE = "wire"
    HEIGHT = "height"
    PASS = "pass"  # noqa: S105 a pass of the wire
    COMBINATION = "combination"
    """Machine, material, wire and pass together, beyond what each brings alone."""
    JOB = "job"
    """Water, clamping, operator and batch: what the cuts of one job share."""
    CUT = "cut"
    """From cut to cut within a job."""


CROSSED = (
    Input.MACHINE,
    Input.FAMILY,
    Input.MATERIAL,
    Input.WIRE,
    Input.HEIGHT,
    Input.PASS,
    Input.COMBINATION,
)
"""Inputs that a later cut may share with the measured ones."""


class Told(NamedTuple):
    """An effect whose spread the tables tell, beside those of the inputs.

    Attributes
    ----------
    what : str
        Whose share it counts as: an input, or the nozzles.
    level : str
        Cuts with the same one share it.
    step : float
        How many times it counts in the cut.
    variance : float
        Of the effect before any cut, in the tables' sigmas.
    """

    what: str
    level: str
    step: float = 1.0
    variance: float = 1.0


def told_beyond(beyond: Sequence[Beyond], *, unit_log: float) -> tuple[Told, ...]:
    """Return what makes a feed less sure than in routine work, as learning has it.

    Parameters
    ----------
    beyond : sequence of Beyond
    unit_log : float
        Standard deviation of the logarithm of the feed in routine work.
    """
    return tuple(Told(one.what, one.level, step=one.sigma_log / unit_log) for one in beyond)


def nozzle_level(state: str) -> str:
    """Name the level of nozzles that do not close, which rough cuts under them share.

    Closed ones have none: their factor is 1 by definition.  Skims know no nozzles.
    """
    return f"nozzles {state}"


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredCut:
    """One pass along one wall, as measured at the machine.

    Attributes
    ----------
    job : str
        Name of the job; cuts of one job share its day.
    machine : Machine
    material : Material
    wire : Wire
    height_mm : float
    pass_number : int
        1 for the rough pass.
    length_mm : float
        Length cut.
    minutes : float
        Time the wire sparked.
    flushing : Flushing
    ra_um : float or None
        Measured roughness.
    size_error_um : float or None
        On one side, from where the pass should leave the wall, the stock for its skims included;
        positive for too much metal left.
    wire_kg : float or None
        Wire run off.
    breaks : int or None
        Wire breaks; None where nobody counted.
    feed_share : float
        Mean feed that the program asks for along the length over the full feed of the pass with
        the pass table's stock: below 1 where corners and small arcs are slowed or a skim takes
        more stock, 1 where nobody knows.
    guides_factor : float
        How many times as far the wire gave way as between guides close to the work: 1 where they
        were, and where nobody knows.
    note : str
        Tells apart two cuts that are alike in everything else; nothing is learned from it.
    place : str
        Where the record was read: file and line.
    is_size_confirmed : bool
        Whether a person looked the size error up and said that it is right.
    is_size_mended : bool
        Whether a person said that it was right and that its cause is gone since: nothing is learned
        from it.
    recorded, batch : str
        Of a kept cut: when, ISO 8601, and the name of its batch.
    is_sheet_confirmed : bool
        Whether a person looked the rows of its batch up and said that they are right.
    offset_set_um : float
        By how much the offset of its pass was set smaller since it was measured; below 0 for
        larger.

    Raises
    ------
    InputError
        Code ``measured-value`` if a value cannot be.
    """

    job: str
    machine: Machine
    material: Material
    wire: Wire
    height_mm: float
    pass_number: int
    length_mm: float
    minutes: float
    flushing: Flushing = Flushing.SEALED
    ra_um: float | None = None
    size_error_um: float | None = None
    wire_kg: float | None = None
    breaks: int | None = None
    feed_share: float = 1.0
    guides_factor: float = 1.0
    note: str = ""
    place: str = ""
    is_size_confirmed: bool = False
    is_size_mended: bool = False
    recorded: str = ""
    batch: str = ""
    is_sheet_confirmed: bool = False
    offset_set_um: float = 0.0

    def __post_init__(self) -> None:
        above_zero = "height_mm", "length_mm", "minutes", "ra_um", "wire_kg", "feed_share"
        for name in (*above_zero, "guides_factor"):
            value = getattr(self, name)
            if value is not None and not 0 < value < math.inf:
                raise InputError(
                    f"{name} is {value:g}; it must be above 0",
                    code="measured-value",
                    where=self.place,
                )
        if self.size_error_um is not None and not math.isfinite(self.size_error_um):
            raise InputError("size_error_um is no number", code="measured-value", where=self.place)
        for name, count, least in (("pass", self.pass_number, 1), ("breaks", self.breaks, 0)):
            if count is not None and count < least:
                raise InputError(
                    f"{name} is {count}; it must be {least} or more",
                    code="measured-value",
                    where=self.place,
                )

    @property
    def hand(self) -> str:
        """Name what wrote the row: its sheet, where nobody looked that up, or its job.

        Rows of one hand may share one slip.
        """
        return self.batch if self.batch and not self.is_sheet_confirmed else f"job {self.job}"

    @property
    def size_now_um(self) -> float | None:
        """Size error as with the offset of now; None where none counts."""
        if self.size_error_um is None or self.is_size_mended:
            return None
        return self.size_error_um - self.offset_set_um

    @property
    def feed_mm_per_min(self) -> float:
        """Mean feed."""
        return self.length_mm / self.minutes


@dataclass(frozen=True, slots=True, kw_only=True)
class LearningRules:
    """How far the tables may be off and how measured cuts are weighed.

    Attributes
    ----------
    scatter_df : float
        Degrees of freedom of Student's t from cut to cut.
    slip_share, slip_sigmas : float
        How many rows are slips of the pen, and their standard deviation about the tables in that
        of the tables.
    job_slip_share : float
        How many jobs have all their rows wrong by one and the same slip.
    sheet_slip_share : float
        How many sheets have one slip, such as a unit, in rows of several jobs; 0 in rules from
        before sheets were judged.
    settled_jobs : float
        Jobs of a level from which no single one of them decides what is expected.
    variance_scale_sigma_log : float
        How far the variances themselves may lie from their shares.
    fewest_sizes : float
        Measured sizes of a combination from which it may promise better than the tables.
    gross_size_tolerances : float
        Tolerances of its pass beyond which a size error is in question.
    size_prior_jobs : float
        Jobs that the tables' tolerance counts like; 0 in rules from before every size counted.
    size_accident_chance : float
        Share of shops whose slips are fewer than the jobs by which far sizes agree.
    far_deviations : float
        Standard deviations from what was expected at which a value is asked about.
    height_bands_mm : tuple of float
        Upper ends of the bands, ascending.
    ra_sigma_log, wire_sigma_log, breaks_sigma_log : float
    size_share_of_tolerance : float
        Standard deviation of the size error in half zones.
    breaks_per_h : float
    breaks_burst : float
        Variance of a count of breaks beyond Poisson over its mean, before the shop's own counts.
    burst_weight : float
        How many expected breaks that figure weighs as much as.
    most_burst : float
        The largest that is learned.
    shares : mapping of Measure to mapping of Input to float
        Shares of the variance; each measure's add up to 1.
    sources : mapping of str to Source
    renamed_machines : mapping of str to str
        Present name by former name of machines whose cuts go on counting for them.
    """

    scatter_df: float
    slip_share: float
    slip_sigmas: float
    job_slip_share: float
    sheet_slip_share: float
    settled_jobs: float
    variance_scale_sigma_log: float
    fewest_sizes: float
    gross_size_tolerances: float
    size_prior_jobs: float
    size_accident_chance: float
    far_deviations: float
    height_bands_mm: tuple[float, ...]
    ra_sigma_log: float
    wire_sigma_log: float
    breaks_sigma_log: float
    size_share_of_tolerance: float
    breaks_per_h: float
    breaks_burst: float
    burst_weight: float
    most_burst: float
    shares: Mapping[Measure, Mapping[Input, float]]
    sources: Mapping[str, Source]
    renamed_machines: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))

    def machine_id(self, machine: Machine) -> str:
        """Return the present name of a machine."""
        return self.renamed_machines.get(machine.id, machine.id)

    def ra_unit_log(self, fine_spark_sigma_log: float) -> float:
        """Return the standard deviation of the logarithm of a roughness before any record.

        Parameters
        ----------
        fine_spark_sigma_log : float
            What the sparks of a thin wire leave open beside.
        """
        return math.hypot(self.ra_sigma_log, fine_spark_sigma_log)

    def band(self, height_mm: float) -> str:
        """Name the height band of a height."""
        low_mm = 0.0
        for high_mm in self.height_bands_mm:
            if height_mm <= high_mm:
                return f"{low_mm:g}-{high_mm:g} mm"
            low_mm = high_mm
        return f"over {low_mm:g} mm"


_TOGETHER: Final = "together "


def combination_of(level: str) -> str:
    """Return machine, material, wire and pass of the level that they make together."""
    return level.removeprefix(_TOGETHER)


def levels(
    *,
    machine: Machine,
    material: Material,
    wire: Wire,
    height_mm: float,
    pass_number: int,
    rules: LearningRules,
) -> tuple[str, ...]:
    """Name the level of each crossed input of a cut, in the order of :data:`CROSSED`."""
    drawn = f"{wire.kind} {wire.diameter_mm:g} mm"
    passed = f"pass {pass_number}"
    machine_id = rules.machine_id(machine)
    return (
        f"machine {machine_id}",
        f"family {material.family}",
        f"material {material.id}",
        f"wire {drawn}",
        f"height {rules.band(height_mm)}",
        passed,
        f"{_TOGETHER}{machine_id} / {material.id} / {drawn} / {passed}",
    )
