"""What a program sends that nobody would type is refused in words, and never fails the server."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from described_client import DescribedClient
from kerfwright.workbench.app import Settings, create_app
from page_client import dropped


@pytest.fixture
def client(tmp_path: Path) -> Iterator[TestClient]:
    app = create_app(Settings(jobs=tmp_path))
    with DescribedClient(app, base_url="http://127.0.0.1") as found:
        yield found


def sent(client: TestClient, job: str, body: str | bytes) -> Any:
    headers = {"If-Match": '"1"', "Content-Type": "application/json"}
    return client.patch(f"/api/jobs/{job}", content=body, headers=headers)


def test_lines_that_name_nothing_or_hold_no_letters_are_refused(client: TestClient) -> None:
    job = dropped(client)["job"]["id"]
    for body, code in (
        ('{"own": [{"contours": [""], "demands": {"finish": "N6"}}]}', "line-names-nothing"),
        ('{"lines": {"start ": "1 mm, 1 mm"}}', "line-names-nothing"),
        ('{"lines": {"contour , ;": "finish N6"}}', "line-names-nothing"),
        ('{"lines": {"layer ": "ignore"}}', "line-names-nothing"),
        ('{"lines": {"customer": "Clock\\u0000s"}}', "line-unprintable"),
        ('{"lines": {"customer": "\\ud83d"}}', "text-unreadable"),
        ('{"lines": {"customer": "\\udd52"}}', "text-unreadable"),
    ):
        answer = sent(client, job, body)
        assert (answer.status_code, answer.json()["code"]) == (422, code), body
        assert answer.json()["remedy"]
    # A whole letter may be written by its two halves, and a blank that keeps words together is one.
    answer = sent(client, job, '{"lines": {"customer": "\\ud83d\\udd52 6\\u00a0pm"}}')
    assert answer.status_code == 200
    assert answer.json()["asked"]["customer"] == "\U0001f552 6\xa0pm"


def test_a_body_of_another_shape_says_where_its_shape_is_described(client: TestClient) -> None:
    said = client.post("/api/week", json={"begin": "tomorrow"}).json()
    assert said["message"] == (
        "body.begin: Input should be a moment by the clock on the wall: `2027-03-01 08:00`"
    )
    assert "/api/openapi.json" in said["remedy"]


def test_a_period_that_ends_before_it_begins_is_refused(client: TestClient) -> None:
    period = {"begin": "2027-01-02 00:00", "end": "2027-01-01 00:00"}
    for path in ("/api/numbers", "/api/numbers.csv"):
        answer = client.get(path, params=period)
        assert (answer.status_code, answer.json()["code"]) == (422, "period-empty")


def test_a_cut_asked_for_before_its_job_is_refused_and_begins_its_draft(tmp_path: Path) -> None:
    with DescribedClient(create_app(Settings(jobs=tmp_path)), base_url="http://127.0.0.1") as old:
        job = dropped(old)["job"]["id"]
    # Another server knows nothing of it yet.
    with DescribedClient(create_app(Settings(jobs=tmp_path)), base_url="http://127.0.0.1") as new:
        for what in ("path", "pieces", "deviations", "space", "walls"):
            answer = new.get(f"/api/jobs/{job}/cut/{what}")
            assert (answer.status_code, answer.json()["code"]) == (409, "not-proved"), what
        found = new.get(f"/api/jobs/{job}").json()
    assert found["draft"] is not None or found["work"]
