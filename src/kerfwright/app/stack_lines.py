"""What is held against the lines of a stack: its height, its number, and each of its sheets."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from kerfwright.app.demand_kinds import names
from kerfwright.app.sheets import SheetGroup
from kerfwright.app.stacks import StackCurve, sheets_told
from kerfwright.costing.records import Price
from kerfwright.foundation.answers import Answer
from kerfwright.foundation.counts import counted
from kerfwright.foundation.directed import Use
from kerfwright.foundation.ranges import Range
from kerfwright.foundation.sources import Reason, Source, SourceTag
from kerfwright.foundation.units import UnitSystem, length_text
from kerfwright.foundation.zones import zone_text
from kerfwright.process.pass_spread import SCATTER
from kerfwright.process.stack_shape import SheetShape
from kerfwright.trade.requirement import Requirement
from kerfwright.trade.stack import Stack, loads_for

PIECES_WHY: Final = "stack number of pieces"
COVERS_WHY: Final = "stack number of covers"
SHEETS_WHY: Final = "stack tolerance to expect of a sheet"
_DECIMALS: Final = {UnitSystem.METRIC: 2, UnitSystem.INCH: 4}
_COMPUTED: Final = Source(tag=SourceTag.COMPUTED)
FOUND: Final = (
    "the number at which a piece of this quantity costs least, a lower one where two cost the same "
    "within 1 %, and no more sheets than stack_known_sheets of planning.toml; q pieces take "
    "ceil(q / n) stacks"
)
ASKED: Final = "as asked; q pieces take ceil(q / n) stacks"
_ASKED: Final = Source(tag=SourceTag.SHOP, citation="asked of the job; kept as stack in job.toml")


def high_text(stack: Stack, system: UnitSystem) -> str:
    """Say how high a stack is, and its sheet."""
    high, sheet = (
        length_text(mm, system=system, decimals=_DECIMALS[system])
        for mm in (stack.height_mm, stack.sheet_mm)
    )
    return f"{high} of {counted(stack.sheets, 'sheet')}, {sheet} each"


def at_once_text(price: Price) -> str:
    """Say how the pieces of a price are cut, of a job that is cut in stacks.

    A last stack that is not full is cut whole: it leaves pieces that nobody asked for.

    >>> stacked_text(40, pieces=20), stacked_text(9, pieces=8), stacked_text(3, pieces=1)
    ('20 at once, 2 stacks', '8 at once, 2 stacks, 7 pieces over', 'one at a time')
    """
    return stacked_text(price.quantity, pieces=price.at_once)


def stacked_text(quantity: int, *, pieces: int) -> str:
    """Say how a quantity is cut: as :func:`at_once_text` of its price."""
    if pieces == 1:
        return "one at a time"
    loads = loads_for(quantity, pieces)
    over = loads * pieces - quantity
    left = f", {counted(over, 'piece')} over" if over else ""
    return f"{pieces} at once, {counted(loads, 'stack')}{left}"


def pieces_text(stack: Stack, prices: Sequence[Price], quantities: Sequence[int]) -> str:
    """Say how each quantity is cut: as it is priced, or as asked where nothing is priced.

    >>> pieces_text(Stack(pieces=8, sheet_mm=2.0, joint_mm=0.02), (), (5, 40))
    '5: 8 at once, 1 stack, 3 pieces over; 40: 8 at once, 5 stacks'
    """
    found = [(price.quantity, at_once_text(price)) for price in prices]
    asked = [(quantity, stacked_text(quantity, pieces=stack.pieces)) for quantity in quantities]
    said = "; ".join(f"{quantity}: {how}" for quantity, how in found or asked)
    return f"{said}; found as what costs least" if stack.is_chosen else said


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


def stack_answers(requirement: Requirement, groups: Sequence[SheetGroup]) -> Iterator[Answer]:
    """Yield why a stack has its pieces and covers, and what its sheets are expected to hold.

    Parameters
    ----------
    requirement : Requirement
        Of a job; nothing is yielded where it asks no stack.  Its number is that of the first
        quantity.
    groups : sequence of SheetGroup
        Those that hold least first; none without wire physics.
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
        FOUND if stack.is_chosen else ASKED,
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
    for number, group in enumerate(groups):
        where = names(group.contour_ids) if len(groups) > 1 else ""
        yield _of_sheets(
            "stack", group.sheets, where=where, passes=len(group.passes), is_first=not number
        )


def price_stack_answers(prices: Sequence[Price], requirement: Requirement) -> Iterator[Answer]:
    """Yield why each price is of so many pieces at once; nothing where no stack is asked."""
    stack = requirement.stack
    if stack is None:
        return
    for price in prices:
        yield Answer(
            about=f"price for {price.quantity}",
            name="pieces at once",
            path=at_once_path(price.quantity),
            reason=Reason(
                quantity="pieces",
                value=float(price.at_once),
                formula=FOUND if stack.is_chosen else ASKED,
                inputs=(("pieces asked", float(price.quantity)), ("stacks", float(price.loads))),
                source=_COMPUTED if stack.is_chosen else _ASKED,
            ),
        )


def at_once_path(quantity: int) -> str:
    """Return where the number of a price's pieces at once stands."""
    return f"estimate/prices/{quantity}/at_once"


def _of_sheets(
    about: str,
    sheets: tuple[SheetShape, ...],
    *,
    where: str = "",
    passes: int = 0,
    is_first: bool = True,
) -> Answer:
    """Return what sheets hold; of several groups with the contours, the first under the name."""
    worst = max(sheets, key=lambda s: s.holds_um)
    name = "tolerance to expect of a sheet"
    of: tuple[tuple[str, float | str], ...] = (
        (("contours", where), ("passes", float(passes))) if where else ()
    )
    return _of(
        name if is_first else f"{name}, {where}",
        "tolerance_um",
        worst.holds_um,
        "zone of a single sheet + distance of its wall from the mean of the stack; the sheet "
        "that holds least",
        of
        + tuple(
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
        span=worst.range_um if worst.range_um.low < worst.range_um.high else None,
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
    span: Range | None = None,
) -> Answer:
    return Answer(
        about=about,
        name=name,
        path="",
        reason=Reason(
            quantity=quantity,
            value=value,
            formula=formula,
            inputs=inputs,
            source=source,
            range=span,
            shares=((SCATTER, 1.0),) if span else (),
        ),
    )
