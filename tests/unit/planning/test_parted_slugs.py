"""A start hole across a slug parts it; one that lies in it, or only bites it, does not."""

from __future__ import annotations

from pathlib import Path

import ezdxf
import pytest

from kerfwright.app.plan_job import Extent
from kerfwright.app.records import JobRequest
from kerfwright.planning.parted_slugs import PARTED
from kerfwright.trade.part import LayerUse
from kerfwright.wiring import plan_job

UPRIGHT, ACROSS = (40.0, 25.0), (58.5, 25.0)


@pytest.mark.parametrize(
    ("diameter", "at", "pieces"),
    [
        # A slot of 40 x 6: the slug between two kerfs is some 5.3 mm wide.
        (5.8, UPRIGHT, 2),
        (5.8, (30.0, 25.0), 2),
        (4.5, UPRIGHT, 1),
        (1.0, UPRIGHT, 1),
        # At the end nothing is left behind the hole.
        (2.6, ACROSS, 1),
    ],
)
def test_a_hole_as_wide_as_the_slug_parts_it(
    tmp_path: Path, diameter: float, at: tuple[float, float], pieces: int
) -> None:
    document = ezdxf.new("R2010", units=4)
    space = document.modelspace()
    space.add_lwpolyline([(0, 0), (80, 0), (80, 50), (0, 50)], close=True)
    space.add_lwpolyline([(20, 22), (60, 22), (60, 28), (20, 28)], close=True)
    space.add_circle(at, diameter / 2, dxfattribs={"layer": "START"})
    document.saveas(tmp_path / "slot.dxf")
    request = JobRequest(
        drawing=tmp_path / "slot.dxf",
        material="D2",
        height="60 mm",
        layer_uses={"START": LayerUse.START},
    )
    result = plan_job(request, extent=Extent.PRICED)
    found = [f for f in result.findings if f.code == PARTED]
    assert [f.data["pieces"] for f in found] == [pieces] * (pieces > 1)
    for one in found:
        assert one.where.contour_id == "H1"
        assert "free while the rough cut runs on" in one.message
