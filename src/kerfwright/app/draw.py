"""Drawings made from words: gears, bores, slots, polygons, punch and die, scaled contours.

A size with a fit is drawn at the middle of its limits, for a wall is cut to the drawn line.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial
from types import MappingProxyType
from typing import Final

from kerfwright.foundation.errors import InputError
from kerfwright.foundation.findings import Finding, Severity
from kerfwright.foundation.units import MM_PER_INCH, UM_PER_MM, length_mm, number, tolerance
from kerfwright.geometry.contour import Contour
from kerfwright.profiles import mating, plain
from kerfwright.profiles.gear_data import Gear
from kerfwright.profiles.gear_outline import GearOutline, gear_outline
from kerfwright.trade.fits import FitTable, looks_like_fit, read_fit
from kerfwright.trade.part import LayerUse, Part, Role

SIZE_FORMS: Final = "8mm, 0.5in, '8 H7' or '8mm +0.02/-0mm'"
SHARE_FORMS: Final = "6% or 0.06"

_PROFILE, _BORE, _OPENING = "PROFILE", "BORE", "OPENING"
_TOLERANCED: Final = re.compile(r"(?P<size>[^±+]*?[^±+\s-])\s*(?P<zone>[±+-].*)")


@dataclass(frozen=True, slots=True, kw_only=True)
class Size:
    """A size as it is drawn.

    Attributes
    ----------
    said : str
    mm : float
        Middle of the limits, or the size itself where no limits were given.
    nominal_mm : float
    limits_mm : tuple of float, or None
    """

    said: str
    mm: float
    nominal_mm: float
    limits_mm: tuple[float, float] | None

    @property
    def wall_um(self) -> float | None:
        """What each of the two walls may be off, µm to either side, where there are limits."""
        if self.limits_mm is None:
            return None
        low, high = self.limits_mm
        return (high - low) / 4 * UM_PER_MM

    @property
    def note(self) -> str:
        """What the drawing says of it, empty without limits."""
        if self.limits_mm is None:
            return ""
        low, high = self.limits_mm
        return f"{self.said} = {low:.4f} to {high:.4f} mm, drawn at the middle, {self.mm:.4f} mm"


def size(text: str, *, fits: FitTable, what: str) -> Size:
    """Read a size: alone, with a fit of ISO 286, or with its limits.

    Raises
    ------
    InputError
        As the readers of lengths, tolerances and fits.
    RangeError
        As :func:`~kerfwright.trade.fits.read_fit`.
    """
    said = " ".join(text.split())
    if looks_like_fit(said):
        fit = read_fit(said, table=fits)
        low, high = fit.limits_mm
        return Size(
            said=said, mm=(low + high) / 2, nominal_mm=fit.nominal_mm, limits_mm=(low, high)
        )
    parts = _TOLERANCED.fullmatch(said)
    if parts is None:
        alone_mm = length_mm(said, what=what)
        return Size(said=said, mm=alone_mm, nominal_mm=alone_mm, limits_mm=None)
    nominal_mm = length_mm(parts["size"], what=what)
    zone = tolerance(parts["zone"], what=f"the limits of {what}")
    middle_mm = nominal_mm + zone.shift_um / UM_PER_MM
    half_mm = zone.half_um / UM_PER_MM
    limits_mm = (middle_mm - half_mm, middle_mm + half_mm)
    return Size(said=said, mm=middle_mm, nominal_mm=nominal_mm, limits_mm=limits_mm)


def share(text: str, *, what: str) -> float:
    """Read a share: ``6%`` or ``0.06``.

    Raises
    ------
    InputError
        Code ``number-unreadable`` and the like.
    """
    said = text.strip()
    if said.endswith("%"):
        return number(said[:-1].strip(), what=what) / 100
    return number(said, what=what)


@dataclass(frozen=True, slots=True, kw_only=True)
class Layer:
    """Contours of one layer of a drawing.

    Attributes
    ----------
    name : str
    use : LayerUse
    contours : tuple of Contour
        Closed, mm.
    """

    name: str
    use: LayerUse
    contours: tuple[Contour, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """A drawing made from words.

    Attributes
    ----------
    title : str
    layers : tuple of Layer
    facts : tuple of tuple of str
        Name and value of each size, in both the report and the drawing.
    findings : tuple of Finding
        What to mind.
    walls_um : mapping of str to float
        What the limits of sizes leave to the walls of a contour, µm to either side, by the name
        that the contour has when the drawing is read.
    """

    title: str
    layers: tuple[Layer, ...]
    facts: tuple[tuple[str, str], ...]
    findings: tuple[Finding, ...] = ()
    walls_um: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))


def _walls(name: str, sizes: Iterable[Size | None]) -> Mapping[str, float]:
    found = [one.wall_um for one in sizes if one is not None and one.wall_um is not None]
    return {name: min(found)} if found else {}


@dataclass(frozen=True, slots=True, kw_only=True)
class Hub:
    """What is cut in the middle of a wheel: a bore, perhaps with a keyway."""

    bore: Size
    key_width: Size | None = None
    across: Size | None = None

    def contour(self) -> Contour:
        """Return the bore.

        Raises
        ------
        InputError
            Code ``profile-size``; ``keyway-half`` where only one size of a keyway is given.
        """
        if (self.key_width is None) != (self.across is None):
            missing = "across" if self.across is None else "width"
            raise InputError(
                f"a keyway has a width and a size across to the wall opposite; the {missing} is "
                "missing.",
                code="keyway-half",
            )
        if self.key_width is None or self.across is None:
            return plain.bore(self.bore.mm)
        return plain.bore(self.bore.mm, key_width_mm=self.key_width.mm, across_mm=self.across.mm)

    @property
    def walls_um(self) -> Mapping[str, float]:
        """What its limits leave to its walls, as :attr:`Made.walls_um`."""
        return _walls("H1", (self.bore, self.key_width, self.across))

    def facts(self) -> tuple[tuple[str, str], ...]:
        """Return its sizes."""
        named = (
            ("bore", self.bore), ("keyway, width", self.key_width),
            ("keyway, to the wall opposite", self.across),
        )  # fmt: skip
        return tuple((name, s.note or f"{s.mm:.4f} mm") for name, s in named if s is not None)


def _length(value_mm: float, *, in_inches: bool = False) -> str:
    mm = f"{value_mm:.4f} mm"
    return f"{value_mm / MM_PER_INCH:.5f} in ({mm})" if in_inches else mm


def gear_drawing(
    gear: Gear,
    *,
    hub: Hub | None = None,
    rim_mm: float | None = None,
    span_teeth: int | None = None,
    pin_mm: float | None = None,
    in_inches: bool = False,
) -> Made:
    """Draw a spur gear with the sizes by which it is inspected.

    Parameters
    ----------
    gear : Gear
    hub : Hub, optional
        Of an outside gear.
    rim_mm : float, optional
        Outside diameter of a ring with inside teeth; without it only the teeth are drawn, as an
        opening.
    span_teeth : int, optional
        Teeth to measure over; the usual number if None.
    pin_mm : float, optional
        Diameter of the pins to measure over; the usual one if None.
    in_inches : bool
        Whether sizes are written in inches too.

    Raises
    ------
    InputError, RangeError
        As the gear and its outline; ``gear-hub`` where bore or rim cut into the teeth.
    """
    outline = gear_outline(gear)
    layers = [
        Layer(
            name=_OPENING if gear.is_internal else _PROFILE,
            use=LayerUse.OPENING if gear.is_internal else LayerUse.OUTLINE,
            contours=(outline.contour,),
        )
    ]
    write = partial(_length, in_inches=in_inches)
    facts = _gear_facts(gear, outline, write)
    if not gear.is_internal:
        teeth = span_teeth or gear.usual_span_teeth
        if span_teeth or teeth <= gear.teeth // 2:
            facts.append((f"span over {teeth} teeth", write(gear.span_mm(teeth))))
    pin_mm = gear.usual_pin_mm if pin_mm is None else pin_mm
    between = "between" if gear.is_internal else "over"
    facts.append((f"{between} pins of {write(pin_mm)}", write(gear.over_pins_mm(pin_mm))))
    if hub is not None:
        bored = hub.contour()
        reach_mm = max(abs(v) for v in bored.bounds_mm)
        if gear.is_internal or 2 * reach_mm >= gear.root_mm:
            _no_room(f"the bore reaches {2 * reach_mm:.4g} mm", f"{gear.root_mm:.4g} mm")
        layers.append(Layer(name=_BORE, use=LayerUse.OPENING, contours=(bored,)))
        facts += hub.facts()
    if rim_mm is not None:
        if not gear.is_internal or rim_mm <= gear.root_mm:
            _no_room(f"the rim has {rim_mm:.4g} mm", f"{gear.root_mm:.4g} mm")
        rim = Contour.circle((0.0, 0.0), radius_mm=rim_mm / 2)
        layers.append(Layer(name=_PROFILE, use=LayerUse.OUTLINE, contours=(rim,)))
        facts.append(("rim", write(rim_mm)))
    size_said = (
        f"diametral pitch {MM_PER_INCH / gear.module_mm:.6g}"
        if in_inches
        else f"module {gear.module_mm:g} mm"
    )
    kind = "internal gear" if gear.is_internal else "spur gear"
    return Made(
        title=f"{kind}, {gear.teeth} teeth, {size_said}",
        layers=tuple(layers),
        facts=tuple(facts),
        findings=_undercut(outline.form_mm) if outline.is_undercut else (),
        walls_um=hub.walls_um if hub is not None else {},
    )


def _gear_facts(
    gear: Gear, outline: GearOutline, write: Callable[[float], str]
) -> list[tuple[str, str]]:
    between = "space" if gear.is_internal else "tooth"
    pitch = MM_PER_INCH / gear.module_mm
    return [
        ("module", f"{gear.module_mm:.6g} mm (diametral pitch {pitch:.6g})"),
        ("teeth", f"{gear.teeth}"),
        ("pressure angle", f"{gear.pressure_angle_deg:g}°"),
        ("profile shift", f"{gear.shift:+g} modules" if gear.shift else "none"),
        ("reference diameter", write(gear.reference_mm)),
        ("base diameter", write(gear.base_mm)),
        ("tip diameter", write(gear.tip_mm)),
        ("root diameter", write(gear.root_mm)),
        ("involute from", write(outline.form_mm)),
        (f"{between} on the reference circle", write(gear.reference_thickness_mm)),
        ("tightest radius at the root", write(outline.tightest_mm)),
    ]


def _undercut(form_mm: float) -> tuple[Finding, ...]:
    return (
        Finding(
            code="gear-undercut",
            severity=Severity.NOTE,
            message="The rack that such teeth are made with undercuts them; the drawing shows it, "
            f"and the involute begins on a circle of {form_mm:.4f} mm.",
            remedy="Ask whether the mating gear was made for that; a larger profile shift avoids "
            "it.",
        ),
    )


def _no_room(said: str, root: str) -> None:
    raise InputError(f"{said}, the root circle {root}.", code="gear-hub")


def bore_drawing(hub: Hub) -> Made:
    """Draw a bore, with its keyway."""
    what = "bore with a keyway" if hub.key_width else "bore"
    layer = Layer(name=_OPENING, use=LayerUse.OPENING, contours=(hub.contour(),))
    return Made(title=what, layers=(layer,), facts=hub.facts(), walls_um=hub.walls_um)


def shape_drawing(
    title: str, contour: Contour, sizes: Sequence[tuple[str, Size]], *, is_opening: bool
) -> Made:
    """Draw one plain contour."""
    layer = Layer(
        name=_OPENING if is_opening else _PROFILE,
        use=LayerUse.OPENING if is_opening else LayerUse.OUTLINE,
        contours=(contour,),
    )
    facts = tuple((name, s.note or f"{s.mm:.4f} mm") for name, s in sizes)
    walls_um = _walls("H1" if is_opening else "P1", (s for _, s in sizes))
    return Made(title=title, layers=(layer,), facts=facts, walls_um=walls_um)


@dataclass(frozen=True, slots=True, kw_only=True)
class Pair:
    """Punches and die openings of one sheet part."""

    punch: Made
    die: Made


def punch_and_die(part: Part, *, sheet_mm: float, clearance_share: float) -> Pair:
    """Draw punches and die openings of a sheet part.

    What is blanked takes its size from the die, what is pierced from the punch (common practice,
    no source): outlines are die openings as drawn and punches smaller by the clearance, openings
    are punches as drawn and die openings larger by it.

    Parameters
    ----------
    part : Part
    sheet_mm : float
        Thickness of the sheet, mm.
    clearance_share : float
        Of one side, as a share of the thickness.

    Raises
    ------
    InputError
        Code ``clearance-range``, ``clearance-closes`` or ``no-contours``.
    """
    gap_mm = mating.clearance_mm(sheet_mm, clearance_share)
    contours = [one for one in part.contours if one.is_cut]
    if not contours:
        raise InputError(f"{part.name} has no closed contour.", code="no-contours")
    punches, openings = [], []
    for one in contours:
        moved = mating.into_the_metal(one.contour, gap_mm, name=one.id)
        is_blank = one.role is Role.OUTLINE
        punches.append(_counter_clockwise(moved if is_blank else one.contour))
        openings.append(_counter_clockwise(one.contour if is_blank else moved))
    facts = (
        ("sheet", f"{sheet_mm:g} mm"),
        ("clearance to each side", f"{gap_mm:.4f} mm, {100 * clearance_share:g} % of the sheet"),
        ("as drawn", "the die of outlines, the punch of openings"),
    )
    return Pair(
        punch=_of_pair("punch", part, punches, facts, LayerUse.OUTLINE),
        die=_of_pair("die", part, openings, facts, LayerUse.OPENING),
    )


def _of_pair(
    kind: str,
    part: Part,
    contours: Sequence[Contour],
    facts: tuple[tuple[str, str], ...],
    use: LayerUse,
) -> Made:
    layer = Layer(name=kind.upper(), use=use, contours=tuple(contours))
    return Made(title=f"{kind} for {part.name}", layers=(layer,), facts=facts)


def _counter_clockwise(contour: Contour) -> Contour:
    return contour if contour.area_mm2 > 0 else contour.reversed()


def scaled(part: Part, *, factor: float, why: str) -> Made:
    """Draw the contours of a part larger or smaller about the origin.

    Raises
    ------
    InputError
        Code ``scale-range`` or ``no-contours``.
    """
    if not 0.01 <= factor <= 100:
        raise InputError(f"a scale of {factor:g} is not between 0.01 and 100.", code="scale-range")
    contours = [one for one in part.contours if one.is_cut]
    if not contours:
        raise InputError(f"{part.name} has no closed contour.", code="no-contours")
    layers = []
    for role, name, use in (
        (Role.OUTLINE, _PROFILE, LayerUse.OUTLINE),
        (Role.OPENING, _OPENING, LayerUse.OPENING),
    ):
        found = tuple(one.contour.transformed(scale=factor) for one in contours if one.role is role)
        if found:
            layers.append(Layer(name=name, use=use, contours=found))
    return Made(
        title=f"{part.name} times {factor:.6g}",
        layers=tuple(layers),
        facts=(("scale", f"{factor:.6f}, {why}"),),
    )
