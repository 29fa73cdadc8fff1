"""The path as DXF and SVG, read back by programs that did not write it."""

from __future__ import annotations

import io
import math
import re
from xml.etree import ElementTree as ET

import ezdxf
import numpy as np
import pytest
from ezdxf import recover

from kerfwright.adapters.papers.path_files import layer_of, path_dxf, path_svg, segments_of
from kerfwright.app.records import JobResult
from kerfwright.cli.demo import SAMPLE, WANTED
from kerfwright.cli.job import request_from
from kerfwright.foundation.units import MM_PER_INCH
from kerfwright.motion.moves import Cut, Turn
from kerfwright.trade.part import LengthUnit
from kerfwright.wiring import plan_job

SVG = "{http://www.w3.org/2000/svg}"
CLOSE_MM = 1e-6


@pytest.fixture(scope="module")
def wheel() -> JobResult:
    from importlib.resources import files

    drawing = files("kerfwright") / "data" / "samples" / SAMPLE
    return plan_job(request_from(WANTED | {"drawing": drawing}))


def cuts(result: JobResult) -> tuple[Cut, ...]:
    assert result.path is not None
    return result.path.cuts


@pytest.mark.parametrize("unit", list(LengthUnit))
def test_the_dxf_holds_every_cut_with_its_length_its_arcs_and_its_points(
    wheel: JobResult, unit: LengthUnit
) -> None:
    assert wheel.path is not None
    data = path_dxf(wheel.plan, wheel.path, unit=unit)
    document = ezdxf.read(io.StringIO(data.decode()))
    factor = MM_PER_INCH if unit is LengthUnit.INCH else 1.0
    assert document.units == (1 if unit is LengthUnit.INCH else 4)
    drawn = [e for e in document.modelspace() if e.dxf.layer.startswith("PASS")]
    assert len(drawn) == len(cuts(wheel))
    for polyline, cut in zip(drawn, cuts(wheel), strict=True):
        assert polyline.dxf.layer == layer_of(cut)
        # ezdxf takes the polyline apart into LINE and ARC with its own formulas.
        parts = list(polyline.virtual_entities())
        lengths = [
            (e.dxf.end - e.dxf.start).magnitude
            if e.dxftype() == "LINE"
            else e.dxf.radius * math.radians((e.dxf.end_angle - e.dxf.start_angle) % 360)
            for e in parts
        ]
        expected = cut.moves.lengths_mm()
        assert sum(lengths) * factor == pytest.approx(float(expected.sum()), abs=CLOSE_MM)
        arcs = [e for e in parts if e.dxftype() == "ARC"]
        is_arc = cut.moves.turn != Turn.LINE
        assert len(arcs) >= int(is_arc.sum())
        points = np.array(polyline.get_points("xy")) * factor
        ends = np.vstack([cut.moves.start_mm, cut.moves.end_mm])
        nearest = np.abs(ends[:, None, :] - points[None, :, :]).max(axis=2).min(axis=1)
        assert nearest.max() < CLOSE_MM
        centres = np.array([[e.dxf.center.x, e.dxf.center.y] for e in arcs]).reshape(-1, 2) * factor
        for centre in cut.moves.centre_mm[is_arc]:
            assert np.abs(centres - centre).max(axis=1).min() < CLOSE_MM


def test_a_strict_reader_finds_no_fault_in_the_dxf(wheel: JobResult) -> None:
    assert wheel.path is not None
    data = path_dxf(wheel.plan, wheel.path, unit=LengthUnit.MILLIMETRE)
    document, audit = recover.read(io.BytesIO(data))
    assert not audit.has_errors
    assert {"WALL", "START", "PASS-1-ROUGH", "PASS-2-SKIM"} <= {
        layer.dxf.name for layer in document.layers
    }
    walls = [e for e in document.modelspace() if e.dxf.layer == "WALL"]
    assert len(walls) == len(wheel.part.contours)


def svg_length(data: str) -> float:
    """Length of M, L and A by the endpoint formulas of SVG 1.1, appendix F.6.5."""
    total, x, y = 0.0, 0.0, 0.0
    for letter, numbers in re.findall(r"([MLA])([^MLAZ]*)", data):
        n = [float(w) for w in numbers.split()]
        chord = math.hypot(n[-2] - x, n[-1] - y)
        if letter == "L":
            total += chord
        elif letter == "A":
            angle = 2 * math.asin(min(chord / 2 / n[0], 1.0))
            total += n[0] * (2 * math.pi - angle if n[3] else angle)
        x, y = n[-2], n[-1]
    return total


def test_the_svg_holds_the_same_lengths_in_a_group_for_each_pass(wheel: JobResult) -> None:
    assert wheel.path is not None
    root = ET.fromstring(path_svg(wheel.plan, wheel.path, unit=LengthUnit.MILLIMETRE))  # noqa: S314
    groups = {g.attrib["id"]: g for g in root.iter(f"{SVG}g") if "id" in g.attrib}
    for name in {layer_of(c) for c in cuts(wheel)}:
        drawn = sum(svg_length(p.attrib["d"]) for p in groups[name].iter(f"{SVG}path"))
        wanted = sum(c.moves.lengths_mm().sum() for c in cuts(wheel) if layer_of(c) == name)
        # A millionth of a millimetre in each coordinate; flat arcs double it.
        assert drawn == pytest.approx(float(wanted), abs=1e-3)
    box = [float(v) for v in root.attrib["viewBox"].split()]
    assert root.attrib["width"] == f"{box[2]:.6f}mm"


def test_the_svg_of_an_inch_shop_is_as_large(wheel: JobResult) -> None:
    assert wheel.path is not None
    root = ET.fromstring(path_svg(wheel.plan, wheel.path, unit=LengthUnit.INCH))  # noqa: S314
    wide = float(root.attrib["width"].removesuffix("in"))
    assert wide * MM_PER_INCH == pytest.approx(float(root.attrib["viewBox"].split()[2]), abs=1e-4)


def test_a_cut_keeps_its_segments_in_the_direction_of_travel(wheel: JobResult) -> None:
    for cut in cuts(wheel):
        segments = segments_of(cut)
        assert np.abs(segments.start[1:] - segments.end[:-1]).max(initial=0.0) < CLOSE_MM
        assert np.abs(segments.start[0] - cut.moves.start_mm).max() < CLOSE_MM
