"""What is held against the lines of a stack: its height, its number, and each of its sheets."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from kerfwright.app.stacks import StackCurve, sheets_told
from kerfwright.foundation.answers import Answer
from kerfwright.foundation.counts import counted
from kerfwright.foundation.directed import Use
from kerfwright.foundation.sources import Reason, Source, SourceTag
from kerfwright.foundation.units import UnitSystem, length_text
from kerfwright.foundation.zones import zone_text
from kerfwright.process.stack_shape import SheetShape
from kerfwright.trade.requirement import Requirement
from kerfwright.trade.stack import Stack

PIECES_WHY: Final = "stack number of pieces"
COVERS_WHY: Final = "stack number of covers"
SHEETS_WHY: Final = "stack tolerance to expect of a sheet"
_DECIMALS: Final = {UnitSystem.METRIC: 2, UnitSystem.INCH: 4}
_COMPUTED: Final = Source(tag=SourceTag.COMPUTED)
_ASKED: Final = Source(tag=SourceTag.SHOP, citation="written in the ledger")


def high_text(stack: Stack, system: UnitSystem) -> str:
    """Say how high a stack is, and its sheet."""
    high, sheet = (
        length_text(mm, system=system, decimals=_DECIMALS[system])
        for mm in (stack.height_mm, stack.sheet_mm)
    )
    return f"{high} of {counted(stack.sheets, 'sheet')}, {sheet} each"


def pieces_text(stack: Stack, quantities: Sequence[int]) -> str:
    """Say how many stacks the pieces take.

    >>> one = Stack(pieces=8, sheet_mm=2.0, joint_mm=0.02, is_chosen=True)
    >>> pieces_text(one, (5, 40))
    '8 in a stack cost least for 5: 1 stack for 5, 5 for 40'
    """
    said = [
        f"{counted(loads, 'stack') if not n else loads} for {quantity}"
        for n, quantity in enumerate(quantities)
        for loads in (-(-quantity // stack.pieces),)
    ]
    many = f"{stack.pieces} at once"
    if stack.is_chosen:
        # The number is found for the first quantity, and others have it too.
        of = f" for {quantities[0]}" if len(quantities) > 1 else ""
        many = f"{stack.pieces} in a stack cost least{of}"
    return f"{many}: {', '.join(said)}{_unasked(stack, quantities)}"


def _unasked(stack: Stack, quantities: Sequence[int]) -> str:
    """Say which quantities need fewer sheets than one stack has: the others are cut unasked.

    >>> _unasked(Stack(pieces=41, sheet_mm=2.0, joint_mm=0.02), (40,))
    '; 1 sheet of it more than 40 need'
    """
    fewer = [quantity for quantity in quantities if quantity < stack.pieces]
    if not fewer:
        return ""
    more = ", ".join(
        f"{counted(stack.pieces - one, 'sheet') if not n else stack.pieces - one} "
        f"{'of it ' * (not n)}more than {one} need{'s' * (one == 1)}"
        for n, one in enumerate(fewer)
    )
    return f"; {more}"


def covers_text(stack: Stack) -> str:
    """Say which sheets are scrap."""
    if not stack.covers:
        return "no scrap sheets"
    below = stack.covers - stack.covers_above
    return f"{counted(stack.covers, 'scrap sheet')}: {stack.covers_above} above, {below} below"


def sheets_text(sheets: tuple[SheetShape, ...], system: UnitSystem) -> str:
    """Say what the sheets of a stack hold; empty of none."""
    told = [
        f"±{zone_text(shape.holds_um, Use.HELD, system=system)} {name}"
        for name, shape in sheets_told(sheets)
    ]
    return f"a sheet is expected to hold {', '.join(told)}" if told else ""


def stack_answers(requirement: Requirement, sheets: tuple[SheetShape, ...]) -> Iterator[Answer]:
    """Yield why a stack has its pieces and covers, and what its sheets are expected to hold.

    Parameters
    ----------
    requirement : Requirement
        Of a job; nothing is yielded where it asks no stack.
    sheets : tuple of SheetShape
        From the top; none without wire physics.
    """
    stack = requirement.stack
    if stack is None:
        return
    built = (
        ("sheet_mm", stack.sheet_mm),
        ("joint_mm", stack.joint_mm),
        ("height_mm", stack.height_mm),
        ("holding", stack.holding.value),
    )
    yield _of(
        "number of pieces",
        "pieces",
        float(stack.pieces),
        "the number at which a piece of the first quantity costs least, a lower one where two cost "
        "the same within 1 %"
        if stack.is_chosen
        else "as asked; q pieces take ceil(q / n) stacks",
        (*built, ("pieces asked", ", ".join(map(str, requirement.quantities)))),
        _COMPUTED if stack.is_chosen else _ASKED,
    )
    yield _of(
        "number of covers",
        "covers",
        float(stack.covers),
        "as asked, or without a word two where the sheet is thinner than stack_cover_below_mm of "
        "planning.toml; an odd one lies on top",
        (("above", float(stack.covers_above)), *built),
        _COMPUTED,
    )
    if sheets:
        yield _of_sheets("stack", sheets)


def _of_sheets(about: str, sheets: tuple[SheetShape, ...]) -> Answer:
    worst = max(sheets, key=lambda s: s.holds_um)
    return _of(
        "tolerance to expect of a sheet",
        "tolerance_um",
        worst.holds_um,
        "zone of a single sheet + distance of its wall from the mean of the stack; the sheet "
        "that holds least",
        tuple(
            (f"piece {shape.piece}, {what}_um", value)
            for _, shape in sheets_told(sheets)
            for what, value in (
                ("holds", shape.holds_um),
                ("wall", shape.wall_um),
                ("lag", shape.lag_um),
            )
        ),
        _COMPUTED,
        about=about,
    )


def curve_answers(curve: StackCurve) -> Iterator[Answer]:
    """Yield why a piece costs what it does at each number in a stack, and what sheets hold."""
    if curve.best is not None and curve.sheets:
        pieces = curve.points[curve.best].stack.pieces
        yield _of_sheets(f"stack of {pieces}", curve.sheets)
    for point in curve.points:
        stack, offer = point.stack, point.offer
        yield Answer(
            about=f"stack of {stack.pieces}",
            name="price each",
            path="",
            reason=Reason(
                quantity=f"amount_{curve.currency}",
                value=float(offer.each),
                formula="price of one piece, computed whole at this height: rate over height, "
                "passes, starts, holding and handling of ceil(q / n) stacks",
                inputs=(
                    ("pieces asked", float(curve.quantity)),
                    ("stacks", float(point.loads)),
                    ("covers", float(stack.covers)),
                    ("height_mm", stack.height_mm),
                    ("rough area rate_mm2_per_min", point.area_rate_mm2_per_min),
                    ("passes", float(offer.passes)),
                    ("machine minutes_min", offer.machine_minutes_each),
                    ("sheet that holds least_um", point.holds_um),
                    *((("cannot be cut", point.blocks),) if point.blocks else ()),
                ),
                source=_COMPUTED,
            ),
        )


def _of(
    name: str,
    quantity: str,
    value: float,
    formula: str,
    inputs: tuple[tuple[str, float | str], ...],
    source: Source,
    *,
    about: str = "stack",
) -> Answer:
    return Answer(
        about=about,
        name=name,
        path="",
        reason=Reason(
            quantity=quantity, value=value, formula=formula, inputs=inputs, source=source
        ),
    )
