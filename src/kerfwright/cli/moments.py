"""Moments by the clock on the wall, as options take them."""

from __future__ import annotations

from datetime import datetime
from typing import Any

import click

from kerfwright.adapters.park_file import moment_of
from kerfwright.cli.options import _Kind


class Moment(_Kind):
    """A moment by the clock on the wall: ``2026-12-01`` or ``2026-12-01 07:00``."""

    name = "DATE[ HH:MM]"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> datetime:
        """Return the moment."""
        if isinstance(value, datetime):
            return value
        try:
            return moment_of(str(value))
        except ValueError:
            self.fail(f"{value!r} is not a moment such as 2026-12-01 07:00.", param, ctx)
