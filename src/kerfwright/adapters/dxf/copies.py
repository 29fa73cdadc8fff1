"""How many pieces the insertions of a drawing make, told before any of them is made."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Final

from ezdxf.document import Drawing

from kerfwright.adapters.dxf.layers import printable
from kerfwright.foundation.errors import DrawingError

MOST_PIECES: Final = 250_000
"""Pieces beyond which insertions in insertions are taken for a fault: a die plate has thousands."""
DEEPEST: Final = 32
"""Depth of insertions beyond which a block is taken to hold itself."""


def check_copies(document: Drawing, *, file: str) -> None:
    """Refuse a drawing whose insertions multiply out of all proportion.

    A few lines of text can ask for ten blocks in ten blocks, eight deep: each block is counted
    once, so that this costs what the text costs and not what it asks for.

    Raises
    ------
    DrawingError
        Code ``too-many-entities``.
    """
    known: dict[str, int] = {}
    made = 0
    for entity in document.modelspace():
        if entity.dxftype() == "INSERT":
            made += _made(entity, document, known, depth=0)
            if made > MOST_PIECES:
                name = printable(str(entity.dxf.get("name", "")))
                raise DrawingError(
                    f"with block {name} the insertions make {made:,} pieces; {MOST_PIECES:,} are "
                    "read.",
                    code="too-many-entities",
                    where=f"{file}, INSERT {entity.dxf.get('handle', '')} of {name}",
                    remedy="Explode or delete the array of blocks.",
                )


def _made(insert: Any, document: Drawing, known: dict[str, int], *, depth: int) -> int:
    """Return how many pieces an insertion makes; one in itself makes none."""
    dxf = insert.dxf
    copies = int(max(1, dxf.get("column_count", 1)) * max(1, dxf.get("row_count", 1)))
    return copies * _inside(str(dxf.get("name", "")).lower(), document, known, depth=depth)


def _inside(name: str, document: Drawing, known: dict[str, int], *, depth: int) -> int:
    if name not in known:
        # While it is counted it makes nothing, so that a block in itself ends.
        known[name] = 0
        block: Iterable[Any] | None = document.blocks.get(name)
        if block is not None and depth < DEEPEST:
            known[name] = sum(
                1 + _made(e, document, known, depth=depth + 1) if e.dxftype() == "INSERT" else 1
                for e in block
            )
    return known[name]
