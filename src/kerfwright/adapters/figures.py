"""Figures of a TOML table, read key by key so that every fault can be named with its place."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final, NoReturn

from kerfwright.foundation.errors import InputError
from kerfwright.foundation.sources import Source, SourceTag
from kerfwright.process.technology import Curve

_GONE: Final[Mapping[str, str]] = {
    "stack.stack_tall_mm": "a what-if names the stack in which a piece costs least, whatever its "
    "height",
    "push.side_share_skim": "how a skim's push is split follows from the arc of the wire that "
    "sparks (docs/process/wire.md)",
}
"""Keys that an earlier kerfwright read, and what stands in their place."""
_ENDS: Final[Mapping[str, float]] = {
    "_log": 3.0,
    "wire_gain_share": 3.0,
    "wire_gain_elsewhere_share": 3.0,
    "exponent": 10.0,
}
"""Endings of keys, or of the table that they stand in, and the largest that such a figure may be: a
factor of 20 either way, a tenth power.  What is larger is a slip, and would drown every range that
it is a part of."""
_ASCENDING: Final = "a list of numbers above 0, ascending"
SHIPPED_REMEDY: Final = "Correct it, or delete it to use the shipped value."
OWN_REMEDY: Final = "Give it or correct it: it is the shop's own, and no value of it is shipped."


def is_shipped(shipped: Path, path: str) -> bool:
    """Return whether a shipped table has a value at a dotted key."""
    below: object = tomllib.loads(shipped.read_text(encoding="utf-8"))
    for name in path.split("."):
        if not isinstance(below, dict) or name not in below:
            return False
        below = below[name]
    return True


@dataclass(frozen=True, slots=True, kw_only=True)
class TableFile:
    """Where the values of one table come from.

    Attributes
    ----------
    shipped : Path
    own : Path or None
        The shop's file over the shipped one.
    replaced : frozenset of str
        Dotted keys whose whole value the shop's file gives.
    citations : mapping of str to str
        Short names of sources.
    remedy : str
        What helps where a value cannot be used.
    """

    shipped: Path
    own: Path | None
    replaced: frozenset[str]
    citations: Mapping[str, str]
    remedy: str = SHIPPED_REMEDY

    def remedy_at(self, path: str) -> str:
        """Return what helps at a key: a shipped value is there only where one is shipped."""
        if self.own is None or self.remedy != SHIPPED_REMEDY or is_shipped(self.shipped, path):
            return self.remedy
        return OWN_REMEDY

    def holds(self, path: str) -> Path:
        """Return the file that gave the value at a key."""
        parts = path.split(".")
        prefixes = {".".join(parts[:n]) for n in range(1, len(parts) + 1)}
        return self.own if self.own is not None and prefixes & self.replaced else self.shipped


@dataclass(frozen=True, slots=True, kw_only=True)
class Most:
    """The largest that figures may be: above it they are slips of the finger.

    Attributes
    ----------
    name : str
        Where the limit stands.
    value : float
    """

    name: str
    value: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """Between which values a figure lies: outside it is a wrong unit or a slip of the finger.

    Attributes
    ----------
    low, high : float
    why : str
        What stands near either end.
    """

    low: float
    high: float
    why: str

    @property
    def said(self) -> str:
        """The span in words, with its reason."""
        return f"{self.low:,g} to {self.high:,g} ({self.why})"


WIRES_MM: Final = Span(
    low=0.01, high=1.0, why="mm; wires that are cut with have 0.02 to 0.33 mm: a slip of unit?"
)
"""Diameters of wires: those of several papers (data/wires.toml) with room on either side."""


_MOST_LETTERS: Final = 60
NAME_FORM: Final = f"a name with a letter in it, of {_MOST_LETTERS} letters at most"


def is_name(text: str) -> bool:
    """Return whether a text can name a thing: it has a letter, is short, and reads as no number.

    Names stand in lines of programs, which a control reads up to a length only.

    >>> is_name("bay-2"), is_name("1e9"), is_name("-1"), is_name("a" * 61)
    (True, False, False, False)
    """
    if len(text) > _MOST_LETTERS:
        return False
    try:
        float(text)
    except ValueError:
        return any(letter.isalpha() for letter in text)
    return False


@dataclass(frozen=True, slots=True, kw_only=True)
class Node:
    """A TOML table with its place, read key by key so that faults can be named."""

    data: dict[str, Any]
    path: str
    file: TableFile

    def fail(
        self, key: str, value: object, expected: str, *, code: str = "table-value"
    ) -> NoReturn:
        """Refuse a value, naming its file, key and what was expected."""
        raise InputError(
            f"{self.path}{key} is {value!r}; expected {expected}.",
            code=code,
            where=str(self.file.holds(f"{self.path}{key}")),
            remedy=self.file.remedy_at(f"{self.path}{key}"),
        )

    def raw(self, key: str, expected: str) -> Any:
        """Return a value as parsed, which must be there."""
        if key not in self.data:
            raise InputError(
                f"{self.path}{key} is missing; expected {expected}.",
                code="table-value",
                where=str(self.file.holds(f"{self.path}{key}")),
                remedy=self.file.remedy_at(f"{self.path}{key}"),
            )
        return self.data[key]

    def table(self, key: str) -> Node:
        """Return a table below this one."""
        value = self.raw(key, "a table")
        if not isinstance(value, dict):
            self.fail(key, value, "a table")
        return Node(data=value, path=f"{self.path}{key}.", file=self.file)

    def tables(self) -> Iterator[tuple[str, Node]]:
        """Go through the tables below this one."""
        for key in self.data:
            yield key, self.table(key)

    def only(self, *known: str) -> None:
        """Refuse keys that nothing reads: a misspelt value must not be passed over.

        A job that was kept when a key still counted has it, and nothing is misspelt there.
        """
        for key, value in self.data.items():
            if key in known:
                continue
            gone = _GONE.get(f"{self.path}{key}")
            if gone is None:
                self.fail(key, value, f"one of {', '.join(known)}", code="table-key")
            if self.file.own is not None:
                table = self.path.rstrip(".")
                raise InputError(
                    f"{self.path}{key} counts no more: {gone}.",
                    code="table-key",
                    where=str(self.file.holds(f"{self.path}{key}")),
                    remedy=f"Delete the line {key} below [{table}]; every other value of the file "
                    "stays and counts.",
                )

    def text(self, key: str) -> str:
        """Read words."""
        value = self.raw(key, "words")
        if not isinstance(value, str) or not value.strip():
            self.fail(key, value, "words")
        return value

    def name(self, key: str) -> str:
        """Read the name of a thing."""
        value = self.text(key)
        if not is_name(value):
            self.fail(key, value, NAME_FORM)
        return value

    def texts(self, key: str) -> tuple[str, ...]:
        """Read a list of words, which may be left out."""
        value = self.data.get(key, [])
        if not isinstance(value, list) or not all(isinstance(v, str) for v in value):
            self.fail(key, value, "a list of words")
        return tuple(value)

    def truth(self, key: str) -> bool:
        """Read true or false; left out it is false."""
        value = self.data.get(key, False)
        if not isinstance(value, bool):
            self.fail(key, value, "true or false")
        return value

    def number(
        self, key: str, *, least: float | None = None, most: Most | None = None
    ) -> tuple[float, Source]:
        """Read a figure above 0, or not below ``least``, and not above ``most``."""
        value, source = self._figure(key, "a number")
        limit = "a number above 0" if least is None else f"a number not below {least:g}"
        if most is not None:
            limit += f" and not above {most.value:,.10g} (the limit {most.name})"
        if isinstance(value, bool) or not isinstance(value, int | float):
            self.fail(key, value, limit)
        named = key, self.path.removesuffix(".")
        usual = next(
            (end for name, end in _ENDS.items() if any(n.endswith(name) for n in named)), None
        )
        if usual is not None and value > usual:
            self.fail(key, value, f"{limit} and not above {usual:g}")
        # "not >" also catches nan, and the comparison with infinity catches inf.
        good = value > 0 if least is None else value >= least
        if not good or value == float("inf") or (most is not None and value > most.value):
            self.fail(key, value, limit)
        return float(value), source

    def within(self, spans: Mapping[str, Span]) -> None:
        """Refuse figures outside the spans of their names."""
        for key, span in spans.items():
            if key in self.data:
                value, _ = self.number(key)
                self._within_span(key, (value,), span)

    def curve(self, key: str) -> tuple[Curve, Source]:
        """Read the points of a curve."""
        value, source = self._figure(key, "a list of points")
        expected = "a list of points [x, y], x ascending, y above 0"
        if not isinstance(value, list) or not value:
            self.fail(key, value, expected)
        points: list[tuple[float, float]] = []
        for point in value:
            if not isinstance(point, list) or len(point) != 2:
                self.fail(key, value, expected)
            x, y = point
            if not all(isinstance(v, int | float) and not isinstance(v, bool) for v in point):
                self.fail(key, value, expected)
            if not (0 < y < float("inf")) or (points and not x > points[-1][0]):
                self.fail(key, value, expected)
            points.append((float(x), float(y)))
        return tuple(points), source

    def numbers(self, key: str, span: Span | None = None) -> tuple[float, ...]:
        """Read plain numbers above 0 or within a span, ascending."""
        return self._within_span(key, self._ascending(key, self.raw(key, _ASCENDING)), span)

    def _within_span(
        self, key: str, values: tuple[float, ...], span: Span | None
    ) -> tuple[float, ...]:
        for value in values:
            if span is not None and not span.low <= value <= span.high:
                self.fail(key, value, span.said)
        return values

    def sizes(self, key: str, span: Span | None = None) -> tuple[tuple[float, ...], Source]:
        """Read a figure that is a list of numbers above 0 or within a span, ascending."""
        value, source = self._figure(key, _ASCENDING)
        return self._within_span(key, self._ascending(key, value), span), source

    def row(self, key: str, *, counts: tuple[int, ...]) -> tuple[tuple[float, ...], Source]:
        """Read a figure that is a row of numbers not below 0, as long as one of ``counts``."""
        value, source = self._figure(key, "a row of numbers")
        expected = f"{' or '.join(map(str, counts))} numbers not below 0"
        if (
            not isinstance(value, list)
            or len(value) not in counts
            or not all(isinstance(v, int | float) and not isinstance(v, bool) for v in value)
            or not all(0 <= v < float("inf") for v in value)
        ):
            self.fail(key, value, expected)
        return tuple(float(v) for v in value), source

    def _ascending(self, key: str, value: object) -> tuple[float, ...]:
        if (
            not isinstance(value, list)
            or not value
            or not all(isinstance(v, int | float) and not isinstance(v, bool) for v in value)
            or not all(0 < v < float("inf") for v in value)
            or sorted(set(value)) != value
        ):
            self.fail(key, value, _ASCENDING)
        return tuple(float(v) for v in value)

    def _figure(self, key: str, expected: str) -> tuple[Any, Source]:
        raw = self.raw(key, expected)
        if not isinstance(raw, dict):
            return raw, Source(tag=SourceTag.SHOP)
        Node(data=raw, path=f"{self.path}{key}.", file=self.file).only("value", "tag", "source")
        if "value" not in raw:
            self.fail(key, raw, "a value")
        try:
            tag = SourceTag(raw.get("tag", SourceTag.SHOP))
        except ValueError:
            tags = ", ".join(SourceTag)
            self.fail(f"{key}.tag", raw["tag"], f"one of {tags}")
        said = raw.get("source", "")
        if not isinstance(said, str):
            self.fail(f"{key}.source", said, "words")
        name, mark, remark = said.partition(";")
        if name in self.file.citations:
            said = self.file.citations[name] + mark + remark
        return raw["value"], Source(tag=tag, citation=said.removeprefix("no source; "))

    def record(
        self, *names: str, least: float | None = None, most: Most | None = None
    ) -> tuple[dict[str, float], dict[str, Source]]:
        """Read several figures and their sources."""
        found = {name: self.number(name, least=least, most=most) for name in names}
        return {n: v for n, (v, _) in found.items()}, {n: s for n, (_, s) in found.items()}
