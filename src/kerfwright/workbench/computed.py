"""What a worker hands back; loads nothing, so that the server starts at once."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

Document = dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Drafted:
    """A draft, and what is sent as bytes."""

    draft: Document
    geometry: bytes
    wire: bytes


@dataclass(frozen=True, slots=True, kw_only=True)
class Proved:
    """A verdict, the reasons of its numbers, and what is sent as bytes.

    The bytes are empty where no program was written.
    """

    verdict: Document
    reasons: dict[str, Document]
    path: bytes
    pieces: bytes
    deviations: bytes
