"""What is offered instead, in a what-if and on a quote, is what the plan promises of it."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from importlib.resources import files
from pathlib import Path

import pytest

from kerfwright.adapters.papers.for_customer import quote_shape
from kerfwright.adapters.papers.pictures import Picture
from kerfwright.adapters.papers.rules import load_paper_rules
from kerfwright.adapters.papers.words import Units
from kerfwright.app.papers.quote import quote_of
from kerfwright.app.records import JobRequest, JobResult
from kerfwright.cli.output import Page
from kerfwright.cli.report_what_if import show_what_if
from kerfwright.cli.words import Show
from kerfwright.trade.part import LengthUnit
from kerfwright.wiring import plan_job, what_if

SAMPLES = Path(str(files("kerfwright") / "data/samples"))
WHEELS = JobRequest(
    drawing=SAMPLES / "escape_wheel.dxf",
    material="304",
    height="0.8 mm",
    tolerance="±0.002 mm",
    stack="40",
    quantities=(40,),
)


@pytest.fixture(scope="module")
def refused() -> JobResult:
    return plan_job(WHEELS)


def test_what_lifts_the_refusal_of_a_stack_is_held_by_every_sheet(refused: JobResult) -> None:
    (beyond,) = [f for f in refused.findings if f.code == "tolerance-beyond-process"]
    found = what_if(refused)
    assert found is not None
    first = found.alternatives[0]
    (asks,) = (text for name, text in first.asks if name == "tolerance")
    lifted = plan_job(replace(WHEELS, tolerance=asks))
    codes = {f.code for f in lifted.findings}
    assert not codes & {"tolerance-beyond-process", "sheets-beyond-tolerance"}
    # The mean wall would hold more: that is offered for one piece at a time.
    single = plan_job(replace(WHEELS, tolerance=asks, stack="1"))
    assert beyond.data["best_um"] > max(c.passes[-1].tolerance_um for c in single.plan.contours)
    assert beyond.remedy.startswith(f"Accept {asks} ")
    (remark,) = [
        r
        for r in quote_of(refused, number="Q-1", made_on=date(2026, 3, 2), valid_days=30).remarks
        if r.code == "tolerance-beyond-process"
    ]
    assert remark.data["best_um"] == beyond.data["best_um"]


def test_a_sheet_that_does_not_hold_what_is_asked_is_told_beside_the_price() -> None:
    planned = plan_job(replace(WHEELS, tolerance="±0.0025 mm"))
    (warned,) = [f for f in planned.findings if f.code == "sheets-beyond-tolerance"]
    found = what_if(planned)
    assert found is not None
    said = f"is not promised for {warned.data['pieces_beyond']} of the 40 pieces of a stack."
    (once,) = [text for text in found.front_remarks if "pieces of a stack" in text]
    assert said in once
    assert not any(said in one.sentence for one in found.alternatives)


def test_a_table_by_quantity_without_a_row_has_no_heading(
    refused: JobResult, capsys: pytest.CaptureFixture[str]
) -> None:
    found = what_if(refused)
    assert found is not None
    none = replace(found, quantities=(40, 80), alternatives=(), front=())
    show_what_if(Page(), none, Show(unit=LengthUnit.MILLIMETRE))
    assert "Each piece by quantity" not in capsys.readouterr().out


def test_a_quote_says_of_which_contours_a_saving_asks_less() -> None:
    planned = plan_job(
        JobRequest(
            drawing=SAMPLES / "back_cock.dxf",
            material="IN718",
            height="30 mm",
            tolerance="±0.01 mm",
            recast="6 µm",
            contours={"H1": "recast=1 µm"},
        )
    )
    found = what_if(planned)
    made = quote_of(planned, number="Q-1", made_on=date(2026, 3, 2), valid_days=30, found=found)
    recast = [s.words for s in made.savings if s.words.startswith("a recast layer up to")]
    assert any(words.endswith(" on all contours but H1") for words in recast)
    assert any(words.endswith(" on H1") for words in recast)


def test_a_quote_says_what_a_limit_on_the_recast_layer_promises() -> None:
    asked = JobRequest(
        drawing=SAMPLES / "back_cock.dxf", material="IN718", height="30 mm", tolerance="±0.01 mm"
    )
    units = Units(unit=LengthUnit.MILLIMETRE)
    rules = load_paper_rules(None)

    def assumed(request: JobRequest) -> str:
        made = quote_of(
            plan_job(request), number="Q-1", made_on=date(2026, 3, 2), valid_days=30,
            allowed_miss=0.1,
        )  # fmt: skip
        picture = Picture(svg="", width_mm=1.0, height_mm=1.0, scale="", left_out=0, caption="")
        shape = quote_shape(made, units=units, rules=rules, picture=picture)
        return " ".join(shape["assumed"])

    said = assumed(replace(asked, contours={"H1": "recast=6 µm"}))
    assert "by our figures about one piece in 10 may be beyond it" in said
    assert "Only a polished section shows a layer" in said
    assert "recast" not in assumed(asked)


def test_a_quote_offers_single_contours_and_nothing_that_prices_do_not_tell_apart() -> None:
    planned = plan_job(
        JobRequest(
            drawing=SAMPLES / "back_cock.dxf",
            material="D2",
            height="60 mm",
            tolerance="±0.005 mm",
            finish="Ra 0.6 µm",
        )
    )
    found = what_if(planned)
    assert found is not None
    made = quote_of(planned, number="Q-1", made_on=date(2026, 3, 2), valid_days=30, found=found)
    told = {s.saved_each for s in made.savings}
    own = [a for a in found.alternatives if a.demand == "one shape only"]
    most = max(own, key=lambda a: a.saved_each)
    assert most.saved_each in told
    assert any(" on " in s.words and " only" in s.words for s in made.savings)
    as_asked = planned.estimate.prices[0].each
    assert any(0 < a.saved_each < as_asked / 100 for a in found.alternatives)
    assert min(told) >= as_asked / 100
