from __future__ import annotations

import struct

import numpy as np
import pytest

import handmade
from kerfwright.workbench.binary import ChainKind, geometry_bytes, wire_bytes


def test_the_drawing_is_read_back_from_its_bytes() -> None:
    part = handmade.wheel()
    data = geometry_bytes(part)
    assert data[:4] == b"KWG1"
    count, ox, oy = struct.unpack_from("<Idd", data, 4)
    kinds = np.frombuffer(data, "<u4", count, 24)
    starts = np.frombuffer(data, "<u4", count + 1, 24 + 4 * count)
    points = np.frombuffer(data, "<f4", -1, 24 + 4 * (2 * count + 1)).reshape(-1, 2)
    assert starts[-1] == len(points)
    for i, one in enumerate(part.contours):
        chain = points[starts[i] : starts[i + 1]] + np.array([ox, oy])
        low, high = chain.min(axis=0), chain.max(axis=0)
        assert [*low, *high] == pytest.approx(one.contour.bounds_mm, abs=0.003)
        assert chain[0] == pytest.approx(chain[-1], abs=1e-4)
        assert kinds[i] == (ChainKind.OUTLINE if one.role.value == "outline" else ChainKind.OPENING)


def test_the_wire_is_read_back_from_its_bytes() -> None:
    wire = np.array([[0.0, 1e6, 2e6], [1.5, 1e6 + 0.25, 2e6 - 0.125]])
    data = wire_bytes(wire)
    assert data[:4] == b"KWW1"
    count, ox, oy = struct.unpack_from("<Idd", data, 4)
    columns = np.frombuffer(data, "<f4", 3 * count, 24).reshape(3, count)
    assert columns.T + np.array([0.0, ox, oy]) == pytest.approx(wire, abs=1e-6)


def test_no_wire_is_no_points() -> None:
    assert struct.unpack_from("<I", wire_bytes(np.zeros((0, 3))), 4) == (0,)
