"""Reasons of the steps of a what-if, of the front, and of passes that were not chosen."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from hole_samples import SAMPLES
from kerfwright.cli.run import run

Capture = pytest.CaptureFixture[str]
ORDER = ["--material", "D2", "--height", "6mm", "--tolerance", "±10um", "--finish", "Ra 0.8um"]


@pytest.fixture(scope="module")
def job(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("click") / "job"
    assert run(["plan", str(SAMPLES / "click.dxf"), *ORDER, "-o", str(folder)]) == 0
    return folder


def reasons(capsys: Capture, job: Path, *words: str) -> list[dict]:  # type: ignore[type-arg]
    capsys.readouterr()
    assert run(["why", str(job), *words, "--json"]) == 0
    return json.loads(capsys.readouterr().out)["reasons"]


def test_every_step_has_its_difference_of_two_prices_with_a_range(
    job: Path, capsys: Capture, tmp_path: Path
) -> None:
    found = reasons(capsys, job, "saving")
    assert found
    # The very numbers that the plan prints.
    order = [
        str(SAMPLES / "click.dxf"),
        *ORDER,
        "--what-if",
        "--json",
        "-o",
        str(tmp_path / "again"),
    ]
    assert run(["plan", *order]) == 0
    steps = json.loads(capsys.readouterr().out)["what_if"]["alternatives"]
    assert len(found) == 3 * len(steps)
    for step, (money, so, minutes) in zip(
        steps, zip(found[::3], found[1::3], found[2::3], strict=True), strict=True
    ):
        inputs = dict(money["inputs"])
        assert money["value"] == pytest.approx(float(step["saved_each"]))
        assert money["value"] == pytest.approx(inputs["each as asked"] - inputs["each so"])
        assert so["value"] == pytest.approx(float(step["offer"]["each"]))
        assert minutes["value"] == pytest.approx(step["machine_minutes_saved_each"], abs=1e-3)
        assert dict(so["inputs"])["changed"] == step["demand"]
        for one in (money, so, minutes):
            assert one["range"]["low"] <= one["value"] <= one["range"]["high"]
        # Two prices that move together differ by less than either is off.
        spread = money["range"]["high"] - money["range"]["low"]
        assert spread < so["range"]["high"] - so["range"]["low"]


def test_what_if_and_front_are_words_that_find_them(job: Path, capsys: Capture) -> None:
    titles = {r["name"] for r in reasons(capsys, job, "what-if")}
    assert any(title.startswith("saving 1 ") for title in titles)
    ways = reasons(capsys, job, "front")
    assert {" ".join(r["name"].split()[:2]) for r in ways} == {
        f"way {n}" for n in range(1, len(ways) // 2 + 1)
    }
    prices = [r["value"] for r in ways if r["name"].endswith("price each")]
    assert prices == sorted(prices)


def test_a_pass_that_was_not_chosen_has_the_minutes_that_the_plan_names(
    job: Path, capsys: Capture
) -> None:
    (count,) = reasons(capsys, job, "number", "of", "passes")
    said = [v for k, v in count["inputs"].items() if str(k).startswith("further pass")]
    first = int(count["value"]) + 1
    assert said
    for number, text in enumerate(said, start=first):
        (minutes,) = reasons(capsys, job, "pass", str(number), "more", "minutes")
        (told,) = re.findall(r"for ([\d.]+) more minutes per 100 mm", text)
        assert f"{minutes['value']:.1f}" == told
        assert minutes["range"]["low"] < minutes["value"] < minutes["range"]["high"]
        (feed,) = reasons(capsys, job, "pass", str(number), "feed")
        assert 100 / feed["value"] == pytest.approx(minutes["value"])


def test_both_ends_of_a_rank_are_told_by_one_rule(job: Path, capsys: Capture) -> None:
    (rough, *_) = reasons(capsys, job, "pass", "1", "break", "rank")
    assert rough["range"]["low"] < 1e-4 < rough["range"]["high"]
    assert run(["why", str(job), "pass", "1", "break", "rank"]) == 0
    said = capsys.readouterr().out
    assert "10–90 %: below 0.0001 to " in said
    assert not re.search(r"\de-\d", said)


def test_the_index_says_what_is_priced_when_asked(job: Path, capsys: Capture) -> None:
    assert run(["why", str(job)]) == 0
    assert "'what-if', 'saving 1', 'front', 'way 1'" in capsys.readouterr().out


def test_a_step_names_its_contours_and_who_makes_its_range(job: Path, capsys: Capture) -> None:
    found = reasons(capsys, job, "saving")
    steps = [dict(one["inputs"])["step"] for one in found[::3]]
    # No two steps read alike, and those of single shapes name them.
    assert len(set(steps)) == len(steps)
    single = next(k for k, step in enumerate(steps, start=1) if re.search(r"\b[HP]\d", step))
    contour = re.search(r"\b[HP]\d", steps[single - 1])
    assert contour is not None
    by_contour = reasons(capsys, job, "saving", contour.group())
    assert steps[single - 1] in {dict(one["inputs"])["step"] for one in by_contour}
    for money in found[::3]:
        assert sum(dict(money["shares"]).values()) == pytest.approx(1, abs=1e-3)
    assert any(len(money["shares"]) > 1 for money in found[::3])
