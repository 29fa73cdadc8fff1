"""What is noticed about holes, those alike in one finding with the worst of them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np
from scipy.spatial import cKDTree

from kerfwright.foundation.errors import sentence
from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.foundation.units import both
from kerfwright.planning.hole_rules import HoleRules
from kerfwright.process.small_hole import reach_mm
from kerfwright.process.technology import SmallHoleLaw
from kerfwright.trade.hole_work import Hole

_NAMED: Final = 8
"""So many holes of a finding are named."""
_UM_PER_MM: Final = 1000.0
_SAME_PLACE_MM: Final = 0.005
"""Nearer mouths of parallel holes are one hole written twice: a tenth of what the process holds."""
_PARALLEL: Final = 1e-6


@dataclass(slots=True, kw_only=True)
class _Group:
    severity: Severity
    remedy: str
    worst: float = -1.0
    message: str = ""
    hole: Hole | None = None
    data: Mapping[str, float | int | str] = field(default_factory=dict)
    holes: list[Hole] = field(default_factory=list)


class HoleRemarks:
    """Collects remarks on holes; one code comes out as one finding."""

    def __init__(self) -> None:
        self._groups: dict[tuple[str, Severity], _Group] = {}

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
    ) -> None:
        """Add a remark; of those alike the worst gives message, place and numbers."""
        group = self._groups.setdefault((code, severity), _Group(severity=severity, remedy=remedy))
        group.holes.append(hole)
        if badness > group.worst:
            group.worst, group.message, group.hole = badness, message, hole
            group.data, group.remedy = data or {}, remedy

    def findings(self) -> tuple[Finding, ...]:
        """Return one finding for each code, refusals first."""
        order = (Severity.REFUSAL, Severity.WARNING, Severity.NOTE)
        ranked = sorted(self._groups.items(), key=lambda item: order.index(item[0][1]))
        return tuple(self._finding(code, group) for (code, _), group in ranked)

    def refused(self) -> dict[str, Hole]:
        """Return the holes that are not drilled as asked, by their id."""
        return {
            hole.id: hole
            for (_, severity), group in self._groups.items()
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
        return Finding(
            code=code,
            severity=group.severity,
            message=message,
            where=Place(
                entity=f"hole {worst.id}",
                x_mm=worst.mouth_mm[0],
                y_mm=worst.mouth_mm[1],
                line=worst.line,
            ),
            remedy=group.remedy,
            data={**group.data, "holes": len(others) + 1},
        )


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


def check_neighbours(
    holes: Sequence[Hole], remarks: HoleRemarks, *, law: SmallHoleLaw, rules: HoleRules
) -> None:
    """Look for holes written twice, and for webs that wander may break through."""
    if len(holes) < 2:
        return
    mouths = np.array([h.mouth_mm for h in holes])
    into = np.array([h.into for h in holes])
    depths = np.array([h.depth_mm for h in holes])
    reach = np.array([reach_mm(h.depth_mm, diameter_mm=h.diameter_mm, law=law) for h in holes])
    ends = mouths + into * depths[:, None]
    widest = 2 * float(reach.max()) + rules.least_web_mm
    for points, at in ((mouths, "mouth"), (ends, "end")):
        pairs = cKDTree(points).query_pairs(widest, output_type="ndarray")
        if not len(pairs):
            continue
        one, other = pairs.min(axis=1), pairs.max(axis=1)
        away = np.sqrt(((points[one] - points[other]) ** 2).sum(axis=1))
        web = away - reach[one] - reach[other]
        same = (away < _SAME_PLACE_MM) & (
            np.abs((into[one] * into[other]).sum(axis=1) - 1) < _PARALLEL
        )
        if at == "mouth":
            for i, j in zip(one[same].tolist(), other[same].tolist(), strict=True):
                _doubled(holes[i], holes[j], remarks)
        thin = ~same & (web < rules.least_web_mm)
        for i, j, left in zip(one[thin].tolist(), other[thin].tolist(), web[thin].tolist(),
                              strict=True):  # fmt: skip
            _thin(holes[i], holes[j], at, left, remarks, rules)


def _doubled(first: Hole, second: Hole, remarks: HoleRemarks) -> None:
    remarks.add(
        second, "hole-doubled", Severity.REFUSAL,
        f"it lies where hole {first.id} lies, and points the same way",
        remedy="Strike one of them out; a hole drilled twice comes out too large.",
        badness=0.0, data={"other": first.id},
    )  # fmt: skip


def _thin(
    one: Hole, other: Hole, at: str, web_mm: float, remarks: HoleRemarks, rules: HoleRules
) -> None:
    meets = (
        f"at the {at} it may meet hole {other.id}: mouth and wander overlap by "
        f"{both(-web_mm * _UM_PER_MM)}"
        if web_mm <= 0
        else f"at the {at} only {both(web_mm * _UM_PER_MM)} of metal are sure to stay to hole "
        f"{other.id}; {both(rules.least_web_mm * _UM_PER_MM)} should"
    )
    remarks.add(
        one, "hole-web-thin", Severity.WARNING, meets,
        remedy="Move the holes apart, or drill shorter or larger ones that wander less.",
        badness=rules.least_web_mm - web_mm, data={"web_mm": web_mm, "other": other.id},
    )  # fmt: skip


def predicted(hole: Hole, found: Sequence[Finding], remarks: HoleRemarks) -> None:
    """Take over what the process says of a hole.

    Nothing is refused for the place of the exit: the zone that is asked is that of the mouth.
    """
    for one in found:
        of_exit = one.code == "hole-position-beyond-process"
        severity = Severity.WARNING if of_exit else one.severity
        numbers = [v for v in one.data.values() if isinstance(v, float)]
        # Of demands alike the one that is missed most is the worst.
        numbers = [float(one.data["chance"])] if "chance" in one.data else numbers
        remarks.add(
            hole, one.code, severity, one.message.rstrip(".").replace("A ", "a ", 1),
            remedy=one.remedy, badness=max(numbers, default=0.0), data=one.data,
        )  # fmt: skip
