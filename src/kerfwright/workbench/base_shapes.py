"""What every shape of the page is made of."""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict


class Shape(BaseModel):
    """A shape: what it does not name is refused."""

    model_config = ConfigDict(extra="forbid")
