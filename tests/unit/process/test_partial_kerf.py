"""Feed where only a part of the kerf is metal."""

from __future__ import annotations

import pytest

from kerfwright.foundation.errors import RangeError
from kerfwright.process.partial_kerf import partial_kerf_factor


@pytest.mark.parametrize("share", [1.0, 0.95, 0.9, 0.85])
def test_feed_times_width_in_metal_is_constant_up_to_the_limit(share: float) -> None:
    assert share * partial_kerf_factor(share * 0.33, kerf_mm=0.33, most=1.2) == pytest.approx(1.0)


@pytest.mark.parametrize("share", [0.8, 0.5, 0.1, 1e-6])
def test_an_open_front_is_never_fed_faster_than_the_limit(share: float) -> None:
    assert partial_kerf_factor(share * 0.33, kerf_mm=0.33, most=1.2) == 1.2


@pytest.mark.parametrize("engaged_mm", [0.0, -0.1, 0.34, float("nan")])
def test_a_width_that_no_front_has_is_refused(engaged_mm: float) -> None:
    with pytest.raises(RangeError) as caught:
        partial_kerf_factor(engaged_mm, kerf_mm=0.33, most=1.2)
    assert caught.value.code == "engaged-width"
