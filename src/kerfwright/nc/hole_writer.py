"""Write a plan of small holes as ISO 6983 text.

Moves are G00 and G01 with X, Y, Z, A, B, C and F, the head G20 or G21 and G90 (ISO 6983 as
RS-274/NGC reads it: NISTIR 6556, 2000).  What takes up a tube, sets the guide, touches, sparks and
dresses comes from the machine definition.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass

from kerfwright.foundation.errors import InputError
from kerfwright.nc.lines import comment_lines, number_text, numbered, refuse_long
from kerfwright.planning.hole_plan import ChangeKind, HolePlan, PlannedHole, TubeChange
from kerfwright.trade.part import LengthUnit

_MM_PER_INCH = 25.4
_ID = re.compile(r"[A-Za-z0-9_.\-]+")
_HEADER = "HOLE"
_CAUTIONS = (
    "CAUTION: BEFORE THE FIRST HOLE RUN IT DRY, GUARD SHUT, A HAND AT THE STOP",
    "THE MANUAL OF THE MACHINE AND LOCAL RULES COME BEFORE THIS PROGRAM",
)
_SLACK_DIGITS = 1e-6
"""Rounding of a product; more would move the end of a hole by a digit."""


def write_hole_program(plan: HolePlan, *, title: str, remarks: Sequence[str] = ()) -> str:
    """Write the holes of a plan in its order.

    - Z is the end of the tube.  As the tube wears, each hole begins with a touch, which calls the
      height of the face by its Z; the feed then goes to where the holder must go, wear included.
    - A hole begins with the comment ``(HOLE <id> TUBE <number>)``.  Its condition, feed and height
      stand anew in each hole, so that an operator may begin again at any header once the tube is
      in place and the work at its angles.
    - The tube travels sideways at the clear height of the hole it comes from or goes to, the
      higher of the two; the work turns, and a tube is changed, at the turning height only.
    - A stop comes before each tube that the machine cannot take up by itself, and before each
      change of guide.

    Parameters
    ----------
    plan : HolePlan
    title : str
        First comment.
    remarks : sequence of str

    Raises
    ------
    InputError
        Code ``path-empty``, ``hole-id`` or ``line-too-long``.
    """
    if not plan.holes:
        raise InputError("a program needs at least one hole, got none", code="path-empty")
    dialect = plan.work.machine.dialect
    longest = dialect.max_line_length
    lines = dialect.program_start.splitlines()
    for comment in (title, *remarks, *_CAUTIONS):
        lines += comment_lines(comment, longest=longest, header=_HEADER)
    step = dialect.block_step if dialect.block_numbers else None
    lines += numbered(_blocks(plan), step=step)
    lines += dialect.program_end.splitlines()
    refuse_long(lines, longest=longest)
    return "\n".join(lines) + "\n"


def _blocks(plan: HolePlan) -> list[str]:
    dialect = plan.work.machine.dialect
    state = _State(plan=plan)
    blocks = ["G20 G90" if dialect.unit is LengthUnit.INCH else "G21 G90"]
    blocks.append(f"G00 Z{state.up(plan.turning_z_mm)}")
    state.z_mm = plan.turning_z_mm
    changes = {change.before: change for change in plan.changes}
    for hole in plan.holes:
        blocks += _hole(hole, changes.get(hole.number), state)
    blocks.append(f"G00 Z{state.up(plan.turning_z_mm)}")
    blocks.append(dialect.end_of_program)
    return blocks


@dataclass(slots=True, kw_only=True)
class _State:
    """What the control knows while the program is written."""

    plan: HolePlan
    z_mm: float = 0.0
    angles: tuple[str, ...] | None = None
    guide: str = ""

    @property
    def _digits_per_mm(self) -> float:
        dialect = self.plan.work.machine.dialect
        per_unit = 1.0 / _MM_PER_INCH if dialect.unit is LengthUnit.INCH else 1.0
        return float(10**dialect.decimals) * per_unit

    def near(self, value_mm: float) -> str:
        """Return the nearest number of the program."""
        digits = round(value_mm * self._digits_per_mm)
        return number_text(digits, self.plan.work.machine.dialect.decimals)

    def up(self, value_mm: float) -> str:
        """Return a height that is not below the one meant."""
        digits = math.ceil(value_mm * self._digits_per_mm - _SLACK_DIGITS)
        return number_text(digits, self.plan.work.machine.dialect.decimals)

    def down(self, value_mm: float) -> str:
        """Return a depth that is not short of the one meant."""
        digits = math.floor(value_mm * self._digits_per_mm + _SLACK_DIGITS)
        return number_text(digits, self.plan.work.machine.dialect.decimals)

    def turned(self, hole: PlannedHole) -> tuple[str, ...]:
        """Return the words of the angles."""
        machine = self.plan.work.machine
        decimals = machine.dialect.angle_decimals
        return tuple(
            f"{axis.letter}{number_text(round(angle * 10**decimals), decimals)}"
            for axis, angle in zip(machine.axes, hole.angles_deg, strict=True)
        )


def _hole(hole: PlannedHole, change: TubeChange | None, state: _State) -> list[str]:
    if not _ID.fullmatch(hole.hole.id):
        raise InputError(
            f"hole id {hole.hole.id!r} does not fit in a program header",
            code="hole-id",
            remedy="Use letters, digits, dot, hyphen and underscore.",
        )
    plan = state.plan
    dialect = plan.work.machine.dialect
    blocks = [f"(HOLE {hole.hole.id} TUBE {hole.electrode.tube})"]
    turned = state.turned(hole)
    is_turned = bool(turned) and turned != state.angles
    lift = plan.turning_z_mm if change or is_turned else hole.clear_z_mm
    if lift > state.z_mm:
        blocks.append(f"G00 Z{state.up(lift)}")
        state.z_mm = lift
    if change is not None:
        blocks += _change(change, plan, turned if is_turned and state.angles is None else ())
    if is_turned:
        blocks.append("G00 " + " ".join(turned))
        state.angles = turned
    x, y, z = hole.at_mm
    blocks.append(f"G00 X{state.near(x)} Y{state.near(y)}")
    guide = state.up(hole.guide_gap_mm)
    if guide != state.guide:
        blocks.append(dialect.guide.format(value=guide))
        state.guide = guide
    if hole.stroke.dressed_mm:
        blocks += _dress(hole, plan)
    face = state.near(z)
    end = state.down(z - hole.stroke.feed_way_mm)
    feed = hole.stroke.feed_mm_per_min
    feed /= _MM_PER_INCH if dialect.unit is LengthUnit.INCH else 1.0
    blocks += [
        f"G00 Z{state.up(z + hole.stroke.lip_mm + plan.rules.approach_mm)}",
        dialect.touch.format(value=face),
        dialect.condition.format(number=hole.electrode.condition),
        dialect.spark_on,
        f"G01 Z{end} F{feed:.{dialect.feed_decimals}f}",
        dialect.spark_off,
        f"G00 Z{state.up(hole.clear_z_mm)}",
    ]
    state.z_mm = hole.clear_z_mm
    return blocks


def _change(change: TubeChange, plan: HolePlan, first_turn: tuple[str, ...]) -> list[str]:
    machine = plan.work.machine
    dialect = machine.dialect
    size = _size(change.diameter_mm, dialect.unit)
    says = f"TUBE {change.tube}: {size}, NEW, {_size(machine.tubes.length_mm, dialect.unit)} LONG"
    longest = dialect.max_line_length
    blocks = [*comment_lines(says, longest=longest, header=_HEADER)]
    if change.kind is not ChangeKind.TUBE:
        stop = f"STOP: fit the guide for {size} and put the tube in"
        if first_turn:
            # Nobody knows how the work stood before the program.
            stop += f"; see that the work stands at {' '.join(first_turn)}"
    elif not machine.tubes.changes_itself:
        stop = f"STOP: put a new tube of {size} in"
    else:
        return [*blocks, dialect.tube.format(number=change.tube)]
    return [
        *blocks,
        *comment_lines(stop, longest=longest, header=_HEADER),
        dialect.attended_stop,
        dialect.tube.format(number=change.tube),
    ]


def _dress(hole: PlannedHole, plan: HolePlan) -> list[str]:
    dialect = plan.work.machine.dialect
    if plan.work.machine.tubes.dresses_itself:
        return [dialect.dress]
    stop = f"STOP: cut {_size(hole.stroke.dressed_mm, dialect.unit)} off the end of the tube"
    longest = dialect.max_line_length
    return [
        *comment_lines(stop, longest=longest, header=_HEADER),
        dialect.attended_stop,
        dialect.dress,
    ]


def _size(value_mm: float, unit: LengthUnit) -> str:
    if unit is LengthUnit.INCH:
        return f"{value_mm / _MM_PER_INCH:.4g} in"
    return f"{value_mm:.4g} mm"
