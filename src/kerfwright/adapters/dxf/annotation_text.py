"""Words of DXF texts without their formatting codes.

ezdxf takes the codes apart; what is done here is what it leaves to its caller: stacked limits and
fractions come out as a person writes them in a line, and letters of the GDT font as the names of
the signs that they draw.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any, Final

from ezdxf.lldxf.const import DXFError

from kerfwright.adapters.dxf.layers import printable

if TYPE_CHECKING:
    from ezdxf.document import Drawing

LONGEST_RAW: Final = 4000
"""Letters of one text with its codes that are looked at; codes double a text at most, usually."""
FAULTS: Final = (
    DXFError,
    ValueError,
    ArithmeticError,
    LookupError,
    TypeError,
    AttributeError,
    RecursionError,
)
"""What ezdxf raises on the texts and dimensions of a damaged drawing."""

_CARET: Final = re.compile(r"(\\S[^;^]{0,200}\^)(?! )")
"""A stack whose caret is not followed by a blank: ezdxf would take both for a control letter."""
_BELOW: Final = re.compile(r"(?<!\\)\\X")
"""What of a dimension's words stands below its line begins here: a line of its own."""
_UNICODE: Final = re.compile(r"\\U\+([0-9A-Fa-f]{4})")
_GDT: Final = {
    "a": "angularity", "b": "perpendicularity", "c": "flatness", "d": "surface profile",
    "e": "circularity", "f": "parallelism", "g": "cylindricity", "h": "runout", "i": "symmetry",
    "j": "position", "k": "line profile", "l": "(L)", "m": "(M)", "n": "Ø", "p": "(P)",
    "r": "concentricity", "s": "(S)", "t": "total runout", "u": "straightness", "v": "⌴",
    "w": "⌵", "x": "↧",
}  # fmt: skip
"""Signs of the usual font of geometrical tolerances by letter (common practice, no source)."""
_GDT_FONT: Final = re.compile(r"\{\\[Ff]gdt(?:\.shx)?(?:\|[^;]{0,40})?;([a-z])\}", re.IGNORECASE)


def line_text(raw: str) -> str:
    """Return a TEXT or an ATTRIB without its codes: ``%%c12 %%p0.01`` is Ø12 ±0.01."""
    from ezdxf.tools.text import plain_text

    return _decoded(plain_text(raw[:LONGEST_RAW]))


def paragraph_text(raw: str) -> str:
    r"""Return an MTEXT without its codes: ``12{\H0.7x;\S+0.02^-0;}`` is 12 +0.02/-0.

    Where codes are cut short, as in ``\S8\``, ezdxf falls over: then the text comes as it is
    written, codes and all, so that nothing of it is lost.
    """
    try:
        return _decoded(_without_codes(raw[:LONGEST_RAW]))
    except (ValueError, TypeError):
        return _decoded(raw[:LONGEST_RAW])


def _without_codes(raw: str) -> str:
    from ezdxf.tools.text import MTextParser, TokenType

    words: list[str] = []
    for token in MTextParser(_CARET.sub(r"\1 ", _BELOW.sub(r"\\P", raw))):
        match token.type:
            case TokenType.WORD:
                words.append(_in_font(token))
            case TokenType.STACK:
                words.append(_stacked(*token.data))
            case TokenType.NEW_PARAGRAPH | TokenType.NEW_COLUMN:
                words.append("\n")
            case TokenType.SPACE | TokenType.NBSP | TokenType.TABULATOR:
                words.append(" ")
    return "".join(words)


def frame_text(raw: str) -> str:
    """Return a tolerance frame in words: ``position | Ø0.05(M) | A``."""
    text = _GDT_FONT.sub(lambda m: _GDT.get(m[1].lower(), m[1]), raw[:LONGEST_RAW])
    boxes = [box.strip() for box in re.split(r"%%v", text, flags=re.IGNORECASE)]
    rows = " | ".join(box for box in boxes if box)
    return paragraph_text(re.sub(r"\^J", " ; ", rows)).strip()


def _in_font(token: Any) -> str:
    family = str(getattr(token.ctx.font_face, "family", "")).lower()
    if not family.startswith("gdt"):
        return str(token.data)
    return "".join(_GDT.get(letter, letter) for letter in str(token.data))


def _stacked(upper: str, lower: str, _divider: str) -> str:
    if not lower:
        return upper
    # Limits and fractions alike stand after a blank: "12 +0.02/-0", "1 1/2".
    return f" {upper.strip()}/{lower.strip()}"


def _decoded(text: str) -> str:
    """Put Unicode escapes in their letters, and drop halves of letters."""
    return printable(_UNICODE.sub(lambda m: chr(int(m[1], 16)), text)).strip()


def block_text(document: Drawing, name: str) -> str:
    """Return the words that a dimension's picture shows, in their order; empty without one."""
    block: Any = document.blocks.get(name) if name else None
    if block is None:
        return ""
    words: list[str] = []
    for entity in block:
        kind = entity.dxftype()
        if kind == "MTEXT":
            words.append(paragraph_text(entity.text))
        elif kind == "TEXT":
            words.append(line_text(entity.dxf.get("text", "")))
        if len(words) >= _MOST_PIECES:
            break
    return "".join(words).strip()


_MOST_PIECES: Final = 8
"""Texts in the picture of one dimension."""
