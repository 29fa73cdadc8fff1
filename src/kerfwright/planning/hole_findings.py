"""What is noticed about holes, those with one remedy in one finding with the worst of them."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from kerfwright.foundation.errors import sentence
from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.foundation.ranges import Z_10_90
from kerfwright.foundation.sizes import both_lengths
from kerfwright.foundation.units import both
from kerfwright.planning.hole_rules import HoleRules
from kerfwright.process.small_hole import reach_mm, wander_mm
from kerfwright.process.technology import SmallHoleLaw
from kerfwright.trade.hole_work import Hole

_NAMED: Final = 8
"""So many holes of a finding are named."""
_UM_PER_MM: Final = 1000.0
_SAME_PLACE_MM: Final = 0.005
"""Nearer mouths of parallel holes are one hole written twice: a tenth of what the process holds."""
_PARALLEL: Final = 1e-6
_DIGITS: Final = re.compile(r"[\d.,]*\d")

Floats = NDArray[np.float64]


@dataclass(slots=True, kw_only=True)
class _Group:
    severity: Severity
    remedy: str
    worst: float = -1.0
    message: str = ""
    hole: Hole | None = None
    data: Mapping[str, float | int | str] = field(default_factory=dict)
    holes: list[Hole] = field(default_factory=list)
    remedies: set[str] = field(default_factory=set)


class HoleRemarks:
    """Collects remarks on holes; those of one code and one remedy come out as one finding."""

    def __init__(self) -> None:
        self._groups: dict[tuple[str, Severity, str, str], _Group] = {}
        self._refusals: list[Finding] = []

    def add(
        self,
        hole: Hole,
        code: str,
        severity: Severity,
        message: str,
        *,
        remedy: str,
        badness: float,
        data: Mapping[str, float | int | str] | None = None,
        direction: str = "",
    ) -> None:
        """Add a remark; of those alike the worst gives message, place and numbers.

        Alike are remarks of one code, severity and direction (too large, too small) whose remedies
        are the same but for their numbers.
        """
        alike = (code, severity, direction, _DIGITS.sub("", remedy))
        group = self._groups.setdefault(alike, _Group(severity=severity, remedy=remedy))
        group.holes.append(hole)
        group.remedies.add(remedy)
        if severity is Severity.REFUSAL:
            told = sentence(f"Hole {hole.id}: {message}")
            self._refusals.append(_of(hole, code, severity, told, remedy=remedy, data=data or {}))
        if badness > group.worst:
            group.worst, group.message, group.hole = badness, message, hole
            group.data, group.remedy = data or {}, remedy

    def findings(self) -> tuple[Finding, ...]:
        """Return one finding for each code and remedy, refusals first."""
        order = (Severity.REFUSAL, Severity.WARNING, Severity.NOTE)
        ranked = sorted(self._groups.items(), key=lambda item: order.index(item[0][1]))
        return tuple(self._finding(code, group) for (code, *_), group in ranked)

    def refusals(self) -> tuple[Finding, ...]:
        """Return every refusal of every hole with its own numbers."""
        return tuple(self._refusals)

    def refused(self) -> dict[str, Hole]:
        """Return the holes that are not drilled as asked, by their id."""
        return {
            hole.id: hole
            for (_, severity, *_), group in self._groups.items()
            if severity is Severity.REFUSAL
            for hole in group.holes
        }

    @staticmethod
    def _finding(code: str, group: _Group) -> Finding:
        worst = group.hole
        assert worst is not None
        others = list(dict.fromkeys(h.id for h in group.holes if h.id != worst.id))
        message = sentence(f"Hole {worst.id}: {group.message}")
        if others:
            named = ", ".join(others[:_NAMED])
            more = f" and {len(others) - _NAMED} more" if len(others) > _NAMED else ""
            message += f" Also, less or as much: {named}{more}."
        remedy = group.remedy
        if others and len(group.remedies) > 1:
            remedy += f" Numbers are those of hole {worst.id}; ask `why` for the others."
        data = {**group.data, "holes": len(others) + 1}
        return _of(worst, code, group.severity, message, remedy=remedy, data=data)


def _of(
    hole: Hole,
    code: str,
    severity: Severity,
    message: str,
    *,
    remedy: str,
    data: Mapping[str, float | int | str],
) -> Finding:
    place = Place(
        entity=hole_name(hole.id), x_mm=hole.mouth_mm[0], y_mm=hole.mouth_mm[1], line=hole.line
    )
    return Finding(
        code=code, severity=severity, message=message, where=place, remedy=remedy, data=data
    )


def hole_name(hole_id: str) -> str:
    """Return what a hole is called in the place of a finding."""
    return f"hole {hole_id}"


def check_face(hole: Hole, remarks: HoleRemarks, rules: HoleRules) -> None:
    """Look at the slope of the face."""
    slope = hole.slope_deg
    if slope > rules.slope_most_deg:
        remarks.add(
            hole, "hole-slope-too-steep", Severity.REFUSAL,
            f"its axis stands {slope:.1f}° from the normal of the face; a tube slides off above "
            f"{rules.slope_most_deg:g}°",
            remedy="Mill or erode a flat at the mouth first, or enter more squarely.",
            badness=slope, data={"slope_deg": slope, "limit_deg": rules.slope_most_deg},
        )  # fmt: skip
    elif slope > rules.slope_usual_deg:
        remarks.add(
            hole, "hole-slope-steep", Severity.WARNING,
            f"its axis stands {slope:.1f}° from the normal of the face; above "
            f"{rules.slope_usual_deg:g}° the tube is pushed aside until it has bitten, and the "
            "place of the mouth suffers",
            remedy="Start slowly with the guide near, or spot a flat; measure the first hole.",
            badness=slope, data={"slope_deg": slope, "limit_deg": rules.slope_usual_deg},
        )  # fmt: skip


def least_blind_mm(tube_mm: float, *, lip_mm: float = 0.0, rules: HoleRules) -> float:
    """Return the least depth of a blind hole: ``u + r d + lip``.

    Below it nothing but the bottom is left: the touch misses the face by u, the end of a dressed
    tube d is rounded and oblique by r d, and on a slope it enters on one side first.

    Parameters
    ----------
    tube_mm, lip_mm : float
    rules : HoleRules

    References
    ----------
    Common practice, no source.
    """
    return rules.touch_off_mm + rules.tip_diameters * tube_mm + lip_mm


def check_bottom(hole: Hole, tube_mm: float, remarks: HoleRemarks, rules: HoleRules) -> None:
    """Refuse a blind hole that touch and form of the tube leave no depth of."""
    if hole.is_through:
        return
    lip_mm = tube_mm / 2 * math.tan(math.radians(hole.slope_deg))
    least = least_blind_mm(tube_mm, lip_mm=lip_mm, rules=rules)
    if hole.depth_mm >= least:
        return
    remarks.add(
        hole, "blind-too-shallow", Severity.REFUSAL,
        f"{both_lengths(hole.depth_mm)} deep, where the touch misses the face by up to "
        f"{both(rules.touch_off_mm * _UM_PER_MM)} and the end of a dressed tube of "
        f"{both_lengths(tube_mm)} is not square; below {both_lengths(least)} no depth can be meant",
        remedy="Make it deeper, take a thinner tube, or sink it with an electrode that is faced.",
        badness=least - hole.depth_mm, data={"depth_mm": hole.depth_mm, "least_mm": least},
    )  # fmt: skip


def check_neighbours(
    holes: Sequence[Hole], remarks: HoleRemarks, *, law: SmallHoleLaw, rules: HoleRules
) -> None:
    """Look for holes written twice, bores that meet, and webs that wander may break through.

    Bores meet for certain where they overlap as drawn by more than what moves them apart, the
    setting of both and at the end their wander, added as squares.  At the mouth that is refused:
    the second tube would begin on the edge of the first hole.  Ends may be meant to meet, as those
    of oil ways are, and are warned of.

    References
    ----------
    A tube on the edge of a hole is pushed aside and loses its water: common practice, no source.
    """
    if len(holes) < 2:
        return
    mouths = np.array([h.mouth_mm for h in holes])
    into = np.array([h.into for h in holes])
    depths = np.array([h.depth_mm for h in holes])
    radii = np.array([h.diameter_mm / 2 for h in holes])
    reach = np.array([reach_mm(h.depth_mm, diameter_mm=h.diameter_mm, law=law) for h in holes])
    setting = law.position_um / _UM_PER_MM
    drift = math.exp(Z_10_90 * law.wander_sigma_log) * np.array(
        [wander_mm(h.depth_mm, diameter_mm=h.diameter_mm, law=law) for h in holes]
    )
    met: set[tuple[str, str]] = set()
    for at, points, moved in (
        ("mouth", mouths, np.full(len(holes), setting)),
        ("end", mouths + into * depths[:, None], np.hypot(setting, drift)),
    ):
        widest = 2 * float(reach.max()) + rules.least_web_mm
        pairs = cKDTree(points).query_pairs(widest, output_type="ndarray")
        if not len(pairs):
            continue
        one, other = pairs.min(axis=1), pairs.max(axis=1)
        away = np.sqrt(((points[one] - points[other]) ** 2).sum(axis=1))
        parallel = np.abs((into[one] * into[other]).sum(axis=1) - 1) < _PARALLEL
        same = (away < _SAME_PLACE_MM) & parallel
        overlap = radii[one] + radii[other] - away
        sure = overlap > np.hypot(moved[one], moved[other])
        met |= _say_pairs(
            holes, at, remarks, rules, met,
            _Pairs(one=one, other=other, same=same, sure=sure, overlap_mm=overlap,
                   web_mm=away - reach[one] - reach[other]),
        )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Pairs:
    """Holes near each other, by their rows: written twice, sure to meet, and what is between."""

    one: NDArray[np.intp]
    other: NDArray[np.intp]
    same: NDArray[np.bool_]
    sure: NDArray[np.bool_]
    overlap_mm: Floats
    web_mm: Floats


def _say_pairs(
    holes: Sequence[Hole],
    at: str,
    remarks: HoleRemarks,
    rules: HoleRules,
    met: set[tuple[str, str]],
    pairs: _Pairs,
) -> set[tuple[str, str]]:
    """Say what is wrong of pairs that did not meet before; return those that meet at mouths."""
    at_mouth, found = at == "mouth", set()
    thin = ~pairs.same & (pairs.web_mm < rules.least_web_mm)
    for row in np.flatnonzero(thin | (pairs.same & at_mouth)).tolist():
        first, second = holes[int(pairs.one[row])], holes[int(pairs.other[row])]
        overlap_mm = float(pairs.overlap_mm[row])
        if pairs.same[row]:
            _doubled(first, second, remarks)
        elif pairs.sure[row] and at_mouth:
            _meeting(first, second, overlap_mm, remarks)
            found.add((first.id, second.id))
        elif (first.id, second.id) not in met:
            sure_mm = overlap_mm if pairs.sure[row] else 0.0
            _thin(first, second, at, (float(pairs.web_mm[row]), sure_mm), remarks, rules)
    return found


def _doubled(first: Hole, second: Hole, remarks: HoleRemarks) -> None:
    remarks.add(
        second, "hole-doubled", Severity.REFUSAL,
        f"it lies where hole {first.id} lies, and points the same way",
        remedy="Strike one of them out; a hole drilled twice comes out too large.",
        badness=0.0, data={"other": first.id},
    )  # fmt: skip


def _meeting(first: Hole, second: Hole, overlap_mm: float, remarks: HoleRemarks) -> None:
    remarks.add(
        second, "hole-meets-hole", Severity.REFUSAL,
        f"at the mouth it meets hole {first.id}: as drawn the two overlap by "
        f"{both(overlap_mm * _UM_PER_MM)}, more than setting can part, and its tube would begin on "
        "the edge of an open hole",
        remedy="Move the holes apart or strike one of them out; cut a slot with the wire.",
        badness=overlap_mm, data={"overlap_mm": overlap_mm, "other": first.id},
    )  # fmt: skip


def _thin(
    one: Hole,
    other: Hole,
    at: str,
    between: tuple[float, float],
    remarks: HoleRemarks,
    rules: HoleRules,
) -> None:
    """Warn of a web; `between` is what of it is sure to stay, and by how much bores surely meet."""
    web_mm, sure_mm = between
    remedy = "Move the holes apart, or drill shorter or larger ones that wander less."
    if sure_mm > 0:
        says = (
            f"at the {at} it meets hole {other.id}: as drawn the two overlap by "
            f"{both(sure_mm * _UM_PER_MM)}, more than setting and wander can part"
        )
        remedy = (
            "If they are not meant to meet, move them apart. If they are, the second loses its "
            "water as it breaks into the first: drill it with somebody there."
        )
    elif web_mm <= 0:
        says = (
            f"at the {at} it may meet hole {other.id}: mouth and wander overlap by "
            f"{both(-web_mm * _UM_PER_MM)}"
        )
    else:
        says = (
            f"at the {at} only {both(web_mm * _UM_PER_MM)} of metal are sure to stay to hole "
            f"{other.id}; {both(rules.least_web_mm * _UM_PER_MM)} should"
        )
    remarks.add(
        one, "hole-web-thin", Severity.WARNING, says, remedy=remedy,
        badness=rules.least_web_mm - web_mm, data={"web_mm": web_mm, "other": other.id},
    )  # fmt: skip


def predicted(hole: Hole, found: Sequence[Finding], remarks: HoleRemarks) -> None:
    """Take over what the process says of a hole.

    Nothing is refused for the place of the exit: the zone that is asked is that of the mouth.
    """
    for one in found:
        of_exit = one.code == "hole-position-beyond-process"
        severity = Severity.WARNING if of_exit else one.severity
        # Of demands alike the one that is missed most is the worst; else what the finding ranks by.
        ranked = one.data.get("chance", one.data.get("excess", 0.0))
        direction = str(one.data.get("direction", ""))
        remarks.add(
            hole, one.code, severity, one.message.rstrip(".").replace("A ", "a ", 1),
            remedy=one.remedy, badness=float(ranked), data=one.data, direction=direction,
        )  # fmt: skip
