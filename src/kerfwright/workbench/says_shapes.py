"""What a drawing says, as the page and its server speak of it."""

from __future__ import annotations

from pydantic import Field

from kerfwright.workbench.base_shapes import FoundAt, Said, Shape


class ReadingShape(Shape):
    """One way to understand what a drawing says."""

    words: str
    words_inch: str = Field(description="the same with its lengths in inches alone")
    asks: dict[str, str] = Field(
        description="lines to take over, none of which asks less than before; empty for none"
    )
    is_taken: bool = Field(description="all of it is asked already")
    stays: list[Said] = Field(description="what is asked closer already, and from which text")
    instead: list[Said] = Field(description="what it would stand in place of")
    looser: dict[str, str] = Field(
        description="lines that would ask it though something closer is asked; empty for none"
    )
    of_picked: dict[str, str] = Field(
        description="what to ask of contours that a person picks, where the drawing leaves it open"
    )
    closer: list[str] = Field(description="contours of which something closer is asked already")


class SayingShape(Shape):
    """Something that the drawing says about itself: offered, never applied unasked."""

    asks: str
    text: str
    readings: list[ReadingShape]
    remark: str
    remark_inch: str = Field(description="the remark with its lengths in inches alone")
    where: FoundAt
    sheet: str = Field("", description="the paper sheet it stands on; empty for the model")
