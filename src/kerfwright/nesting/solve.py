"""Find a nest: by a packing engine in clear bands, by a grid everywhere else."""

from __future__ import annotations

import math
import time
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import chain, repeat
from typing import Final

import numpy as np

from kerfwright.foundation.errors import KerfwrightError
from kerfwright.nesting.bands import Band, clear_band, pack_band, reach_of, region_of
from kerfwright.nesting.raster import Field
from kerfwright.nesting.records import (
    Instance,
    Packer,
    Placement,
    Sheet,
    Solution,
    Stop,
    Tell,
    Want,
)
from kerfwright.nesting.units import Unit, envelope_of, grown, stamps_of, turned, units_of
from kerfwright.nesting.wants import best_of

_CELLS_ALONG: Final = 600
"""Cells along the longer side of a sheet."""
_ORDERS: Final = 3
"""Orders in which a grid tries the parts: by size, then by size with the dice."""
_FEW: Final = 80
"""Parts up to which several orders are tried: with more each one takes long."""
_DICE: Final = 0.35
"""Spread of the logarithm of the size by which later orders differ."""
_REACH_SLACK_MM: Final = 1e-6
"""Rounding of an engine's figures at the end of a band."""
_FIRST_ORDER_S: Final = 3.0
"""How long a search that was stopped before it found anything still lays parts on the grid."""
_MOST_SHEETS: Final = 1000


def nest(
    instance: Instance,
    *,
    packer: Packer | None,
    budget_s: float,
    seed: int = 0,
    steps: int | None = None,
    fills_openings: bool = True,
    tell: Tell = lambda _what, _share: None,
    stop: Stop = lambda: False,
) -> Solution:
    """Place the parts in the sheets, in the order of the sheets.

    Parameters
    ----------
    instance : Instance
    packer : Packer or None
        The engine for rectangles; None for the grid alone.
    budget_s : float
        Time for the engine, shared among the sheets.
    seed : int
    steps : int, optional
        After how many steps the engine ends in each sheet: the same nest on any machine, where
        the budget is not used up before.
    fills_openings : bool
        Whether small parts may lie in openings of larger ones.
    tell : callable
    stop : callable

    Returns
    -------
    Solution
        Not checked: see :mod:`kerfwright.nesting.check`.
    """
    end = time.monotonic() + budget_s
    tell("sorting the parts", 0.0)
    left = units_of(
        instance.kinds,
        between_mm=instance.room.between_mm,
        fills_openings=fills_openings,
        stop=stop,
    )
    every = {(u.kind.id, u.copy): u for u in left}
    used: list[str] = []
    placed: list[Placement] = []
    methods: list[str] = []
    stopped = False
    for sheet in _in_turn(instance.sheets, len(left)):
        if not left or (placed and stop()):
            break
        full = math.fsum(u.area_mm2 for u in left) / max(sheet.area_mm2, 1.0)
        share = max(end - time.monotonic(), 0.0) / max(math.ceil(full), 1)
        job = _Sheet(
            instance=instance, sheet=sheet, packer=packer, budget_s=share, seed=seed,
            steps=steps, tell=tell, stop=stop,
        )  # fmt: skip
        laid = job.lay(left)
        stopped |= laid.stopped
        if not laid.placements:
            continue
        gone = {(p.kind, p.copy) for p in laid.placements}
        left = [u for u in left if (u.kind.id, u.copy) not in gone]
        placed += [replace(p, sheet=len(used)) for p in laid.placements]
        used.append(sheet.id)
        methods.append(laid.method)
    tell("done", 1.0)
    loose = Counter(u.kind.id for u in left)
    loose.update(k.id for u in left for k, _ in u.guests)
    assert all((p.kind, p.copy) in every or p.inside for p in placed)
    return Solution(
        sheets=tuple(used),
        placements=tuple(sorted(placed, key=lambda p: (p.sheet, p.kind, p.copy))),
        unplaced=dict(loose),
        method=", ".join(dict.fromkeys(methods)),
        stopped=stopped or (bool(left) and stop()),
    )


def _in_turn(sheets: Sequence[Sheet], most: int) -> Iterator[Sheet]:
    """Yield each sheet as often as there are of it."""
    times = min(most, _MOST_SHEETS)
    return chain.from_iterable(repeat(s, times if s.count is None else s.count) for s in sheets)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Laid:
    placements: tuple[Placement, ...]
    method: str
    stopped: bool = False
    failed: bool = False


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Sheet:
    """One sheet that is being filled."""

    instance: Instance
    sheet: Sheet
    packer: Packer | None
    budget_s: float
    seed: int
    steps: int | None
    tell: Tell
    stop: Stop

    def lay(self, left: Sequence[Unit]) -> _Laid:
        """Return the parts that this sheet takes."""
        room = self.instance.room
        band = clear_band(self.sheet, room) if self.packer is not None else None
        by_engine = _Laid(placements=(), method="")
        if band is not None and self.packer is not None and self.budget_s > 0:
            by_engine = self._by_engine(left, band, self.packer)
            if len(by_engine.placements) == _count(left):
                return by_engine
        by_grid = self._by_grid(left, is_wanted=not by_engine.placements)
        pair = (by_engine, by_grid)
        best = max(pair, key=lambda laid: self._area(laid, left))
        if by_engine.failed:
            best = replace(best, method="grid, for the packing engine failed")
        return replace(best, stopped=any(laid.stopped for laid in pair))

    def _area(self, laid: _Laid, left: Sequence[Unit]) -> float:
        area = {u.kind.id: u.kind.area_mm2 for u in left}
        area.update({k.id: k.area_mm2 for u in left for k, _ in u.guests})
        return math.fsum(area[p.kind] for p in laid.placements)

    def _by_engine(self, left: Sequence[Unit], band: Band, packer: Packer) -> _Laid:
        between = self.instance.room.between_mm
        fitting = [u for u in left if self._fits_across(u, band)]
        if not fitting:
            return _Laid(placements=(), method="")
        try:
            packing, nests = pack_band(
                fitting, band, packer=packer, between_mm=between, budget_s=self.budget_s,
                seed=self.seed, steps=self.steps, tell=self.tell, stop=self.stop,
            )  # fmt: skip
        except KerfwrightError as fault:
            # An engine gives up on what lies in a band shorter than the room around it, for one.
            if fault.code != "packing-failed":
                raise
            return _Laid(placements=(), method="", failed=True)
        if not nests:
            return _Laid(placements=(), method="", stopped=packing.stopped)
        units = {(u.kind.id, u.copy): u for u in left}
        start = band.box_mm[1] if band.along_y else band.box_mm[0]
        end = start + band.length_mm + _REACH_SLACK_MM
        lengths = [p.length_mm for p in packing.bands]
        chosen = nests[-1]
        if self.instance.want is not Want.MATERIAL:
            chosen = nests[best_of(nests, lengths, want=self.instance.want)]
        reach = reach_of(chosen, units, along_y=band.along_y)
        out = {name for name, far in reach.items() if far > end}
        kept = [p for p in chosen if (p.inside or (p.kind, p.copy)) not in out]
        laid = _Laid(placements=tuple(kept), method="packing engine", stopped=packing.stopped)
        rest = [u for u in left if (u.kind.id, u.copy) not in {(p.kind, p.copy) for p in kept}]
        if not rest:
            return laid
        more = self._fill(rest, field=self._field(_bodies(kept, units)), stop=self.stop)
        method = "packing engine and grid" if more else laid.method
        return replace(laid, placements=(*kept, *more), method=method)

    def _fits_across(self, unit: Unit, band: Band) -> bool:
        """Return whether a part goes into the band at all: an engine would never end."""
        points = envelope_of(unit.kind)
        for angle in unit.kind.turns.angles_deg or (0.0, 90.0):
            x0, y0, x1, y1 = turned(points, turn_deg=angle, x_mm=0.0, y_mm=0.0).bounds
            if (x1 - x0 if band.along_y else y1 - y0) <= band.width_mm:
                return True
        return False

    @property
    def _long_y(self) -> bool:
        x0, y0, x1, y1 = self.sheet.outline.bounds_mm
        return y1 - y0 > x1 - x0

    def _field(self, bodies: Sequence[object] = ()) -> Field:
        x0, y0, x1, y1 = self.sheet.outline.bounds_mm
        cell = max(x1 - x0, y1 - y0) / _CELLS_ALONG
        field = Field(region_of(self.sheet, self.instance.room), cell_mm=cell)
        for body in bodies:
            field.take(grown(body, self.instance.room.between_mm))
        return field

    def _by_grid(self, left: Sequence[Unit], *, is_wanted: bool) -> _Laid:
        """Return the best of several orders: most metal placed, then the shortest sheet.

        Where it ``is_wanted``, who stops the search before anything was found gets the first order.
        """
        stop = _later(self.stop, _FIRST_ORDER_S) if is_wanted else self.stop
        dice = np.random.default_rng(self.seed)
        best: tuple[tuple[float, float], list[Placement]] | None = None
        total = math.fsum(u.area_mm2 for u in left)
        for turn in range(_ORDERS if len(left) <= _FEW else 1):
            if (stop if turn == 0 else self.stop)():
                break
            self.tell(f"trying order {turn + 1} of {_ORDERS} on a grid", turn / _ORDERS)
            spread = dice.normal(0.0, _DICE if turn else 0.0, len(left))
            order = sorted(
                range(len(left)),
                key=lambda k, off=spread: (  # type: ignore[misc]
                    -math.log(left[k].area_mm2) - off[k], left[k].kind.id, k
                ),
            )  # fmt: skip
            units = [left[k] for k in order]
            placed = self._fill(units, field=self._field(), stop=stop)
            reach = reach_of(placed, {(u.kind.id, u.copy): u for u in left}, along_y=self._long_y)
            taken = math.fsum(u.area_mm2 for u in left if (u.kind.id, u.copy) in reach)
            key = (-taken, max(reach.values(), default=0.0))
            if best is None or key < best[0]:
                best = (key, placed)
            if taken < total and turn == 0 and self.sheet.count is None:
                # One of many sheets: the last one decides, a little more here does not.
                break
        return _Laid(placements=tuple(best[1]) if best else (), method="grid", stopped=self.stop())

    def _fill(self, units: Sequence[Unit], *, field: Field, stop: Stop) -> list[Placement]:
        """Put units into the free cells, in their order, until nothing more fits."""
        placed: list[Placement] = []
        hopeless: set[str] = set()
        for unit in units:
            if unit.kind.id in hopeless:
                continue
            if stop():
                break
            stamps = stamps_of(unit.kind, unit.kind.turns, field.cell_mm)
            best = field.best(stamps, along_y=self._long_y)
            if best is None:
                hopeless.add(unit.kind.id)
                continue
            stamp, x, y = best
            placed += unit.placements(sheet=0, turn_deg=stamp.turn_deg, x_mm=x, y_mm=y)
            body = turned(envelope_of(unit.kind), turn_deg=stamp.turn_deg, x_mm=x, y_mm=y)
            field.take(grown(body, self.instance.room.between_mm))
        return placed


def _later(stop: Stop, by_s: float) -> Stop:
    """Return what says stop so long after somebody said it first."""
    said: list[float] = []

    def is_over() -> bool:
        if not said and stop():
            said.append(time.monotonic())
        return bool(said) and time.monotonic() > said[0] + by_s

    return is_over


def _bodies(placements: Sequence[Placement], units: dict[tuple[str, int], Unit]) -> list[object]:
    return [
        turned(
            envelope_of(units[p.kind, p.copy].kind), turn_deg=p.turn_deg, x_mm=p.x_mm, y_mm=p.y_mm
        )
        for p in placements
        if p.inside is None
    ]


def _count(units: Sequence[Unit]) -> int:
    return sum(1 + len(u.guests) for u in units)
