"""What a script gives for the fields of a request: text is taken, what cannot be is refused."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from functools import partial
from pathlib import Path
from types import MappingProxyType

from kerfwright.foundation.errors import InputError


@dataclass(frozen=True, slots=True, kw_only=True)
class Forms:
    """What the fields of a request hold; a field that is named nowhere is taken as it is.

    Attributes
    ----------
    paths, texts : tuple of str
        Files and folders, and texts.
    kinds : mapping of str to type
        Fields of one of some words.
    needed : tuple of str
        Of these, those that may not be None.
    kinds_by_name : mapping of str to type
        Fields that are mappings of a name to one of some words.
    counts : tuple of str
        Fields of one or several whole numbers.
    """

    paths: tuple[str, ...]
    texts: tuple[str, ...]
    needed: tuple[str, ...] = ()
    kinds: Mapping[str, type[StrEnum]] = field(default_factory=lambda: MappingProxyType({}))
    kinds_by_name: Mapping[str, type[StrEnum]] = field(default_factory=lambda: MappingProxyType({}))
    counts: tuple[str, ...] = ("quantities",)


def settle(request: object, forms: Forms) -> None:
    """Turn what a script gave for the fields of a new request into what they hold.

    Parameters
    ----------
    request : object
        A frozen record that is being made.
    forms : Forms

    Raises
    ------
    InputError
        Code ``request-field``: names the field, what was given and what is taken.
    """
    for name in forms.paths:
        _set(request, name, _path)
    for name in forms.texts:
        _set(request, name, _text)
    for name in forms.needed:
        if getattr(request, name) is None:
            raise _refused(name, None, "it is needed")
    for name, kind in forms.kinds.items():
        _set(request, name, partial(_kind, kind=kind))
    for name, kind in forms.kinds_by_name.items():
        given = getattr(request, name)
        if not isinstance(given, Mapping):
            raise _refused(name, given, "give a mapping of names to words")
        found = {key: _kind(f"{name}[{key!r}]", value, kind=kind) for key, value in given.items()}
        if any(found[key] is not given[key] for key in found):
            object.__setattr__(request, name, found)
    for name in forms.counts:
        _set(request, name, _counts)


def _set(request: object, name: str, read: Callable[[str, object], object]) -> None:
    given = getattr(request, name)
    found = read(name, given)
    if found is not given:
        object.__setattr__(request, name, found)


def _path(name: str, given: object) -> Path | None:
    if given is None or isinstance(given, Path):
        return given
    if isinstance(given, str | os.PathLike):
        return Path(given)
    raise _refused(name, given, "give a path, or its text")


def _text(name: str, given: object) -> str | None:
    if given is None or isinstance(given, str):
        return given
    if isinstance(given, os.PathLike):
        return str(given)
    if isinstance(given, int | float) and not isinstance(given, bool):
        raise _refused(name, given, f'a bare number has no unit: give a text such as "{given} mm"')
    raise _refused(name, given, "give a text")


def _kind(name: str, given: object, *, kind: type[StrEnum]) -> StrEnum | None:
    if given is None or isinstance(given, kind):
        return given
    words = [member.value for member in kind]
    if isinstance(given, str) and given.strip().lower() in words:
        return kind(given.strip().lower())
    raise _refused(name, given, f"give one of {', '.join(map(repr, words))}")


def _counts(name: str, given: object) -> tuple[int, ...]:
    counts = (given,) if isinstance(given, int) else given
    if not isinstance(counts, Iterable) or isinstance(counts, str | bytes):
        raise _refused(name, given, "give whole numbers, such as (1, 10)")
    every = tuple(counts)
    for one in every:
        if not isinstance(one, int) or isinstance(one, bool):
            raise _refused(name, given, "give whole numbers, such as (1, 10)")
    return counts if isinstance(counts, tuple) else every


def _refused(name: str, given: object, remedy: str) -> InputError:
    was = "nothing" if given is None else f"{given!r}"
    return InputError(
        f"{name} is {was}, which a request cannot take",
        code="request-field",
        where="the request",
        remedy=f"{remedy[0].upper()}{remedy[1:]}.",
    )
