"""Papers over HTTP: made for what is asked now, looked at, taken, and refused with a reason."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from described_client import DescribedClient
from kerfwright.adapters.papers.typeset import can_typeset
from kerfwright.adapters.papers.wanted import PaperWords, Wanted, read_wanted, save_wanted
from kerfwright.foundation.errors import InputError, RangeError
from kerfwright.workbench.app import Settings, create_app
from page_client import changed, dropped, settled, waited

needs_typst = pytest.mark.skipif(not can_typeset(), reason="typst is not installed")


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    app = create_app(Settings(jobs=tmp_path_factory.mktemp("jobs")))
    with DescribedClient(app, base_url="http://127.0.0.1") as found:
        yield found


@pytest.fixture(scope="module")
def job(client: TestClient) -> str:
    name: str = dropped(client, "papers.dxf")["job"]["id"]
    lines = {"material": "C270 brass", "height": "6 mm", "tolerance": "±5 µm"}
    assert changed(client, name, 1, **lines).status_code == 200
    waited(client, name, "verdict")
    return name


def match(client: TestClient, job: str) -> dict[str, str]:
    return {"If-Match": f'"{client.get(f"/api/jobs/{job}/papers").json()["revision"]}"'}


def made(client: TestClient, job: str, **order: Any) -> Any:
    answer = client.post(f"/api/jobs/{job}/papers", json=order, headers=match(client, job))
    assert answer.status_code == 202, answer.text
    return settled(
        client, f"/api/jobs/{job}/papers", lambda desk: bool(desk["files"] or desk["refused"])
    )


@needs_typst
def test_papers_are_made_looked_at_and_taken(client: TestClient, job: str) -> None:
    desk = made(client, job, paper="letter", unit="in", terms=["Cash."], valid_days=14)
    assert desk["refused"] is None
    pages = {file["name"]: file["pages"] for file in desk["files"]}
    assert set(pages) == {
        "quote.pdf", "set-up.pdf", "inspection.pdf", "holes.pdf", "path.dxf", "path.svg",
    }  # fmt: skip
    assert client.get(f"/api/jobs/{job}/papers/quote.pdf").content.startswith(b"%PDF")
    picture = client.get(f"/api/jobs/{job}/papers/set-up.pdf/pages/{pages['set-up.pdf']}")
    assert picture.headers["content-type"] == "image/svg+xml"
    # Letter is 612 points wide.
    assert 'width="612' in picture.text[:400]
    assert client.get(f"/api/jobs/{job}/papers/quote.pdf/pages/9").status_code == 404
    assert client.get(f"/api/jobs/{job}/papers/secrets.pdf").status_code == 404
    # How they were wanted is kept for the next time.
    assert desk["wanted"]["terms"] == ["Cash."]
    assert client.get(f"/api/jobs/{job}").json()["card"]["is_proved"]


@needs_typst
def test_a_server_started_anew_makes_the_papers_again_once_and_says_so(tmp_path: Path) -> None:
    settings = Settings(jobs=tmp_path / "jobs")
    with DescribedClient(create_app(settings), base_url="http://127.0.0.1") as client:
        name: str = dropped(client, "again.dxf")["job"]["id"]
        changed(client, name, 1, material="C270 brass", height="6 mm")
        waited(client, name, "verdict")
        assert not made(client, name, number="Q-7")["again"]
    address = f"/api/jobs/{name}/papers"
    with DescribedClient(create_app(settings), base_url="http://127.0.0.1") as client:
        desk = settled(client, address, lambda one: bool(one["files"]))
        assert desk["again"]
        assert desk["wanted"]["number"] == "Q-7"
        assert client.get(f"{address}/quote.pdf").content.startswith(b"%PDF")
        revision = client.get(f"/api/jobs/{name}").json()["revision"]
        changed(client, name, revision, height="7 mm")
        waited(client, name, "verdict")
        after = client.get(address).json()
        assert (after["files"], after["again"]) == ([], False)


@needs_typst
def test_a_change_of_the_job_takes_its_papers_away(client: TestClient, job: str) -> None:
    for line, text in (("reference", "PO-77"), ("height", "7 mm")):
        made(client, job)
        revision = client.get(f"/api/jobs/{job}").json()["revision"]
        assert changed(client, job, revision, **{line: text}).status_code == 200
        assert client.get(f"/api/jobs/{job}/papers").json()["files"] == []
        assert client.get(f"/api/jobs/{job}/papers/quote.pdf").status_code == 409


def test_a_job_without_a_proved_program_gets_no_papers_but_the_reason(client: TestClient) -> None:
    name = dropped(client, "tall.dxf")["job"]["id"]
    incomplete = client.post(f"/api/jobs/{name}/papers", json={}, headers=match(client, name))
    assert incomplete.status_code == 409
    assert "material" in incomplete.json()["message"]
    changed(client, name, 1, material="C270 brass", height="900 mm")
    waited(client, name, "verdict")
    refused = made(client, name)["refused"]
    assert refused["code"] == "not-proved"
    assert "900" in refused["message"]
    assert client.get(f"/api/jobs/{name}/papers/quote.pdf").status_code == 409
    # The reason stands with the papers; the job itself is read as before.
    assert client.get(f"/api/jobs/{name}").json()["fault"] is None


def test_words_that_no_quote_can_hold_are_refused(client: TestClient, job: str) -> None:
    for order in ({"terms": ["x" * 500]}, {"valid_days": 0}, {"paper": "a9"}):
        for ask in (client.post, client.patch):
            answer = ask(f"/api/jobs/{job}/papers", json=order, headers=match(client, job))
            assert answer.status_code == 422


def test_two_windows_word_the_papers_and_neither_takes_the_others_words_away(
    client: TestClient, job: str
) -> None:
    at = f"/api/jobs/{job}/papers"
    client.patch(at, json={"paper": "a4"}, headers=match(client, job))
    both = match(client, job)
    one = client.patch(at, json={"number": "Q-1", "delivery": "six weeks"}, headers=both)
    assert one.status_code == 200, one.text
    # The other window has not heard of it: nothing of its order is kept, by either way.
    for ask in (client.patch, client.post):
        late = ask(at, json={"paper": "letter", "number": ""}, headers=both)
        assert (late.status_code, late.json()["code"]) == (409, "changed-elsewhere")
    assert client.get(at).json()["wanted"] == one.json()["wanted"]
    # It follows, and says its own only.
    two = client.patch(at, json={"paper": "letter"}, headers=match(client, job)).json()
    assert two["wanted"] == one.json()["wanted"] | {"paper": "letter"}
    assert two["revision"] == one.json()["revision"] + 1
    assert client.patch(at, json={}).status_code == 428
    # What is as it was is no change, and what is null is the shop's own again.
    same = client.patch(at, json={"paper": "letter"}, headers=match(client, job)).json()
    assert same["revision"] == two["revision"]
    for days in (7, None):
        kept = client.patch(at, json={"valid_days": days}, headers=match(client, job)).json()
        assert kept["wanted"]["valid_days"] == days


@needs_typst
def test_other_words_take_the_papers_away_that_say_the_old_ones(
    client: TestClient, job: str
) -> None:
    made(client, job, delivery="soon")
    at = f"/api/jobs/{job}/papers"
    assert client.patch(at, json={}, headers=match(client, job)).json()["files"]
    after = client.patch(at, json={"delivery": "late"}, headers=match(client, job)).json()
    assert (after["files"], after["again"]) == ([], False)
    assert read_wanted(client.app.state.desk.folder.place_of(job)).made_for == 0  # type: ignore[attr-defined]


def test_how_papers_are_wanted_is_read_back(tmp_path: Path) -> None:
    assert read_wanted(tmp_path) == Wanted()
    wanted = Wanted(number="Q 7", words=PaperWords(delivery="soon", terms=(), valid_days=3))
    save_wanted(tmp_path, wanted)
    assert read_wanted(tmp_path) == wanted
    place = tmp_path / "papers-wanted.json"
    document = json.loads(place.read_text(encoding="utf-8"))
    place.write_text(json.dumps(document | {"paper": "a9"}), encoding="utf-8")
    with pytest.raises(InputError, match="a9"):
        read_wanted(tmp_path)
    with pytest.raises(RangeError, match="1 to 3650"):
        PaperWords(valid_days=4000)
