from __future__ import annotations

import struct

import numpy as np
import pytest

import handmade
from kerfwright.app.program_path import ProgramPath
from kerfwright.geometry.contour import Contour
from kerfwright.proof.deviation_map import DeviationMap
from kerfwright.proof.picture import FreedPiece
from kerfwright.proof.records import Event, EventKind
from kerfwright.workbench.binary import (
    ChainKind,
    deviation_bytes,
    geometry_bytes,
    path_bytes,
    piece_bytes,
    sketch_bytes,
    wire_bytes,
)


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


def test_a_circle_whose_unit_is_in_doubt_is_a_circle_in_inches_too() -> None:
    radius = 0.5
    data = sketch_bytes([Contour.circle((0.0, 0.0), radius_mm=radius)])
    points = np.frombuffer(data, "<f4", -1, 24 + 4 * 3).reshape(-1, 2)
    middles = (points[:-1] + points[1:]) / 2 + np.frombuffer(data, "<f8", 2, 8)
    off = radius - np.hypot(*middles.T)
    # 2 µm where the unit is the inch.
    assert 0 < off.max() <= 0.002 / 25.4 * 1.05


def test_the_wire_is_read_back_from_its_bytes() -> None:
    wire = np.array([[0.0, 1e6, 2e6], [1.5, 1e6 + 0.25, 2e6 - 0.125]])
    data = wire_bytes(wire)
    assert data[:4] == b"KWW1"
    count, ox, oy = struct.unpack_from("<Idd", data, 4)
    columns = np.frombuffer(data, "<f4", 3 * count, 24).reshape(3, count)
    assert columns.T + np.array([0.0, ox, oy]) == pytest.approx(wire, abs=1e-6)


def test_no_wire_is_no_points() -> None:
    assert struct.unpack_from("<I", wire_bytes(np.zeros((0, 3))), 4) == (0,)


def test_the_path_of_a_program_is_read_back_with_its_lines() -> None:
    points = np.array([[0.25, 1e6, -5.0], [1e5 + 0.0001, 1e6 + 0.125, -5.5]])
    path = ProgramPath(
        points=points, line=np.array([14, 300_000]), cut=np.array([0, 7]), lean=np.zeros((2, 2))
    )
    data = path_bytes(path)
    assert data[:4] == b"KWP1"
    count, ox, oy = struct.unpack_from("<Idd", data, 4)
    assert np.frombuffer(data, "<f8", count, 24).tolist() == points[:, 0].tolist()
    places = np.frombuffer(data, "<f4", 2 * count, 24 + 8 * count).reshape(2, count).T
    assert places + np.array([ox, oy]) == pytest.approx(points[:, 1:], abs=1e-6)
    assert np.frombuffer(data, "<u4", count, 24 + 16 * count).tolist() == [14, 300_000]
    assert np.frombuffer(data, "<u4", count, 24 + 20 * count).tolist() == [0, 7]
    assert len(data) == 24 + 24 * count


def test_deviations_are_read_back_with_what_is_not_cut() -> None:
    found = DeviationMap(
        contour_ids=("P1", "H1"),
        first=np.array([0, 2, 3]),
        points_mm=np.array([[1.0, 2.0], [3.0, 4.0], [5.0, 6.0]]),
        normals=np.array([[0.0, 1.0], [1.0, 0.0], [0.0, -1.0]]),
        deviation_um=np.array([-0.125, 41.5, np.nan]),
        is_out_of_reach=np.array([False, True, False]),
        worst=(),
    )
    data = deviation_bytes(found)
    assert data[:4] == b"KWD1"
    contours, ox, oy = struct.unpack_from("<Idd", data, 4)
    first = np.frombuffer(data, "<u4", contours + 1, 24)
    assert first.tolist() == [0, 2, 3]
    n = int(first[-1])
    columns = np.frombuffer(data, "<f4", 5 * n, 24 + 4 * len(first)).reshape(5, n)
    assert columns[:2].T + np.array([ox, oy]) == pytest.approx(found.points_mm)
    assert pytest.approx(found.normals) == columns[2:4].T
    assert columns[4] == pytest.approx(found.deviation_um, nan_ok=True)
    assert list(data[-n:]) == [0, 1, 0]


def test_pieces_are_read_back_edge_by_edge() -> None:
    event = Event(
        kind=EventKind.PIECE_FREE, line=3, time_s=1.0, x_mm=0.0, y_mm=0.0, contour_id="H1",
        mass_kg=0.1, is_attended=True, message="",
    )  # fmt: skip
    edge = np.array([[0.0, 0.0], [4.0, 0.0], [4.0, 4.0], [0.0, 0.0]])
    hole = np.array([[1.0, 1.0], [2.0, 1.0], [1.0, 1.0]])
    piece = FreedPiece(event=event, move=0, outline_mm=edge, holes_mm=(hole,))
    data = piece_bytes([piece])
    count = struct.unpack_from("<I", data, 4)[0]
    assert count == 2
    assert np.frombuffer(data, "<u4", 3, 24 + 4 * count).tolist() == [0, 4, 7]
    points = np.frombuffer(data, "<f4", -1, 24 + 4 * (2 * count + 1)).reshape(-1, 2)
    assert points[4:] == pytest.approx(hole)
