"""Every number that plan.json and estimate.json hold and that is computed here has its reason.

The documents are walked, not the records: a new figure that nobody explained is found by itself.
"""

from __future__ import annotations

import io
import json
import math
import re
import tomllib
from collections.abc import Iterator
from contextlib import redirect_stdout
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from tests.e2e.test_command_line import DIE, JOB, WHEEL

from kerfwright.adapters.table_files import SHIPPED
from kerfwright.app.sure_words import NO_RANGE, no_range_words
from kerfwright.cli.reasons import PLAIN, unit_of
from kerfwright.cli.run import run
from kerfwright.foundation.ranges import Range
from kerfwright.foundation.sources import COMMON_PRACTICE, Reason

Capture = pytest.CaptureFixture[str]

NAMES = {
    "passes": "number", "start_holes": "contour_id", "tabs": "contour_id", "slugs": "contour_id",
    "flushing": "contour_id", "contour_passes": "contour_id", "times": "operation",
    "consumption": "item", "prices": "quantity", "lines": "item",
    "wire_states": "pass",
}  # fmt: skip
"""What names the rows of each list."""

EXCEPT = {
    r"plan/version|estimate/version": "format, no figure",
    r"plan/(wire_diameter_mm|height_mm)|plan/requirement/.*|plan/wire/.*": "what was asked",
    r"plan/machine/.*": "given by the machine definition",
    r"plan/contours/.*|plan/stock/.*|plan/unreachable/.*": "geometry as drawn, or left by it",
    r"plan/left_out/.*": "counts of what the drawing holds beside contours",
    r"plan/operations/.*": "order and numbers of passes, no figures",
    r"plan/findings/.*": "a finding says itself what it compares",
    r"plan/wire_states/\d+/(pass|reasons/.*)|plan/flushing/[^/]*/reasons/.*": "as in passes",
    r"plan/flushing/[^/]*/(along|beside)_loadings/.*": "shares of the factor, in its reason",
    r"plan/flushing/[^/]*/(tables|learned)_factor": "parts of along_factor, in its reason",
    r"plan/flushing/[^/]*/beside/.*": "where on the path, as geometry; the share has its reason",
    r"plan/passes/\d+/(number|reasons/.*)": "the number of the pass; the reasons themselves",
    r"plan/passes/\d+/(ranges/.*|feed_sigma_log)": "the range of a figure stands in its reason",
    r"plan/(contour_)?passes/.*/stock_feed_factor": "of the stocks in the feed's reason",
    r"plan/(contour_)?passes/.*/guides_factor": "an input of the reason of what is held",
    r"estimate/reasons/.*": "the reasons themselves",
    r"estimate/.*/(unit_price|quantity)": "asked, or of the table of rates",
    r"estimate/prices/\d+/spread/.*": "shares of the range; they stand in the price's reason",
    r"estimate/times/.*/(low|high)|estimate/consumption/.*/(low|high)": "in the reason's range",
    r"estimate/times/.*/pass_number": "which pass it is, no figure",
    r"estimate/times/(?!rough|cut-off|skim).*/wall_(mm|min)": "nothing is cut: 0",
    r"estimate/prices/\d+/(low|high)": "in the range of the price in all",
    r"estimate/prices/\d+/(hours|lines/.*)/(low|high)": "in the reason's range",
}
"""Numbers without a reason of their own, and why."""


def numbers(value: Any, path: str) -> Iterator[tuple[str, float]]:
    """Go through a document: the path and value of each number, money included."""
    if isinstance(value, bool) or value is None:
        return
    if isinstance(value, int | float):
        yield path, float(value)
    elif isinstance(value, str):
        if re.fullmatch(r"-?\d+\.\d+", value):
            yield path, float(value)
    elif isinstance(value, dict):
        for key, inner in value.items():
            yield from numbers(inner, f"{path}/{key}")
    elif isinstance(value, list):
        key = NAMES.get(path.rpartition("/")[2])
        for index, inner in enumerate(value):
            name = inner.get(key, index) if isinstance(inner, dict) else index
            yield from numbers(inner, f"{path}/{name}")


def is_excepted(path: str) -> bool:
    return any(re.fullmatch(pattern, path) for pattern in EXCEPT)


def recorded(folder: Path) -> Path:
    """Return a shop's folder that holds measured cuts."""
    rows = (
        "job,machine,material,wire,pass,height,length,time,finish,size_error,wire_used\n"
        + "".join(
            f"J{n},generic-mm,C270 brass,0.25 mm,{p},6 mm,100 mm,{t} min,Ra {ra} um,1 um,30 g\n"
            for n in range(4)
            for p, t, ra in ((1, 14 + n, 3.1), (2, 13 + n, 1.6), (3, 12, 0.9))
        )
    )
    (folder / "cuts.csv").write_text(rows, "utf-8")
    assert run(["record", str(folder / "cuts.csv"), "--shop", str(folder / "shop")]) == 0
    return folder / "shop"


CASES = {
    "contours": [
        str(WHEEL), *JOB, "--tolerance", "±0.005mm", "--contour", "H7: tolerance=±0.02mm",
    ],
    "wheel": [str(WHEEL), *JOB, "--tolerance", "±0.005mm", "--quantity", "1,25"],
    "die": [
        str(DIE), "--material", "D2", "--height", "1in", "--tolerance", "0.0002in",
        "--layer", "STOCK=stock", "--layer", "START=start", "--layer", "DIE=opening",
        "--nozzles", "one-open",
    ],
    "tall": [str(WHEEL), "--material", "D2", "--height", "120mm", "--tolerance", "±0.005mm"],
    "leaning": [
        str(DIE), "--material", "D2", "--height", "20mm", "--tolerance", "±0.01mm",
        "--layer", "STOCK=stock", "--layer", "START=start", "--layer", "DIE=opening",
        "--taper", "H1: taper=1° out from top",
    ],
    "fine": [
        str(WHEEL), "--material", "D2", "--height", "10mm", "--finish", "Ra0.14um",
        "--wire", "0.1mm",
    ],
    "edge": [str(WHEEL), *JOB, "--tolerance", "±0.005mm", "--stock-margin", "2mm"],
    "far": [
        str(WHEEL), *JOB, "--tolerance", "±0.02mm", "--upper-gap", "20mm", "--lower-gap", "20mm",
    ],
}  # fmt: skip
SHOP = "wheel with a shop"
COMMON = ["contours", "wheel", "die", "edge"]


class Jobs:
    """Jobs planned once for all tests, and what ``why`` says of them."""

    def __init__(self, place: Path) -> None:
        self.place = place

    @cache  # noqa: B019 lives as long as the module
    def folder(self, case: str) -> Path:
        home = self.place / case.replace(" ", "-")
        home.mkdir()
        arguments = CASES[case.partition(" ")[0]]
        if case == SHOP:
            arguments = [*arguments, "--shop", str(recorded(home))]
        assert run(["plan", *arguments, "-o", str(home / "job")]) == 0
        return home / "job"

    @cache  # noqa: B019 lives as long as the module
    def reasons(self, case: str) -> list[dict[str, Any]]:
        folder = self.folder(case)
        said = io.StringIO()
        with redirect_stdout(said):
            assert run(["why", str(folder), "--json"]) == 0
        found: list[dict[str, Any]] = json.loads(said.getvalue())["reasons"]
        return found


@pytest.fixture(scope="module")
def jobs(tmp_path_factory: pytest.TempPathFactory) -> Jobs:
    return Jobs(tmp_path_factory.mktemp("jobs"))


@pytest.mark.parametrize("case", [*COMMON, SHOP])
def test_every_number_of_plan_and_estimate_has_a_reason(case: str, jobs: Jobs) -> None:
    folder = jobs.folder(case)
    reasons = {r["path"]: r for r in jobs.reasons(case) if r["path"]}
    found = [
        *numbers(json.loads((folder / "plan.json").read_text("utf-8")), "plan"),
        *numbers(json.loads((folder / "estimate.json").read_text("utf-8")), "estimate"),
    ]
    bare = []
    for path, value in found:
        if is_excepted(path):
            continue
        reason = reasons.get(path.removesuffix("/likely")) or reasons.get(path)
        own = re.fullmatch(r"plan/contour_passes/[^/]+/(\w+)/(\d+)", path)
        if reason is None and own:
            # A contour with all passes of the job has their offsets, feeds and stock.
            field = {"offsets_mm": "offset_mm", "feeds_mm_per_min": "feed_mm_per_min"}
            reason = reasons[f"plan/passes/{int(own[2]) + 1}/{field.get(own[1], own[1])}"]
        if reason is None:
            bare.append(path)
            continue
        # To the digits of the document: coordinates to 1e-6, money to the cent.
        assert reason["value"] == pytest.approx(value, rel=1e-6, abs=2e-6), path
    assert not bare, "\n".join(bare[:20])
    assert len(found) > 100


def test_no_exception_is_left_over(jobs: Jobs) -> None:
    folders = [jobs.folder(case) for case in ("wheel", "edge", "far")]
    paths = [
        path
        for folder in folders
        for name in ("plan", "estimate")
        for path, _ in numbers(json.loads((folder / f"{name}.json").read_text("utf-8")), name)
    ]
    unused = [p for p in EXCEPT if not any(re.fullmatch(p, path) for path in paths)]
    assert unused == []


def test_a_number_nobody_explains_is_found() -> None:
    assert [p for p, _ in numbers({"slugs": [{"contour_id": "H1", "new_mm": 1.5}]}, "plan")] == [
        "plan/slugs/H1/new_mm"
    ]
    assert not is_excepted("plan/slugs/H1/new_mm")


@pytest.mark.parametrize("case", [*COMMON, SHOP])
def test_ranges_hold_their_value_and_shares_add_up(case: str, jobs: Jobs) -> None:
    for reason in jobs.reasons(case):
        assert reason["formula"]
        assert reason["source"]
        span = reason["range"]
        if span is None or span["low"] == span["high"]:
            assert reason["shares"] == {}, reason["name"]
            continue
        # A price each is rounded to the cent, its range is not.
        slack = 0.01 if "price" in reason["name"] else 1e-6
        assert span["low"] - slack <= reason["value"] <= span["high"] + slack, reason["name"]
        assert math.fsum(reason["shares"].values()) == pytest.approx(1, abs=1e-4), reason["name"]


def test_people_and_prices_follow_from_the_inputs_that_are_named(jobs: Jobs) -> None:
    seen = set()
    for reason in jobs.reasons("wheel"):
        formula = reason["formula"]
        given = [v for v in reason["inputs"].values() if isinstance(v, int | float)]
        match formula:
            case "each x count" | "amount x pieces x unit price":
                expected = math.prod(given)
            case "base + each x count":
                expected = given[0] + given[1] * given[2]
            case "minutes x pieces / 60 x rate of the hour":
                expected = math.prod(given) / 60
            case "area x height x density":
                expected = math.prod(given) / 1e9
            case "mass x g":
                expected = math.prod(given)
            case _:
                continue
        seen.add(formula)
        # Money to the cent; inputs as printed.
        assert reason["value"] == pytest.approx(expected, rel=1e-4, abs=0.006), reason["name"]
    assert len(seen) == 6


def test_the_shop_names_its_records_and_what_each_input_brings(jobs: Jobs, capsys: Capture) -> None:
    folder = jobs.folder(SHOP)
    capsys.readouterr()
    assert run(["why", str(folder), "pass", "2", "feed", "--json"]) == 0
    (feed,) = json.loads(capsys.readouterr().out)["reasons"]
    assert "4 measured cuts of this combination, experience" in feed["source"]
    assert {"machine", "material", "job", "cut"} <= set(feed["shares"])
    assert run(["why", str(folder), "time", "rough"]) == 0
    shown = capsys.readouterr().out
    assert "job to job" in shown
    assert "machine" in shown


@pytest.mark.parametrize("case", COMMON)
def test_every_number_is_shown_with_its_unit_or_is_listed_as_plain(case: str, jobs: Jobs) -> None:
    quantities = {r["quantity"] for r in jobs.reasons(case)}
    assert {q for q in quantities if not unit_of(q)} <= set(PLAIN)
    assert {q for q in quantities if unit_of(q)}.isdisjoint(PLAIN)
    shown = {q: unit_of(q) for q in quantities}
    assert shown["stress_n_per_mm2"] == "N/mm²"
    assert shown["hottest_c"] == "°C"
    assert shown["mean_current_a"] == shown["break_current_a"] == "A"
    assert shown["natural_frequency_hz"] == "Hz"


def test_a_corner_is_said_to_be_slowed_only_where_it_is(jobs: Jobs) -> None:
    said = {}
    for case in ("wheel", "tall"):
        for one in jobs.reasons(case):
            if one["quantity"] == "least_feed_factor":
                said[case, one["name"]] = one
    assert any(one["value"] == 1 for one in said.values())
    assert any(one["value"] < 1 for one in said.values())
    for one in said.values():
        assert ("no corner or arc" in one["formula"]) == (one["value"] == 1)
        assert ("at" in one["inputs"]) == (one["value"] < 1)


def test_without_a_shop_a_feed_tells_its_law_and_a_time_the_split_of_common_practice(
    jobs: Jobs,
) -> None:
    reasons = {r["name"]: r for r in jobs.reasons("wheel")}
    shipped = tomllib.loads(Path(str(SHIPPED / "learning.toml")).read_text("utf-8"))
    stated = {who: one["value"] for who, one in shipped["share"]["feed"].items()}
    # So in routine work; brass at 6 mm is less sure of its K_m (0.3 for 0.171) and of v0, by hand,
    # as the mean over three passes: 0.35 for the rough one, 0.25 for each skim.
    assert "pass 4 feed" not in reasons
    assert "pass 3 feed" in reasons
    routine = 0.35**2 + 2 * 0.25**2
    thin, usual = ((1 / v) / (1 / v + 1 / 220) for v in (12 * 6, 12 * 40))
    of_height = ((t * 0.15) ** 2 + ((1 - t) * 0.12) ** 2 for t in (thin, usual))
    tall = (2 * 0.16**2 / (1 + 0.16**2) * 0.2) ** 2
    more = {"height": next(of_height) - next(of_height) - tall}
    more["material"] = (1 + 2 * 0.5**2) * (0.3**2 - 0.171**2)
    whole = routine + math.fsum(more.values())
    stated = {who: (part * routine + more.get(who, 0)) / whole for who, part in stated.items()}
    law = {"pass 1 feed": {"K_s, shop derate", "v0, thin plate", "A_inf, plateau"}}
    law["pass 2 feed"] = {"v_table, feed of the row", "K_m, material factor"}
    for name, figures in law.items():
        assert figures <= reasons[name]["shares"].keys()
        assert math.fsum(reasons[name]["shares"].values()) == pytest.approx(1, abs=1e-4)
    for name in ("time rough pass", "time cutting in all"):
        assert reasons[name]["shares"] == pytest.approx(stated, abs=1e-3), name
        assert "split of the feed's spread among inputs: common practice" in reasons[name]["source"]
    price = reasons["price for 25 in all"]["shares"]
    rate = {who: part for who, part in price.items() if who.startswith("cutting rate: ")}
    whole = math.fsum(rate.values())
    assert 0 < whole < 1
    for who, part in rate.items():
        assert part / whole == pytest.approx(stated[who.removeprefix("cutting rate: ")], abs=1e-3)


def without_range(reasons: list[dict[str, Any]]) -> list[str]:
    """Return the numbers that have no range and do not say why."""
    bare = []
    for reason in reasons:
        span = reason["range"]
        told = no_range_words(
            Reason(
                quantity=reason["quantity"],
                value=reason["value"],
                formula=reason["formula"],
                inputs=(),
                source=COMMON_PRACTICE,
                range=Range(**span) if span else None,
            )
        )
        if not told and (span is None or span["low"] == span["high"]):
            bare.append(reason["name"])
    return bare


@pytest.mark.parametrize("case", [*COMMON, SHOP, "tall", "leaning", "fine"])
def test_every_prediction_has_a_range_and_other_numbers_say_what_they_are(
    case: str, jobs: Jobs
) -> None:
    assert without_range(jobs.reasons(case)) == []


def test_so_has_every_prediction_of_small_holes(tmp_path: Path, capsys: Capture) -> None:
    source = Path(str(SHIPPED / "samples/pivot_plate_oil.csv"))
    asked = ["--material", "304", "--height", "6mm", "--position", "±0.1mm"]
    assert run(["holes", str(source), *asked, "-o", str(tmp_path / "holes")]) == 0
    capsys.readouterr()
    assert run(["why", str(tmp_path / "holes"), "--json"]) == 0
    reasons = json.loads(capsys.readouterr().out)["reasons"]
    assert len(reasons) > 50
    assert without_range(reasons) == []


def test_a_prediction_without_a_range_is_found() -> None:
    one = {"quantity": "sparks_khz", "value": 1.0, "formula": "f", "range": None, "name": "bare"}
    assert without_range([one, {**one, "range": {"low": 1, "likely": 1, "high": 2}}]) == ["bare"]


def test_no_word_for_a_missing_range_is_for_a_prediction() -> None:
    predicted = {
        "spark_energy_mj", "peak_current_a", "pulse_us", "sparks_khz", "tolerance_um", "ra_um",
        "recast_um", "breaks_by_heat", "breaks_beside", "next_stock_um", "lag_um", "barrel_um",
        "hottest_c", "mean_current_a", "exit_position_um", "feed_mm_per_min", "minutes",
    }  # fmt: skip
    assert predicted.isdisjoint(NO_RANGE)
