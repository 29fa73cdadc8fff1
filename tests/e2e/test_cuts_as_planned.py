"""Cuts that went just as planned move nothing, however the plan came to its feeds."""

from __future__ import annotations

import json
import shutil
from functools import cache

import pytest
from tests.e2e.test_command_line import WHEEL
from tests.e2e.test_record_command import SAMPLE, call

from kerfwright.cli.run import run

BASE = ["--material", "D2", "--height", "40mm", "--wire", "0.25mm"]
FINE = ["--tolerance", "±0.0025mm"]
JOBS = {
    "stock of the pass table": [SAMPLE, *BASE, *FINE],
    "stock of the hurt layer": [SAMPLE, *BASE, "--recast", "1um"],
    "one contour with a recast limit": [WHEEL, *BASE, *FINE, "--contour", "H7: recast=1um"],
    "beside the edge of the stock": [WHEEL, *BASE, "--recast", "1um", "--stock-margin", "2mm"],
    "open nozzles": [SAMPLE, *BASE, "--recast", "1um", "--nozzles", "one-open"],
    "a stack": [
        WHEEL, "--material", "304", "--height", "2mm", "--wire", "0.25mm", "--recast", "1um",
        "--stack", "4", "--holding", "clamped", "--quantity", "8",
    ],
}  # fmt: skip


@pytest.fixture(scope="module")
def first(tmp_path_factory):
    """Return a way to plan a job by its name; it is planned once."""

    @cache
    def plan(name):
        folder = tmp_path_factory.mktemp("first") / "job"
        assert run(["plan", *map(str, JOBS[name]), "-o", str(folder)]) == 0
        return folder

    return plan


@pytest.fixture
def planned(first, tmp_path, capsys):
    """Return a way to have a copy of such a job."""

    def copy(name):
        folder = shutil.copytree(first(name), tmp_path / name.replace(" ", "-"))
        capsys.readouterr()
        return folder

    return copy


def as_planned(job, *, minus=()):
    """Each pass of a job with the minutes that the estimate has along its walls."""
    estimate = json.loads((job / "estimate.json").read_text(encoding="utf-8"))
    cuts = {}
    for line in estimate["times"]:
        if line["pass_number"] and line["wall_min"]:
            found = cuts.setdefault(line["pass_number"], [0.0, 0.0])
            found[0] += line["wall_min"]
            found[1] += line["wall_mm"]
    return {k: v for k, v in cuts.items() if k not in minus}


def feeds(job):
    plan = json.loads((job / "plan.json").read_text(encoding="utf-8"))
    return {p["number"]: p["feed_mm_per_min"] for p in plan["passes"]}


@pytest.mark.parametrize("name", JOBS)
def test_cuts_that_took_what_the_plan_says_leave_the_plan_as_it_is(name, planned, tmp_path, capsys):
    job, shop = planned(name), tmp_path / "shop"
    cuts, before = as_planned(job), feeds(job)
    typed = [
        word
        for _ in range(3)
        for number, (minutes, _) in cuts.items()
        for word in ("--cut", f"pass={number}; time={minutes} min")
    ]
    code, done = call(capsys, "record", "--shop", shop, "--job", job, *typed, "--json")
    assert code == 0
    assert done["taken"] == 3 * len(cuts)
    for row in done["moved"]:
        was, now = (row[when]["feed_mm_per_min"]["likely"] for when in ("before", "after"))
        assert now == pytest.approx(was, rel=2e-4)
    code, _ = call(capsys, "plan", *JOBS[name], "--shop", shop, "-o", tmp_path / "again")
    assert code == 0
    assert feeds(tmp_path / "again") == pytest.approx(before, rel=2e-4)


def test_a_skim_whose_row_names_the_nozzles_is_weighed_by_its_stock_nonetheless(
    planned, tmp_path, capsys
):
    job, shop = planned("stock of the hurt layer"), tmp_path / "shop"
    minutes, _ = as_planned(job)[5]
    cut = f"pass=5; time={minutes} min; flushing=sealed"
    _, done = call(capsys, "record", "--shop", shop, "--job", job, "--cut", cut, "--json")
    was, now = (done["moved"][0][k]["feed_mm_per_min"]["likely"] for k in ("before", "after"))
    assert now == pytest.approx(was, rel=2e-4)


def test_a_plan_that_does_not_say_how_its_stock_slows_it_is_to_be_made_again(
    planned, tmp_path, capsys
):
    words = ["record", "--shop", tmp_path / "shop", "--job"]
    cut = ["--pass", "5", "--time", "40 min", "--json"]
    for name, refused in (("stock of the hurt layer", True), ("stock of the pass table", False)):
        job = planned(name)
        plan = json.loads((job / "plan.json").read_text(encoding="utf-8"))
        for one in plan["passes"]:
            del one["stock_feed_factor"]
        (job / "plan.json").write_text(json.dumps(plan), encoding="utf-8")
        code, said = call(capsys, *words, job, *cut)
        assert (code, said.get("code")) == ((2, "plan-other-version") if refused else (0, None))
