"""The catalogue of work materials and wires, found by the names that people write."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from difflib import SequenceMatcher
from functools import lru_cache
from typing import Final

from kerfwright.foundation.errors import InputError, UnknownNameError
from kerfwright.foundation.units import MM_PER_INCH, length_mm, number, tidy
from kerfwright.trade.material import Material, Wire

_WORD: Final = re.compile(r"[a-zäöüß]+|\d+(?:[.,]\d+)*")
_SPELLINGS: Final = {"aluminum": "aluminium", "alu": "aluminium", "gr": "grade", "ss": "stainless"}
_HARDNESS: Final = re.compile(
    r"\b\d+(?:[.,]\d+)?(?:\s*(?:-|–|to)\s*\d+(?:[.,]\d+)?)?\s*(?:hr[abc]|hv|hbw?)\b"
    r"|\b(?:hr[abc]|hv|hbw?)\s*\d+(?:\s*(?:-|–|to)\s*\d+)?",
    re.IGNORECASE,
)
_IDLE_WORDS: Final = frozenset(
    {"aisi", "sae", "uns", "din", "en", "jis", "astm", "w", "nr", "alloy", "wire", "edm"}
)
"""Words that name a list or a use, never a material."""
_NUMBERED: Final = "w"
"""Idle before a number alone, as in W.Nr. 1.2379: by itself it is tungsten."""

_SAME_WIRE: Final = 0.02
"""Trade sizes in inches round to millimetre sizes within 2 %: 0.010 in is sold as 0.25 mm."""


_DIAMETER: Final = re.compile(
    r"(?<![a-z0-9.,])((?:\d+(?:[.,]\d+)?|[.,]\d+)\s*(mm|um|in(?:ch)?|\"|thou|awg)?)(?![a-z])"
)
"""A number that stands alone: the 37 of CuZn37 is no diameter."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WireKind:
    """A kind of wire with all the diameters it is made in.

    Attributes
    ----------
    kind, name : str
    aliases : tuple of str
    wires : tuple of Wire
        One for each diameter, ascending.
    """

    kind: str
    name: str
    aliases: tuple[str, ...]
    wires: tuple[Wire, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftOut:
    """A material of the shop's table that cannot be read, and why.

    Attributes
    ----------
    names : tuple of str
        Its key, and its name and aliases as far as they can be read.
    message, where, remedy, code : str
        As it is refused where it is asked for.
    """

    names: tuple[str, ...]
    message: str
    where: str
    remedy: str
    code: str

    def refused(self) -> InputError:
        """Return the error that it is refused with where it is asked for."""
        return InputError(self.message, code=self.code, where=self.where, remedy=self.remedy)


@dataclass(frozen=True, slots=True, kw_only=True)
class Catalogue:
    """Materials and wires that a shop knows.

    Attributes
    ----------
    materials : tuple of Material
    wire_kinds : tuple of WireKind
    default_wire : Wire
        What is taken when nobody says otherwise.
    left_out : tuple of LeftOut
        Materials that cannot be read: no figure of any other, and no part of the tables' name.
    """

    materials: tuple[Material, ...]
    wire_kinds: tuple[WireKind, ...]
    default_wire: Wire
    left_out: tuple[LeftOut, ...] = field(default=(), repr=False)

    @property
    def wires(self) -> tuple[Wire, ...]:
        """Every wire of every kind."""
        return tuple(wire for kind in self.wire_kinds for wire in kind.wires)

    def material(self, name: str) -> Material:
        """Find a material by any name people write.

        Case, hyphens, word order and ``aluminum``/``aluminium`` make no difference; words that
        only say the family may be added or left out (``"D2"``, ``"tool steel D2"``), and so may a
        hardness, which the rate does not know (``"D2 58-60 HRC"``).

        Parameters
        ----------
        name : str

        Raises
        ------
        InputError
            Code ``material-ambiguous``: several fit; all are listed.  Or that of its own fault,
            where the material named is one that cannot be read.
        UnknownNameError
            Code ``material-unknown``; names that are nearly the same are listed.
        """
        bare = _HARDNESS.sub(" ", name)
        named = self.materials_named(bare)
        if len(named) == 1:
            return named[0]
        asked = frozenset(_words(bare))
        for gone in self.left_out if not named else ():
            if any(frozenset(_words(label)) == asked for label in gone.names):
                raise gone.refused()
        found = self.materials_called(name)
        if found:
            if len(found) == 1:
                only = found[0]
                short = min((only.name, *only.aliases), key=len)
                message = f"{name!r} names no grade; the only one in the table is {only.name}."
                remedy = f"Write {short!r} if it is that; else add the grade to materials.toml."
            else:
                message = f"material {name!r} may mean {_listed(m.name for m in found)}."
                remedy = "Name the grade."
            raise InputError(message, code="material-ambiguous", remedy=remedy)
        labels = {label: m.name for m in self.materials for label in (m.name, *m.aliases)}
        near = _nearest(name, labels)
        said = f"; nearest: {_listed(near)}" if near else ", and nothing there is called nearly so"
        raise UnknownNameError(
            f"material {name!r} is not in the table{said}.",
            code="material-unknown",
            remedy="Take one of these, or add it to materials.toml."
            if near
            else "Add it to materials.toml, or name one that is there and behaves alike.",
        )

    def materials_named(self, name: str) -> tuple[Material, ...]:
        """Return every material that a name names whole, ``"D2"``; none for a family alone."""
        asked = frozenset(_words(name))
        return tuple(m for m in self.materials if _names(asked, m))

    def materials_called(self, name: str) -> tuple[Material, ...]:
        """Return every material that a name may mean; none where it is no name of any.

        Parameters
        ----------
        name : str
            As in :meth:`material`; a word of the family alone (``"steel"``) may mean several,
            those first whose names begin with it.
        """
        asked = frozenset(_words(name))
        found = self.materials_named(name)
        if found or not asked:
            return found
        called = [m for m in self.materials if asked <= _all_words(m) | _IDLE_WORDS]
        if _GRADE.fullmatch(tidy(name)):
            # W1 is a steel of its own, not some alloy with a W and a 1 in its names.
            called = [m for m in called if _holds(m, tidy(name))]
        # AL is aluminium before it is a part of Ti-6Al-4V.
        return tuple(sorted(called, key=lambda m: not _begins_with_any(m, asked)))

    def wire(self, name: str) -> Wire:
        """Find a wire by diameter and kind: ``"0.25"``, ``"0.010 in brass"``, ``"0.1 tungsten"``.

        A bare number is taken only because it can mean one thing: no wire size in inches
        (0.0008 to 0.013) is also a wire size in millimetres (0.02 to 0.33).

        Parameters
        ----------
        name : str

        Raises
        ------
        InputError
            Code ``wire-ambiguous`` or ``wire-unreadable``.
        UnknownNameError
            Code ``wire-unknown``; the kinds or diameters that exist are listed.
        """
        plain = tidy(name)
        match = _DIAMETER.search(plain)
        if match is None:
            kinds = self._kinds(plain, said=name)
            sizes = _listed(f"{w.diameter_mm:g} mm {w.name}" for k in kinds for w in k.wires)
            raise InputError(
                f"wire {name!r} gives no diameter; there is {sizes}.", code="wire-unreadable"
            )
        kinds = self._kinds(plain[: match.start()] + " " + plain[match.end() :], said=name)
        if match.group(2):
            wanted = [length_mm(match.group(1), what="wire")]
        else:
            bare = number(match.group(1), what="wire")
            wanted = [bare, bare * MM_PER_INCH]
        fits = [
            w for k in kinds for w in k.wires if any(is_same_wire(w.diameter_mm, v) for v in wanted)
        ]
        return self._one_wire(fits, kinds, said=name)

    def _kinds(self, words: str, *, said: str) -> tuple[WireKind, ...]:
        asked = frozenset(_words(words)) - {"wire", "dia", "diameter", "edm"}
        if not asked:
            return self.wire_kinds
        labels = {label: k for k in self.wire_kinds for label in (k.kind, k.name, *k.aliases)}
        found = tuple(
            {k.kind: k for n, k in labels.items() if frozenset(_words(n)) == asked}.values()
        )
        if not found:
            kinds = _listed(k.name for k in self.wire_kinds)
            raise UnknownNameError(
                f"wire {said!r}: no such kind; there is {kinds}.", code="wire-unknown"
            )
        return found

    def _one_wire(self, fits: Sequence[Wire], kinds: Sequence[WireKind], *, said: str) -> Wire:
        if len(fits) > 1:
            # Nobody named a kind: the usual one, where it is made in this diameter.
            usual = [w for w in fits if w.kind == self.default_wire.kind]
            fits = usual or fits
        if len(fits) == 1:
            return fits[0]
        if fits:
            raise InputError(
                f"wire {said!r} may be {_listed(f'{w.diameter_mm:g} mm {w.name}' for w in fits)}.",
                code="wire-ambiguous",
                remedy="Name the kind.",
            )
        sizes = sorted({w.diameter_mm for k in kinds for w in k.wires})
        raise UnknownNameError(
            f"wire {said!r} is not made in that diameter; there is "
            f"{_listed(f'{d:g} mm' for d in sizes)}.",
            code="wire-unknown",
            remedy="Take one of these, or add it to wires.toml.",
        )


def is_same_wire(diameter_mm: float, wanted_mm: float) -> bool:
    """Return whether two diameters are one trade size: 0.010 in is sold as 0.25 mm.

    >>> is_same_wire(0.25, 0.254), is_same_wire(0.25, 0.2)
    (True, False)
    """
    return abs(wanted_mm - diameter_mm) <= _SAME_WIRE * diameter_mm


@lru_cache(maxsize=4096)
def _words(text: str) -> tuple[str, ...]:
    """Split at blanks, hyphens and between letters and digits: ``"Ti-6Al4V"`` → ti 6 al 4 v."""
    return tuple(_SPELLINGS.get(w, w.replace(",", ".")) for w in _WORD.findall(tidy(text)))


@lru_cache(maxsize=512)
def _all_words_of(labels: tuple[str, ...]) -> frozenset[str]:
    return frozenset(word for label in labels for word in _words(label))


def _begins_with_any(material: Material, asked: frozenset[str]) -> bool:
    """Return whether a name of a material begins with one of the words, or is of their family."""
    first = {words[0] for label in (material.name, *material.aliases) if (words := _words(label))}
    return bool(asked & (first | set(_words(material.family))))


def _holds(material: Material, grade: str) -> bool:
    """Tell whether a name of the material holds a grade as it is written, in one."""
    return any(grade in tidy(label) for label in (material.name, *material.aliases))


_GRADE: Final = re.compile(r"[a-z]{1,2}\d{1,3}")


def _all_words(material: Material) -> frozenset[str]:
    return _all_words_of((material.name, material.family, *material.aliases))


def _names(asked: frozenset[str], material: Material) -> bool:
    """Tell whether one name of the material is asked for and nothing that contradicts it.

    ``"copper"`` must not find beryllium copper, nor ``"tungsten"`` the carbide: a name has to
    be there whole, and what is left over has to be words of the same material.
    """
    has_number = any(word[0].isdigit() for word in asked)
    spare = _all_words(material) | (_IDLE_WORDS if has_number else _IDLE_WORDS - {_NUMBERED})
    if not asked <= spare:
        return False
    return any(frozenset(_words(label)) <= asked for label in (material.name, *material.aliases))


def _nearest(name: str, labels: dict[str, str], *, count: int = 3) -> list[str]:
    """Return the materials whose names a slip of the pen may have made this one."""
    plain = tidy(name)
    alike = {label: _likeness(plain, tidy(label)) for label in labels}
    ranked = sorted(labels, key=lambda label: -alike[label])
    near = dict.fromkeys(labels[label] for label in ranked if alike[label] >= _NEAR)
    return list(near)[:count]


def _likeness(name: str, label: str) -> float:
    """Return how near each word of a name is to one of a label, on average, 0 to 1.

    A grade has to be near by itself: the steel in "P20 steel" brings no other steel near.
    """
    words = name.split()
    best = [max((_alike(one, other) for other in label.split()), default=0.0) for one in words]
    grades = [near for word, near in zip(words, best, strict=True) if _has_digit(word)]
    if not words or any(near < _NEAR_GRADE for near in grades):
        return 0.0
    return sum(best) / len(best)


def _alike(one: str, other: str) -> float:
    """Return 0 to 1; 0 where letters before the first digit differ: P20 is no slip for 420."""
    if _has_digit(one) and len(one) <= _LONGEST_GRADE:
        first, second = (re.match(r"[^\W\d_]*", word) for word in (one, other))
        if (first and first[0]) != (second and second[0]):
            return 0.0
    return SequenceMatcher(None, one, other, autojunk=False).ratio()


def _has_digit(word: str) -> bool:
    return any(c.isdigit() for c in word)


_NEAR: Final = 0.7
"""Likeness from which two names are nearly the same: one slip in a word of five letters."""
_NEAR_GRADE: Final = 0.6
"""The same of a grade, in which one of three digits may be a slip."""
_LONGEST_GRADE: Final = 5
"""Letters and digits of a word that is a grade; in it the letters tell."""


def _listed(names: Iterable[str]) -> str:
    return ", ".join(names) or "none"
