"""Rows of clicks for the striking trains of tower clocks, cut as strings, for several tests."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import ezdxf
from tests.conftest import PartMaker, box

from kerfwright.adapters.tables import Tables
from kerfwright.app.plan_job import claim_of
from kerfwright.geometry.contour import Contour
from kerfwright.motion.moves import WirePath
from kerfwright.nc.writer import write_program
from kerfwright.planning.plan import Plan
from kerfwright.planning.planner import make_plan
from kerfwright.planning.strings import with_strings
from kerfwright.proof.records import Claim
from kerfwright.trade.part import Part, Role
from kerfwright.trade.requirement import Requirement
from kerfwright.wirepath.builder import build_path

HEADER = re.compile(r"\(CUT (\S+) PASS (\d+) ")


@dataclass(frozen=True)
class Strung:
    """A job as strings."""

    alone: Plan
    plan: Plan
    path: WirePath
    claim: Claim
    text: str

    @property
    def ids(self) -> tuple[tuple[str, ...], ...]:
        """The strings, by the ids of their parts."""
        return tuple(s.contour_ids for s in self.plan.strings)


def row(
    make_part: PartMaker,
    shapes: Sequence[Contour],
    *,
    web_mm: float = 3.0,
    frame_mm: float = 8.0,
    bores: bool = False,
) -> Part:
    """Lay outlines side by side in a strip, each with a bore if asked."""
    contours: list[tuple[Role, Contour, str | None]] = []
    holes: list[tuple[Role, Contour, str | None]] = []
    x, top = frame_mm, 0.0
    for number, shape in enumerate(shapes, start=1):
        x0, y0, x1, y1 = shape.bounds_mm
        contours.append((Role.OUTLINE, shape.transformed(shift_mm=(x - x0, frame_mm - y0)), None))
        middle = x + (x1 - x0) / 2, frame_mm + (y1 - y0) / 2
        holes.append((Role.OPENING, Contour.circle(middle, radius_mm=2.0), f"P{number}"))
        x, top = x + x1 - x0 + web_mm, max(top, y1 - y0)
    stock = box(0, 0, x - web_mm + frame_mm, top + 2 * frame_mm)
    return make_part([*contours, *(holes if bores else ())], stock=stock)


def click(width_mm: float = 12.0, height_mm: float = 20.0) -> Contour:
    """Return a click: a plate with one rounded and one slanting end."""
    w, h = width_mm, height_mm
    return Contour.from_rows([(0, 0, 0), (w, 0, 0), (w, h - 3, 0), (w - 4, h, 0), (0, h, 0)])


def planned(part: Part, requirement: Requirement, tables: Tables) -> Plan:
    return make_plan(
        part,
        requirement,
        technology=tables.technology,
        catalogue=tables.catalogue,
        rules=tables.rules,
    )


def strung(part: Part, requirement: Requirement, tables: Tables) -> Strung:
    """Plan a part as strings, draw it and write its program."""
    wanted = replace(requirement, tolerance_um=10.0, ra_um=None, height_mm=8.0)
    alone = planned(part, wanted, tables)
    plan = with_strings(alone, technology=tables.technology)
    assert plan is not None
    path = build_path(plan, physics=None, programs_wall=False)
    text = write_program(path, machine=wanted.machine, title="STRING")
    return Strung(alone=alone, plan=plan, path=path, claim=claim_of(plan), text=text)


def pallets(folder: Path) -> Path:
    """Draw three pallets of a tower clock in one strip, its edge declared as stock."""
    document = ezdxf.new()
    document.units = 4
    document.header.custom_vars.append("kerfwright.layer.STOCK", "stock")
    space = document.modelspace()

    def rectangle(x: float, y: float, w: float, h: float, layer: str) -> None:
        corners = [(x, y), (x + w, y), (x + w, y + h), (x, y + h)]
        space.add_lwpolyline(corners, close=True, dxfattribs={"layer": layer})

    rectangle(0, 0, 64, 36, "STOCK")
    for k in range(3):
        rectangle(8 + 17 * k, 8, 14, 20, f"PALLET-{k}")
    place = folder / "pallets.dxf"
    document.saveas(place)
    return place


def blocks(text: str) -> tuple[list[str], list[list[str]]]:
    """Return the head of a program, and its cuts, each from its header on."""
    lines = text.splitlines()
    begins = [k for k, line in enumerate(lines) if HEADER.match(line)]
    ends = [*begins[1:], len(lines)]
    return lines[: begins[0]], [lines[a:b] for a, b in zip(begins, ends, strict=True)]


def joined(head: list[str], cuts: Sequence[list[str]]) -> str:
    return "\n".join([*head, *(line for cut in cuts for line in cut)]) + "\n"


def name_of(cut: list[str]) -> tuple[str, int]:
    """Return contour and pass of a cut of the text."""
    found = HEADER.match(cut[0])
    assert found is not None
    return found.group(1), int(found.group(2))
