"""Passes in bare figures are those of the passes with reasons."""

from __future__ import annotations

import dataclasses

import pytest

from kerfwright.learning.learn import learn
from kerfwright.process.expected import expected_passes, tabled_passes
from kerfwright.process.passes import passes_for
from simulated_shops import RULES, TABLES, Shop, measured

FIGURES = ("feed_mm_per_min", "feed_sigma_log", "ra_um", "tolerance_um", "fine_spark_sigma_log")


def scenes(count):
    shop = Shop(seed=5)
    return [shop.scene(f"J{n}") for n in range(count)]


def cut_in(scene):
    names = ("material", "height_mm", "wire", "machine")
    return {name: getattr(scene, name) for name in names}


@pytest.mark.parametrize("is_learned", [False, True])
def test_figures_are_those_of_the_passes_with_reasons(is_learned):
    there = scenes(12)
    experience = None
    if is_learned:
        cuts = [
            measured(s, n, feed=s.passes(n)[-1].feed_mm_per_min * 0.8, size_error_um=3.0)
            for s in there[:8]
            for n in (1, 2, 3)
        ]
        experience = learn(
            cuts, technology=TABLES.technology, catalogue=TABLES.catalogue, rules=RULES
        )
    technology = dataclasses.replace(TABLES.technology, experience=experience)
    for scene in there:
        tabled = tabled_passes(**cut_in(scene), technology=technology)
        found = expected_passes(tabled, experience, **cut_in(scene), technology=technology)
        wanted = scene.passes(len(found), technology=technology)
        assert [p.is_rough for p in found] == [p.is_rough for p in wanted]
        assert [p.learned for p in found] == [p.learned for p in wanted]
        for name in FIGURES:
            assert [getattr(p, name) for p in found] == [getattr(p, name) for p in wanted]


def test_a_pass_alone_is_expected_as_it_is_among_all():
    scene = scenes(1)[0]
    tabled = tabled_passes(**cut_in(scene), technology=TABLES.technology)
    for number, one in enumerate(tabled, start=1):
        alone = passes_for(number, **cut_in(scene), technology=TABLES.technology)[-1]
        assert one.feed_mm_per_min == alone.feed_mm_per_min
