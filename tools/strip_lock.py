"""Take every address out of an npm lock file: who asks for money is no part of a lock.

``python tools/strip_lock.py frontend/package-lock.json``
"""

from __future__ import annotations

import json
import sys
from pathlib import Path


def without_addresses(document: dict[str, object]) -> dict[str, object]:
    """Return the lock without the fields that hold addresses."""
    packages = document["packages"]
    if not isinstance(packages, dict):
        raise TypeError("not a lock file of npm")
    for entry in packages.values():
        entry.pop("funding", None)
        entry.pop("resolved", None)
    return document


if __name__ == "__main__":
    target = Path(sys.argv[1])
    found = without_addresses(json.loads(target.read_text(encoding="utf-8")))
    target.write_text(json.dumps(found, indent=2) + "\n", encoding="utf-8")
