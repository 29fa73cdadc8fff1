"""Who is told of what: ``hooks.toml`` among the jobs."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final
from urllib.parse import urlsplit

from kerfwright.app.enquiries import Stage
from kerfwright.foundation.errors import FileError, InputError

HOOKS: Final = "hooks.toml"
_FORMAT, _VERSION = "kerfwright-hooks", 1
_KEYS: Final = frozenset({"name", "on", "folder", "url", "secret"})
_LOOPBACK: Final = frozenset({"127.0.0.1", "localhost", "::1"})
LEAST_SECRET: Final = 16
"""Bytes: shorter than half of what SHA-256 gives is guessed too easily (RFC 2104, 3)."""
_MOST_SECRET: Final = 4096


@dataclass(frozen=True, slots=True, kw_only=True)
class Hook:
    """One who is told.

    Attributes
    ----------
    name : str
    stages : frozenset of Stage
        That a job comes to.
    folder : Path or None
        Gets a file for each.
    url : str
        Called for each, where there is no folder.
    secret : bytes
        By which calls are signed.
    """

    name: str
    stages: frozenset[Stage]
    folder: Path | None = None
    url: str = ""
    secret: bytes = field(default=b"", repr=False)


def read_hooks(jobs: Path) -> tuple[Hook, ...]:
    """Return who is told; nobody where there is no file.

    Raises
    ------
    InputError
        Code ``hooks-broken``.
    FileError
        Code ``file-unreadable``.
    """
    place = jobs / HOOKS
    try:
        data = tomllib.loads(place.read_text(encoding="utf-8"))
    except FileNotFoundError:
        return ()
    except OSError as fault:
        raise FileError(
            f"cannot read: {fault.strerror}", code="file-unreadable", where=str(place)
        ) from fault
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as fault:
        raise _broken(place, f"is no TOML: {fault}") from fault
    if (data.get("format"), data.get("version")) != (_FORMAT, _VERSION):
        raise _broken(place, f'does not begin with format = "{_FORMAT}", version = {_VERSION}')
    rows = data.get("hook", [])
    if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
        raise _broken(place, "needs [[hook]], one each")
    hooks = tuple(_hook(row, place) for row in rows)
    if len({hook.name for hook in hooks}) < len(hooks):
        raise _broken(place, "has two hooks of one name")
    return hooks


def _hook(row: dict[str, Any], place: Path) -> Hook:
    name = row.get("name")
    if not isinstance(name, str) or not name.isidentifier():
        raise _broken(place, f"a hook needs a name of letters and digits, got {name!r}")
    if odd := row.keys() - _KEYS:
        raise _broken(place, f"{name}: {', '.join(sorted(odd))} is no key")
    try:
        stages = frozenset(Stage(one) for one in row.get("on", ("quoted", "ordered")))
    except (ValueError, TypeError) as fault:
        known = ", ".join(stage.value for stage in Stage)
        raise _broken(place, f"{name}: on is not of {known}") from fault
    url, folder = row.get("url", ""), row.get("folder")
    if not isinstance(url, str) or bool(url) == isinstance(folder, str):
        raise _broken(place, f"{name}: needs either folder or url")
    if not url:
        return Hook(name=name, stages=stages, folder=(place.parent / str(folder)).absolute())
    parts = urlsplit(url)
    if parts.scheme != "https" and not (parts.scheme == "http" and parts.hostname in _LOOPBACK):
        raise _broken(place, f"{name}: {url} is not https, and not on this machine")
    if parts.username or parts.password:
        raise _broken(place, f"{name}: a password in an address is read by whoever reads the file")
    return Hook(name=name, stages=stages, url=url, secret=_secret(row, name, place))


def _secret(row: dict[str, Any], name: str, place: Path) -> bytes:
    said = row.get("secret")
    if not isinstance(said, str):
        raise _broken(place, f"{name}: secret names a file that holds the secret of the calls")
    file = (place.parent / said).resolve()
    if file.is_relative_to(place.parent.resolve()):
        # Backups and exports of the jobs would take it along.
        raise _broken(place, f"{name}: the file of the secret may not lie among the jobs")
    try:
        with file.open("rb") as stream:
            secret = stream.read(_MOST_SECRET).strip()
    except OSError as fault:
        raise _broken(place, f"{name}: {file} cannot be read: {fault.strerror}") from fault
    if len(secret) < LEAST_SECRET:
        raise _broken(place, f"{name}: the secret has fewer than {LEAST_SECRET} bytes")
    return secret


def _broken(place: Path, what: str) -> InputError:
    return InputError(
        what, code="hooks-broken", where=str(place),
        remedy="Correct it; docs/hand-over.md shows every key.",
    )  # fmt: skip
