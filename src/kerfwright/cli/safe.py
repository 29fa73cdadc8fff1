"""Text that cannot command a terminal."""

from __future__ import annotations

import re

_CONTROLS = re.compile("[\x00-\x09\x0b-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e\u2066-\u2069]")


def safe(text: str, *, keep_breaks: bool = False) -> str:
    """Return text of a file or a person without characters that command a terminal."""
    shown = _CONTROLS.sub("\ufffd", text)
    return shown if keep_breaks else shown.replace("\n", " ")
