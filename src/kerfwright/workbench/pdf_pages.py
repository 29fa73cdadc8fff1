"""Pages of a PDF as pictures; runs in a worker, which alone suffers from a hostile file."""

from __future__ import annotations

import struct
import zlib
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from kerfwright.foundation.errors import InputError, MissingPackageError

if TYPE_CHECKING:
    from numpy.typing import NDArray

_LONGER_SIDE_PX: Final = 2800
"""An A2 sheet at 120 dots an inch: its smallest letters can be read."""
_MOST_PAGES: Final = 200


def page_count(path: Path, progress: Callable[[str, float], None]) -> int:
    """Return the number of pages of a PDF.

    Raises
    ------
    InputError
        ``pinned-broken`` if it cannot be opened.
    """
    progress("opening the PDF", 0.0)
    return min(len(_opened(path)), _MOST_PAGES)


def page_picture(path: Path, number: int, progress: Callable[[str, float], None]) -> bytes:
    """Return a page as PNG.

    Parameters
    ----------
    path : Path
    number : int
        From 1.
    progress : callable

    Raises
    ------
    InputError
        ``pinned-broken`` or ``page-unknown``.
    """
    progress("drawing the page", 0.0)
    document = _opened(path)
    if not 1 <= number <= min(len(document), _MOST_PAGES):
        raise InputError(f"the PDF has no page {number}", code="page-unknown")
    page = document[number - 1]
    longer = max(page.get_size())
    bitmap = page.render(scale=_LONGER_SIDE_PX / max(longer, 1.0), rev_byteorder=True)
    return png(np.asarray(bitmap.to_numpy()))


def _opened(path: Path) -> Any:
    try:
        import pypdfium2
    except ImportError as fault:
        raise MissingPackageError(
            "a PDF is shown by the package pypdfium2, which is not installed",
            code="pdf-needs-pypdfium2",
            remedy="pip install 'kerfwright[workbench]', or pin a PNG or JPEG instead.",
        ) from fault
    try:
        return pypdfium2.PdfDocument(path)
    except pypdfium2.PdfiumError as fault:
        raise InputError(
            f"the PDF cannot be opened: {fault}",
            code="pinned-broken",
            remedy="Save it anew without a password.",
        ) from fault


def png(pixels: NDArray[np.uint8]) -> bytes:
    """Return pixels, rows by columns by 1, 3 or 4 channels, as PNG (W3C PNG, 5.3 and 9.2)."""
    rows = pixels if pixels.ndim == 3 else pixels[:, :, None]
    height, width, channels = rows.shape
    colour = {1: 0, 3: 2, 4: 6}[channels]
    # Each line begins with its filter: none.
    lines = np.zeros((height, 1 + width * channels), dtype=np.uint8)
    lines[:, 1:] = rows.reshape(height, -1)

    def chunk(name: bytes, data: bytes) -> bytes:
        check = zlib.crc32(name + data)
        return struct.pack(">I", len(data)) + name + data + struct.pack(">I", check)

    head = struct.pack(">IIBBBBB", width, height, 8, colour, 0, 0, 0)
    body = chunk(b"IDAT", zlib.compress(lines.tobytes(), level=3))
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + body + chunk(b"IEND", b"")
