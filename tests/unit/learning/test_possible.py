"""What a machine takes, to the rounding of inches."""

from __future__ import annotations

import dataclasses

import pytest

from kerfwright.adapters.learning_rules import load_cut_limits
from kerfwright.foundation.errors import RangeError
from kerfwright.learning.possible import require_possible
from simulated_shops import MACHINES, MATERIALS, WIRES, Scene, measured


def test_a_height_up_to_what_the_machine_takes_is_possible_and_none_above():
    scene = Scene(
        job="J1", machine=MACHINES[0], material=MATERIALS[0], wire=WIRES[1], height_mm=40.0
    )
    cut = measured(scene, 2, feed=5.0)
    limits = load_cut_limits()
    # A millionth of a millimetre in a metre is what inches lose.
    most = MACHINES[0].max_height_mm * (1 + 1e-9)
    require_possible(dataclasses.replace(cut, height_mm=most), limits)
    with pytest.raises(RangeError) as refused:
        require_possible(dataclasses.replace(cut, height_mm=most * (1 + 1e-9)), limits)
    assert refused.value.code == "height-beyond-machine"
