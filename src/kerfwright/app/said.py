"""Sentences for people who read millimetres and for people who read inches."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """One sentence for people who read millimetres and for people who read inches."""

    metric: str = ""
    inch: str = ""


NOTHING: Final = Said()
