"""``--stack auto``: each quantity with the number in a stack that is cheapest for it."""

from __future__ import annotations

import json
from dataclasses import replace
from functools import cache
from importlib.resources import files
from pathlib import Path

import pytest

from kerfwright.adapters.job_folder import read_job_toml
from kerfwright.adapters.job_result import read_request, write_job
from kerfwright.adapters.json_shapes import estimate_shape
from kerfwright.adapters.quoted_jobs import _quoted
from kerfwright.app import stack_prices
from kerfwright.app.batch.outcome import outcome_of
from kerfwright.app.other_stacks import with_other_stacks
from kerfwright.app.plan_job import Extent
from kerfwright.app.records import JobRequest, JobResult
from kerfwright.cli.run import run
from kerfwright.foundation.errors import InputError
from kerfwright.foundation.findings import Finding, Severity
from kerfwright.wiring import answers, plan_job, what_if

CLICK = Path(str(files("kerfwright") / "data/samples/click.dxf"))
ASKED = JobRequest(
    drawing=CLICK, material="C270", height="2 mm", quantities=(1, 6, 40), stack="auto"
)


@cache
def job() -> JobResult:
    return plan_job(ASKED)


def at_once(result: JobResult) -> dict[int, int]:
    assert result.estimate is not None
    return {price.quantity: price.at_once for price in result.estimate.prices}


def test_every_quantity_costs_what_it_costs_alone_and_has_no_more_sheets_than_pieces() -> None:
    estimate = job().estimate
    assert estimate is not None
    assert [price.quantity for price in estimate.prices] == [1, 6, 40]
    for price in estimate.prices:
        alone = plan_job(replace(ASKED, quantities=(price.quantity,)), extent=Extent.PRICED)
        assert alone.estimate is not None
        assert price == alone.estimate.prices[0]
        assert price.at_once <= price.quantity
    assert len(set(at_once(job()).values())) == 3


def test_plan_and_program_are_those_of_the_first_quantity() -> None:
    alone = plan_job(replace(ASKED, quantities=(1,)))
    assert job().program == alone.program
    assert job().plan.requirement.height_mm == 2.0
    assert job().plan.requirement.quantities == (1, 6, 40)
    assert len(job().others) == 2


def test_a_number_that_is_asked_stays_for_every_quantity() -> None:
    asked = plan_job(replace(ASKED, stack="8"), extent=Extent.PRICED)
    assert set(at_once(asked).values()) == {8}
    assert asked.stacks_found == {}


def test_each_height_is_planned_once_whatever_the_quantities(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    planned: list[float] = []
    price = stack_prices.Shop.price

    def counting(shop, requirement, **said):  # type: ignore[no-untyped-def]
        planned.append(requirement.height_mm)
        return price(shop, requirement, **said)

    monkeypatch.setattr(stack_prices.Shop, "price", counting)
    plan_job(replace(ASKED, quantities=(6, 12, 24, 48)), extent=Extent.PRICED)
    assert len(planned) == len(set(planned)) > 4


def test_the_reasons_of_a_price_are_those_of_its_own_stack() -> None:
    found = {a.path: a.reason for a in answers(job())}
    estimate = job().estimate
    assert estimate is not None
    for price in estimate.prices:
        place = f"estimate/prices/{price.quantity}"
        assert found[f"{place}/each"].value == float(price.each)
        assert found[f"{place}/at_once"].value == price.at_once
        assert dict(found[f"{place}/at_once"].inputs)["stacks"] == price.loads
        for line in price.lines:
            assert found[f"{place}/lines/{line.item}"].value == float(line.likely)


def test_the_document_says_how_many_are_cut_at_once_only_where_sheets_are_stacked() -> None:
    estimate = job().estimate
    assert estimate is not None
    prices = estimate_shape(estimate)["prices"]
    assert {one["quantity"]: one["at_once"] for one in prices} == at_once(job())
    single = plan_job(replace(ASKED, stack=None), extent=Extent.PRICED).estimate
    assert single is not None
    assert not any("at_once" in one for one in estimate_shape(single)["prices"])


def test_a_row_of_a_batch_says_how_many_are_cut_at_once() -> None:
    said = outcome_of(job()).prices.split("; ")
    assert "at once" not in said[0]
    assert said[1].endswith(f"({at_once(job())[6]} at once)")


def test_a_job_read_back_knows_that_its_numbers_were_found(tmp_path: Path) -> None:
    write_job(job(), tmp_path)
    assert read_job_toml(tmp_path).stack == "auto"
    request = read_request(tmp_path)
    assert request.stacks_found == at_once(job())
    again = plan_job(replace(request, drawing=CLICK))
    assert again.requirement.stack is not None
    assert again.requirement.stack.is_chosen
    assert again.estimate == job().estimate
    assert again.program == job().program


def test_a_number_that_was_found_is_taken_and_others_are_looked_for(tmp_path: Path) -> None:
    asked = replace(ASKED, quantities=(6, 40), stacks_found={6: 3})
    assert at_once(plan_job(asked, extent=Extent.PRICED)) == {6: 3, 40: at_once(job())[40]}


def test_pricing_a_kept_job_otherwise_looks_for_its_stacks_anew(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    def price_of(folder: Path, *options: str) -> dict[int, int]:
        assert run(["price", str(folder), *options, "--json"]) == 0
        prices = json.loads(capsys.readouterr().out)["estimate"]["prices"]
        return {one["quantity"]: one["at_once"] for one in prices}

    write_job(job(), tmp_path)
    kept = tmp_path / "job.toml"
    kept.write_text(kept.read_text("utf-8").replace('"40" = "40"', '"40" = "10"'), "utf-8")
    assert price_of(tmp_path) == {**at_once(job()), 40: 10}
    assert price_of(tmp_path, "--quantity", "20,40") == {20: 20, 40: 10}
    assert price_of(tmp_path, "--tolerance", "0.03mm")[40] == 40
    assert price_of(tmp_path, "--today")[40] == 40


@pytest.mark.parametrize("line", ['"40" = "many"', '"40" = "0"', '"40" = "41"'])
def test_a_kept_number_that_cannot_be_is_refused(tmp_path: Path, line: str) -> None:
    write_job(job(), tmp_path)
    kept = tmp_path / "job.toml"
    kept.write_text(kept.read_text("utf-8").replace('"40" = "40"', line), "utf-8")
    with pytest.raises(InputError) as fault:
        read_request(tmp_path)
    assert fault.value.code == "job-broken"


def test_what_weighs_against_another_stack_is_told_as_of_its_quantity() -> None:
    (first, *others) = (job(), *job().others)
    tall = Finding(
        code="height-beyond-machine", severity=Severity.REFUSAL, message="too high", remedy="Lower."
    )
    note = replace(tall, code="stack-joints-not-counted", severity=Severity.NOTE)
    refused = replace(others[1], findings=(*others[1].findings, tall, note))
    joined = with_other_stacks(
        replace(first, others=()), [others[0], refused], quantities=(1, 6, 40)
    )
    told = {f.code: f for f in joined.findings}
    assert told["height-beyond-machine"].severity is Severity.WARNING
    assert told["height-beyond-machine"].message == (
        "For 40, 40 at once: this is refused, and the price is none to offer: too high"
    )
    assert "stack-joints-not-counted" not in {
        f.code for f in joined.findings if f.message == "too high"
    }
    assert not joined.is_refused


def test_what_demands_cost_is_of_the_quantities_that_are_cut_as_the_plan_has_it() -> None:
    found = what_if(job())
    assert found is not None
    assert found.quantities == (1,)
    assert any("6, 40 are cut in stacks of another number" in one for one in found.front_remarks)


def test_the_shop_s_numbers_take_no_times_of_another_stack() -> None:
    estimate = job().estimate
    assert estimate is not None
    kept = json.loads(json.dumps(estimate_shape(estimate)))
    own, other = (_quoted(kept, ordered, where="here") for ordered in (1, 40))
    assert own.minutes
    assert other.price == estimate.prices[2].likely
    assert not other.minutes
    assert other.wire_kg is None
    # A job kept before prices said how many are cut at once has one stack for all.
    before = plan_job(replace(ASKED, stack="8"), extent=Extent.PRICED).estimate
    assert before is not None
    older = json.loads(json.dumps(estimate_shape(before)))
    for one in older["prices"]:
        del one["at_once"]
    assert _quoted(older, 40, where="here").minutes
