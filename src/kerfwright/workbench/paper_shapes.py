"""What the page and its server say to each other about papers."""

from __future__ import annotations

from typing import Final, Literal

from pydantic import ConfigDict, Field
from pydantic.config import JsonDict

from kerfwright.workbench.base_shapes import Shape
from kerfwright.workbench.shapes import Fault

PaperSize = Literal["a4", "letter"]

EXAMPLE: Final[JsonDict] = {
    "paper": "letter",
    "unit": "in",
    "number": "",
    "what_if": False,
    "delivery": "three weeks after your order",
    "terms": ["Prices are without taxes and carriage."],
    "valid_days": 30,
}


class PaperOrder(Shape):
    """How the papers of a job are wanted; what is not sent stays as it is kept."""

    model_config = ConfigDict(extra="forbid", json_schema_extra={"examples": [EXAMPLE]})

    paper: PaperSize = Field("a4", description="size of the sheets: A4 or US Letter")
    unit: Literal["mm", "in"] | None = Field(
        None, description="unit of lengths on the papers; null for that of the drawing"
    )
    number: str = Field(
        "", max_length=60, description="number of the quote; empty for one of the job's"
    )
    what_if: bool = Field(
        default=False, description="say on the quote what each demand costs; takes some seconds"
    )
    delivery: str = Field(
        "", description="when it is delivered, in words; empty for the shop's own words"
    )
    terms: list[str] | None = Field(
        None, description="terms of the quote, a sentence each; null for the shop's own"
    )
    valid_days: int | None = Field(
        None, description="how long the quote is good, days; null for the shop's own"
    )


class UsualWords(Shape):
    """What the shop's table says where a job says nothing else."""

    shop_name: str
    shop_lines: list[str]
    delivery: str
    terms: list[str]
    valid_days: int


class PaperFile(Shape):
    """One file that was made."""

    name: str
    title: str
    reader: str
    pages: int = Field(description="pages to look at; 0 for a file that is no paper")
    size_kb: int


class PaperDesk(Shape):
    """The papers of a job as it is asked now."""

    wanted: PaperOrder
    revision: int = Field(
        description="goes up with every change of `wanted`; the `If-Match` of the next change"
    )
    usual: UsualWords
    files: list[PaperFile] = Field(description="empty until they are made for what is asked now")
    refused: Fault | None = Field(description="why there are none")
    again: bool = Field(
        default=False, description="made anew by themselves, dated today: those of before were lost"
    )
