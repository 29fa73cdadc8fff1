"""Faults planted in program texts, for any program and its claim.

Every mutator takes the text and the claim only.  A change that cannot matter is not planted:

* a missing condition where the one in force is already that of the pass, as at the attended
  half of the rough pass of a program that goes straight on: the machine burns the same;
* a word that leaves the wire threaded at the very end of the program: nothing moves after it;
* a point moved along the wall, or a point off the wall (lead-in through waste), leaves the wall
  as it is: planted are only points on the wall whose distance from it changes, which shapely
  (GEOS) is asked, not the proof;
* a dropped point in the middle of a straight line leaves the path as it is;
* the last move before an attended cut-off may go: the cut-off then begins earlier and cuts the
  same wall with somebody there;
* an arc so flat that its chord, or another centre, leaves the path within 0.6 µm;
* an arc rolled about a sharp corner of the wall that bulges more, or goes round through waste: its
  ends still cut the corner; nor an arc of the way in that goes round the other way;
* one of two stops between the same two cuts, or the stop after the last of them: somebody comes to
  the machine there all the same;
* a point moved away from the wall where the same pass comes by twice (overlap);
* an arc flipped between G02 and G03 at exactly half a turn about an axis of symmetry does not
  occur in these programs.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
import shapely

from kerfwright.proof.records import Claim

MICROMETRE = 0.001
ON_WALL_MM = 0.002
"""Moves run along the wall if their end is within this of the wall, or of its offset."""
FELT_MM = 0.0006
"""Least change of the distance from the wall that a shift by 1 µm must make to be planted."""
ROLL_MM = 0.5
"""Offsets of a wire, about which it rolls round corners, are less."""
WORD = re.compile(r"([A-Z])([+-]?\d+\.?\d*)")
MOVE = re.compile(r"^G0[0123]\b")
CODE = re.compile(r"\bG0[0123]\b")
CUTTING = re.compile(r"^(G0[123]\b|[XY])")
HEADER = re.compile(r"\(CUT (\S+) PASS (\d+) OFFSET (\d+\.\d+)\)")


@dataclass(frozen=True)
class Fault:
    """One planted fault."""

    kind: str
    name: str
    text: str


@dataclass(frozen=True)
class Line:
    """A move of the text with its end point."""

    row: int
    code: str
    words: dict[str, str]
    start: tuple[float, float]
    end: tuple[float, float]
    offset: float

    @property
    def centre(self) -> tuple[float, float]:
        """Centre of an arc."""
        i, j = float(self.words.get("I", 0.0)), float(self.words.get("J", 0.0))
        return self.start[0] + i, self.start[1] + j

    @property
    def radius(self) -> float:
        """Radius of an arc by its start."""
        return math.dist(self.start, self.centre)

    def drawn(self) -> shapely.LineString:
        """Return the move as 64 chords."""
        if "I" not in self.words and "J" not in self.words:
            return shapely.LineString([self.start, self.end])
        (x, y), radius = self.centre, math.dist(self.start, self.centre)
        begin = math.atan2(self.start[1] - y, self.start[0] - x)
        sweep = math.atan2(self.end[1] - y, self.end[0] - x) - begin
        sweep = sweep % math.tau if self.code == "G03" else -(-sweep % math.tau)
        angles = begin + sweep * np.linspace(0.0, 1.0, 65)
        circle = np.column_stack([x + radius * np.cos(angles), y + radius * np.sin(angles)])
        return shapely.LineString(circle)

    @property
    def rise(self) -> float:
        """How far an arc leaves its chord."""
        radius = math.dist(self.start, self.centre)
        half = math.dist(self.start, self.end) / 2
        return radius - math.sqrt(max(radius**2 - half**2, 0.0))


Mutator = Callable[[str, Claim], Iterator[Fault]]


def moves_of(text: str) -> list[Line]:
    """Return the moves with absolute X and Y, in order."""
    found = []
    x = y = offset = math.nan
    code = "G00"
    for row, line in enumerate(text.splitlines()):
        header = HEADER.match(line)
        offset = float(header.group(3)) if header else offset
        words = dict(WORD.findall(line)) if not line.startswith("(") else {}
        said = CODE.search(line) if not line.startswith("(") else None
        code = said.group() if said else code
        if "X" in words or "Y" in words:
            start = (x, y)
            x, y = float(words.get("X", x)), float(words.get("Y", y))
            found.append(Line(row, code, words, start, (x, y), offset))
    return found


def walls_of(claim: Claim) -> shapely.Geometry:
    """Return the walls as chords within 1 nm."""
    rings = []
    for part in claim.contours:
        s = part.contour.segments
        points = []
        for k in range(len(s)):
            steps = 400 if s.is_arc[k] else 1
            points.append(s.points_at(np.full(steps, k), np.arange(steps) / steps))
        rings.append(shapely.LinearRing(np.concatenate(points)))
    return shapely.MultiLineString(rings)


def on_wall(text: str, claim: Claim) -> list[Line]:
    """Return the cutting moves that end beside the wall."""
    walls = walls_of(claim)
    controlled = "G41" in text or "G42" in text
    found = []
    for move in moves_of(text):
        away = walls.distance(shapely.Point(move.end))
        # Where the control applies the offset the text holds the wall itself.
        gap = away if controlled else abs(away - move.offset)
        if move.code != "G00" and gap < ON_WALL_MM:
            found.append(move)
    return found


def overlaps(text: str) -> set[int]:
    """Return rows of moves whose end another move of the same pass comes by."""
    number = ""
    by_pass: dict[str, list[Line]] = {}
    headers = [HEADER.match(line) for line in text.splitlines()]
    for move in moves_of(text):
        above = [h for h in headers[: move.row] if h]
        number = " ".join(above[-1].groups()[:2]) if above else ""
        if move.code != "G00":
            by_pass.setdefault(number, []).append(move)
    found = set()
    for moves in by_pass.values():
        for k, move in enumerate(moves):
            others = [m for j, m in enumerate(moves) if abs(j - k) > 1]
            ways = [m.drawn() for m in others]
            if ways and min(shapely.distance(ways, shapely.Point(move.end))) < ON_WALL_MM:
                found.add(move.row)
    return found


def changed(text: str, row: int, letter: str, value: str) -> str:
    """Return the text with one word of one line changed."""
    lines = text.splitlines()
    lines[row] = re.sub(rf"{letter}[+-]?\d+\.?\d*", f"{letter}{value}", lines[row], count=1)
    return "\n".join(lines) + "\n"


def replaced(text: str, row: int, line: str | None) -> str:
    """Return the text with one line replaced, or dropped."""
    lines = text.splitlines()
    lines[row : row + 1] = [] if line is None else [line]
    return "\n".join(lines) + "\n"


def digits(value: str) -> int:
    """Return the decimals of a number."""
    return len(value.partition(".")[2])


def shifted_points(text: str, claim: Claim) -> Iterator[Fault]:
    """One point is 1 µm off."""
    walls = walls_of(claim)
    twice = overlaps(text)
    for move in on_wall(text, claim):
        before = walls.distance(shapely.Point(move.end))
        for axis, letter in enumerate("XY"):
            if letter not in move.words:
                continue
            for step in (MICROMETRE, -MICROMETRE):
                end = list(move.end)
                end[axis] += step
                change = walls.distance(shapely.Point(end)) - before
                if abs(change) < FELT_MM or (change > 0 and move.row in twice):
                    continue
                places = digits(move.words[letter])
                value = f"{end[axis]:.{places}f}"
                yield Fault(
                    "shifted-point",
                    f"line {move.row + 1} {letter}{step:+}",
                    changed(text, move.row, letter, value),
                )


def wrong_signs(text: str, claim: Claim) -> Iterator[Fault]:
    """A coordinate has the other sign."""
    for move in on_wall(text, claim):
        for letter in "XY":
            value = move.words.get(letter)
            if value is not None and abs(float(value)) > 2 * MICROMETRE:
                turned = value[1:] if value.startswith("-") else f"-{value}"
                yield Fault(
                    "wrong-sign",
                    f"line {move.row + 1} {letter}",
                    changed(text, move.row, letter, turned),
                )


def flipped_arcs(text: str, claim: Claim) -> Iterator[Fault]:
    """G02 for G03 and the reverse."""
    walls = walls_of(claim)
    for move in on_wall(text, claim):
        if move.code in {"G02", "G03"}:
            other = "G03" if move.code == "G02" else "G02"
            line = text.splitlines()[move.row]
            if line.startswith(move.code) and not _stays_in_waste(replace(move, code=other), walls):
                yield Fault(
                    "flipped-arc",
                    f"line {move.row + 1}",
                    replaced(text, move.row, other + line[3:]),
                )


def _stays_in_waste(arc: Line, walls: shapely.Geometry) -> bool:
    """Return whether an arc in place of a roll about a corner, or of a way in, keeps off the wall.

    Either meets the wall at its ends only; all between runs through waste.
    """
    near, far = sorted(shapely.distance(walls, shapely.points([arc.start, arc.end])))
    cuts_wall = arc.radius > ROLL_MM and far - near < ROLL_MM
    return bool(not cuts_wall and walls.distance(arc.drawn()) > near - FELT_MM)


def arcs_as_lines(text: str, claim: Claim) -> Iterator[Fault]:
    """G01 for an arc: the chord is cut."""
    for move in on_wall(text, claim):
        if move.code in {"G02", "G03"} and move.rise > FELT_MM:
            line = f"G01 X{move.end[0]:.4f} Y{move.end[1]:.4f}"
            yield Fault("arc-as-line", f"line {move.row + 1}", replaced(text, move.row, line))


def swapped_centres(text: str, claim: Claim) -> Iterator[Fault]:
    """I and J exchanged, or one of them with the other sign."""
    walls = walls_of(claim)
    for move in on_wall(text, claim):
        i, j = move.words.get("I"), move.words.get("J")
        if i is None or j is None:
            continue
        turned = replace(move, words=move.words | {"I": j, "J": i})
        if abs(float(i) - float(j)) > MICROMETRE and not _stays_in_waste(turned, walls):
            once = changed(text, move.row, "I", j)
            yield Fault("swapped-ij", f"line {move.row + 1}", changed(once, move.row, "J", i))
        for letter, value in (("I", i), ("J", j)):
            if abs(float(value)) > MICROMETRE:
                turned = value[1:] if value.startswith("-") else f"-{value}"
                yield Fault(
                    "centre-sign",
                    f"line {move.row + 1} {letter}",
                    changed(text, move.row, letter, turned),
                )


def shifted_centres(text: str, claim: Claim) -> Iterator[Fault]:
    """The centre of an arc is 10 µm off: more than rounding explains."""
    walls = walls_of(claim)
    for move in on_wall(text, claim):
        if walls.distance(shapely.Point(move.centre)) < ON_WALL_MM:
            continue
        for letter in "IJ":
            value = move.words.get(letter)
            if value is not None and _is_felt(move, letter):
                moved = f"{float(value) + 10 * MICROMETRE:.{digits(value)}f}"
                yield Fault(
                    "shifted-centre",
                    f"line {move.row + 1} {letter}",
                    changed(text, move.row, letter, moved),
                )


def _is_felt(move: Line, letter: str) -> bool:
    """Return whether 10 µm more on I or J moves the arc, or its radii apart, noticeably."""
    if abs(float(move.words[letter])) < 10 * MICROMETRE:
        return False
    x, y = move.centre
    moved = (x + 10 * MICROMETRE, y) if letter == "I" else (x, y + 10 * MICROMETRE)
    radii = [math.dist(end, moved) for end in (move.start, move.end)]
    half = math.dist(move.start, move.end) / 2
    radius = sum(radii) / 2
    rise = radius - math.sqrt(max(radius**2 - half**2, 0.0))
    return abs(radii[0] - radii[1]) > 5 * FELT_MM or abs(rise - move.rise) > FELT_MM


def dropped_moves(text: str, claim: Claim) -> Iterator[Fault]:
    """A move along the wall is missing."""
    moves = moves_of(text)
    wanted = {m.row for m in on_wall(text, claim)}
    for here, after in pairwise(moves):
        if here.row not in wanted or after.code == "G00":
            continue
        if claim.machine.dialect.attended_stop in text.splitlines()[here.row : after.row]:
            continue
        if here.code == after.code == "G01":
            ax, ay = here.end[0] - here.start[0], here.end[1] - here.start[1]
            bx, by = after.end[0] - here.start[0], after.end[1] - here.start[1]
            if abs(ax * by - ay * bx) < MICROMETRE * max(math.hypot(bx, by), MICROMETRE):
                continue
        yield Fault("dropped-move", f"line {here.row + 1}", replaced(text, here.row, None))


def rapids(text: str, claim: Claim) -> Iterator[Fault]:
    """A cut is written as a rapid."""
    for move in on_wall(text, claim):
        line = f"G00 X{move.end[0]:.4f} Y{move.end[1]:.4f}"
        yield Fault("rapid-cut", f"line {move.row + 1}", replaced(text, move.row, line))


def wrong_feeds(text: str, claim: Claim) -> Iterator[Fault]:
    """No feed, or one in units far too small."""
    fast = claim.machine.idle_speed_mm_per_min * 2
    for move in on_wall(text, claim):
        if "F" in move.words:
            for feed in ("0", f"{fast:.0f}"):
                yield Fault(
                    "wrong-feed",
                    f"line {move.row + 1} F{feed}",
                    changed(text, move.row, "F", feed),
                )


def scaled_feeds(text: str, claim: Claim) -> Iterator[Fault]:
    """A feed along the wall with its decimal point moved: ten times, or a thousandth.

    A skim that comes to the wall through the open kerf may be fast.
    """
    rows = {m.row for m in on_wall(text, claim)}
    moves = moves_of(text)
    lines = text.splitlines()
    for before, move in pairwise(moves):
        if move.row in rows and "F" in move.words:
            above = [h for h in map(HEADER.match, lines[: move.row]) if h]
            leads = before.row not in rows and int(above[-1].group(2)) > 1
            for factor in (0.001,) if leads else (10.0, 0.001):
                value = float(move.words["F"]) * factor
                yield Fault(
                    "scaled-feed",
                    f"line {move.row + 1} F{value:.6f}",
                    changed(text, move.row, "F", f"{value:.6f}"),
                )


def other_offsets(text: str, claim: Claim) -> Iterator[Fault]:
    """One pass is at another offset, header and path agreeing; only the claim tells.

    The path is not moved here (the unit tests do that with whole programs): each header of the
    pass is, and in the controller form the table, so that the reader moves the path.
    """
    for (name, number), offset in claim.offset_mm.items():
        for other in (claim.kerf_radius_mm[number], offset + 0.088):
            if abs(other - offset) < MICROMETRE:
                continue
            changed_text = re.sub(
                rf"(\(CUT {name} PASS {number} OFFSET )\d+\.\d+", rf"\g<1>{other:.4f}", text
            )
            changed_text = re.sub(
                rf"(G10 L1 P\d+ R){offset:.4f}", rf"\g<1>{other:.4f}", changed_text
            )
            yield Fault("other-offset", f"{name} pass {number} at {other:.4f}", changed_text)


def offsets_of_another_contour(text: str, claim: Claim) -> Iterator[Fault]:
    """A contour is headed, and in the controller form called, with another contour's offsets."""
    table = {round(float(r), 4): d for d, r in re.findall(r"G10 L1 P(\d+) R(\d+\.\d+)", text)}
    for (name, number), offset in claim.offset_mm.items():
        for (other, same), theirs in claim.offset_mm.items():
            if same != number or abs(theirs - offset) < MICROMETRE:
                continue
            head, cuts = sections(text)
            changed_cuts = []
            for lines in cuts:
                header = HEADER.match(lines[0])
                if header and header.group(1) == name and int(header.group(2)) == number:
                    first = f"(CUT {name} PASS {number} OFFSET {theirs:.4f})"
                    number_of = table.get(round(theirs, 4), "0")
                    rest = [re.sub(r"(G4[12] ?D)\d+", rf"\g<1>{number_of}", s) for s in lines[1:]]
                    changed_cuts.append([first, *rest])
                else:
                    changed_cuts.append(lines)
            yield Fault("another-contours-offset", f"{name} as {other}", joined(head, changed_cuts))


def other_pass_counts(text: str, claim: Claim) -> Iterator[Fault]:
    """The last pass of a contour is left out, or it has one more, as another contour has.

    The wire words of the cuts stay.
    """
    head, cuts = sections(text)

    def is_of(lines: list[str], name: str, number: int) -> bool:
        header = HEADER.match(lines[0])
        return bool(header and header.group(1) == name and int(header.group(2)) == number)

    for name in sorted(claim.cut_ids):
        last = max(claim.passes_of(name))
        if last > 1:
            kept = [
                [s for s in c if not MOVE.match(s) and not HEADER.match(s)]
                if is_of(c, name, last)
                else c
                for c in cuts
            ]
            yield Fault("last-pass-missing", f"{name} pass {last}", joined(head, kept))
        if last < max(claim.kerf_radius_mm):
            at = max(k for k, c in enumerate(cuts) if is_of(c, name, last))
            offset = claim.kerf_radius_mm[last + 1]
            more = [f"(CUT {name} PASS {last + 1} OFFSET {offset:.4f})", *cuts[at][1:]]
            wires = [claim.machine.dialect.cut_wire] if at == len(cuts) - 1 else []
            body = [s for s in cuts[at] if s not in {claim.machine.dialect.end_of_program, "%"}]
            added = [*cuts[:at], [*body, *wires], more, *cuts[at + 1 :]]
            yield Fault("surplus-pass", f"{name} pass {last + 1}", joined(head, added))


def stray_conditions(text: str, claim: Claim) -> Iterator[Fault]:
    """The condition of another pass is called within a cut, or the own one is not."""
    lines = text.splitlines()
    template = claim.machine.dialect.condition
    calls = {template.format(number=n): n for n in claim.kerf_radius_mm}
    passes = sorted(claim.kerf_radius_mm)
    number = 0
    active = 0
    for row, line in enumerate(lines):
        header = HEADER.match(line)
        number = int(header.group(2)) if header else number
        bare = re.sub(r"^N\d+ ", "", line).strip()
        if bare in calls:
            if active != calls[bare]:
                yield Fault("missing-condition", f"line {row + 1}", replaced(text, row, None))
            other = passes[(passes.index(calls[bare]) + 1) % len(passes)]
            two = f"{line}\n{template.format(number=other)}"
            yield Fault("second-condition", f"line {row + 1}", replaced(text, row, two))
            active = calls[bare]
    for move in on_wall(text, claim):
        above = [HEADER.match(s) for s in lines[: move.row + 1]]
        number = int([h for h in above if h][-1].group(2))  # type: ignore[union-attr]
        other = passes[(passes.index(number) + 1) % len(passes)]
        two = f"{template.format(number=other)}\n{lines[move.row]}"
        yield Fault("condition-in-cut", f"line {move.row + 1}", replaced(text, move.row, two))


def far_rapids(text: str, claim: Claim) -> Iterator[Fault]:
    """A rapid goes beyond the travel, the wire cut."""
    cut_wire = claim.machine.dialect.cut_wire
    for row, line in enumerate(text.splitlines()):
        if line.strip() == cut_wire:
            for letter in "XY":
                far = f"{line}\nG00 {letter}9000.0"
                yield Fault("far-rapid", f"line {row + 1} {letter}", replaced(text, row, far))


def missing_words(text: str, claim: Claim) -> Iterator[Fault]:
    """A wire word, a stop, a condition or the end is missing; a stop is only optional."""
    dialect = claim.machine.dialect
    condition = dialect.condition.split("{")[0].strip()
    words = {
        dialect.thread: "missing-thread",
        dialect.cut_wire: "missing-wire-cut",
        dialect.attended_stop: "missing-stop",
        dialect.end_of_program: "missing-end",
    }
    needed = _stops_needed(text, dialect.attended_stop)
    for row, line in enumerate(text.splitlines()):
        bare = re.sub(r"^N\d+ ", "", line).strip()
        moves_on = any(MOVE.match(s) for s in text.splitlines()[row:])
        is_stop = bare == dialect.attended_stop
        is_needed = not is_stop or row in needed
        if bare in words and is_needed and (bare != dialect.cut_wire or moves_on):
            yield Fault(words[bare], f"line {row + 1}", replaced(text, row, None))
        if is_stop and is_needed:
            yield Fault(
                "optional-stop", f"line {row + 1}", replaced(text, row, dialect.optional_stop)
            )
        if bare.startswith(condition) and "P" in bare:
            number = int(bare.rpartition("P")[2])
            other = dialect.condition.format(number=number + 1)
            yield Fault("wrong-condition", f"line {row + 1}", replaced(text, row, other))


def _stops_needed(text: str, stop: str) -> set[int]:
    """Return the rows of stops that stand alone between two cuts."""
    needed: set[int] = set()
    waiting: list[int] = []
    for row, line in enumerate(text.splitlines()):
        bare = re.sub(r"^N\d+ ", "", line).strip()
        if bare == stop:
            waiting.append(row)
        elif CUTTING.match(bare):
            needed.update(waiting if len(waiting) == 1 else ())
            waiting = []
    return needed


def wrong_headers(text: str, claim: Claim) -> Iterator[Fault]:
    """A header names another contour, pass or offset, or is missing."""
    for row, line in enumerate(text.splitlines()):
        match = HEADER.match(line)
        if match is None:
            continue
        name, number, offset = match.group(1), int(match.group(2)), float(match.group(3))
        for kind, header in (
            ("header-contour", f"(CUT X9 PASS {number} OFFSET {offset:.4f})"),
            ("header-pass", f"(CUT {name} PASS {number + 1} OFFSET {offset:.4f})"),
            ("header-offset", f"(CUT {name} PASS {number} OFFSET {offset + MICROMETRE:.4f})"),
            ("header-offset", f"(CUT {name} PASS {number} OFFSET {offset - MICROMETRE:.4f})"),
        ):
            yield Fault(kind, f"line {row + 1} {header}", replaced(text, row, header))


def sections(text: str) -> tuple[list[str], list[list[str]]]:
    """Return the head, and the lines of each cut."""
    head: list[str] = []
    cuts: list[list[str]] = []
    for line in text.splitlines():
        if HEADER.match(line):
            cuts.append([])
        (cuts[-1] if cuts else head).append(line)
    return head, cuts


def joined(head: list[str], cuts: list[list[str]]) -> str:
    """Put a text together again."""
    return "\n".join([*head, *(line for cut in cuts for line in cut)]) + "\n"


def rearranged(text: str, claim: Claim) -> Iterator[Fault]:
    """A whole cut is missing, or two skims are exchanged; the wire words stay."""
    head, cuts = sections(text)

    def without_moves(lines: list[str]) -> list[str]:
        return [s for s in lines if not MOVE.match(s) and not s.startswith(("X", "Y", "G4"))]

    for k, lines in enumerate(cuts):
        kept = [*cuts[:k], without_moves(lines), *cuts[k + 1 :]]
        yield Fault("missing-cut", lines[0], joined(head, kept))
        wires = [s for s in lines if s in {claim.machine.dialect.thread, "M102", "M30", "%"}]
        if not wires:
            gone = [*cuts[:k], *cuts[k + 1 :]]
            yield Fault("missing-section", lines[0], joined(head, gone))
    for k in range(len(cuts) - 1):
        a, b = HEADER.match(cuts[k][0]), HEADER.match(cuts[k + 1][0])
        if a and b and a.group(1) == b.group(1) and 1 < int(a.group(2)) < int(b.group(2)):
            tail = [s for s in cuts[k + 1] if s in {"M102", "M30", "%"}]
            later = [s for s in cuts[k + 1] if s not in tail]
            order = [*cuts[:k], later, [*cuts[k], *tail], *cuts[k + 2 :]]
            yield Fault("exchanged-skims", cuts[k][0], joined(head, order))


def no_tab(text: str, claim: Claim) -> Iterator[Fault]:
    """The rough pass runs on through the tab: the stop before it and its header are gone."""
    lines = text.splitlines()
    stop = claim.machine.dialect.attended_stop
    for row, line in enumerate(lines):
        if HEADER.match(line) and stop in lines[row : row + 4]:
            at = lines.index(stop, row)
            kept = [*lines[:row], *lines[row + 1 : at], *lines[at + 1 :]]
            yield Fault("no-tab", f"line {row + 1}", "\n".join(kept) + "\n")


def stop_far_ahead(text: str, claim: Claim) -> Iterator[Fault]:
    """No tab, and the stop stands before the whole contour; a short contour is left alone."""
    lines = text.splitlines()
    stop = claim.machine.dialect.attended_stop
    length = {p.id: float(p.contour.segments.length.sum()) for p in claim.contours}
    for row, line in enumerate(lines):
        header = HEADER.match(line)
        if header and stop in lines[row : row + 4] and length[header.group(1)] > 50.0:
            at = lines.index(stop, row)
            first = next(k for k, s in enumerate(lines) if s.startswith(f"(CUT {header.group(1)} "))
            kept = [*lines[: first + 1], stop, *lines[first + 1 : row]]
            kept += [*lines[row + 1 : at], *lines[at + 1 :]]
            yield Fault("stop-far-ahead", f"line {row + 1}", "\n".join(kept) + "\n")


def moved_starts(text: str, claim: Claim) -> Iterator[Fault]:
    """The wire is threaded beside its hole."""
    room = max(s.diameter_mm for s in claim.starts) / 2
    for move in moves_of(text):
        if move.code == "G00":
            for letter in "XY":
                value = float(move.words[letter]) + room + MICROMETRE
                yield Fault(
                    "moved-start",
                    f"line {move.row + 1} {letter}",
                    changed(text, move.row, letter, f"{value:.4f}"),
                )


def whole_program(text: str, claim: Claim) -> Iterator[Fault]:
    """Everything is shifted by 1 µm, mirrored, or in the wrong unit."""

    def mapped(letters: str, change: Callable[[float], float]) -> str:
        out = []
        for line in text.splitlines():
            if line.startswith("(") or "G10" in line:
                out.append(line)
                continue
            out.append(
                re.sub(
                    rf"([{letters}])([+-]?\d+\.\d+)",
                    lambda m: f"{m.group(1)}{change(float(m.group(2))):.4f}",
                    line,
                )
            )
        return "\n".join(out) + "\n"

    for letter in "XY":
        for step in (MICROMETRE, -MICROMETRE):
            yield Fault("whole-shift", f"{letter}{step:+}", mapped(letter, lambda v, s=step: v + s))
    yield Fault("wrong-unit", "inches written, read as mm", mapped("XYIJ", lambda v: v / 25.4))
    yield Fault("wrong-unit", "mm written as inches", mapped("XYIJ", lambda v: v * 25.4))
    yield Fault("wrong-unit", "G20", text.replace("G21", "G20", 1))
    yield Fault("mirrored", "X", mapped("XI", lambda v: -v))
    yield Fault("mirrored", "Y", mapped("YJ", lambda v: -v))
    yield Fault("scaled", "shrinkage 1.001", mapped("XYIJ", lambda v: v * 1.001))
    yield Fault("incremental", "G91", text.replace("G90", "G91", 1))


def controller_words(text: str, claim: Claim) -> Iterator[Fault]:
    """The control's offset: other side, other number, other value, off."""
    rows = text.splitlines()
    table = [int(m.group(1)) for line in rows if (m := re.match(r"G10 L1 P(\d+)", line))]
    for row, line in enumerate(rows):
        if "G41" in line or "G42" in line:
            turned = line.replace("G41", "G4x").replace("G42", "G41").replace("G4x", "G42")
            yield Fault("other-side", f"line {row + 1}", replaced(text, row, turned))
            number = int(re.search(r"D(\d+)", line).group(1))  # type: ignore[union-attr]
            for other in table:
                if other != number:
                    wrong = line.replace(f"D{number}", f"D{other}")
                    yield Fault("wrong-d", f"line {row + 1} D{other}", replaced(text, row, wrong))
            bare = re.sub(r"G4[12] ?D\d+ ?", "", line).strip()
            yield Fault("no-offset", f"line {row + 1}", replaced(text, row, bare or None))
        match = re.match(r"G10 L1 P\d+ R(\d+\.\d+)", line)
        if match:
            for step in (MICROMETRE, -MICROMETRE):
                value = f"{float(match.group(1)) + step:.4f}"
                yield Fault(
                    "table-value",
                    f"line {row + 1} {step:+}",
                    replaced(text, row, line.replace(match.group(1), value)),
                )


MUTATORS: tuple[Mutator, ...] = (
    shifted_points,
    wrong_signs,
    flipped_arcs,
    arcs_as_lines,
    swapped_centres,
    shifted_centres,
    dropped_moves,
    rapids,
    wrong_feeds,
    scaled_feeds,
    other_offsets,
    offsets_of_another_contour,
    other_pass_counts,
    stray_conditions,
    far_rapids,
    missing_words,
    wrong_headers,
    rearranged,
    no_tab,
    stop_far_ahead,
    moved_starts,
    whole_program,
    controller_words,
)
