from __future__ import annotations

from dataclasses import replace

import pytest

from kerfwright.foundation.answers import Answer, index_of, matching, unmatched
from kerfwright.foundation.sources import COMMON_PRACTICE, Reason


def answer(about, name):
    reason = Reason(quantity="x", value=1.0, formula="x", inputs=(), source=COMMON_PRACTICE)
    return Answer(about=about, name=name, path=f"{about}/{name}", reason=reason)


EVERY = [
    answer("pass 1", "feed"),
    answer("pass 2", "feed"),
    answer("pass 2", "size error"),
    answer("H1", "tab width"),
    answer("H12", "tab width"),
    answer("time", "rough pass"),
    answer("price for 25", "in all"),
    answer("price for 5", "in all"),
]


@pytest.mark.parametrize(
    ("asked", "titles"),
    [
        ("pass 2 feed", ["pass 2 feed"]),
        ("feed of", []),
        ("Feed 2 PASS", ["pass 2 feed"]),
        ("feed", ["pass 1 feed", "pass 2 feed"]),
        ("h1", ["H1 tab width"]),
        ("tab", ["H1 tab width", "H12 tab width"]),
        ("price", ["price for 25 in all", "price for 5 in all"]),
        ("price 5", ["price for 5 in all"]),
        ("err", ["pass 2 size error"]),
        ("er", []),
        ("", []),
    ],
)
def test_what_is_asked_for_is_found(asked, titles):
    assert [a.title for a in matching(EVERY, asked)] == titles


def test_a_title_asked_for_whole_comes_alone():
    more = [*EVERY, answer("pass 2 feed", "range")]
    assert [a.title for a in matching(more, "pass 2 feed")] == ["pass 2 feed"]


def test_subjects_with_the_same_quantities_are_listed_together():
    listed = dict(index_of(EVERY))
    assert listed["H1, H12"] == ("tab width",)
    assert listed["pass 2"] == ("feed", "size error")


def test_other_words_find_what_no_title_says():
    lag = replace(answer("pass 1", "wire lag"), also="bow")
    assert [a.title for a in matching([*EVERY, lag], "pass bow")] == ["pass 1 wire lag"]
    titled = answer("pass 1", "bow")
    assert matching([lag, titled], "bow") == (titled,)


def test_words_that_nothing_has_are_named():
    assert unmatched(EVERY, "pass 2 blah feed") == ("blah",)
    assert unmatched(EVERY, "pass tab") == ()
