"""The worked jobs read as the code computes them now, and their hand calculations come out."""

from __future__ import annotations

import math
import re

import pytest
from tools.worked import BLOCKS, PAGES, blocks, kept, outcome, renewed, worth
from tools.worked_jobs import JOBS

PARTS = (
    "The enquiry", "The command", "The output", "Line by line", "By hand",
    "Beside figures from elsewhere", "What is not counted",
)  # fmt: skip


@pytest.fixture(scope="module", params=JOBS, ids=lambda job: job.name)
def job(request):
    return request.param


@pytest.fixture(scope="module")
def page(job):
    return (PAGES / f"{job.name}.md").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def ran(job):
    """What the job printed, and the same as a document."""
    return outcome(job)


@pytest.fixture(scope="module")
def document(ran):
    return ran[1]


def normalised(text):
    """The words and numbers of a part: how wide a table's columns are does not matter."""
    return re.sub(r"[─\s]+", " ", text).strip()


def test_the_made_parts_are_those_of_a_fresh_run(job, page, ran):
    for block, text in blocks(job, ran).items():
        assert normalised(kept(page, block)) == normalised(text), f"{block}: make worked-jobs"


def test_a_number_of_the_output_that_moves_is_noticed(page):
    output = kept(page, "output")
    moved = output.replace("rough pass", "rough past", 1)
    assert normalised(moved) != normalised(output)
    assert kept(renewed(page, {"output": moved}), "output") == moved


def test_hand_and_plan_agree(job, document):
    checked = 0
    for one in job.hand:
        if one.look is not None:
            plan = one.look(document)
            assert worth(one.arithmetic) == pytest.approx(plan, rel=one.within), one.what
            checked += 1
    assert checked >= 3


def test_the_plan_lies_where_figures_from_elsewhere_lie(job, document):
    assert len(job.elsewhere) >= 3
    for one in job.elsewhere:
        assert one.low <= one.look(document) <= one.high, one.what
        assert re.search(r"\([a-d](, [a-d])?\)", one.source), one.source


def test_a_page_has_all_its_parts_and_the_command_that_is_run(job, page):
    assert tuple(re.findall(r"^## (.+)$", page, re.MULTILINE)) == PARTS
    assert f"```sh\n{job.command}\n```" in page
    assert all(kept(page, block) for block in BLOCKS)


def test_what_the_trade_asks_to_be_said_is_said(job, document):
    codes = [f["code"] for f in document["findings"]]
    words = " ".join(f["message"] for f in document["findings"])
    if job.name == "hand-die":
        assert {"temperature-uses-tolerance", "work-may-move"} <= set(codes)
    if job.name == "carbide-punch":
        assert codes.count("material-note") == 2
        assert "Cobalt" in words
        assert "start-holes-in-carbide" not in codes


def test_arithmetic_is_worked_out_as_it_stands():
    assert worth("2 * (3 + 4)^2 / 7 - 1") == 13
    assert worth("sqrt(2) * pi") == pytest.approx(math.sqrt(2) * math.pi)
    with pytest.raises((KeyError, ValueError)):
        worth("open(1)")
