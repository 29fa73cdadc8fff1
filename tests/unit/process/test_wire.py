from __future__ import annotations

import pytest

from kerfwright.foundation.errors import RangeError
from kerfwright.process.wire import static_bow_um


def test_work_as_tall_as_the_span_bows_like_a_loaded_string():
    # q L^2 / (8 T): 2 N/m, 0.1 m, 10 N give 0.25 mm.
    bow_um = static_bow_um(2.0, height_mm=100, span_mm=100, tension_n=10)
    assert bow_um == pytest.approx(250)


def test_half_the_tension_doubles_the_bow():
    tight, loose = (static_bow_um(1.0, height_mm=50, span_mm=80, tension_n=t) for t in (20, 10))
    assert loose == pytest.approx(2 * tight)


@pytest.mark.parametrize(("height_mm", "tension_n"), [(101, 10), (0, 10), (50, 0)])
def test_work_that_does_not_fit_or_a_slack_wire_is_refused(height_mm, tension_n):
    with pytest.raises(RangeError):
        static_bow_um(1.0, height_mm=height_mm, span_mm=100, tension_n=tension_n)
