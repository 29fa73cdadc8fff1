"""Who brings how much of an uncertainty, as a person reads it."""

from __future__ import annotations

from typing import Final

_WORDS: Final = {
    "machine": "this machine",
    "family": "the family of the material",
    "material": "this material in its family",
    "wire": "this wire",
    "height": "the band of heights",
    "pass": "this pass",
    "combination": "just this machine with this material and wire in this pass",
    "job": "from job to job",
    "cut": "from cut to cut of one job",
}
"""By the name of an input of the rate."""
_OF: Final = ": "


def share_words(name: str) -> str:
    """Return a cause by its plain words; one that is plain already stays.

    Examples
    --------
    >>> share_words("cutting rate: family"), share_words("job"), share_words("people")
    ('cutting rate: the family of the material', 'from job to job', 'people')
    """
    of, colon, level = name.rpartition(_OF)
    return f"{of}{colon}{_WORDS.get(level, level)}"
