"""Requests of scripts: text is taken for a path or a word, and what cannot be is refused."""

from __future__ import annotations

import pickle
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest

import kerfwright
from kerfwright.app.hole_records import HoleRequest
from kerfwright.app.records import JobRequest
from kerfwright.foundation.errors import InputError
from kerfwright.process.flushing import Bath
from kerfwright.process.technology import Flushing
from kerfwright.trade.part import ContourUse, LengthUnit

WHEEL = str(files("kerfwright") / "data/samples/escape_wheel.dxf")
JOB: dict[str, Any] = {"drawing": WHEEL, "material": "304", "height": "2 mm"}


def test_a_job_of_texts_is_the_job_of_paths_and_words() -> None:
    by_text = JobRequest(
        **JOB,
        units="mm",  # type: ignore[arg-type]
        nozzles="both-open",  # type: ignore[arg-type]
        bath="Open-Air",  # type: ignore[arg-type]
        roles={"P1": "outline"},  # type: ignore[dict-item]
        quantities=[1, 5],  # type: ignore[arg-type]
    )
    by_kind = JobRequest(
        **{**JOB, "drawing": Path(WHEEL)},
        units=LengthUnit.MILLIMETRE,
        nozzles=Flushing.BOTH_OPEN,
        bath=Bath.OPEN_AIR,
        roles={"P1": ContourUse.OUTLINE},
        quantities=(1, 5),
    )
    assert by_text == by_kind
    assert pickle.loads(pickle.dumps(by_text.nozzles)) is Flushing.BOTH_OPEN  # noqa: S301
    assert isinstance(by_text.drawing, Path)


def test_a_drawing_given_as_text_is_planned() -> None:
    result = kerfwright.plan_job(kerfwright.JobRequest(**JOB))
    assert result.estimate is not None
    part = kerfwright.check_drawing(WHEEL, layer_uses={})
    assert part.sha256 == result.part.sha256


@pytest.mark.parametrize(
    ("field", "given", "said"),
    [
        ("nozzles", "both-opened", "'sealed', 'one-open', 'both-open'"),
        ("nozzles", None, "needed"),
        ("units", "cm", "'mm', 'in'"),
        ("drawing", 5, "path"),
        ("drawing", None, "needed"),
        ("height", 30, '"30 mm"'),
        ("tolerance", 0.01, "no unit"),
        ("material", b"D2", "text"),
        ("quantities", "5", "whole numbers"),
        ("quantities", (1, 2.5), "whole numbers"),
        ("quantities", True, "whole numbers"),
        ("layer_uses", {"0": "cut"}, "'opening'"),
        ("roles", ["P1"], "mapping"),
        ("tables", 1.5, "path"),
    ],
)
def test_what_a_request_cannot_take_is_refused_with_the_field_and_what_it_takes(
    field: str, given: object, said: str
) -> None:
    with pytest.raises(InputError) as caught:
        JobRequest(**{**JOB, field: given})
    assert caught.value.code == "request-field"
    assert caught.value.message.startswith(field)
    assert said in caught.value.remedy


def test_one_count_is_an_order_of_that_many() -> None:
    assert JobRequest(**JOB, quantities=5).quantities == (5,)  # type: ignore[arg-type]


def test_a_job_of_small_holes_takes_texts_too() -> None:
    request = HoleRequest(source="holes.csv", units="in")  # type: ignore[arg-type]
    assert (request.source, request.units) == (Path("holes.csv"), LengthUnit.INCH)
    with pytest.raises(InputError, match="source"):
        HoleRequest(source=None)  # type: ignore[arg-type]
