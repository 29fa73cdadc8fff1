"""PDFs as a reader meets them: text, where it stands, and the page as an image (PDFium)."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pypdfium2
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True, kw_only=True)
class PageText:
    """One page: size in points, its text, and the boxes of its characters."""

    wide: float
    high: float
    text: str
    boxes: tuple[tuple[float, float, float, float], ...]


def pages(file: Path | bytes) -> list[PageText]:
    document = pypdfium2.PdfDocument(file)
    found = []
    for page in document:
        text = page.get_textpage()
        boxes = tuple(text.get_charbox(k) for k in range(text.count_chars()))
        found.append(
            PageText(
                wide=page.get_width(),
                high=page.get_height(),
                text=text.get_text_bounded(),
                boxes=tuple(b for b in boxes if b[2] > b[0]),
            )
        )
        text.close()
        page.close()
    document.close()
    return found


def text_of(file: Path | bytes) -> str:
    """All text in one line: where it breaks on paper does not matter."""
    return " ".join(" ".join(p.text.replace("\u00a0", " ").split()) for p in pages(file))


def image(file: Path | bytes, *, page: int = 0, dots_per_inch: float = 80) -> NDArray[np.uint8]:
    document = pypdfium2.PdfDocument(file)
    shown: NDArray[np.uint8] = (
        document[page].render(scale=dots_per_inch / 72, grayscale=True).to_numpy().copy()
    )
    document.close()
    return shown.reshape(shown.shape[:2])


def metadata(file: Path | bytes) -> dict[str, str]:
    document = pypdfium2.PdfDocument(file)
    found: dict[str, str] = document.get_metadata_dict()
    document.close()
    return found
