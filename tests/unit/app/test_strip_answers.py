"""The minutes of the strip are as sure as the lines of the estimate that they are parts of."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from importlib.resources import files
from pathlib import Path
from types import SimpleNamespace

import pytest

from kerfwright.app.explain import asked_for
from kerfwright.app.records import JobRequest
from kerfwright.app.strip import Stretch, StretchKind
from kerfwright.app.strip_answers import _line_of, rate_of
from kerfwright.costing.times import TimedLine
from kerfwright.foundation.answers import Answer
from kerfwright.foundation.errors import UnknownNameError
from kerfwright.wiring import answers, plan_job

CLICK = Path(str(files("kerfwright") / "data/samples/click.dxf"))


@cache
def told() -> tuple[Answer, ...]:
    asked = JobRequest(drawing=CLICK, material="D2", height="20 mm", tolerance="±0.01 mm")
    return answers(plan_job(asked))


def one(words: str) -> Answer:
    (found,) = asked_for(told(), words)
    return found


def test_the_first_piece_is_surer_than_its_cutting_and_names_people() -> None:
    whole, cutting = one("first piece time").reason, one("time cutting in all").reason
    assert whole.range is not None
    assert cutting.range is not None
    assert whole.range.low < whole.value < whole.range.high
    widths = [r.range.high / r.range.low for r in (whole, cutting) if r.range is not None]
    assert widths[0] < widths[1]
    assert sum(share for _, share in whole.shares) == pytest.approx(1)
    assert "people's pace" in dict(whole.shares)


def test_contours_together_are_no_surer_than_their_cutting_rate() -> None:
    """One rate cuts them all: a contour by itself is about as unsure as all cutting is."""
    cutting = one("time cutting in all").reason
    assert cutting.range is not None
    found = [a for a in told() if a.name == "time on the machine"]
    assert len(found) == 2
    for answer in found:
        span = answer.reason.range
        assert span is not None
        assert 1.3 < span.high / span.low <= cutting.range.high / cutting.range.low * 1.02


def test_time_along_walls_has_the_relative_range_of_its_pass() -> None:
    walls, line = one("time rough pass time along walls").reason, one("time rough pass").reason
    assert walls.range is not None
    assert line.range is not None
    assert walls.range.low / walls.value == pytest.approx(line.range.low / line.value)
    assert walls.range.high / walls.value == pytest.approx(line.range.high / line.value)


@pytest.mark.parametrize(
    ("asked", "name"), [("holds", "tolerance held"), ("further passes", "number of passes")]
)
def test_names_as_printed_can_be_asked(asked: str, name: str) -> None:
    assert {a.name for a in asked_for(told(), asked)} == {name}


def test_a_stretch_with_somebody_there_is_as_sure_as_the_attended_line() -> None:
    stretch = Stretch(
        kind=StretchKind.SKIM, is_attended=True, begin_min=0, minutes=2, pass_number=2
    )
    both: dict[str, TimedLine] = dict.fromkeys(("skim pass 2", "skim pass 2, attended"))  # type: ignore[arg-type]
    assert _line_of(stretch, both) == "skim pass 2, attended"
    assert _line_of(replace(stretch, is_attended=False), both) == "skim pass 2"
    # Where all of a pass is watched there is one line for it.
    del both["skim pass 2, attended"]
    assert _line_of(stretch, both) == "skim pass 2"


def test_what_the_feeds_leave_open_is_named_by_whose_feeds_they_are() -> None:
    line = SimpleNamespace(learned=None)
    own = SimpleNamespace(learned=object())
    assert rate_of(["a"], {"a": line}) == "cutting rate of the tables"  # type: ignore[dict-item]
    of_shop = rate_of(["a", "b", "none"], {"a": line, "b": own})  # type: ignore[dict-item]
    assert of_shop == "cutting rate, what the shop's cuts leave open"


@pytest.mark.parametrize(
    ("asked", "names"),
    [
        ("rough feed", {"pass 1 feed"}),
        ("roughing speed", {"pass 1 feed"}),
        ("contour time", {"H1 time on the machine", "P1 time on the machine"}),
        ("skim roughness", {"pass 2 roughness Ra"}),
    ],
)
def test_words_that_people_type_find_what_they_mean(asked: str, names: set[str]) -> None:
    assert {a.title for a in asked_for(told(), asked)} == names


def test_words_that_no_number_has_together_bring_the_nearest() -> None:
    with pytest.raises(UnknownNameError) as refused:
        asked_for(told(), "H1 spark")
    assert "Nearest: pass 1 spark energy" in refused.value.remedy
