"""Stacks on the page: lines as on the command line, the curve beside them, a number taken over."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import pytest
from starlette.testclient import TestClient

from described_client import DescribedClient
from kerfwright.app.enquiries import leaves_stacks
from kerfwright.app.plan_job import Extent
from kerfwright.app.records import JobRequest
from kerfwright.foundation.counts import counted
from kerfwright.trade.stack import Holding
from kerfwright.wiring import plan_job
from kerfwright.wiring.stacks import stack_curve
from kerfwright.workbench import tasks
from kerfwright.workbench.app import Settings, create_app
from page_client import CLICK, changed, dropped, settled, waited

ASKED = {"material": "C270 brass", "height": "0.5 mm", "quantity": "6, 40", "tolerance": "±8 µm"}
REQUEST = JobRequest(
    drawing=CLICK, material="C270 brass", height="0.5 mm", quantities=(6, 40), tolerance="±8 µm"
)
PRICED = Extent.PRICED


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    app = create_app(Settings(jobs=tmp_path_factory.mktemp("jobs")))
    with DescribedClient(app, base_url="http://127.0.0.1") as found:
        yield found


@pytest.fixture
def job(client: TestClient) -> str:
    name: str = dropped(client)["job"]["id"]
    assert write(client, name, **ASKED).status_code == 200
    return name


def write(client: TestClient, job: str, **lines: str) -> Any:
    return changed(client, job, client.get(f"/api/jobs/{job}").json()["revision"], **lines)


def prices(found: dict[str, Any]) -> dict[int, str]:
    return {p["quantity"]: p["each"] for p in found["draft"]["prices"]}


def lines(found: dict[str, Any]) -> dict[str, dict[str, Any]]:
    return {line["name"]: line for line in found["draft"]["ledger"]}


def test_a_stack_written_into_the_ledger_is_that_of_the_command_line(
    client: TestClient, job: str
) -> None:
    assert write(client, job, stack="8", holding="bolted", covers="3").status_code == 200
    found = waited(client, job, "draft")
    planned = plan_job(
        replace(REQUEST, stack="8", holding=Holding.BOLTED, covers="3"), extent=PRICED
    )
    assert planned.estimate is not None
    assert prices(found) == {p.quantity: str(p.each) for p in planned.estimate.prices}
    assert [f["message"] for f in found["draft"]["findings"]] == [
        f.message for f in planned.findings
    ]
    said = lines(found)
    assert said["stack"]["answer"]["metric"] == (
        "6: 8 at once, 1 stack, 2 pieces over; 40: 8 at once, 5 stacks"
    )
    # (8 + 3) x 0.5 mm and ten joints of 0.02 mm.
    assert said["height"]["answer"]["metric"].startswith("5.70 mm of 11 sheets")
    assert said["covers"]["answer"]["metric"] == "3 scrap sheets: 2 above, 1 below"
    assert said["holding"]["answer"]["metric"].startswith("bolted with ")
    assert said["stack"]["sure"]["inch"].count(" in ") == 3
    reasons = client.get(f"/api/jobs/{job}/reasons").json()
    for name in ("stack", "covers", "holding", "height"):
        assert all(key in reasons for key in said[name]["why"]), name


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"stack": "0"}, "1 to 500 or auto"),
        ({"stack": "8", "holding": "glued"}, "clamped, bolted, welded"),
        ({"stack": "8", "covers": "-1"}, "a whole number"),
        ({"covers": "2"}, "covers are asked for, and no stack"),
    ],
)
def test_what_a_stack_cannot_mean_is_refused_and_nothing_changes(
    client: TestClient, job: str, wrong: dict[str, str], words: str
) -> None:
    before = client.get(f"/api/jobs/{job}").json()
    answer = write(client, job, **wrong)
    assert answer.status_code == 422
    assert words in answer.json()["message"]
    assert "--" not in answer.json()["remedy"]
    assert client.get(f"/api/jobs/{job}").json()["asked"] == before["asked"]


def test_covers_go_before_the_stack_that_they_lie_on(client: TestClient, job: str) -> None:
    assert write(client, job, stack="8", covers="2").status_code == 200
    assert write(client, job, stack="").status_code == 422
    assert write(client, job, stack="", covers="").status_code == 200


def test_a_number_taken_from_the_curve_costs_what_the_curve_said(
    client: TestClient, job: str
) -> None:
    at = f"/api/jobs/{job}"
    assert client.post(f"{at}/stacks", json={"quantity": 40}).status_code == 202
    curve = waited(client, job, "stacks")["stacks"]
    command = stack_curve(REQUEST, quantity=40)
    assert [(p["pieces"], p["each"]) for p in curve["points"]] == [
        (p.stack.pieces, str(p.offer.each)) for p in command.points
    ]
    assert curve["best"] == command.best
    assert curve["why"] == list(command.why)
    for point in curve["points"][1:6]:
        assert write(client, job, stack=str(point["pieces"])).status_code == 200
        found = waited(client, job, "draft")
        assert prices(found)[40] == point["each"]
        # Known for every number already, whichever is asked.
        assert found["stacks"] == curve
        reasons = client.get(f"{at}/reasons").json()
        assert reasons[f"stack of {point['pieces']} price each"]["value"] == float(point["each"])
    # Held otherwise, every number costs otherwise.
    write(client, job, holding="bolted")
    assert client.get(at).json()["stacks"] is None


def test_pricing_stacks_is_stopped_and_begun_again(client: TestClient, job: str) -> None:
    at = f"/api/jobs/{job}"
    # Of so many pieces two dozen numbers are priced.
    begun = client.post(f"{at}/stacks", json={"quantity": 5000}).json()
    assert [one["what"] for one in begun["work"] if one["what"] == "stacks"] == ["stacks"]
    assert client.delete(f"{at}/running/stacks").status_code == 204
    stopped = settled(client, at, lambda found: not found["work"])
    assert "stacks" in stopped["stopped"]
    assert stopped["stacks"] is None
    client.post(f"{at}/stacks", json={"quantity": 40})
    found = waited(client, job, "stacks")
    assert found["stacks"]["quantity"] == 40
    assert "stacks" not in found["stopped"]


def test_auto_takes_the_number_that_the_curve_of_each_quantity_ends_at(
    client: TestClient, job: str
) -> None:
    write(client, job, stack="auto")
    found = waited(client, job, "draft")
    said = {}
    for quantity in (6, 40):
        command = stack_curve(REQUEST, quantity=quantity)
        assert command.best is not None
        best = command.points[command.best]
        assert prices(found)[quantity] == str(best.offer.each)
        said[quantity] = f"{best.stack.pieces} at once, {counted(best.loads, 'stack')}"
    assert {p["quantity"]: p["stacked"] for p in found["draft"]["prices"]} == said
    assert lines(found)["stack"]["answer"]["metric"] == (
        f"6: {said[6]}; 40: {said[40]}; found as what costs least"
    )
    reasons = client.get(f"/api/jobs/{job}/reasons").json()
    for one in found["draft"]["prices"]:
        why = reasons[f"estimate/prices/{one['quantity']}/at_once"]
        assert why["value"] == one["at_once"] <= one["quantity"]
        for line in one["lines"]:
            key = f"estimate/prices/{one['quantity']}/lines/{line['item']}"
            assert reasons[key]["value"] == float(line["likely"])


def test_plans_of_other_stacks_lend_a_plan_nothing_that_is_theirs() -> None:
    part = tasks.read_part(REQUEST, "lent")
    said = {"stack": "", "holding": "", "covers": ""}
    for stack, holding in (("4", "clamped"), ("20", "bolted"), ("8", "welded")):
        request = replace(REQUEST, stack=stack, holding=Holding(holding))
        found = tasks.draft(
            request, said | {"stack": stack}, CLICK, "lent", lambda _step, _share: None
        ).draft
        alone = plan_job(request, part=part, extent=PRICED)
        assert alone.estimate is not None
        assert [p["each"] for p in found["prices"]] == [str(p.each) for p in alone.estimate.prices]
        assert [f["message"] for f in found["findings"]] == [f.message for f in alone.findings]


def test_the_cost_of_stacks_is_kept_only_while_it_follows_from_the_same() -> None:
    assert leaves_stacks({"stack": "8", "height": "2 mm"}, {"stack": "9", "height": "2 mm"})
    assert leaves_stacks({"customer": "A"}, {"stack": "auto"})
    assert not leaves_stacks({"stack": "8"}, {"stack": "8", "covers": "2"})
    assert not leaves_stacks({"quantity": "40"}, {"quantity": "25"})
