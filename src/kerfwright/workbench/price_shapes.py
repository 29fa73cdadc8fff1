"""Prices of a draft as the page shows them."""

from __future__ import annotations

from typing import Any

from kerfwright.adapters.json_shapes import plain
from kerfwright.app.records import JobResult
from kerfwright.app.stack_lines import at_once_text


def price_shapes(result: JobResult) -> list[dict[str, Any]]:
    """Return the price at each quantity, and how its pieces are cut where a stack is asked."""
    if result.estimate is None:
        return []
    is_stacked = result.requirement.stack is not None
    found = []
    for price in result.estimate.prices:
        document: dict[str, Any] = plain(price)
        document.pop("spread")
        found.append(document | {"stacked": at_once_text(price) if is_stacked else ""})
    return found
