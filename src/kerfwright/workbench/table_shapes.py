"""What the page and its server say to each other about the shop's tables."""

from __future__ import annotations

from typing import Final, Literal

from pydantic import ConfigDict, Field
from pydantic.config import JsonDict

from kerfwright.workbench.base_shapes import Said, Shape

EXAMPLE: Final[JsonDict] = {"text": "42.50", "source": "our books, spring"}
ROW_EXAMPLE: Final[JsonDict] = {
    "like": "material/tool-steel-d2",
    "id": "our-d2",
    "title": "D2 from our own stock",
}


class TableCard(Shape):
    """A table as the list of them shows it."""

    name: str
    title: str
    what: str
    values: int
    own: int = Field(description="values that the shop gives itself")


class ValueShape(Shape):
    """One value with its source."""

    key: str = Field(description="its place, with slashes")
    name: str
    kind: Literal["number", "list", "text", "lines", "truth"]
    unit: Said
    shown: Said
    source: str
    is_own: bool
    takes_source: bool
    shipped: Said = Field(description="what stands under the shop's own")
    shipped_source: str
    remark: str


class RowShape(Shape):
    """Values that belong together."""

    id: str
    title: str
    is_own: bool
    can_copy: bool
    can_edit: bool
    values: list[ValueShape]


class TableShape(Shape):
    """One table."""

    name: str
    title: str
    what: str
    file: str
    rows: list[RowShape]


class Written(Shape):
    """A value of the shop's."""

    model_config = ConfigDict(extra="forbid", json_schema_extra={"examples": [EXAMPLE]})

    text: str = Field(
        max_length=2000,
        description="the value in its unit, or with another unit: `42.50`, `0.01 in`; `unit` of "
        "the value says its own",
    )
    source: str = Field(
        "", max_length=400, description="where the value is from, in the shop's own words"
    )
    is_meant: bool = Field(
        default=False, description="a number far from all that is shipped is meant so"
    )


class NewRow(Shape):
    """A row like another."""

    model_config = ConfigDict(extra="forbid", json_schema_extra={"examples": [ROW_EXAMPLE]})

    like: str = Field(
        max_length=200, description="`id` of the row that is copied: `material/tool-steel-d2`"
    )
    id: str = Field(max_length=60, description="letters, digits, hyphens; of a pass its number")
    title: str = Field("", max_length=120, description="in words; empty for that of the other")
