"""Files that are no readable drawing end in a clear error, never in a traceback."""

from __future__ import annotations

import logging
import random
from pathlib import Path

import ezdxf
import pytest
from tests.soak import tries

from kerfwright.adapters.dxf import read_drawing
from kerfwright.foundation.errors import DrawingError, FileError, KerfwrightError
from kerfwright.foundation.findings import Severity
from kerfwright.trade.part import LengthUnit

MM = LengthUnit.MILLIMETRE


@pytest.fixture(scope="module")
def plate(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    document = ezdxf.new("R2010")
    document.header["$INSUNITS"] = 4
    space = document.modelspace()
    space.add_lwpolyline([(0, 0), (40.5, 0), (40.5, 20, 0, 0, 0.4), (0, 20)], close=True)
    space.add_circle((10, 10), 3.25)
    space.add_open_spline([(20, 5), (26, 5), (26, 12), (20, 12), (20, 5)])
    path = tmp_path_factory.mktemp("plate") / "plate.dxf"
    document.saveas(path)
    return path.read_bytes()


def refusal(tmp_path: Path, content: bytes, name: str = "file.dxf") -> KerfwrightError:
    path = tmp_path / name
    path.write_bytes(content)
    with pytest.raises(DrawingError) as error:
        read_drawing(path, unit=MM)
    assert error.value.remedy
    assert name in error.value.where
    return error.value


def outcome(path: Path) -> str:
    """Return "read", or the code of a refusal that says what to do."""
    try:
        part = read_drawing(path, unit=MM)
    except KerfwrightError as error:
        return error.code if error.remedy else "refused without a remedy"
    return "read" if part.contours else "read without contours"


def test_blocks_in_blocks_are_counted_before_they_are_made(tmp_path: Path) -> None:
    document = ezdxf.new()
    document.blocks.new("B0").add_circle((0, 0), 1)
    for deep in range(1, 9):
        block = document.blocks.new(f"B{deep}")
        for k in range(10):
            block.add_blockref(f"B{deep - 1}", (k, 0))
    document.modelspace().add_blockref("B8", (0, 0))
    path = tmp_path / "bomb.dxf"
    document.saveas(path)
    found = refusal(tmp_path, path.read_bytes())
    assert found.code == "too-many-entities"
    # A circle in each of 10^8, and an insertion for each block on the way.
    assert f"{10**8 + sum(10**k for k in range(1, 9)):,} pieces" in found.message
    assert "INSERT" in found.where


def test_an_array_of_a_billion_copies_is_refused_and_a_block_in_itself_ends(tmp_path: Path) -> None:
    document = ezdxf.new()
    document.blocks.new("A").add_circle((0, 0), 1)
    array = document.modelspace().add_blockref("A", (0, 0))
    array.dxf.column_count = array.dxf.row_count = 30_000
    path = tmp_path / "array.dxf"
    document.saveas(path)
    assert "900,000,000 pieces" in refusal(tmp_path, path.read_bytes()).message
    document = ezdxf.new()
    loop = document.blocks.new("LOOP")
    for _ in range(30):
        loop.add_blockref("LOOP", (0, 0))
    document.modelspace().add_blockref("LOOP", (0, 0))
    document.saveas(path)
    assert refusal(tmp_path, path.read_bytes()).code == "no-geometry"


def test_a_missing_file(tmp_path: Path) -> None:
    with pytest.raises(FileError) as error:
        read_drawing(tmp_path / "none.dxf")
    assert error.value.code == "drawing-not-found"


def test_a_directory(tmp_path: Path) -> None:
    with pytest.raises(FileError) as error:
        read_drawing(tmp_path)
    assert error.value.code == "drawing-is-directory"


def test_a_file_without_permission(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def deny(_: Path) -> bytes:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "read_bytes", deny)
    with pytest.raises(FileError) as error:
        read_drawing(tmp_path / "locked.dxf")
    assert error.value.code == "drawing-not-readable"
    assert "Permission denied" in str(error.value)


@pytest.mark.parametrize(
    ("content", "code"),
    [
        (b"", "drawing-empty"),
        (b" \r\n\n", "drawing-empty"),
        (b"AC1032\x00\x00\x00\x00\x00\x03", "drawing-is-dwg"),
        (b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR", "not-a-dxf"),
        (b"%PDF-1.7\n", "not-a-dxf"),
        (b"ISO-10303-21;\nHEADER;\n", "not-a-dxf"),
        (b"<?xml version='1.0'?><svg/>", "not-a-dxf"),
        (b"G90 G21\nG01 X1 Y2\nM30\n", "not-a-dxf"),
        (bytes(range(256)) * 40, "not-a-dxf"),
        (b"AutoCAD Binary DXF\r\n\x1a\x00EOF", "drawing-damaged"),
        (b"  0\nSECTION\n  2\nENTITIES\n  0\nENDSEC\n  0\nEOF\n", "no-geometry"),
        (b"SECTION\nEOF\n", "drawing-damaged"),
    ],
)
def test_content_that_is_no_drawing(tmp_path: Path, content: bytes, code: str) -> None:
    assert refusal(tmp_path, content).code == code


def test_a_file_cut_short_is_not_read_as_half_a_drawing(tmp_path: Path, plate: bytes) -> None:
    for share in (0.3, 0.6, 0.9, 0.999):
        error = refusal(tmp_path, plate[: int(len(plate) * share)])
        assert error.code == "drawing-cut-short"


def test_decimal_commas_are_named_with_their_line(tmp_path: Path, plate: bytes) -> None:
    error = refusal(tmp_path, plate.replace(b"40.5", b"40,5"))
    assert error.code == "decimal-comma"
    assert "40,5" in error.message
    assert "line " in error.where


def test_numbers_that_are_none_are_not_recovered_by_guessing(tmp_path: Path, plate: bytes) -> None:
    error = refusal(tmp_path, plate.replace(b"40.5", b"4o.5"))
    assert error.code in {"drawing-numbers-damaged", "drawing-damaged"}


def test_a_drawing_with_three_dimensional_geometry_only(tmp_path: Path) -> None:
    document = ezdxf.new()
    document.modelspace().add_3dface([(0, 0, 0), (1, 0, 5), (1, 1, 5), (0, 1, 0)])
    document.modelspace().add_line((0, 0, 0), (3, 3, 30))
    path = tmp_path / "solid.dxf"
    document.saveas(path)
    with pytest.raises(DrawingError) as error:
        read_drawing(path, unit=MM)
    assert error.value.code == "no-closed-contour"
    assert "3DFACE" in str(error.value)


def test_bytes_changed_at_random_never_give_a_traceback(tmp_path: Path, plate: bytes) -> None:
    chance = random.Random(7)  # noqa: S311 - repeatable faults, no secrets
    entities = plate.index(b"ENTITIES")
    path = tmp_path / "damaged.dxf"
    outcomes: set[str] = set()
    for round_number in range(tries(120)):
        data = bytearray(plate)
        begin = entities if round_number % 2 else 0
        for _ in range(chance.choice([1, 3, 20])):
            place = chance.randrange(begin, len(data) - 10)
            data[place] = chance.choice([0, 0xFF, 0x2D, 0x39, 0x0A, chance.randrange(256)])
        path.write_bytes(bytes(data))
        outcomes.add(outcome(path))
    assert "read" in outcomes
    assert len(outcomes) > 1
    assert not {"refused without a remedy", "read without contours"} & outcomes


def test_lines_dropped_at_random_never_give_a_traceback(tmp_path: Path, plate: bytes) -> None:
    chance = random.Random(11)  # noqa: S311 - as above
    lines = plate.splitlines(keepends=True)
    path = tmp_path / "shifted.dxf"
    for _ in range(tries(60)):
        place = chance.randrange(len(lines) - 4)
        path.write_bytes(b"".join(lines[:place] + lines[place + chance.choice([1, 2]) :]))
        assert outcome(path) not in {"refused without a remedy", "read without contours"}


def test_the_readers_noise_does_not_reach_the_terminal(
    tmp_path: Path, plate: bytes, capfd: pytest.CaptureFixture[str]
) -> None:
    text = plate.decode("ascii").splitlines()
    # An empty handle is among the faults that only the recovering reader takes.
    where = text.index("CIRCLE")
    handle = text.index("  5", where)
    text[handle + 1] = ""
    path = tmp_path / "handles.dxf"
    path.write_text("\n".join(text) + "\n", encoding="ascii")
    before = logging.getLogger("ezdxf").handlers[:]
    part = read_drawing(path, unit=MM)
    assert "drawing-recovered" in [f.code for f in part.findings]
    assert [f.severity for f in part.findings if f.code == "drawing-recovered"] == [
        Severity.WARNING
    ]
    assert logging.getLogger("ezdxf").handlers == before
    captured = capfd.readouterr()
    assert (captured.out, captured.err) == ("", "")
