"""Real solids that nobody here made: what is read of each, or why it is refused.

Origin, licence, volume and faces of each: ``../shared/corpus/MANIFEST.csv``, taken with another
reading of Open CASCADE.
"""

from __future__ import annotations

import csv
import re
from pathlib import Path

import pytest

from kerfwright.adapters.step import read_solid, reader
from kerfwright.app.records import JobRequest
from kerfwright.foundation.errors import DrawingError
from kerfwright.foundation.findings import Severity
from kerfwright.trade.part import LengthUnit, Part
from kerfwright.wiring import plan_job

CORPUS = Path(__file__).resolve().parents[3] / "shared" / "corpus"
MANIFEST = CORPUS / "MANIFEST.csv"
VOLUME = re.compile(r"volume mm3 ([0-9.]+)")
pytestmark = [
    pytest.mark.corpus,
    pytest.mark.outside,
    pytest.mark.skipif(not MANIFEST.exists(), reason="the corpus is not beside this checkout"),
    pytest.mark.skipif(
        not reader.has_reader(), reason="no Open CASCADE here: pip install 'kerfwright[solids]'"
    ),
]
READ = {
    # Outlines, openings, height in mm, and whether all of it is for a wire.
    "st_base_plate_in_ap203.step": (1, 5, 4.7625, True),
    "st_block_hole_in.step": (1, 1, 25.4, True),
    "st_mfcad_prismatic_a.step": (1, 2, 10.0, True),
    "st_motor_spacer.step": (1, 3, 9.5, True),
    "st_plug_aligner.stp": (1, 1, 5.5, True),
    # Two end chamfers.
    "st_at3_pulley_motor.step": (1, 1, 6.7, False),
    # A floor 3 mm up; the holes in it go through.
    "st_pointer_stepped.step": (1, 11, 13.0, False),
    # A blind hole in the exact solid; the other one is of facets.
    "st_nist_onehole_tessellated.stp": (1, 0, 25.4, False),
    # A ring, all of splines; the groove in its face is not for a wire.
    "st_nist_pmi_11_bspline.stp": (1, 1, 3.0, False),
}
REFUSED = {
    "st_cylinder_two_cones.stp": "several-solids",
    # Its four faces meet in edges at underside and top.
    "st_tetrahedron.step": "nothing-for-wire",
    # Conical teeth above a hub: no wall goes through.
    "st_conic_cycloid_a.step": "nothing-for-wire",
}
SLOW = {"st_conic_cycloid_a.step"}


@pytest.fixture
def reads_here(monkeypatch: pytest.MonkeyPatch) -> None:
    # What imports Open CASCADE, only where these tests run.
    from solid_samples import read_here

    read_here(monkeypatch)


def volume(part: Part) -> float:
    assert part.solid is not None
    return sum(c.contour.area_mm2 for c in part.contours) * part.solid.height_mm


@pytest.mark.usefixtures("reads_here")
@pytest.mark.parametrize("name", READ)
def test_a_solid_is_read(name: str) -> None:
    outlines, openings, height, is_whole = READ[name]
    part = read_solid(CORPUS / "step" / name)
    assert part.solid is not None
    kinds = [c.role.value for c in part.contours]
    assert (kinds.count("outline"), kinds.count("opening")) == (outlines, openings)
    assert part.solid.height_mm == pytest.approx(height, abs=1e-6)
    refused = [f for f in part.findings if f.severity is Severity.REFUSAL]
    assert (not refused) is is_whole
    rows = csv.DictReader(MANIFEST.read_text(encoding="utf-8").splitlines())
    row = next(r for r in rows if r["file"] == f"step/{name}")
    said = VOLUME.search(" ".join(v for v in row.values() if v))
    assert said is not None
    # The manifest's volumes are by plain integration, which errs on spline faces.
    within = 2e-3 if "bspline" in name else 1e-5
    assert part.solid.volume_mm3 == pytest.approx(float(said[1]), rel=within)
    if is_whole:
        # Upright walls that make the whole part enclose its volume.
        assert volume(part) == pytest.approx(part.solid.volume_mm3, rel=1e-6)
    wanted = LengthUnit.INCH if name in INCHES else LengthUnit.MILLIMETRE
    assert part.drawing_unit is wanted


INCHES = {"st_base_plate_in_ap203.step", "st_nist_onehole_tessellated.stp"}


@pytest.mark.usefixtures("reads_here")
@pytest.mark.parametrize("name", sorted(REFUSED.keys() - SLOW))
def test_a_solid_is_refused(name: str) -> None:
    with pytest.raises(DrawingError) as caught:
        read_solid(CORPUS / "step" / name)
    assert caught.value.code == REFUSED[name]


@pytest.mark.usefixtures("reads_here")
def test_of_several_solids_each_can_be_taken() -> None:
    path = CORPUS / "step" / "st_cylinder_two_cones.stp"
    part = read_solid(path, number=1)
    assert part.solid is not None
    assert part.solid.volume_mm3 == pytest.approx(31415.927, rel=1e-6)
    assert part.contours[0].contour.segments.is_arc.all()


def test_the_stepped_pointer_is_planned_and_proved_where_a_wire_makes_it() -> None:
    path = CORPUS / "step" / "st_pointer_stepped.step"
    result = plan_job(JobRequest(drawing=path, material="D2", height=""))
    refused = {f.code for f in result.findings if f.severity is Severity.REFUSAL}
    assert refused == {"faces-not-for-wire"}
    assert result.proof is not None
    assert result.proof.passed
    assert max(d.max_leftover_um for d in result.proof.solid) < 0.2
