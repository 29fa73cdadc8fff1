"""Walls that lean: what a person asks for, and what the wall then is.

The second kind is written into the claim of a proof, so it holds what was decided and computes
nothing.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from kerfwright.foundation.errors import InputError
from kerfwright.geometry.contour import Contour
from kerfwright.geometry.ruled import RuledWall
from kerfwright.trade.part import Role


class Reference(StrEnum):
    """Where the drawn contour holds."""

    TOP = "top"
    BOTTOM = "bottom"
    HEIGHT = "height"


@dataclass(frozen=True, slots=True, kw_only=True)
class SideAngle:
    """The angle of some sides of a contour that differs from the others'.

    Attributes
    ----------
    first, last : int
        Sides from 1, in the order of travel from the contour's first point; lines and arcs count.
    begin_deg, end_deg : float
        To the vertical at the first and last point of each; between them evenly.
    widens : bool or None
        Whether they go out; None as the contour does.

    Raises
    ------
    InputError
        ``taper-value`` if the sides do not ascend or an angle is not from 0 to below 60°.
    """

    first: int
    last: int
    begin_deg: float
    end_deg: float
    widens: bool | None = None

    def __post_init__(self) -> None:
        if not 1 <= self.first <= self.last:
            raise InputError(
                f"sides count from 1 and ascend, got {self.first} to {self.last}",
                code="taper-value",
            )
        for angle in (self.begin_deg, self.end_deg):
            if not 0 <= angle < MOST_DEG:
                raise InputError(
                    f"the angle of a side is from 0 to below {MOST_DEG:g}°, got {angle:g}°",
                    code="taper-value",
                    remedy=_TO_VERTICAL,
                )


@dataclass(frozen=True, slots=True, kw_only=True)
class Taper:
    """One taper asked for a contour.

    Attributes
    ----------
    angle_deg : float
        Of the wall to the vertical, above 0.
    widens : bool
        Whether the contour encloses more the further from its reference height (out), or less
        (in).
    reference : Reference
    reference_mm : float
        Height above the underside where the reference is a height.
    upwards : bool
        Whether `widens` is meant going up; from the bottom always, from the top never.
    keeps_radius : bool
        Whether corners between two lines keep their radius at every height.
    other_corners : frozenset of int
        Numbers of the corners that do the other thing.
    sides : tuple of SideAngle
        Sides with another angle.

    Raises
    ------
    InputError
        ``taper-value`` if the angle is not between 0 and 60° or the height is below 0.
    """

    angle_deg: float
    widens: bool
    reference: Reference
    reference_mm: float = 0.0
    upwards: bool = True
    keeps_radius: bool = False
    other_corners: frozenset[int] = frozenset()
    sides: tuple[SideAngle, ...] = ()

    def __post_init__(self) -> None:
        if not 0 < self.angle_deg < MOST_DEG:
            raise InputError(
                f"a taper is above 0 and below {MOST_DEG:g}°, got {self.angle_deg:g}°",
                code="taper-value",
                remedy=_TO_VERTICAL,
            )
        if not (self.reference_mm >= 0 and math.isfinite(self.reference_mm)):
            raise InputError(
                f"a reference height counts up from the underside, got {self.reference_mm:g} mm",
                code="taper-value",
            )

    def height_mm(self, work_mm: float) -> float:
        """Return the height at which the drawn contour holds, mm above the underside."""
        match self.reference:
            case Reference.TOP:
                return work_mm
            case Reference.BOTTOM:
                return 0.0
            case Reference.HEIGHT:
                return self.reference_mm

    def rise(self, role: Role) -> float:
        """Return how far the wall moves into the waste per mm upwards.

        The waste is inside an opening and outside an outline: an opening that widens moves its
        wall into the material.

        Examples
        --------
        A die opening that widens by 1° below its top, seen going up, comes in:

        >>> relief = Taper(angle_deg=1.0, widens=True, reference=Reference.TOP)
        >>> round(relief.rise(Role.OPENING), 6)
        0.017455
        """
        is_up = {Reference.TOP: False, Reference.BOTTOM: True}.get(self.reference, self.upwards)
        into_waste = self.widens == (role is Role.OUTLINE)
        sign = 1.0 if into_waste == is_up else -1.0
        return sign * math.tan(math.radians(self.angle_deg))


MOST_DEG = 60.0
"""Angles that no machine reaches are slips of the pen."""
_TO_VERTICAL = "Write the angle to the vertical: 1°, not 89°."


class WallPart(StrEnum):
    """Which part of a wall made in two cuts."""

    LAND = "land"
    """The straight part, at the face that works."""
    RELIEF = "relief"
    """The part that gives way to the slug."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LandAndRelief:
    """A straight land and, beyond it, relief, asked for an opening.

    Attributes
    ----------
    land_mm : float
        Height of the land.
    angle_deg : float
        Of the relief to the vertical, above 0.
    at_top : bool
        Whether the land lies at the top of the work; else at the bottom.
    first : WallPart or None
        What is cut first; None leaves it to the plan.
    full_cuts : int or None
        Whether one cut or both go through with full power; None leaves it to the plan.
    keeps_radius : bool
        Whether corners of the relief between two lines keep their radius at every height.
    other_corners : frozenset of int
        Numbers of the corners that do the other thing.

    Raises
    ------
    InputError
        ``taper-value`` if the land is not above 0.
    """

    land_mm: float
    angle_deg: float
    at_top: bool = True
    first: WallPart | None = None
    full_cuts: int | None = None
    keeps_radius: bool = False
    other_corners: frozenset[int] = frozenset()

    def __post_init__(self) -> None:
        if not (self.land_mm > 0 and math.isfinite(self.land_mm)):
            raise InputError(
                f"a land has a height above 0, got {self.land_mm:g} mm", code="taper-value"
            )

    def edge_mm(self, work_mm: float) -> float:
        """Return the height at which land and relief meet, mm above the underside.

        Examples
        --------
        >>> LandAndRelief(land_mm=3.0, angle_deg=0.5).edge_mm(20.0)
        17.0
        """
        return work_mm - self.land_mm if self.at_top else self.land_mm

    def relief(self, work_mm: float) -> Taper:
        """Return the relief as a taper through the edge of the land."""
        return Taper(
            angle_deg=self.angle_deg,
            widens=True,
            reference=Reference.HEIGHT,
            reference_mm=self.edge_mm(work_mm),
            upwards=not self.at_top,
            keeps_radius=self.keeps_radius,
            other_corners=self.other_corners,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class SplitWall:
    """A wall made in two cuts, decided: which is which, and where they meet.

    Attributes
    ----------
    first_id, second_id : str
        Names under which the two are cut; the first is that of the contour.
    second : WallPart
        What the second cut makes.
    edge_mm : float
        Height at which the two meet, above the underside.
    land_at_top : bool
    height_mm : float
        Of the work.
    slope : float
        Tangent of the angle between the two.
    """

    first_id: str
    second_id: str
    second: WallPart
    edge_mm: float
    land_at_top: bool
    height_mm: float
    slope: float

    @property
    def first(self) -> WallPart:
        """What the first cut makes."""
        return WallPart.RELIEF if self.second is WallPart.LAND else WallPart.LAND

    @property
    def ids(self) -> tuple[str, str]:
        """Both names, in the order of cutting."""
        return self.first_id, self.second_id

    def stands_mm(self, name: str) -> tuple[float, float]:
        """Return the heights between which one of the two is the wall of the part.

        Examples
        --------
        >>> wall = SplitWall(
        ...     first_id="H1", second_id="H1-LAND", second=WallPart.LAND, edge_mm=17.0,
        ...     land_at_top=True, height_mm=20.0, slope=0.01,
        ... )
        >>> wall.stands_mm("H1"), wall.stands_mm("H1-LAND")
        ((0.0, 17.0), (17.0, 20.0))
        """
        part = self.second if name == self.second_id else self.first
        if (part is WallPart.LAND) == self.land_at_top:
            return self.edge_mm, self.height_mm
        return 0.0, self.edge_mm

    @property
    def left_mm(self) -> float:
        """Most that the first cut leaves before the second's part of the wall."""
        low, high = self.stands_mm(self.second_id)
        return (high - low) * self.slope


@dataclass(frozen=True, slots=True, kw_only=True)
class Pairing:
    """Another contour at the top, asked for a contour.

    Attributes
    ----------
    top_id : str
        Id of the contour in the drawing of the top.
    how : str or None
        ``corners`` or ``length``; None leaves it to the plan.
    pairs_mm : tuple of (float, float)
        Arc lengths along both contours that belong together.
    """

    top_id: str
    how: str | None = None
    pairs_mm: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TaperedWall:
    """A wall of constant slope through a contour.

    Attributes
    ----------
    contour : Contour
        As drawn, material on the left.
    rise : float
        How far the wall moves into the waste per mm upwards.
    reference_mm : float
        Height at which the wall is the contour.
    constant_keys : frozenset of int
        Corners that keep their radius: 2 k the vertex before segment k, 2 k + 1 the arc k.
    """

    contour: Contour
    rise: float
    reference_mm: float
    constant_keys: frozenset[int]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PairedWall:
    """A wall between a contour at the underside and one at the top.

    Attributes
    ----------
    lower, upper : Contour
        As drawn, material on the left.
    ruled : RuledWall
        How they are joined.
    """

    lower: Contour
    upper: Contour
    ruled: RuledWall


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class VariedWall:
    """A wall whose slope differs from side to side of a contour.

    Attributes
    ----------
    contour : Contour
        As drawn, material on the left.
    begins, ends : tuple of float
        For each segment, how far the wall moves into the waste per mm upwards at its first and at
        its last point.
    rounds : frozenset of int
        Arcs that round a corner between two lines: they touch the walls of both.
    constant_arcs : frozenset of int
        Those that keep their radius though both sides slope alike.
    reference_mm : float
        Height at which the wall is the contour.
    """

    contour: Contour
    begins: tuple[float, ...]
    ends: tuple[float, ...]
    rounds: frozenset[int]
    constant_arcs: frozenset[int]
    reference_mm: float


LeaningShape = TaperedWall | VariedWall | PairedWall


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GivenWall:
    """A wall that a solid gives, lower and upper contour with their matching.

    Attributes
    ----------
    lower, upper : Contour
        Material on the left.
    ruled : RuledWall
        How they are joined.
    reason : str
        Where it comes from, in plain words.
    """

    lower: Contour
    upper: Contour
    ruled: RuledWall
    reason: str


WallWish = Taper | LandAndRelief | Pairing | GivenWall
"""What can be asked of a wall that leans."""
