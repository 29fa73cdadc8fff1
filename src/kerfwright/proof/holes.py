"""Check a program of small holes: read it back, follow the tube, compare with what is wanted."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final

from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.nc.drill_timeline import DrillEvent, DrillMove, DrillWord, HoleHeader, Step
from kerfwright.nc.reader.drilling import read_drilling
from kerfwright.proof.hole_frame import attitude, turned
from kerfwright.proof.hole_records import (
    ClaimedHole,
    DrillEventKind,
    DrillingEvent,
    HoleClaim,
    HoleProof,
)
from kerfwright.proof.hole_rules import Drilled, check_hole, slack_deg, slack_mm

_UM_PER_MM: Final = 1000.0
_MOST_ALIKE: Final = 20
"""So many findings of one code are written out; more are counted in the last."""


def prove_holes(text: str, claim: HoleClaim) -> HoleProof:
    """Prove the text of a program, whoever made it.

    The program is read by an interpreter of its own; from its words alone follow where the tube
    goes, at which angles the work stands, which tube is in, how long it still is at the 90th
    percentile of the wear, and whether it sparks.  Each feed move with sparks is a hole: it is
    compared with the hole its header names.

    Parameters
    ----------
    text : str
    claim : HoleClaim

    Returns
    -------
    HoleProof

    Raises
    ------
    ProgramError
        If the text breaks a rule of the language.
    """
    follower = _Follower(claim)
    for step in read_drilling(text, machine=claim.machine):
        follower.take(step)
    follower.finish()
    findings = _shortened(follower.findings)
    return HoleProof(
        passed=not any(f.severity is Severity.REFUSAL for f in findings),
        holes=sum(follower.done.values()),
        most_off_place_um=round(follower.worst.off_place_mm * _UM_PER_MM, 3),
        most_off_axis_deg=round(follower.worst.off_axis_deg, 6),
        least_spare_mm=_finite(follower.worst.spare_mm),
        least_tube_mm=_finite(follower.worst.tube_spare_mm),
        most_not_through=round(follower.worst.not_through, 6),
        events=tuple(follower.events),
        findings=findings,
        program_sha256=hashlib.sha256(text.encode("utf-8")).hexdigest(),
    )


def _finite(value: float) -> float:
    return round(value, 6) if math.isfinite(value) else 0.0


def _shortened(findings: Sequence[Finding]) -> tuple[Finding, ...]:
    counts: dict[str, int] = {}
    kept = []
    for one in findings:
        counts[one.code] = counts.get(one.code, 0) + 1
        if counts[one.code] <= _MOST_ALIKE:
            kept.append(one)
    more = [
        Finding(
            code=code,
            severity=Severity.REFUSAL,
            message=f"{count - _MOST_ALIKE} more findings of this kind",
            data={"count": count},
        )
        for code, count in counts.items()
        if count > _MOST_ALIKE
    ]
    return (*kept, *more)


@dataclass(slots=True, kw_only=True)
class _Worst:
    off_place_mm: float = 0.0
    off_axis_deg: float = 0.0
    spare_mm: float = math.inf
    tube_spare_mm: float = math.inf
    not_through: float = 0.0


@dataclass(slots=True, kw_only=True)
class _Spindle:
    """What the machine holds and does, as far as the program says."""

    tube: int | None = None
    free_mm: float = 0.0
    """Least free length of the tube."""
    guide_mm: float | None = None
    condition: int | None = None
    sparks: bool = False
    touched_z_mm: float | None = None
    was_dressed: bool = False
    stopped: bool = False
    """Whether a stop came since the last hole."""


@dataclass(slots=True)
class _Follower:
    claim: HoleClaim
    findings: list[Finding] = field(default_factory=list)
    events: list[DrillingEvent] = field(default_factory=list)
    done: dict[str, int] = field(default_factory=dict)
    worst: _Worst = field(default_factory=_Worst)
    _spindle: _Spindle = field(default_factory=_Spindle)
    _header: HoleHeader | None = None
    _at: DrillMove | None = None
    _z_mm: float = math.inf
    _angles: tuple[float, ...] | None = None
    _corners: tuple[tuple[float, float, float], ...] = ()
    _wanted: dict[str, ClaimedHole] = field(default_factory=dict)
    _tops: dict[tuple[float, ...], float] = field(default_factory=dict)
    _low: tuple[float, float, float] = (math.inf, math.inf, math.inf)
    _high: tuple[float, float, float] = (-math.inf, -math.inf, -math.inf)

    def __post_init__(self) -> None:
        self._wanted = {h.id: h for h in self.claim.holes}
        self._corners = _box(self.claim)

    def take(self, step: Step) -> None:
        """Follow one step."""
        match step:
            case HoleHeader():
                self._header = step
                if step.hole_id not in self._wanted:
                    self._refuse("hole-unknown", step.line, f"hole {step.hole_id} is not wanted")
            case DrillEvent():
                self._event(step)
            case DrillMove():
                self._move(step)

    def finish(self) -> None:
        """Compare the holes drilled with those wanted."""
        if self._spindle.sparks:
            self._refuse("spark-left-on", 0, "the program ends with the sparks on")
        top = self._top(self._angles)
        if self._z_mm < top + self.claim.between_mm - slack_mm(self.claim.machine):
            self._refuse("ends-in-the-work", 0, "the program ends with the tube not drawn clear")
        for hole in self.claim.holes:
            count = self.done.get(hole.id, 0)
            if count != 1:
                code, says = (
                    ("hole-missing", "is not drilled")
                    if not count
                    else ("hole-drilled-twice", f"is drilled {count} times")
                )
                self.findings.append(
                    Finding(
                        code=code,
                        severity=Severity.REFUSAL,
                        message=f"hole {hole.id} {says}",
                        where=Place(
                            entity=f"hole {hole.id}", x_mm=hole.mouth_mm[0], y_mm=hole.mouth_mm[1]
                        ),
                        remedy="plan the job again; every hole is drilled once",
                    )
                )
        self._limits_of_travel()

    def _refuse(self, code: str, line: int, message: str, *, remedy: str = "") -> None:
        hole = self._header.hole_id if self._header else None
        self.findings.append(
            Finding(
                code=code,
                severity=Severity.REFUSAL,
                message=message,
                where=Place(entity=f"hole {hole}" if hole else None, line=line or None),
                remedy=remedy,
            )
        )

    def _event(self, step: DrillEvent) -> None:
        spindle = self._spindle
        match step.word:
            case DrillWord.TUBE:
                self._new_tube(step)
            case DrillWord.GUIDE:
                spindle.guide_mm = step.value
            case DrillWord.CONDITION:
                spindle.condition = int(step.value)
            case DrillWord.TOUCH:
                if spindle.tube is None:
                    self._refuse("no-tube", step.line, "it touches with no tube in the holder")
                spindle.touched_z_mm = step.value
                self._z_mm = step.value
            case DrillWord.SPARK_ON:
                spindle.sparks = True
            case DrillWord.SPARK_OFF:
                spindle.sparks = False
            case DrillWord.DRESS:
                self._dress(step)
            case DrillWord.STOP:
                spindle.stopped = True
                self._note(DrillEventKind.STOP, step, "stop")
                if spindle.sparks:
                    self._refuse("stop-with-sparks", step.line, "it stops with the sparks on")
            case DrillWord.OPTIONAL_STOP | DrillWord.END:
                pass

    def _note(self, kind: DrillEventKind, step: DrillEvent, message: str) -> None:
        self.events.append(
            DrillingEvent(
                kind=kind, line=step.line, after_holes=sum(self.done.values()), message=message
            )
        )

    def _new_tube(self, step: DrillEvent) -> None:
        spindle, number = self._spindle, int(step.value)
        holder = self.claim.machine.tubes
        if number not in self.claim.tube_mm:
            self._refuse("tube-unknown", step.line, f"there is no tube {number} in this job")
        if spindle.sparks:
            self._refuse("change-with-sparks", step.line, "a tube is changed with the sparks on")
        same = number == spindle.tube
        if not spindle.stopped and not (same and holder.changes_itself):
            self._refuse(
                "change-unattended", step.line,
                f"tube {number} goes in with no stop before it: nobody is there",
                remedy="put a stop (M00) before it",
            )  # fmt: skip
        if self._at is not None:
            self._check_height(step.line, self.claim.turning_mm, "a tube is changed")
        spindle.tube, spindle.free_mm = number, holder.length_mm - holder.held_mm
        spindle.touched_z_mm = None
        size = self.claim.tube_mm.get(number, 0.0)
        self._note(DrillEventKind.TUBE, step, f"tube {number}, {size:g} mm, new")

    def _dress(self, step: DrillEvent) -> None:
        spindle = self._spindle
        if not (spindle.stopped or self.claim.machine.tubes.dresses_itself):
            self._refuse("dress-unattended", step.line, "a tube is dressed with nobody there")
        size = self.claim.tube_mm.get(spindle.tube or 0, 0.0)
        spindle.free_mm -= self.claim.dress_diameters * size
        spindle.was_dressed = True
        spindle.touched_z_mm = None
        self._note(DrillEventKind.DRESS, step, "end of the tube cut off")

    def _move(self, move: DrillMove) -> None:
        before, spindle = self._at, self._spindle
        sideways = before is None or (move.x_mm, move.y_mm) != (before.x_mm, before.y_mm)
        turns = move.angles_deg != self._angles and bool(move.angles_deg)
        if not move.is_rapid:
            self._feed(move, sideways=sideways, turns=turns)
        else:
            if spindle.sparks:
                self._refuse("rapid-with-sparks", move.line, "a rapid with the sparks on")
            self._rapid(move, sideways=sideways, turns=turns)
        self._at, self._z_mm = move, move.z_mm
        self._low = (*self._low[:2], min(self._low[2], move.z_mm))
        self._high = (*self._high[:2], max(self._high[2], move.z_mm))

    def _rapid(self, move: DrillMove, *, sideways: bool, turns: bool) -> None:
        before = self._at
        goes_up = move.z_mm != self._z_mm
        if before is not None and (sideways or turns) and goes_up:
            self._refuse(
                "slanting-rapid", move.line, "a rapid goes sideways and up or down in one block"
            )
        if turns:
            first = not self._angles
            if not first:
                self._check_height(move.line, self.claim.turning_mm, "the work turns", turning=True)
            elif not self._spindle.stopped:
                self._refuse("turn-unattended", move.line, "the first turn has no stop before it")
            self._limits_of_angles(move)
            self._angles = move.angles_deg
        if sideways and before is not None and self._spindle.tube is not None:
            self._check_height(move.line, self.claim.between_mm, "the tube goes sideways")
        if goes_up and before is not None and move.z_mm < self._z_mm:
            self._check_approach(move)

    def _check_approach(self, move: DrillMove) -> None:
        """Look whether a rapid down ends above the face that comes next."""
        hole = self._wanted.get(self._header.hole_id) if self._header else None
        if hole is None:
            return
        face = self._placed(hole)[2]
        lip = _lip(hole, self.claim)
        if move.z_mm <= face + lip:
            self._refuse(
                "rapid-into-work", move.line,
                f"a rapid goes down to Z{move.z_mm:.3f}, and the face at hole {hole.id} begins to "
                f"touch at Z{face + lip:.3f}",
                remedy="stop above the face and touch",
            )  # fmt: skip

    def _check_height(
        self, line: int, clearance_mm: float, what: str, *, turning: bool = False
    ) -> None:
        top = self._radius() if turning else self._top(self._angles)
        needed = top + clearance_mm
        if self._z_mm < needed - slack_mm(self.claim.machine):
            self._refuse(
                "not-clear", line,
                f"{what} with the tube at Z{self._z_mm:.3f}; it is clear of the work from "
                f"Z{needed:.3f} on",
                remedy="draw the tube up first",
            )  # fmt: skip

    def _top(self, angles: tuple[float, ...] | None) -> float:
        """Return the highest point of the box around the work, as it stands."""
        key = angles or ()
        if key not in self._tops:
            by = attitude(key, self.claim.machine.axes) if key else (1.0, 0.0, 0.0, 0.0)
            self._tops[key] = max(turned(c, by)[2] for c in self._corners)
        return self._tops[key]

    def _radius(self) -> float:
        return max(math.hypot(*c) for c in self._corners)

    def _placed(self, hole: ClaimedHole) -> tuple[float, float, float]:
        centre = self.claim.centre_mm if self.claim.machine.axes else (0.0, 0.0, 0.0)
        x, y, z = (a - b for a, b in zip(hole.mouth_mm, centre, strict=True))
        if not self._angles:
            return x, y, z
        return turned((x, y, z), attitude(self._angles, self.claim.machine.axes))

    def _feed(self, move: DrillMove, *, sideways: bool, turns: bool) -> None:
        spindle = self._spindle
        if sideways or turns:
            self._refuse("feed-sideways", move.line, "a feed move does not go straight down")
        if not spindle.sparks:
            self._refuse("feed-without-sparks", move.line, "a feed move with the sparks off")
        hole = self._wanted.get(self._header.hole_id) if self._header else None
        if hole is None:
            if self._header is None:
                self._refuse("hole-unnamed", move.line, "a feed move before any header of a hole")
            return
        angles = self._angles or ()
        if not angles and self.claim.machine.axes:
            self._refuse("angles-unsaid", move.line, "a hole before the work was turned")
        by = attitude(angles, self.claim.machine.axes) if angles else (1.0, 0.0, 0.0, 0.0)
        stroke = Drilled(
            line=move.line,
            hole=hole,
            mouth_mm=self._placed(hole),
            into=turned(hole.into, by),
            at_mm=(move.x_mm, move.y_mm),
            touched_z_mm=spindle.touched_z_mm,
            end_z_mm=move.z_mm,
            feed_mm_per_min=move.feed_mm_per_min,
            tube=spindle.tube,
            header_tube=self._header.tube if self._header else None,
            condition=spindle.condition,
            guide_mm=spindle.guide_mm,
            free_mm=spindle.free_mm,
            was_dressed=spindle.was_dressed,
        )
        seen = check_hole(stroke, self.claim)
        self.findings += seen.findings
        self.worst.off_place_mm = max(self.worst.off_place_mm, seen.off_place_mm)
        self.worst.off_axis_deg = max(self.worst.off_axis_deg, seen.off_axis_deg)
        self.worst.spare_mm = min(self.worst.spare_mm, seen.spare_mm)
        self.worst.tube_spare_mm = min(self.worst.tube_spare_mm, seen.tube_spare_mm)
        self.worst.not_through = max(self.worst.not_through, seen.not_through)
        spindle.free_mm -= seen.used_mm
        spindle.touched_z_mm, spindle.was_dressed, spindle.stopped = None, False, False
        self.done[hole.id] = self.done.get(hole.id, 0) + 1
        self._low = (min(self._low[0], move.x_mm), min(self._low[1], move.y_mm), self._low[2])
        self._high = (max(self._high[0], move.x_mm), max(self._high[1], move.y_mm), self._high[2])

    def _limits_of_angles(self, move: DrillMove) -> None:
        for axis, angle in zip(self.claim.machine.axes, move.angles_deg, strict=True):
            if not axis.low_deg - slack_deg() <= angle <= axis.high_deg + slack_deg():
                self._refuse(
                    "angle-limit", move.line,
                    f"{axis.letter}{angle:g} is beyond {axis.low_deg:g} to {axis.high_deg:g}",
                )  # fmt: skip

    def _limits_of_travel(self) -> None:
        machine = self.claim.machine
        travels = (machine.travel_x_mm, machine.travel_y_mm, machine.travel_z_mm)
        for letter, low, high, most in zip("XYZ", self._low, self._high, travels, strict=True):
            if high - low > most + slack_mm(machine):
                self._refuse(
                    "travel-exceeded", 0,
                    f"the program wants {high - low:.3f} mm of {letter}; the machine has {most:g}",
                )  # fmt: skip


def _lip(hole: ClaimedHole, claim: HoleClaim) -> float:
    tube = hole.diameter_mm - 2 * claim.overcut_mm.get(hole.condition, 0.0)
    return tube / 2 * math.tan(math.radians(hole.slope_deg))


def _box(claim: HoleClaim) -> tuple[tuple[float, float, float], ...]:
    """Return the corners of the box around the work, from the centre of turning."""
    centre = claim.centre_mm if claim.machine.axes else (0.0, 0.0, 0.0)
    spans = [
        (low - c, high - c)
        for low, high, c in zip(claim.box_low_mm, claim.box_high_mm, centre, strict=True)
    ]
    return tuple((x, y, z) for x in spans[0] for y in spans[1] for z in spans[2])
