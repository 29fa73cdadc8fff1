"""Leaning walls on the page: asked as on the command line, drawn, and not shown as upright."""

from __future__ import annotations

import math
import struct
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
import shapely
from starlette.testclient import TestClient

from described_client import DescribedClient
from kerfwright.app.plan_job import Extent
from kerfwright.app.records import JobRequest
from kerfwright.wiring import plan_job
from kerfwright.workbench.app import Settings, create_app
from kerfwright.workbench.binary import ChainKind
from page_client import CLICK, changed, dropped, waited

ASKED = {"material": "C270 brass", "height": "6 mm", "tolerance": "±10 µm"}
REQUEST = JobRequest(
    drawing=CLICK, material="C270 brass", height="6 mm", tolerance="±10 µm", quantities=(1,)
)
OUT = "1° out from top"


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    app = create_app(Settings(jobs=tmp_path_factory.mktemp("jobs")))
    with DescribedClient(app, base_url="http://127.0.0.1") as found:
        yield found


@pytest.fixture
def job(client: TestClient) -> str:
    name: str = dropped(client)["job"]["id"]
    assert changed(client, name, 1, **ASKED).status_code == 200
    return name


def lean(client: TestClient, job: str, text: str, contour: str = "H1") -> Any:
    revision = client.get(f"/api/jobs/{job}").json()["revision"]
    return changed(client, job, revision, **{f"taper {contour}": text})


def contour(found: dict[str, Any], name: str = "H1") -> dict[str, Any]:
    (one,) = (c for c in found["draft"]["contours"] if c["id"] == name)
    return dict(one)


def chains(content: bytes) -> list[tuple[ChainKind, Any]]:
    """Return kind and points of each chain, as the page reads them."""
    count, x, y = struct.unpack("<Idd", content[4:24])
    kinds = np.frombuffer(content, "<u4", count, 24)
    first = np.frombuffer(content, "<u4", count + 1, 24 + 4 * count)
    points = np.frombuffer(content, "<f4", -1, 24 + 4 * (2 * count + 1)).reshape(-1, 2)
    return [
        (ChainKind(int(kind)), points[a:b] + np.array([x, y]))
        for kind, a, b in zip(kinds, first[:-1], first[1:], strict=True)
    ]


@pytest.mark.parametrize("text", [OUT, "land=2mm, relief=0.5°"])
def test_a_taper_of_a_contour_is_priced_as_on_the_command_line(
    client: TestClient, job: str, text: str
) -> None:
    assert lean(client, job, text).status_code == 200
    found = waited(client, job, "draft")
    written = text if "=" in text else f"taper={text}"
    planned = plan_job(replace(REQUEST, tapers={"H1": written}), extent=Extent.PRICED)
    assert planned.estimate is not None
    assert planned.lean is not None
    assert [p["each"] for p in found["draft"]["prices"]] == [
        str(p.each) for p in planned.estimate.prices
    ]
    assert contour(found)["taper"] == text
    assert contour(found)["leans_deg"] == pytest.approx(planned.lean.walls["H1"].lean_deg)
    assert contour(found, "P1")["leans_deg"] is None
    (line,) = (one for one in found["draft"]["ledger"] if one["name"] == "taper H1")
    assert line["answer"]["metric"].startswith("leans by up to ")
    assert line["why"][0] in client.get(f"/api/jobs/{job}/reasons").json()


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("1 degree", "taper-text"),
        ("70° out from top", "taper-value"),
        ("land=2mm, relief=1° in", "relief-into-land"),
        ("top=H1", "taper-of-two-drawings"),
    ],
)
def test_a_taper_that_cannot_be_asked_here_is_refused_in_words_of_the_page(
    client: TestClient, job: str, text: str, code: str
) -> None:
    answer = lean(client, job, text)
    assert (answer.status_code, answer.json()["code"]) == (422, code)
    assert '"H1:' not in answer.json()["remedy"]
    assert code == "taper-of-two-drawings" or "top=" not in answer.json()["remedy"]
    assert "taper H1" not in client.get(f"/api/jobs/{job}").json()["asked"]


def test_a_wall_that_cannot_lean_so_is_left_out_and_says_why(client: TestClient, job: str) -> None:
    lean(client, job, "59° in from bottom", "P1")
    found = waited(client, job, "draft")
    assert contour(found, "P1")["leans"] == ""
    refusals = [f for f in found["draft"]["findings"] if f["severity"] == "refusal"]
    assert "P1" in {f["where"]["contour_id"] for f in refusals}
    (line,) = (one for one in found["draft"]["ledger"] if one["name"] == "taper P1")
    assert line["severity"] == "refusal"


def test_the_other_edge_of_a_leaning_wall_is_drawn_where_the_angle_puts_it(
    client: TestClient, job: str
) -> None:
    at = f"/api/jobs/{job}"
    upright = waited(client, job, "draft")["draft"]["geometry_key"]
    kinds = {kind for kind, _ in chains(client.get(f"{at}/geometry").content)}
    assert ChainKind.LEAN not in kinds
    lean(client, job, OUT)
    keys = {upright}
    for height_mm in (6.0, 12.0):
        revision = client.get(at).json()["revision"]
        changed(client, job, revision, height=f"{height_mm:g} mm")
        keys.add(waited(client, job, "draft")["draft"]["geometry_key"])
        found = chains(client.get(f"{at}/geometry").content)
        # One edge at the underside; that at the top is the contour as drawn.
        assert [kind for kind, _ in found].count(ChainKind.LEAN) == 1
        assert found[-1][0] is ChainKind.LEAN
        ids = [one["id"] for one in client.get(at).json()["draft"]["contours"]]
        drawn = shapely.LinearRing(found[ids.index("H1")][1])
        away = shapely.distance(drawn, shapely.points(found[-1][1]))
        assert away == pytest.approx(height_mm * math.tan(math.radians(1.0)), abs=0.006)
    assert len(keys) == 3


def test_no_deviation_of_a_leaning_wall_is_shown_in_one_plane(client: TestClient, job: str) -> None:
    lean(client, job, "3° out from top")
    verdict = waited(client, job, "verdict")["verdict"]
    assert verdict["is_proved"]
    assert verdict["leaning"] == ["H1"]
    assert {one["contour_id"] for one in verdict["worst"]} == {"P1"}
    # Compared in the plane of X and Y the wall would be off by 300 µm.
    assert max(abs(one["deviation_um"]) for one in verdict["worst"]) < 2
    content = client.get(f"/api/jobs/{job}/cut/deviations").content
    count = struct.unpack("<I", content[4:8])[0]
    first = np.frombuffer(content, "<u4", count + 1, 24)
    um = np.frombuffer(content, "<f4", first[-1], 24 + 4 * (count + 1) + 16 * first[-1])
    leaning = verdict["contours"].index("H1")
    assert np.isnan(um[first[leaning] : first[leaning + 1]]).all()
    assert not np.isnan(um).all()


def test_stacks_of_leaning_walls_are_not_priced_as_if_upright(client: TestClient, job: str) -> None:
    lean(client, job, OUT)
    at = f"/api/jobs/{job}"
    assert client.post(f"{at}/stacks", json={"quantity": 8}).status_code == 202
    assert waited(client, job, "stacks_fault")["stacks_fault"]["code"] == "stack-leaning"
