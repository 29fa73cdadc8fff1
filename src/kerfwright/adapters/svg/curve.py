"""The cost of a piece against the number in a stack, as a picture."""

from __future__ import annotations

import itertools
import math
from typing import Final

from kerfwright.adapters.svg import ink, style
from kerfwright.app.stacks import StackCurve

WIDTH_MM, HEIGHT_MM = 180.0, 110.0
_LEFT: Final = 18.0
_RIGHT: Final = 174.0
_TOP: Final = 12.0
_FLOOR: Final = 92.0
_TICKS: Final = 6
_ROUND: Final = (1.2, 1.5, 1.8, 2.4, 3.0, 3.6, 4.2, 4.8, 6.0, 7.2, 9.0, 12.0)
_LINE: Final = ink.Stroke(colour=style.BLUE, width_mm=0.5)
_BLOCKED: Final = ink.Stroke(colour=style.VERMILLION, width_mm=0.35)


def render_curve(curve: StackCurve) -> str:
    """Return the curve as SVG: a dot for each number priced, a cross where it cannot be cut."""
    points = [(p.stack.pieces, float(p.offer.each), p.blocks) for p in curve.points]
    most = max((n for n, _, _ in points), default=1)
    high = _round_up(max((each for _, each, _ in points), default=1.0))

    def at(pieces: int, each: float) -> tuple[float, float]:
        # By the logarithm: half and double are as far apart everywhere.
        share = math.log(pieces) / math.log(most) if most > 1 else 0.5
        return _LEFT + share * (_RIGHT - _LEFT - 6) + 3, _FLOOR - each / high * (_FLOOR - _TOP)

    body = [
        ink.words(_LEFT, 7.0, f"A piece in {curve.currency}, for {curve.quantity}, by the number "
                  "in a stack", size=3.4, weight="bold"),
        ink.line(_LEFT, _FLOOR, _RIGHT, _FLOOR, style.FRAME),
        ink.line(_LEFT, _TOP, _LEFT, _FLOOR, style.FRAME),
    ]  # fmt: skip
    for k in range(_TICKS + 1):
        value = high * k / _TICKS
        y = at(1, value)[1]
        body.append(ink.line(_LEFT, y, _RIGHT, y, style.RULE))
        body.append(ink.words(_LEFT - 1.5, y + 1.0, f"{value:g}", size=2.6, anchor="end"))
    free = [at(n, each) for n, each, blocks in points if not blocks]
    for (x0, y0), (x1, y1) in itertools.pairwise(free):
        body.append(ink.line(x0, y0, x1, y1, _LINE))
    shown = -math.inf
    for number, (n, each, blocks) in enumerate(points):
        x, y = at(n, each)
        is_best = number == curve.best
        if blocks:
            body.append(ink.line(x - 1.2, y - 1.2, x + 1.2, y + 1.2, _BLOCKED))
            body.append(ink.line(x - 1.2, y + 1.2, x + 1.2, y - 1.2, _BLOCKED))
        else:
            fill = style.ORANGE if is_best else style.WHITE
            body.append(ink.disc(x, y, 1.6 if is_best else 1.0, _LINE, fill=fill))
        if x - shown > 4.5 or is_best:
            body.append(ink.words(x, _FLOOR + 4.0, str(n), size=2.6, anchor="middle"))
            shown = x
        if is_best:
            said = f"{n}: {curve.currency} {each:.2f}"
            anchor = "end" if x > _RIGHT - _LEFT else "start" if x < 2 * _LEFT else "middle"
            body.append(
                ink.words(x, y - 3.5, said, size=3.0, anchor=anchor, weight="bold", halo_mm=0.8)
            )
    body.append(ink.words((_LEFT + _RIGHT) / 2, _FLOOR + 9.0, "pieces in a stack", size=2.8,
                          anchor="middle"))  # fmt: skip
    body.append(ink.words(_LEFT, _FLOOR + 14.0, "Cross: cannot be cut as asked.", size=2.4))
    return ink.document(
        body,
        title="cost of a piece by the number in a stack",
        width_mm=WIDTH_MM,
        height_mm=HEIGHT_MM,
    )


def _round_up(value: float) -> float:
    """Return the next number that six steps divide into round ones."""
    power = 10.0 ** math.floor(math.log10(value)) if value > 0 else 1.0
    return next(k * power for k in _ROUND if k * power >= value)
