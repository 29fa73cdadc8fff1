from __future__ import annotations

import math

import numpy as np
import pytest

from kerfwright.foundation.errors import InputError, RangeError
from kerfwright.foundation.sources import SourceTag
from kerfwright.trade.roughness import RMS_PER_RA, finish


@pytest.mark.parametrize(
    ("said", "ra_um"),
    [
        ("Ra 0.8", 0.8),
        ("Ra 0,8", 0.8),
        ("Ra0.8", 0.8),
        ("Ra 6.3", 6.3),
        ("0.8 um Ra", 0.8),
        ("0.8 µm Ra", 0.8),
        ("0.8 µm", 0.8),
        ("Ra 0.8 µm max", 0.8),
        ("Ra <= 0.8 µm", 0.8),
        ("16 uin Ra", 0.4064),
        ("Ra 16 µin", 0.4064),
        ("16 µin AA", 0.4064),
        ("32 RMS", 32 * 0.0254 / 1.11),
        ("125 µin RMS", 125 * 0.0254 / 1.11),
        ("RMS 32", 32 * 0.0254 / 1.11),
        ("Rq 0.8 µm", 0.8 / 1.2533141373155),
        ("32 µin Rq", 32 * 0.0254 / 1.2533141373155),
        ("Rz 6.3", 1.05),
        ("Rz 6.3 µm", 1.05),
        ("VDI 24", 0.1 * 10**1.2),
        ("VDI 3400 24", 0.1 * 10**1.2),
        ("vdi3400 class 24", 0.1 * 10**1.2),
        ("VDI 0", 0.1),
        ("N6", 0.8),
        ("n 12", 50.0),
    ],
)
def test_a_finish_is_brought_to_ra(said, ra_um):
    read = finish(said)
    assert read.ra_um == pytest.approx(ra_um, rel=1e-9)
    assert read.said == said


def test_a_conversion_says_its_factor_and_how_well_it_is_known():
    rms, rz = finish("32 µin RMS"), finish("Rz 6.3 µm")
    assert "1.11" in rms.note
    assert rms.source.tag is SourceTag.FROM_MEMORY
    assert "guide" in rz.note
    assert rz.source.tag is SourceTag.COMMON_PRACTICE
    assert finish("0.8 µm Ra").note == ""


def test_a_bare_number_says_which_unit_was_taken():
    assert "µm" in finish("Ra 0.8").note
    assert "µin" in finish("32 RMS").note


def test_the_rms_factor_is_that_of_a_sine():
    # Mean of |sin| is 2/pi, its root mean square 1/sqrt 2.
    assert pytest.approx(math.pi / (2 * math.sqrt(2)), rel=1e-3) == RMS_PER_RA


def test_the_rq_asked_is_met_by_a_gaussian_profile_of_the_ra_it_is_brought_to():
    # Drawn heights, not the formula: their mean and root mean square as ISO 21920-2 defines them.
    heights = np.random.default_rng(7).normal(0.0, 1.0, 1_000_000)
    mean, root = np.abs(heights).mean(), np.sqrt((heights**2).mean())
    asked = finish("Rq 0.8 µm")
    assert asked.ra_um * root / mean == pytest.approx(0.8, rel=2e-3)
    assert asked.source.tag is SourceTag.COMPUTED


@pytest.mark.parametrize(
    ("said", "code"),
    [
        ("Ra 32", "finish-unit-missing"),
        ("Ra 8", "finish-unit-missing"),
        ("0.8 RMS", "finish-unit-missing"),
        ("0.8", "finish-unit-missing"),
        ("smooth", "finish-unreadable"),
        ("Ra", "finish-unreadable"),
        ("", "finish-unreadable"),
    ],
)
def test_a_finish_that_may_be_two_things_is_refused(said, code):
    with pytest.raises(InputError) as caught:
        finish(said)
    assert caught.value.code == code
    assert "32 RMS" in caught.value.remedy


@pytest.mark.parametrize("said", ["VDI 46", "N0", "N13", "Ra 0 µm"])
def test_a_class_that_does_not_exist_is_out_of_range(said):
    with pytest.raises(RangeError) as caught:
        finish(said)
    assert caught.value.code == "finish-out-of-range"
