"""Write the parts of the reference that come from the program: commands, addresses, names.

``make docs`` calls it before the pages are built; nothing of it is kept in the repository.
"""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import Any

import click

import kerfwright
from kerfwright.cli.commands import COMMANDS
from kerfwright.cli.commands import kerfwright as group

_WIDTH = 92


def write_all(folder: Path) -> None:
    """Write every made part into a folder."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in (
        ("commands.md", commands()),
        ("addresses.md", addresses()),
        ("library.md", library()),
    ):
        target = folder / name
        if not target.exists() or target.read_text(encoding="utf-8") != text:
            target.write_text(text, encoding="utf-8")


def commands() -> str:
    """Return a section for each command with what its ``--help`` prints."""
    parts = []
    for name in COMMANDS:
        parent = click.Context(group, info_name="kerfwright", max_content_width=_WIDTH)
        command = group.get_command(parent, name)
        assert command is not None
        with click.Context(
            command, info_name=name, parent=parent, terminal_width=_WIDTH
        ) as context:
            parts.append(f"## {name}\n\n```text\n{command.get_help(context)}\n```\n")
    return "\n".join(parts)


def addresses() -> str:
    """Return a table of the addresses of the server for each of its groups."""
    from kerfwright.workbench.app import Settings, create_app

    with tempfile.TemporaryDirectory() as folder:
        paths: dict[str, Any] = create_app(Settings(jobs=Path(folder))).openapi()["paths"]
    groups: dict[str, list[str]] = {}
    for path, methods in paths.items():
        for method, operation in methods.items():
            does = operation["description"].split("\n\n")[0].replace("\n", " ")
            answers = ", ".join(sorted(operation["responses"]))
            row = f"| `{method.upper()} {path}` | {does} | {answers} |"
            groups.setdefault(operation["tags"][0], []).append(row)
    head = "| address | what it does | answers |\n|---|---|---|"
    return "\n".join(
        f"## {name[0].upper()}{name[1:]}\n\n{head}\n" + "\n".join(rows) + "\n"
        for name, rows in groups.items()
    )


def library() -> str:
    """Return a directive for each public name, where it is at home."""
    parts = []
    for name in kerfwright.__all__:
        one = getattr(kerfwright, name)
        if name.startswith("__"):
            continue
        kind = "autoclass" if isinstance(one, type) else "autofunction"
        parts.append(f"## {name}\n\n```{{eval-rst}}\n.. {kind}:: kerfwright.{name}\n```\n")
    return "\n".join(parts)
