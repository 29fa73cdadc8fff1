"""What taking a text of the drawing over sets of the job, held against how the lines read now.

Of these lines, material, height, revision and the like, nothing is closer than another.  Loads
nothing that computes: the server holds them against a ledger whose numbers stay.
"""

from __future__ import annotations

from collections.abc import Mapping

from kerfwright.app.said import Said


def are_taken(lines: Mapping[str, str], asked: Mapping[str, str]) -> bool:
    """Return whether lines read already as taking a text over would set them.

    >>> are_taken({"revision": "C"}, {"revision": "C"}), are_taken({"revision": "C"}, {})
    (True, False)
    """
    return bool(lines) and all(asked.get(name, "") == text for name, text in lines.items())


def stand_instead(lines: Mapping[str, str], asked: Mapping[str, str]) -> tuple[Said, ...]:
    """Return what stands in lines that taking a text over would set.

    >>> [one.metric for one in stand_instead({"revision": "C"}, {"revision": "B"})]
    ['“B”']
    """
    if are_taken(lines, asked):
        return ()
    now = (asked.get(name, "") for name in lines)
    return tuple(Said(metric=f"“{text}”", inch=f"“{text}”") for text in now if text)
