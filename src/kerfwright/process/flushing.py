"""What a set-up of the nozzles does to the rate and to the wire, and what to do about it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from kerfwright.foundation.errors import RangeError
from kerfwright.foundation.kept import Kept
from kerfwright.foundation.sources import Reason
from kerfwright.foundation.tolerances import TINY
from kerfwright.process.flushing_law import FlushingLaw
from kerfwright.process.kerf_flow import Debris, debris_along, kerf_reynolds
from kerfwright.process.technology import Flushing

BAR_PER_MPA = 10.0
_DEBRIS: Final = Kept(most=1024)
"""Dirt by height, wire and pressures: every contour of a job is compared with closed nozzles."""


class Bath(StrEnum):
    """What is around the work."""

    SUBMERGED = "submerged"
    OPEN_AIR = "open-air"


class BreakRisk(StrEnum):
    """How likely the dirt breaks the wire, against closed nozzles."""

    USUAL = "usual"
    RAISED = "raised"
    HIGH = "high"


@dataclass(frozen=True, slots=True, kw_only=True)
class NozzleSetting:
    """How the nozzles stand to the work.

    Attributes
    ----------
    top_gap_mm, bottom_gap_mm : float
        From the mouth to the face; the height of the step where the top is stepped.
    lean_deg : float
        Lean of the wire; a mouth that leans with it lifts off on one side.
    bath : Bath

    Raises
    ------
    RangeError
        If a gap is below 0 or the lean not below 45 degrees.
    """

    top_gap_mm: float
    bottom_gap_mm: float
    lean_deg: float = 0.0
    bath: Bath = Bath.SUBMERGED

    def __post_init__(self) -> None:
        if not (
            0 <= self.top_gap_mm < math.inf
            and 0 <= self.bottom_gap_mm < math.inf
            and abs(self.lean_deg) < 45
        ):
            raise RangeError(
                f"nozzle gaps {self.top_gap_mm:g} mm and {self.bottom_gap_mm:g} mm at "
                f"{self.lean_deg:g} degrees; gaps must not be below 0, the lean below 45",
                code="nozzle-out-of-range",
            )


def setting_of(state: Flushing, *, law: FlushingLaw, bath: Bath = Bath.SUBMERGED) -> NozzleSetting:
    """Return a set-up that stands for a state: the usual gap, or the open one."""
    closed, opened = law.nozzle.usual_gap_mm, law.nozzle.open_gap_mm
    return NozzleSetting(
        top_gap_mm=closed if state is Flushing.SEALED else opened,
        bottom_gap_mm=opened if state is Flushing.BOTH_OPEN else closed,
        bath=bath,
    )


def state_of(top_gap_mm: float, bottom_gap_mm: float, *, law: FlushingLaw) -> Flushing:
    """Return the state that two gaps amount to: a nozzle closes up to ``sealed_gap_mm``."""
    is_open = [gap > law.nozzle.sealed_gap_mm for gap in (top_gap_mm, bottom_gap_mm)]
    return (Flushing.SEALED, Flushing.ONE_OPEN, Flushing.BOTH_OPEN)[sum(is_open)]


def face_gap_mm(gap_mm: float, *, lean_deg: float, law: FlushingLaw) -> float:
    """Return the mean gap round a mouth that leans with the wire: ``s + a tan(phi)``.

    Turned until its near edge stands at the set gap s, the far edge lifts by 2 a tan(phi), and
    the mean over the ring by half of that.
    """
    lift = law.nozzle.mouth_radius_mm * math.tan(math.radians(abs(lean_deg)))
    return gap_mm + lift


def face_share(gap_mm: float, *, law: FlushingLaw, lean_deg: float = 0.0) -> float:
    """Return the share of the supply pressure at the face: ``A²/(A² + (2 pi a s)²)``.

    The supply opening A and the ring that the gap s leaves round the mouth of radius a are two
    openings in series; what the ring lets out is missing at the face.  It never falls below
    what a free jet presses into the kerf.

    Parameters
    ----------
    gap_mm : float
    law : FlushingLaw
    lean_deg : float

    Raises
    ------
    RangeError
        If the gap is below 0.

    References
    ----------
    Bernoulli, equal coefficients of discharge (computed); supply opening and jet: common
    practice, no source.
    """
    if not gap_mm >= 0:
        raise RangeError(f"a nozzle gap of {gap_mm:g} mm is below 0", code="nozzle-out-of-range")
    ring = (
        2 * math.pi * law.nozzle.mouth_radius_mm * face_gap_mm(gap_mm, lean_deg=lean_deg, law=law)
    )
    supply = law.nozzle.supply_area_mm2
    return max(law.nozzle.jet_share, supply**2 / (supply**2 + ring**2))


def openness(gap_mm: float, *, law: FlushingLaw) -> float:
    """Return how far a nozzle is open by the pressure at the face, 0 closed to 1 open.

    ``(S(s_closed) - S(s)) / (S(s_closed) - S(s_open))`` with the share ``S`` of
    :func:`face_share`: from the widest gap that counts as closed to that which stands for an open
    nozzle, without a step between.

    Parameters
    ----------
    gap_mm : float
    law : FlushingLaw
    """
    closed, opened = (
        face_share(gap, law=law) for gap in (law.nozzle.sealed_gap_mm, law.nozzle.open_gap_mm)
    )
    return min(1.0, max(0.0, (closed - face_share(gap_mm, law=law)) / (closed - opened)))


def by_openness(
    gaps_mm: tuple[float, float], *, one_open: float, both_open: float, law: FlushingLaw
) -> float:
    """Return a factor between those of closed, one open and both open nozzles.

    ``f_1^max(w) (f_2/f_1)^min(w)`` with the :func:`openness` of the two: 1 with both closed, and
    neither gap raises it.

    Parameters
    ----------
    gaps_mm : (float, float)
    one_open, both_open : float
        The second no more than the first.
    law : FlushingLaw
    """
    less, more = sorted(openness(gap, law=law) for gap in gaps_mm)
    return float(one_open**more * (both_open / one_open) ** less)


@dataclass(frozen=True, slots=True, kw_only=True)
class Derating:
    """What a set-up of the nozzles does to the rough pass, against both nozzles closed.

    Attributes
    ----------
    rate_factor : float
        On the rough rate, at most 1.
    mean_ratio, worst_ratio : float
        Dirt against closed nozzles at equal feed: mean, and at the dirtiest height.
    break_term : float
        ``worst_ratio * rate_factor``: dirtiest height after the feed has been taken back.
    risk : BreakRisk
        By ``break_term``: at the feed taken back.
    risk_at_usual_feed : BreakRisk
        By ``worst_ratio``: at the feed of closed nozzles.
    worst_up_mm : float
        Dirtiest height above the lower face.
    reason : Reason
    """

    rate_factor: float
    mean_ratio: float
    worst_ratio: float
    break_term: float
    risk: BreakRisk
    risk_at_usual_feed: BreakRisk
    worst_up_mm: float
    reason: Reason


def derate(
    setting: NozzleSetting, *, height_mm: float, wire_mm: float, gap_um: float, law: FlushingLaw
) -> Derating:
    """Compute rate factor and break risk of a set-up of the nozzles.

    ``K = min(1, (mean dirt / mean dirt with closed nozzles)^-n)``.  Only ratios enter, so the
    speed of the water cancels.

    Parameters
    ----------
    setting : NozzleSetting
    height_mm : float
    wire_mm, gap_um : float
        Diameter and rough gap.
    law : FlushingLaw

    Raises
    ------
    RangeError
        If a length is not above 0.

    Notes
    -----
    Validity: 20 to 250 mm of height.  In thinner work the nozzle reaches through and the model
    would have an opened nozzle speed up the cut, so it is taken as work of ``model_from_mm``:
    from there on the factor falls with either gap.  The exponent is set on the trade's bands (one
    open 60-80 %, both open 30-50 %); what the model adds is how a partial gap, height and lean lie
    between them.

    References
    ----------
    Bands: common practice, no source; direction of gap and bath: Sato et al., wire-break tests.
    """
    counted_mm = max(height_mm, law.debris.model_from_mm)
    _above_zero(height_mm)
    cut = _Cut(height_mm=counted_mm, wire_mm=wire_mm, gap_um=gap_um, law=law)
    usual = law.nozzle.usual_gap_mm
    closed = cut.debris(NozzleSetting(top_gap_mm=usual, bottom_gap_mm=usual))
    found = cut.debris(setting)
    # Closed nozzles keep the air out of the kerf even above the bath.
    widest_mm = face_gap_mm(
        max(setting.top_gap_mm, setting.bottom_gap_mm), lean_deg=setting.lean_deg, law=law
    )
    open_by = openness(widest_mm, law=law)
    air = 1.0
    if setting.bath is Bath.OPEN_AIR:
        air = float(law.debris.dry_factor**open_by)
    mean_ratio, worst_ratio = air * found.mean / closed.mean, air * found.worst / closed.worst
    factor = min(1.0, mean_ratio**-law.debris.rate_exponent)
    return Derating(
        rate_factor=factor,
        mean_ratio=mean_ratio,
        worst_ratio=worst_ratio,
        break_term=worst_ratio * factor,
        risk=_risk(worst_ratio * factor, law=law),
        risk_at_usual_feed=_risk(worst_ratio, law=law),
        worst_up_mm=found.worst_up_mm * height_mm / counted_mm,
        reason=Reason(
            quantity="flushing_rate_factor",
            value=factor,
            formula="min(1, (mean dirt / mean dirt with closed nozzles)^-n)",
            inputs=(
                ("top_gap_mm", setting.top_gap_mm),
                ("bottom_gap_mm", setting.bottom_gap_mm),
                ("lean_deg", setting.lean_deg),
                ("bath", setting.bath.value),
                ("H_mm", counted_mm),
                ("mean_dirt_ratio", mean_ratio),
                ("n", law.debris.rate_exponent),
                ("reynolds", kerf_reynolds(counted_mm, wire_mm=wire_mm, gap_um=gap_um, law=law)),
            ),
            source=law.debris.sources["rate_exponent"],
        ),
    )


def state_share(height_mm: float, *, law: FlushingLaw) -> float:
    """Return how far the table's factor of the named state binds at a height, 0 to 1.

    0 from ``model_from_mm`` on, where the flow model holds; 1 up to ``state_binds_below_mm``; in
    proportion between, so that no rate jumps at the edge of the model.

    Parameters
    ----------
    height_mm : float
    law : FlushingLaw

    References
    ----------
    Common practice, no source.
    """
    holds_mm, binds_mm = law.debris.model_from_mm, law.debris.state_binds_below_mm
    if height_mm >= holds_mm:
        return 0.0
    return min(1.0, (holds_mm - height_mm) / (holds_mm - binds_mm))


def _above_zero(height_mm: float) -> None:
    # Thin work is counted as thicker, so the flow model would not notice.
    if not 0 < height_mm < math.inf:
        raise RangeError(
            f"height_mm is {height_mm:g}; it must be above 0", code="flow-out-of-range"
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Cut:
    """What set-ups of the nozzles are compared on."""

    height_mm: float
    wire_mm: float
    gap_um: float
    law: FlushingLaw

    def debris(self, setting: NozzleSetting) -> Debris:
        top, bottom = (
            face_share(gap, law=self.law, lean_deg=setting.lean_deg)
            for gap in (setting.top_gap_mm, setting.bottom_gap_mm)
        )

        def make() -> Debris:
            return debris_along(
                self.height_mm,
                wire_mm=self.wire_mm,
                gap_um=self.gap_um,
                top_share=top,
                bottom_share=bottom,
                law=self.law,
            )

        key = (self.height_mm, self.wire_mm, self.gap_um, top, bottom)
        return _DEBRIS.once(make, self.law, key=key)


def _risk(term: float, *, law: FlushingLaw) -> BreakRisk:
    if term >= law.debris.high_risk:
        return BreakRisk.HIGH
    return BreakRisk.RAISED if term >= law.debris.raised_risk else BreakRisk.USUAL


def rough_pressure_bar(
    height_mm: float, wire_mm: float, *, law: FlushingLaw
) -> tuple[float, float]:
    """Return the least and the most pressure for a rough cut: ``p min(1, H/H_p) min(1, d/d_p)^2``.

    Parameters
    ----------
    height_mm, wire_mm : float
    law : FlushingLaw

    Returns
    -------
    tuple of float
        bar; never below those of a skim.

    References
    ----------
    Pressures, height and wire: common practice, no source.  The square: a wire under a jet bows by
    ``q L^2/(8 T)`` with ``q`` as ``p d`` and ``T`` as ``d^2``; over the diameter that is ``p/d^2``.
    """
    water = law.water
    share = 1.0
    if water.full_pressure_wire_mm:
        share *= min(1.0, wire_mm / water.full_pressure_wire_mm) ** 2
    if water.full_pressure_height_mm:
        share *= min(1.0, height_mm / water.full_pressure_height_mm)
    return (
        BAR_PER_MPA * max(water.skim_pressure_low_mpa, share * water.rough_pressure_low_mpa),
        BAR_PER_MPA * max(water.skim_pressure_high_mpa, share * water.rough_pressure_high_mpa),
    )


def _pressure_words(height_mm: float, wire_mm: float, *, law: FlushingLaw) -> str:
    low, high = rough_pressure_bar(height_mm, wire_mm, law=law)
    water = law.water
    said = f"about {low:.2g} to {high:.2g} bar"
    full = BAR_PER_MPA * water.rough_pressure_high_mpa
    if high >= full - TINY:
        return f"high pressure, {said}"
    is_thin = wire_mm < water.full_pressure_wire_mm
    is_low = height_mm < water.full_pressure_height_mm
    why = f"a wire of {wire_mm:g} mm" if is_thin else f"work of {height_mm:g} mm"
    if is_thin and is_low:
        why = f"a wire of {wire_mm:g} mm in work of {height_mm:g} mm"
    much = "low" if high < _LOW_BAR else "less"
    return f"{much} pressure, {said}, for {why}"


_LOW_BAR = 5.0
"""Pressures below it are called low ones: common practice, no source."""


def nozzle_words(
    state: Flushing,
    *,
    law: FlushingLaw,
    height_mm: float = math.inf,
    wire_mm: float = math.inf,
    lean_deg: float = 0.0,
) -> str:
    """Say in plain words where the nozzles belong and at which pressure.

    Parameters
    ----------
    state : Flushing
        As upright nozzles close.
    law : FlushingLaw
    height_mm, wire_mm : float
    lean_deg : float
        Of mouths that lean with the wire.
    """
    nozzle = law.nozzle
    high = _pressure_words(height_mm, wire_mm, law=law)
    words = {
        Flushing.SEALED: f"Both nozzles about {nozzle.usual_gap_mm:g} mm off the faces, at most "
        f"{nozzle.sealed_gap_mm:g} mm; {high}.",
        Flushing.ONE_OPEN: f"Close the nozzle that reaches its face to about "
        f"{nozzle.usual_gap_mm:g} mm, bring the other as near as it goes, pressure mainly from "
        f"the closed side, {high}; submerge the work.",
        Flushing.BOTH_OPEN: "No nozzle closes: submerge the work, pressure low enough that the "
        "jet draws in no air, less power.",
    }
    if not lean_deg:
        return words[state]
    lift_mm = face_gap_mm(0.0, lean_deg=lean_deg, law=law)
    leans = f"The mouths lean with the wire, at most by {lean_deg:.3g}°"
    if state is not Flushing.SEALED:
        return f"{words[state]} {leans}, and lift by {lift_mm:.2g} mm more in the mean."
    gap_mm = face_gap_mm(nozzle.usual_gap_mm, lean_deg=lean_deg, law=law)
    near = (
        f"{leans}: bring each down until its near edge is about {nozzle.usual_gap_mm:g} mm off "
        f"the face, {gap_mm:.2g} mm in the mean"
    )
    if gap_mm <= nozzle.sealed_gap_mm:
        return f"{near}, which still closes; {high}."
    return (
        f"{near}, which does not close (at most {nozzle.sealed_gap_mm:g} mm would); {high}. "
        "Submerge the work, and take back the power if the wire breaks."
    )


def rough_advice(
    state: Flushing,
    *,
    law: FlushingLaw,
    height_mm: float = math.inf,
    wire_mm: float = math.inf,
    enters_from_edge: bool = False,
    entry_mm: float | None = None,
    entry_share: float = 0.5,
    runs_beside_edge: bool = False,
    family: str = "",
) -> str:
    """Say in plain words how to set the water for a rough cut.

    Parameters
    ----------
    state : Flushing
    law : FlushingLaw
    height_mm, wire_mm : float
        Low work and thin wires bear less pressure.
    enters_from_edge : bool
        Whether the cut comes in from the edge of the stock.
    entry_mm : float or None
        How far the program then keeps the feed of the lead-in; None for the mouth's radius.
    entry_share : float
        Of the usual rough feed, which it does not exceed there.
    runs_beside_edge : bool
        Whether part of it is nearer to the edge than the mouth of the nozzle.
    family : str
        Of the material: aluminium wants a word of its own (common practice, no source).
    """
    nozzle = law.nozzle
    said = [nozzle_words(state, law=law, height_mm=height_mm, wire_mm=wire_mm)]
    if enters_from_edge:
        length = nozzle.mouth_radius_mm if entry_mm is None else entry_mm
        said.append(
            f"At most half power over the first {length:g} mm, and at most {entry_share:.0%} of "
            "the usual rough feed, as the program has it there, until the nozzles are wholly over "
            "the work: neither closes across the edge, where the water escapes."
        )
    if runs_beside_edge:
        said.append(
            f"Less power where the cut runs within {nozzle.mouth_radius_mm:g} mm of the edge of "
            "the stock; clamp a strip against the edge if it fits."
        )
    if family == "aluminium":
        said.append("Aluminium clogs the gap at full seal: begin with less power.")
    return " ".join(said)


def skim_advice(*, law: FlushingLaw) -> str:
    """Say in plain words how to set the water for a skim."""
    low, high = (
        p * BAR_PER_MPA for p in (law.water.skim_pressure_low_mpa, law.water.skim_pressure_high_mpa)
    )
    return f"Low pressure, about {low:g} to {high:g} bar: more blows the wire off its line."
