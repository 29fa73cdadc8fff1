"""The figures of the process pages show what the present tables and code compute."""

from __future__ import annotations

import json
import re
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest
from tests.soak import SOAK
from tools.figures.every import FIGURES, FOLDER
from tools.figures.records import differences, text_of

PAGES = Path(__file__).parents[2] / "docs" / "process"
DESCRIPTION = "{http://purl.org/dc/elements/1.1/}description"
MOST_BYTES = 60_000
LONG = ("coverage",)


def kept(name: str) -> object:
    """Numbers that a picture was drawn from."""
    tree = ET.parse(FOLDER / f"{name}.svg")  # noqa: S314 our own file
    text = next(tree.iter(DESCRIPTION)).text
    assert text is not None
    return json.loads(text)


@pytest.mark.parametrize("name", FIGURES)
def test_a_figure_was_drawn_from_the_numbers_of_the_present_code(name):
    if name in LONG and not SOAK:
        pytest.skip("simulated shops take a minute: make soak")
    now = json.loads(text_of(FIGURES[name]()))
    found = differences(kept(name), now, where=name)
    assert not found, "make plots; " + "; ".join(found[:3])


def test_a_number_that_moves_in_its_third_digit_is_noticed():
    figure = json.loads(text_of(FIGURES["corner"]()))
    text = json.dumps(figure)
    moved = json.loads(text)
    moved["panels"][0]["series"][0]["y"][3] *= 1.004
    assert not differences(figure, json.loads(text))
    assert len(differences(figure, moved)) == 1
    moved = json.loads(text)
    moved["panels"][0]["y"]["label"] = "mm"
    assert len(differences(figure, moved)) == 1


@pytest.mark.parametrize("name", FIGURES)
def test_a_figure_is_small_undated_and_stands_on_a_ground_of_its_own(name):
    path = FOLDER / f"{name}.svg"
    text = path.read_text(encoding="utf-8")
    assert len(text.encode()) < MOST_BYTES
    assert "<dc:date>" not in text
    assert "<text" in text
    assert "fill: #fbfaf7" in text


@pytest.mark.parametrize("name", FIGURES)
def test_every_axis_of_a_figure_says_its_unit_or_counts_and_every_line_has_a_name(name):
    units = r"mm|µm|µs|mJ|°C|A|%|minutes|mm²/min|over|share|jobs|setting"
    for panel in kept(name)["panels"]:
        for axis in (panel["x"], panel["y"]):
            assert re.search(units, axis["label"]), axis
        assert all(one["label"] for one in panel["series"])


def test_every_figure_stands_on_a_page_and_every_picture_is_a_figure():
    pages = "".join(p.read_text(encoding="utf-8") for p in PAGES.glob("*.md"))
    shown = re.findall(r"\.\./images/process/([a-z-]+)\.svg", pages)
    assert sorted(shown) == sorted(FIGURES)
    assert {p.stem for p in FOLDER.glob("*")} == set(FIGURES)
