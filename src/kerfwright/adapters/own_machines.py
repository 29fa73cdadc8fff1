"""Machines of the shop's own by the names that people see and write."""

from __future__ import annotations

import tomllib
from pathlib import Path

from kerfwright.adapters.machines import (
    FILES,
    load_machine,
    machine_files,
    machine_tables,
    shipped_machines,
)
from kerfwright.foundation.errors import UnknownNameError
from kerfwright.trade.machine import Machine


def own_machine_names(folder: Path | None) -> dict[str, str]:
    """Return the names that people see of the shop's own machines, by the name of their file."""
    names = {}
    for stem, path in machine_files(folder).items():
        try:
            said = tomllib.loads(path.read_text(encoding="utf-8")).get("name")
        except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError):
            # What is wrong with it is said where the machine is used.
            said = None
        names[stem] = said if isinstance(said, str) and said.strip() else stem
    return names


def machine_place(said: str, folder: Path | None) -> str:
    """Return where the machine that a person names is defined.

    Parameters
    ----------
    said : str
        Name of its file or its own name, in either case of letters; or a path.
    folder : Path or None
        Of the shop's tables.

    Returns
    -------
    str
        A path, the name of a shipped definition, or what was said where none is called so.
    """
    files, shipped = machine_files(folder), shipped_machines()
    if said in shipped or Path(said).suffix in FILES:
        return said
    wanted = said.strip().casefold()
    names = own_machine_names(folder)
    found = [s for s in names if s.casefold() == wanted]
    found += [s for s, name in names.items() if name.strip().casefold() == wanted]
    if found:
        return str(files[found[0]])
    for one in shipped:
        if wanted in {one.casefold(), str(machine_tables(one)["name"]).casefold()}:
            return one
    return said


def machine_called(said: str, folder: Path | None, *, takes_paths: bool = True) -> Machine:
    """Return the machine that a person names.

    Parameters
    ----------
    said : str
    folder : Path or None
        As for :func:`machine_place`.
    takes_paths : bool
        Whether a path may be named; else only the shop's own machines and the shipped ones, so
        that nothing is learnt of other files.

    Raises
    ------
    UnknownNameError
        Code ``machine-unknown``, with the shop's machines and the shipped ones.
    """
    place, shipped = machine_place(said, folder), shipped_machines()
    is_ours = place in shipped or Path(place) in machine_files(folder).values()
    if is_ours or (takes_paths and (Path(place).suffix in FILES or Path(place).is_file())):
        return load_machine(place)
    names = own_machine_names(folder).items()
    own = ", ".join(name if name == stem else f"{name} ({stem})" for stem, name in names)
    ours = f"; the shop's own are {own}" if own else ""
    raise UnknownNameError(
        f"no machine is called {said!r}{ours}; shipped are {', '.join(shipped)}",
        code="machine-unknown",
        remedy="Write one of these names, or make such a machine under Shop tables.",
    )
