"""Solids on the page: dropped, read once, planned and proved as they are.

Sizes are those of the solids made here with Open CASCADE; needs what reads them.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from starlette.testclient import TestClient

pytest.importorskip("OCP", reason="no Open CASCADE here: pip install 'kerfwright[solids]'")

from described_client import DescribedClient
from kerfwright.adapters.step import reader
from kerfwright.adapters.step.kept import KEPT
from kerfwright.workbench.app import Settings, create_app
from page_client import changed, settled
from solid_samples import box, cut, cylinder, frustum, moved, read_here, written

ASKED = {"material": "D2", "tolerance": "±0.02 mm"}


@pytest.fixture(scope="module")
def jobs(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("jobs")


@pytest.fixture(scope="module")
def client(jobs: Path) -> Iterator[TestClient]:
    app = create_app(Settings(jobs=jobs))
    with DescribedClient(app, base_url="http://127.0.0.1") as found:
        yield found


def dropped(client: TestClient, place: Path) -> dict[str, Any]:
    answer = client.post("/api/jobs", files=[("files", (place.name, place.read_bytes()))])
    assert answer.status_code == 201
    return dict(answer.json()[0])


def idle(client: TestClient, job: str) -> dict[str, Any]:
    """Return a job when nothing is computed of it any more."""
    return dict(settled(client, f"/api/jobs/{job}", lambda found: not found["work"]))


def line(found: dict[str, Any], name: str) -> dict[str, Any]:
    (one,) = (one for one in found["draft"]["ledger"] if one["name"] == name)
    return dict(one)


def test_a_solid_is_priced_at_its_own_height_and_its_program_proved_against_it(
    client: TestClient, jobs: Path, tmp_path: Path
) -> None:
    bored = cut(box(40, 30, 12), frustum(6, 5, 12, at=(20, 15, 0)))
    name = dropped(client, written(tmp_path / "guide plate.STEP", bored))["job"]["id"]
    found = idle(client, name)
    assert found["draft"]["is_solid"]
    assert line(found, "height")["answer"]["metric"] == "12.00 mm"
    assert not line(found, "height")["is_needed"]
    assert {one["name"] for one in found["draft"]["ledger"]}.isdisjoint({"stack", "covers"})
    assert changed(client, name, 1, **ASKED).status_code == 200
    found = idle(client, name)
    assert found["draft"]["prices"]
    assert found["verdict"]["is_proved"]
    (bore,) = (one for one in found["draft"]["contours"] if one["id"] == "H1")
    assert bore["leans_deg"] == pytest.approx(4.764, abs=0.001)
    proof = client.get(f"/api/jobs/{name}/files/proof.json").json()
    assert len({one["height_mm"] for one in proof["solid"]}) == 9
    assert (jobs / name / KEPT).exists()


def test_a_solid_is_read_once_for_all_that_is_computed_of_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    place = written(tmp_path / "block.step", box(20, 20, 10))
    asked = []
    read_here(monkeypatch)
    real = reader._asked

    def counted(path: Path, request: Any) -> Any:
        asked.append(request)
        return real(path, request)

    monkeypatch.setattr(reader, "_asked", counted)
    first = reader.read_solid(place, kept_in=tmp_path)
    second = reader.read_solid(place, kept_in=tmp_path)
    assert len(asked) == 1
    for one, same in zip(first.solid.spots, second.solid.spots, strict=True):
        assert np.array_equal(one.points, same.points)
        assert np.array_equal(one.normals, same.normals)
    reader.read_solid(place, along="x", kept_in=tmp_path)
    reader.read_solid(place, kept_in=tmp_path)
    assert len(asked) == 3
    # Another file under the same name is another reading.
    written(place, box(20, 20, 11))
    assert reader.read_solid(place, kept_in=tmp_path).solid.height_mm == pytest.approx(11)


def test_which_of_several_solids_and_the_way_of_the_wire_are_lines(
    client: TestClient, tmp_path: Path
) -> None:
    two = written(tmp_path / "two.stp", box(20, 10, 5), moved(box(8, 8, 4), (40, 0, 0)))
    name = dropped(client, two)["job"]["id"]
    found = idle(client, name)
    assert found["fault"]["code"] == "several-solids"
    assert "in the line Solid" in found["fault"]["remedy"]
    refused = changed(client, name, 1, solid="second")
    assert (refused.status_code, refused.json()["code"]) == (422, "solid-unknown")
    refused = changed(client, name, 1, **{"wire-along": "upwards"})
    assert (refused.status_code, refused.json()["code"]) == (422, "wire-along")
    assert changed(client, name, 1, solid="1", **ASKED).status_code == 200
    assert line(idle(client, name), "height")["answer"]["metric"] == "5.00 mm"
    assert changed(client, name, 2, **{"wire-along": "x"}).status_code == 200
    assert line(idle(client, name), "height")["answer"]["metric"] == "20.00 mm"


def test_another_height_a_stack_or_a_taper_is_refused_in_the_words_of_the_page(
    client: TestClient, tmp_path: Path
) -> None:
    plate = cut(box(30, 30, 8), cylinder(4, 8, at=(15, 15, 0)))
    name = dropped(client, written(tmp_path / "plate.step", plate))["job"]["id"]
    idle(client, name)
    for revision, (asked, code) in enumerate(
        [
            ({**ASKED, "height": "9 mm"}, "height-not-solid"),
            ({"height": "", "stack": "3"}, "solid-stack"),
            ({"stack": "", "taper H1": "1° out from top"}, "solid-has-walls"),
        ],
        start=1,
    ):
        assert changed(client, name, revision, **asked).status_code == 200
        fault = idle(client, name)["fault"]
        assert fault["code"] == code
        assert "--" not in fault["remedy"]


def test_what_is_no_solid_is_said_at_the_drop_or_at_the_job(
    client: TestClient, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    place = tmp_path / "cam.stp"
    place.write_text("not a solid at all")
    name = dropped(client, place)["job"]["id"]
    assert idle(client, name)["fault"]["code"] == "not-a-drawing"
    monkeypatch.setattr("kerfwright.workbench.jobs.has_reader", lambda: False)
    refused = dropped(client, place)
    assert refused["job"] is None
    assert refused["fault"]["code"] == "solids-need-reader"


def test_what_is_kept_of_a_solid_is_read_anew_where_it_is_not_whole(tmp_path: Path) -> None:
    place = written(tmp_path / "block.step", box(20, 20, 10))
    reader.read_solid(place, kept_in=tmp_path)
    kept = tmp_path / KEPT
    whole = kept.read_bytes()
    for damaged in (
        whole.replace(b'"height_mm": 10', b'"height_mm": 20', 1),
        whole[: len(whole) // 2],
        b"[" * 100_000,
        b"",
    ):
        assert damaged != whole
        kept.write_bytes(damaged)
        solid = reader.read_solid(place, kept_in=tmp_path).solid
        assert solid is not None
        assert solid.height_mm == pytest.approx(10)
        assert kept.read_bytes() == whole
