"""Read machine definitions from TOML files.

Every key is described in ``docs/machine-definition.md``.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from importlib import resources
from itertools import pairwise
from pathlib import Path
from typing import Any, TypeVar

from kerfwright.adapters.figures import NAME_FORM, WIRES_MM, Span, is_name
from kerfwright.adapters.kept_tables import is_kept, kept_machine
from kerfwright.foundation.errors import FileError, InputError, UnknownNameError
from kerfwright.foundation.units import KG_PER_LB, MM_PER_INCH
from kerfwright.trade.machine import ArcForm, Dialect, Machine, OffsetForm, Tilt
from kerfwright.trade.part import LengthUnit

DEFAULT_MACHINE = "generic-mm"
MACHINES = "machines"
"""Folder of the definitions of wire machines."""

FILES = frozenset({".toml", ".json"})
"""Endings of paths of definitions."""

_LENGTH = {"_mm": 1.0, "_in": MM_PER_INCH}
_SMALL_LENGTH = {"_um": 1.0, "_in": MM_PER_INCH * 1000.0}
_SPEED = {"_mm_per_min": 1.0, "_in_per_min": MM_PER_INCH}
_WEIGHT = {"_kg": 1.0, "_lb": KG_PER_LB}
_POWER = {"_kw": 1.0}
_PLAIN = {"": 1.0}

_DECIMALS = {LengthUnit.MILLIMETRE: (3, 7), LengthUnit.INCH: (4, 8)}
"""With fewer places the ends of an arc could miss the radius limit that the reader applies
(0.002 mm, 0.0002 in: NISTIR 6556, from memory); with more, doubles at 1 m run out of digits."""

_LINE_LENGTH = (72, 1024)
"""The longest move that is written fits in 72 characters."""

_MOST_DEG = 60.0
"""A wire that leans more would lie between the guides rather than hang."""

_WORD = re.compile(r"[A-Z](?:[0-9]+(?:\.[0-9]+)?|\{number\}|\{value\}|\{program\}|\{second\})")
_FREE_LETTERS = frozenset("ABCDEGHKLMOPQRSTUVWZ")
_TAKEN = frozenset(f"G{n}" for n in (0, 1, 2, 3, 20, 21, 40, 41, 42, 90, 91))
"""Words of the language itself, which a machine may not use for something else."""

_Choice = TypeVar("_Choice", bound=StrEnum)


def shipped_machines(kind: str = MACHINES) -> tuple[str, ...]:
    """Return the names of the machine definitions that come with kerfwright."""
    folder = resources.files("kerfwright") / "data" / kind
    return tuple(
        sorted(f.name.removesuffix(".toml") for f in folder.iterdir() if f.name.endswith(".toml"))
    )


def machine_files(folder: Path | None) -> dict[str, Path]:
    """Return the shop's own machine definitions by name."""
    if folder is None:
        return {}
    found = sorted((folder / MACHINES).glob("*.toml"))
    return {path.stem: path for path in found if path.stem not in shipped_machines()}


def load_machine(name_or_path: str | Path | None = None) -> Machine:
    """Load a shipped machine definition by name, or a shop's own file by path.

    Parameters
    ----------
    name_or_path : str, Path or None
        Name of a shipped definition, or the path of a ``.toml`` file or of a file of kept
        figures; None loads ``generic-mm``.

    Returns
    -------
    Machine

    Raises
    ------
    UnknownNameError
        If a plain name is no shipped definition.
    FileError
        If the file cannot be read.
    InputError
        If the file is not TOML, or a key is missing, unknown or has an unusable value; the
        message names the file, the key, the value and what is expected.
    """
    tables, name = definition(name_or_path)
    return _machine(tables, name=name)


def machine_tables(name_or_path: str | Path | None = None) -> dict[str, Any]:
    """Return a machine definition as it was read, to be kept; arguments as :func:`load_machine`."""
    return definition(name_or_path)[0]


def definition(
    name_or_path: str | Path | None, *, kind: str = MACHINES, usual: str = DEFAULT_MACHINE
) -> tuple[dict[str, Any], str]:
    """Return the tables of a definition and its name for messages.

    Parameters
    ----------
    name_or_path : str, Path or None
    kind : str
        Folder of the shipped definitions.
    usual : str
        Name of the one taken where none is given.
    """
    wanted = usual if name_or_path is None else name_or_path
    path = Path(wanted)
    if isinstance(wanted, str) and path.suffix not in FILES and not path.is_file():
        shipped = shipped_machines(kind)
        if wanted not in shipped:
            raise UnknownNameError(
                f"no machine definition is called {wanted!r}; shipped are {', '.join(shipped)}",
                code="machine-unknown",
                remedy="Give one of these names or the path of a .toml file.",
            )
        file = resources.files("kerfwright") / "data" / kind / f"{wanted}.toml"
        name = f"{wanted}.toml"
        return _parsed(file.read_text(encoding="utf-8"), name=name), name
    if is_kept(path):
        return kept_machine(path), str(path)
    try:
        text = path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise FileError(
            f"cannot be read: {error}", code="machine-file-unreadable", where=str(path)
        ) from error
    return _parsed(text, name=str(path)), str(path)


def read_machine(text: str, *, name: str) -> Machine:
    """Build a machine from the text of a definition; `name` is used in messages.

    Raises
    ------
    InputError
        As for :func:`load_machine`.
    """
    return _machine(_parsed(text, name=name), name=name)


def _parsed(text: str, *, name: str) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise InputError(f"is not valid TOML: {error}", code="machine-toml", where=name) from error


def _machine(tables: Mapping[str, Any], *, name: str) -> Machine:
    keys = Keys(file=name, tables=tables)
    machine = Machine(
        id=keys.name("id"),
        name=keys.name("name"),
        travel_x_mm=keys.length("frame.travel_x"),
        travel_y_mm=keys.length("frame.travel_y"),
        max_height_mm=keys.length("frame.max_height"),
        max_weight_kg=keys.weight("frame.max_weight"),
        wire_diameters_mm=keys.lengths("wire.diameters", WIRES_MM),
        min_start_hole_mm=keys.length("wire.min_start_hole"),
        threads_itself=keys.truth("wire.threads_itself"),
        rate_factor=keys.plain("performance.rate_factor"),
        best_tolerance_um=keys.small_length("performance.best_tolerance"),
        idle_speed_mm_per_min=keys.speed("performance.idle_speed"),
        power_kw=keys.measure("performance.power", _POWER),
        dialect=_dialect(keys),
        has_free_energies=keys.truth("performance.free_energies", missing=False),
        tilt=_tilt(keys),
    )
    keys.refuse_unknown()
    return machine


def _tilt(keys: Keys) -> Tilt | None:
    """Return how the machine leans the wire; None without a table of that name."""
    if "taper" not in keys.tables:
        return None
    angle = keys.plain("taper.max_angle_deg")
    if not angle < _MOST_DEG:
        keys.refuse("taper.max_angle_deg", angle, f"an angle below {_MOST_DEG:g}")
    return Tilt(
        max_angle_deg=angle,
        travel_u_mm=keys.length("taper.travel_u"),
        travel_v_mm=keys.length("taper.travel_v"),
        lower_guide_mm=keys.length("taper.lower_guide"),
        upper_guide_mm=keys.length("taper.upper_guide"),
        guide_radius_mm=keys.length("taper.guide_radius"),
    )


def _dialect(keys: Keys) -> Dialect:
    unit = keys.choice("dialect.unit", LengthUnit)
    words = {
        name: keys.words(f"dialect.{name}", places)
        for name, places in (
            ("thread", ()),
            ("cut_wire", ()),
            ("condition", ("{number}",)),
            ("attended_stop", ()),
            ("optional_stop", ()),
            ("end_of_program", ()),
            ("offset_table", ("{number}", "{value}")),
        )
    }
    if "taper" in keys.tables:
        words["planes"] = keys.words("taper.planes", ("{program}", "{second}"))
    seen: dict[str, str] = {}
    for name, template in words.items():
        if template in seen:
            keys.refuse(f"dialect.{name}", template, f"a word other than that of {seen[template]}")
        seen[template] = name
    return Dialect(
        unit=unit,
        decimals=keys.whole("dialect.decimals", *_DECIMALS[unit]),
        feed_decimals=keys.whole("dialect.feed_decimals", 0, 6),
        arc_form=keys.choice("dialect.arc_form", ArcForm),
        offset_form=keys.choice("dialect.offset_form", OffsetForm),
        block_numbers=keys.truth("dialect.block_numbers"),
        block_step=keys.whole("dialect.block_step", 1, 1000),
        program_start=keys.lines("dialect.program_start"),
        program_end=keys.lines("dialect.program_end"),
        max_line_length=keys.whole("dialect.max_line_length", *_LINE_LENGTH),
        **words,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Keys:
    """The tables of one file, and which of their keys were asked for."""

    file: str
    tables: Mapping[str, Any]
    used: set[str] = field(default_factory=set)

    def refuse(self, key: str, value: object, expected: str) -> None:
        """Raise for a value that cannot be used."""
        raise InputError(
            f"key {key} is {value!r}, expected {expected}.",
            code="machine-value",
            where=self.file,
            remedy="See docs/machine-definition.md.",
        )

    def _find(self, key: str) -> Any:
        table: Any = self.tables
        for part in key.split("."):
            if not isinstance(table, Mapping) or part not in table:
                return None
            table = table[part]
        self.used.add(key)
        return table

    def _need(self, key: str, expected: str) -> Any:
        value = self._find(key)
        if value is None:
            raise InputError(
                f"key {key} is missing, expected {expected}.",
                code="machine-key-missing",
                where=self.file,
                remedy="See docs/machine-definition.md.",
            )
        return value

    def text(self, key: str) -> str:
        """Return a line of text that is not empty."""
        value = self._need(key, "a line of text")
        if not isinstance(value, str) or not value.strip() or not value.isprintable():
            self.refuse(key, value, "a line of text")
        return str(value)

    def name(self, key: str) -> str:
        """Return a name, which has a letter."""
        value = self.text(key)
        if not is_name(value):
            self.refuse(key, value, NAME_FORM)
        return value

    def lines(self, key: str) -> str:
        """Return ASCII lines, or nothing."""
        value = self._need(key, "ASCII lines, such as '%', or an empty text")
        if not isinstance(value, str) or not value.isascii():
            self.refuse(key, value, "ASCII lines, such as '%', or an empty text")
        return str(value).strip("\n")

    def words(self, key: str, places: tuple[str, ...]) -> str:
        """Return a block of words with each of `places` exactly once."""
        expected = "words of a capital letter and a number, such as 'M101', not taken by moves"
        if places:
            expected += ", with " + " and ".join(places) + " once each"
        value = self._need(key, expected)
        if not isinstance(value, str):
            self.refuse(key, value, expected)
        words = str(value).split()
        in_order = [w[1:] for w in words if w[1:].startswith("{")]
        if not words or not all(_is_free(w) for w in words) or sorted(in_order) != sorted(places):
            self.refuse(key, value, expected)
        return " ".join(words)

    def truth(self, key: str, *, missing: bool | None = None) -> bool:
        """Return true or false, `missing` where the key may be left out and is."""
        value = self._find(key)
        if value is None and missing is not None:
            return missing
        value = self._need(key, "true or false")
        if not isinstance(value, bool):
            self.refuse(key, value, "true or false")
        return bool(value)

    def whole(self, key: str, low: int, high: int) -> int:
        """Return a whole number from `low` to `high`."""
        expected = f"a whole number from {low} to {high}"
        value = self._need(key, expected)
        if not isinstance(value, int) or isinstance(value, bool) or not low <= value <= high:
            self.refuse(key, value, expected)
        return int(value)

    def choice(self, key: str, kind: Callable[[str], _Choice]) -> _Choice:
        """Return one of an enum's values."""
        names = [str(member.value) for member in kind]  # type: ignore[attr-defined]
        expected = "one of " + ", ".join(names)
        value = self._need(key, expected)
        if value not in names:
            self.refuse(key, value, expected)
        return kind(value)

    def _with_unit(self, key: str, units: Mapping[str, float]) -> tuple[str, float, Any]:
        found = [
            (key + suffix, factor, value)
            for suffix, factor in units.items()
            if (value := self._find(key + suffix)) is not None
        ]
        if len(found) > 1:
            self.refuse(found[1][0], found[1][2], f"only one of {found[0][0]} and {found[1][0]}")
        if not found:
            keys = " or ".join(key + suffix for suffix in units)
            self._need(keys, "a number above 0")
        return found[0]

    def measure(self, key: str, units: Mapping[str, float]) -> float:
        """Return a number above 0 in the first unit of `units`."""
        full_key, factor, value = self._with_unit(key, units)
        if not _is_positive(value):
            self.refuse(full_key, value, "a number above 0")
        return float(value) * factor

    def length(self, key: str) -> float:
        """Return a length above 0, in mm."""
        return self.measure(key, _LENGTH)

    def lengths(self, key: str, span: Span | None = None) -> tuple[float, ...]:
        """Return ascending lengths above 0 or within a span, in mm."""
        found = self.ascending(key, _LENGTH)
        for value in found:
            if span is not None and not span.low <= value <= span.high:
                self.refuse(key, f"{value:g} mm", span.said)
        return found

    def small_length(self, key: str) -> float:
        """Return a length above 0, in µm."""
        return self.measure(key, _SMALL_LENGTH)

    def speed(self, key: str) -> float:
        """Return a speed above 0, in mm/min."""
        return self.measure(key, _SPEED)

    def weight(self, key: str) -> float:
        """Return a weight above 0, in kg."""
        return self.measure(key, _WEIGHT)

    def plain(self, key: str) -> float:
        """Return a number above 0 whose key says its unit, if it has one."""
        return self.measure(key, _PLAIN)

    def signed(self, key: str) -> float:
        """Return a number that may be below 0."""
        value = self._need(key, "a number")
        if not isinstance(value, int | float) or isinstance(value, bool) or value != value:
            self.refuse(key, value, "a number")
        if abs(value) == float("inf"):
            self.refuse(key, value, "a number")
        return float(value)

    def items(self, key: str, known: tuple[str, ...]) -> tuple[str, ...]:
        """Return some of the known words, each once."""
        expected = f"a list of words out of {', '.join(known)}, each once"
        value = self._need(key, expected)
        if not isinstance(value, list) or not set(value) <= set(known):
            self.refuse(key, value, expected)
        if len(set(value)) < len(value):
            self.refuse(key, value, expected)
        return tuple(value)

    def ascending(self, key: str, units: Mapping[str, float]) -> tuple[float, ...]:
        """Return numbers above 0, each larger than the one before."""
        full_key, factor, value = self._with_unit(key, units)
        expected = "a list of numbers above 0, each larger than the one before"
        if (
            not isinstance(value, list)
            or not value
            or not all(_is_positive(v) for v in value)
            or any(b <= a for a, b in pairwise(value))
        ):
            self.refuse(full_key, value, expected)
        return tuple(float(v) * factor for v in value)

    def refuse_unknown(self) -> None:
        """Raise for the first key that means nothing: most are slips of the pen."""
        for key in _every_key(self.tables):
            if key not in self.used:
                raise InputError(
                    f"key {key} is unknown.",
                    code="machine-key-unknown",
                    where=self.file,
                    remedy="See docs/machine-definition.md for the keys.",
                )


def _every_key(tables: Mapping[str, Any], under: str = "") -> Iterator[str]:
    for name, value in tables.items():
        key = f"{under}{name}"
        if isinstance(value, Mapping):
            yield from _every_key(value, f"{key}.")
        else:
            yield key


def _is_free(word: str) -> bool:
    if _WORD.fullmatch(word) is None or word[0] not in _FREE_LETTERS:
        return False
    number = word[1:].lstrip("0") or "0"
    return f"{word[0]}{number}" not in _TAKEN


def _is_positive(value: object) -> bool:
    is_number = isinstance(value, int | float) and not isinstance(value, bool)
    return is_number and 0 < float(value) < float("inf")  # type: ignore[arg-type]
