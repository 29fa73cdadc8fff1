"""What is taken over from the drawing is shown as taken, also where no number changes by it."""

from __future__ import annotations

import io
from collections.abc import Iterator
from typing import Any

import ezdxf
import pytest
from starlette.testclient import TestClient

from described_client import DescribedClient
from kerfwright.workbench.app import Settings, create_app
from page_client import dropped, waited


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    app = create_app(Settings(jobs=tmp_path_factory.mktemp("jobs")))
    with DescribedClient(app, base_url="http://127.0.0.1") as found:
        yield found


def plate_with_a_title() -> bytes:
    """Draw a bridge plate of a tower clock whose title names its revision."""
    document = ezdxf.new("R2010", setup=True)
    document.header["$INSUNITS"] = 4
    space = document.modelspace()
    space.add_lwpolyline([(0, 0), (60, 0), (60, 40), (0, 40)], close=True)
    space.add_text("REV: C", height=3).set_placement((0, -10))
    stream = io.StringIO()
    document.write(stream)
    return stream.getvalue().encode()


def change(client: TestClient, name: str, at: int, **lines: str) -> None:
    answer = client.patch(
        f"/api/jobs/{name}", json={"lines": lines}, headers={"If-Match": f'"{at}"'}
    )
    assert answer.status_code == 200


def revision_said(client: TestClient, name: str) -> dict[str, Any]:
    draft = waited(client, name, "draft")["draft"]
    found: dict[str, Any] = next(
        reading
        for one in draft["says"]
        for reading in one["readings"]
        if "revision" in reading["asks"]
    )
    return found


def test_a_revision_that_is_taken_over_shows_as_taken_until_it_is_undone(
    client: TestClient,
) -> None:
    name: str = dropped(client, "bridge.dxf", plate_with_a_title())["job"]["id"]
    change(client, name, 1, material="C270 brass", height="6 mm", revision="B")
    before = revision_said(client, name)
    assert not before["is_taken"]
    assert [one["metric"] for one in before["instead"]] == ["“B”"]
    revision = client.get(f"/api/jobs/{name}").json()["revision"]
    change(client, name, revision, **before["asks"])
    taken = revision_said(client, name)
    assert taken["is_taken"]
    assert not taken["instead"]
    client.post(f"/api/jobs/{name}/undo", headers={"If-Match": str(revision + 1)})
    assert not revision_said(client, name)["is_taken"]
