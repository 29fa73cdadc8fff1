"""What the proof takes and what it says."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from types import MappingProxyType

from kerfwright.foundation.findings import Finding
from kerfwright.geometry.contour import Contour
from kerfwright.trade.clamps import Clamps
from kerfwright.trade.machine import Machine
from kerfwright.trade.part import PartContour
from kerfwright.trade.solids import SolidSpots
from kerfwright.trade.walls import LeaningShape, SplitWall

ContourPass = tuple[str, int]
"""Id of a contour and number of one of its passes."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StartPlace:
    """A place at which the wire may be threaded: a hole, or the edge of the stock.

    Attributes
    ----------
    x_mm, y_mm : float
    diameter_mm : float
        0 at an edge.
    """

    x_mm: float
    y_mm: float
    diameter_mm: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Claim:
    """What a program is to be checked against; nothing here comes from the planner's path.

    What maker and judge share is written here and nowhere else.  From the drawing and the process
    tables: the contours, the kerf of each pass.  Decisions of the planner, which the program must
    keep and which the proof can only test for sense: the start places (refused where they touch
    the part), the outline of the stock, and which passes each contour has, with offset, feed and
    condition of each.  A gap that is wrong in the tables is wrong for both; only a measured cut
    shows it.

    Attributes
    ----------
    contours : tuple of PartContour
        Every closed contour of the drawing, material on the left of travel.
    cut_ids : frozenset of str
        Those the program is expected to cut; the others must only stay whole.
    kerf_radius_mm : mapping of int to float
        For each pass number, wire radius plus spark gap: how far the pass takes metal from the
        wire centre.  The gap comes of the power condition, so it is that of the pass in every
        contour.
    height_mm, density_kg_per_m3 : float
    starts : tuple of StartPlace
    stock : Contour or None
    machine : Machine
    wire_diameter_mm : float
    tolerance_um : float
        Largest gouge or leftover that passes.
    pass_numbers : mapping of str to tuple of int
        For each contour, the passes it is to be cut in, these and no others.  A contour that is
        not there has all that have a kerf radius.
    offset_mm : mapping of (str, int) to float
        For each contour and pass, wire centre to wall.  Empty where nobody states it: then a
        header's word is taken, and must be the same in all headers of one pass of one contour.
    feed_mm_per_min : mapping of (str, int) to float
        For each contour and pass, feed along the wall.  Empty where nobody states it.
    edge_feed_mm_per_min : mapping of (str, int) to float
        For each contour and pass that runs beside the edge of the stock, its feed there.
    edge_reach_mm : float
        Nearer than this to the edge of the stock counts as beside it.
    condition : mapping of (str, int) to int
        For each contour and pass, number of its power condition.  Empty where nobody states it:
        then every cut of a pass must have the same.
    min_tab_mm : mapping of str to float
        For each contour, least bridge that the rough pass must leave.  Empty where nobody states
        it.
    coreless_ids : frozenset of str
        Openings whose rough pass is to leave nothing inside.
    scrap_mm : float
        No wider piece may come free in it.
    strings : tuple of tuple of str
        Outlines that are roughed one after the other, in this order, with the wire threaded once.
    string_neck_mm, string_frame_mm : float
        Least metal on which a tab of theirs hangs, and least frame between their kerfs and the
        edge of the stock.
    walls : mapping of str to TaperedWall or PairedWall
        For each contour that leans, its wall; `contours` then holds what is drawn.
    splits : tuple of SplitWall
        Walls made in two cuts, each a contour of its own here: at which heights which stands.
    clamps : Clamps or None
        What no nozzle may come to, cutting or on its way; None where nobody says it.
    lean_allowance_um : mapping of str to float
        For each of these, what its straight moves and its warp may take or leave beyond
        `tolerance_um`: decided by the planner, judged by the person who reads the plan.
    solid : tuple of SolidSpots
        Where the part is a solid: points of its own surface, read from it and from no contour.
    solid_slack_um : mapping of str to float
        For each contour, by how much its lines may leave the solid.
    """

    contours: tuple[PartContour, ...]
    cut_ids: frozenset[str]
    kerf_radius_mm: Mapping[int, float]
    height_mm: float
    density_kg_per_m3: float
    starts: tuple[StartPlace, ...]
    stock: Contour | None
    machine: Machine
    wire_diameter_mm: float
    tolerance_um: float
    pass_numbers: Mapping[str, tuple[int, ...]] = field(
        default_factory=lambda: MappingProxyType({})
    )
    offset_mm: Mapping[ContourPass, float] = field(default_factory=lambda: MappingProxyType({}))
    feed_mm_per_min: Mapping[ContourPass, float] = field(
        default_factory=lambda: MappingProxyType({})
    )
    edge_feed_mm_per_min: Mapping[ContourPass, float] = field(
        default_factory=lambda: MappingProxyType({})
    )
    edge_reach_mm: float = 0.0
    condition: Mapping[ContourPass, int] = field(default_factory=lambda: MappingProxyType({}))
    min_tab_mm: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))
    coreless_ids: frozenset[str] = frozenset()
    scrap_mm: float = 0.0
    strings: tuple[tuple[str, ...], ...] = ()
    string_neck_mm: float = 0.0
    string_frame_mm: float = 0.0
    walls: Mapping[str, LeaningShape] = field(default_factory=lambda: MappingProxyType({}))
    splits: tuple[SplitWall, ...] = ()
    lean_allowance_um: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))
    clamps: Clamps | None = None
    solid: tuple[SolidSpots, ...] = ()
    solid_slack_um: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))

    def passes_of(self, contour_id: str) -> tuple[int, ...]:
        """Return the numbers of the passes that a contour is to be cut in, ascending."""
        return tuple(sorted(self.pass_numbers.get(contour_id, self.kerf_radius_mm)))

    def stands_mm(self, contour_id: str) -> tuple[float, float]:
        """Return the heights between which a contour is the wall of the part."""
        for split in self.splits:
            if contour_id in split.ids:
                return split.stands_mm(contour_id)
        return 0.0, self.height_mm


class EventKind(StrEnum):
    """What happens in the course of a program."""

    THREAD = "thread"
    STOP = "stop"
    PIECE_FREE = "piece-free"
    WIRE_CUT = "wire-cut"


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """Something that happens at a line of the program.

    Attributes
    ----------
    kind : EventKind
    line : int
        Line of the NC text, from 1.
    time_s : float
        From the start of the program, at programmed feeds.
    x_mm, y_mm : float
    contour_id : str or None
    mass_kg : float or None
        Of a piece that comes free.
    is_attended : bool
        Whether a programmed stop comes between the last unattended stretch and this event.
    message : str
    """

    kind: EventKind
    line: int
    time_s: float
    x_mm: float
    y_mm: float
    contour_id: str | None
    mass_kg: float | None
    is_attended: bool
    message: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Deviation:
    """The wall of one contour against the drawing after the last pass.

    Attributes
    ----------
    contour_id : str
    max_gouge_um, max_leftover_um : float
        Largest cut into the part, and largest stock left where the wire could reach; ≥ 0.
    gouge_at_mm, leftover_at_mm : (x, y) or None
    mean_um : float
        Mean signed deviation, positive where stock is left.
    """

    contour_id: str
    max_gouge_um: float
    max_leftover_um: float
    gouge_at_mm: tuple[float, float] | None
    leftover_at_mm: tuple[float, float] | None
    mean_um: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Unreachable:
    """A place of the wall that no wire of this kerf can reach.

    Attributes
    ----------
    contour_id : str
    x_mm, y_mm : float
        Where most stock is left.
    leftover_um : float
    length_mm : float
        Length of wall affected.
    """

    contour_id: str
    x_mm: float
    y_mm: float
    leftover_um: float
    length_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class HeightDeviation:
    """The wall of one contour against what is wanted after the last pass, at one height.

    Attributes
    ----------
    contour_id : str
        Of a wall made in two cuts, the name of the cut that makes this height.
    height_mm : float
        Above the underside.
    max_gouge_um, max_leftover_um : float
        Normal to the wall, ≥ 0.
    """

    contour_id: str
    height_mm: float
    max_gouge_um: float
    max_leftover_um: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LeanProof:
    """How the wire leaned in a program.

    Attributes
    ----------
    heights_mm : tuple of float
        Heights at which the walls were compared.
    planes_mm : (float, float)
        Heights of the planes of X Y and of U V, as the program sets them.
    max_angle_deg, max_u_mm, max_v_mm : float
        Greatest angle to the vertical, and travel of the upper guide from above the lower.
    by_height : tuple of HeightDeviation
        Walls that lean, and lands, at every height at which they were compared.
    """

    heights_mm: tuple[float, ...]
    planes_mm: tuple[float, float]
    max_angle_deg: float
    max_u_mm: float
    max_v_mm: float
    by_height: tuple[HeightDeviation, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Proof:
    """The verdict on a program.

    Attributes
    ----------
    passed : bool
        True only if no finding is a refusal.
    max_gouge_um, max_leftover_um : float
        Over all contours, to 0.1 µm.
    deviations : tuple of Deviation
    unreachable : tuple of Unreachable
    events : tuple of Event
    findings : tuple of Finding
    cutting_time_s : float
        At programmed feeds.
    path_length_mm : float
    samples : int
        Points at which the wall and the path were compared.
    program_sha256 : str
    leaning : LeanProof or None
        None where the wire stays upright.
    solid : tuple of HeightDeviation
        Each wall against the solid itself, at every height at which it was cut; empty where the
        part is no solid.
    """

    passed: bool
    max_gouge_um: float
    max_leftover_um: float
    deviations: tuple[Deviation, ...]
    unreachable: tuple[Unreachable, ...]
    events: tuple[Event, ...]
    findings: tuple[Finding, ...]
    cutting_time_s: float
    path_length_mm: float
    samples: int
    program_sha256: str
    leaning: LeanProof | None = None
    solid: tuple[HeightDeviation, ...] = ()
