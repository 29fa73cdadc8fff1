"""The plan: every decision between the drawing and the wire path, as records."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from kerfwright.foundation.findings import Finding
from kerfwright.geometry.contour import Contour
from kerfwright.geometry.offset import OffsetLoop
from kerfwright.geometry.segments import Floats
from kerfwright.planning.coreless_loops import Coreless
from kerfwright.planning.flushing_state import CLOSED_NOZZLES, FlushingState
from kerfwright.planning.lean_feed import UPRIGHT, LeanFeed
from kerfwright.planning.rules import PlanningRules
from kerfwright.planning.second_cut import SecondCut
from kerfwright.planning.string_plan import PartString
from kerfwright.process.experience import Loadings
from kerfwright.process.technology import Pass, PassChoice
from kerfwright.process.wire_state import WireState
from kerfwright.trade.clamps import Clamps
from kerfwright.trade.part import Part, PartContour
from kerfwright.trade.requirement import Demand, Requirement


class StartKind(StrEnum):
    """Where the wire begins."""

    DRILLED = "drilled"
    """A start hole that the plan asks to be drilled."""
    GIVEN = "given"
    """A start hole that the drawing gives."""
    EDGE = "edge"
    """In from the edge of the stock."""
    CHANNEL = "channel"
    """Along a channel from the kerf of another part, already threaded."""


class Span(StrEnum):
    """Which part of a contour a cut runs along."""

    WHOLE = "whole"
    BODY = "body"
    """All but the tab."""
    TAB = "tab"
    INSIDE = "inside"
    """All that lies inside an opening, loop by loop, and the contour last."""


class OperationKind(StrEnum):
    """What happens in one step of the job on the machine."""

    ROUGH = "rough"
    CUT_OFF = "cut-off"
    SKIM = "skim"


class RoughAttendance(StrEnum):
    """Why someone stands by while a contour is roughed."""

    NONE = "none"
    """Nobody needs to: the tab holds."""
    PIECES_COME_FREE = "pieces-come-free"
    """Start hole and rough kerf part the slug; pieces that the tab does not hold come free."""
    WEAK_TAB = "weak-tab"
    """The widest tab yields under weight and flushing, as in thin sheet."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Start:
    """Where the wire is threaded for one contour.

    Attributes
    ----------
    id : str
        ``S1``, ``S2`` … in order of use.
    contour_id : str
    kind : StartKind
    x_mm, y_mm : float
    diameter_mm : float
        0 for a start at an edge or in a channel.
    clearance_mm : float
        From the hole's edge to the nearest finished wall.
    """

    id: str
    contour_id: str
    kind: StartKind
    x_mm: float
    y_mm: float
    diameter_mm: float
    clearance_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Slug:
    """The piece that comes free when a contour closes.

    Attributes
    ----------
    is_part : bool
        True for an outline: the piece is the product.
    area_mm2, mass_kg : float
    smallest_width_mm : float
        Diameter of the largest circle inside it.
    """

    is_part: bool
    area_mm2: float
    mass_kg: float
    smallest_width_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Tab:
    """The uncut bridge that holds a piece until an attendant stands by.

    Attributes
    ----------
    start_station_mm, end_station_mm : float
        Arc length along the contour where the bridge begins and ends, in the direction of
        travel: the axis of the wire stops there.  The second is the contour's lead point, but
        where a person put the tab apart from it.
    width_mm : float
        Bridge of solid metal between the two kerf ends.
    weight_n, flushing_n : float
        Forces it was sized for.
    safety : float
        Factor on yield that it keeps in the worse of bending and shear.
    """

    start_station_mm: float
    end_station_mm: float
    width_mm: float
    weight_n: float
    flushing_n: float
    safety: float


_SAME_MM = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ContourPlan:
    """How one contour is cut.

    Attributes
    ----------
    target : PartContour
    start : Start
    lead_station_mm : float
        Arc length on the contour at which the lead-in meets the wall.
    tab : Tab or None
        None where the inside is cut away whole.
    slug : Slug
        The piece that comes free, or would.
    skims_before_cut_off : bool
        True for outlines: the part is skimmed while the frame still holds it.
    rough_attendance : RoughAttendance
        Why someone must stand by in the rough pass, if so.
    loops : tuple of OffsetLoop
        Path of the wire centre of each pass of the contour, same order as its passes and same
        sense as the contour.
    choice : PassChoice
        Wire and passes of this contour.
    unreachable : sequence of Contour
        Corners that stay uncut after the last pass.
    flushing : FlushingState
    lean : LeanFeed
        What the angle takes off the feeds where the wire leans.
    placed : tuple of str
        What stands where a person put it, in words.
    coreless : Coreless or None
        How the inside is cut away; None where a piece comes free.
    follows : SecondCut or None
        What it comes after, where it is the second cut of a wall made in two: no piece comes free
        in it, the slug is that of the first.
    """

    target: PartContour
    start: Start
    lead_station_mm: float
    tab: Tab | None
    slug: Slug
    skims_before_cut_off: bool
    rough_attendance: RoughAttendance
    loops: tuple[OffsetLoop, ...]
    unreachable: Sequence[Contour]
    choice: PassChoice
    flushing: FlushingState = CLOSED_NOZZLES
    lean: LeanFeed = UPRIGHT
    placed: tuple[str, ...] = ()
    coreless: Coreless | None = None
    follows: SecondCut | None = None

    @property
    def has_tab_apart(self) -> bool:
        """Whether the tab stands elsewhere than right behind the lead-in."""
        if self.tab is None:
            return False
        away = (self.lead_station_mm - self.tab.end_station_mm) % self.target.contour.length_mm
        return bool(_SAME_MM < away < self.target.contour.length_mm - _SAME_MM)

    @property
    def passes(self) -> tuple[Pass, ...]:
        """The passes of this contour in order of cutting, with its own offsets."""
        return self.choice.passes

    @property
    def cut_passes(self) -> tuple[Pass, ...]:
        """Those of its passes that are cut: all, but where a first cut spares the coarser ones."""
        return self.passes if self.follows is None else self.passes[self.follows.first_pass - 1 :]

    def feed_mm_per_min(self, one: Pass) -> float:
        """Return the usual feed of a pass on this contour, nozzles and lean of the wire in it.

        Away from the edge of the stock: beside it a rough pass has the feed below.
        """
        if not one.is_rough:
            return one.feed_mm_per_min * self.lean.skim_factor
        return one.feed_mm_per_min * self.flushing.along_factor * self.lean.rough_factor

    def feed_loadings(self, one: Pass) -> Loadings:
        """Return what of the spread of a feed water and lean of the wire bring, by cause."""
        if not one.is_rough:
            return self.lean.skim_loadings
        return (*self.flushing.loadings, *self.lean.rough_loadings)

    def rough_feeds_at(self, station_mm: Floats) -> Floats:
        """Return the rough feed at arc lengths of the rough path, mm/min."""
        total = self.loops[0].contour.length_mm
        feeds = np.full(len(station_mm), self.feed_mm_per_min(self.passes[0]))
        for stretch in self.flushing.beside:
            within = (station_mm - stretch.begin_mm) % total <= stretch.length_mm
            feeds[within] = self.edge_feed_mm_per_min
        return feeds

    @property
    def edge_feed_mm_per_min(self) -> float:
        """Feed of the rough pass beside the edge of the stock, most of one across it, mm/min."""
        return self.passes[0].feed_mm_per_min * self.flushing.beside_factor * self.lean.rough_factor


@dataclass(frozen=True, slots=True, kw_only=True)
class Operation:
    """One cut in order.

    Attributes
    ----------
    number : int
        From 1.
    kind : OperationKind
    contour_id : str
    pass_number : int
    span : Span
    attended : bool
    instruction : str
        What the attendant does; empty where nobody is needed.
    flushing : str
        How to set the water for this cut; no reason to stand by.
    """

    number: int
    kind: OperationKind
    contour_id: str
    pass_number: int
    span: Span
    attended: bool
    instruction: str = ""
    flushing: str = ""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Plan:
    """Everything decided for one job.

    Attributes
    ----------
    part : Part
    requirement : Requirement
    choice : PassChoice
        Wire, and passes of the contours cut that need most.
    contours : tuple of ContourPlan
        Contours that will be cut, in order of roughing.
    operations : tuple of Operation
    stock : Contour or None
        Outline of the stock, given or taken as a margin; None for openings in a plate of
        unknown size.
    rules : PlanningRules
        The rules the plan was made by; the wire path keeps to the same.
    findings : tuple of Finding
        From the drawing, feasibility, passes and planning.
    wire_states : tuple of WireState
        The wire in each pass, the rough pass at the worst place that any contour meets; empty
        where the plan was made without the constants of the wire.
    strings : tuple of PartString
        Outlines that are cut with the wire threaded once.
    seconds : tuple of ContourPlan
        Second cuts of walls made in two; `contours` has the first.
    clamps : Clamps or None
        What holds the stock, where drawing or job say it.
    """

    part: Part
    requirement: Requirement
    choice: PassChoice
    contours: tuple[ContourPlan, ...]
    operations: tuple[Operation, ...]
    stock: Contour | None
    rules: PlanningRules
    findings: tuple[Finding, ...]
    wire_states: tuple[WireState, ...] = ()
    strings: tuple[PartString, ...] = ()
    seconds: tuple[ContourPlan, ...] = ()
    clamps: Clamps | None = None

    @property
    def walls(self) -> tuple[ContourPlan, ...]:
        """All walls that are cut: the contours, and what is cut second of some."""
        return (*self.contours, *self.seconds)

    @property
    def passes(self) -> tuple[Pass, ...]:
        """The passes in order of cutting, those of the contours that need most.

        Every pass number of the job is among them.  Power condition, gap and what is left hold
        for a pass of that number in any contour; offsets are those of ``ContourPlan.passes``, and
        so are stock and feed where skims take the layer hurt before them.
        """
        return self.choice.passes

    @property
    def has_own_passes(self) -> bool:
        """Whether contours differ in their passes."""
        return any(not self.has_jobs_passes(c) for c in self.contours)

    def has_jobs_passes(self, contour: ContourPlan) -> bool:
        """Return whether a contour has just the passes of the job, with the same stock."""
        mine = tuple(p.stock_um for p in contour.passes)
        return mine == tuple(p.stock_um for p in self.passes)

    def contours_by_count(self) -> tuple[tuple[int, tuple[str, ...]], ...]:
        """Return the numbers of passes that occur, most first, each with its contours.

        A number comes twice where contours with as many passes differ in their stock.
        """
        groups: dict[tuple[float, ...], list[str]] = {}
        for c in self.contours:
            groups.setdefault(tuple(p.stock_um for p in c.passes), []).append(c.target.id)
        ordered = sorted(groups.items(), key=lambda one: (-len(one[0]), -sum(one[0])))
        return tuple((len(stock), tuple(ids)) for stock, ids in ordered)

    def contours_by_demand(self) -> tuple[tuple[Demand, tuple[ContourPlan, ...]], ...]:
        """Return what is asked, each with the contours cut of which it is asked."""
        groups: dict[Demand, list[ContourPlan]] = {}
        for c in self.contours:
            groups.setdefault(self.requirement.demand_on(c.target.id), []).append(c)
        return tuple((demand, tuple(own)) for demand, own in groups.items())

    @property
    def height_mm(self) -> float:
        """Height of the work, mm."""
        return self.requirement.height_mm
