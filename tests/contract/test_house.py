"""Rules of the house that no other gate holds."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
SOURCES = sorted((ROOT / "src").rglob("*.py"))
OURS = [
    p
    for folder in ("src", "tests", "docs", "benchmarks", "tools", "requirements", ".ci")
    for p in sorted((ROOT / folder).rglob("*"))
    if p.is_file() and p.suffix not in {".pyc", ".png"}
] + [ROOT / n for n in ("README.md", "CHANGELOG.md", "Makefile", "pyproject.toml")]

_PHYSICAL = re.compile(
    r"(length|width|height|radius|diameter|distance|offset|gap|feed|speed|mass|force|area|"
    r"tolerance|stock|recast|depth|clearance|weight|thickness)"
)


def relative(path: Path) -> str:
    return path.relative_to(ROOT).as_posix()


@pytest.mark.parametrize("source", SOURCES, ids=relative)
def test_a_module_stays_below_500_lines(source: Path) -> None:
    assert len(source.read_text(encoding="utf-8").splitlines()) <= 500


def code_lines(function: ast.FunctionDef) -> int:
    body = function.body[1:] if ast.get_docstring(function) else function.body
    return (body[-1].end_lineno or 0) - body[0].lineno + 1 if body else 0


def test_a_function_stays_below_60_lines() -> None:
    long = [
        f"{relative(source)}:{node.lineno} {node.name}: {code_lines(node)} lines"
        for source in SOURCES
        for node in ast.walk(ast.parse(source.read_text(encoding="utf-8")))
        if isinstance(node, ast.FunctionDef) and code_lines(node) > 60
    ]
    assert not long, "\n".join(long)


def test_no_file_names_a_place_on_a_machine_or_a_registry() -> None:
    # Written in pieces, so that this file does not name them itself.
    places = ("/" + "work/", "/" + "root/", "/" + "home/", "/" + "Users/", "py" + r"pi\.org")
    forbidden = re.compile("|".join(places))
    found = [
        f"{relative(p)}: {m.group()}"
        for p in OURS
        if (m := forbidden.search(p.read_text(encoding="utf-8", errors="replace")))
    ]
    assert not found, "\n".join(found)


@pytest.mark.parametrize("lock", ["run.lock", "dev.lock"])
def test_a_lock_has_hashes_for_every_package_and_no_address(lock: str) -> None:
    text = (ROOT / "requirements" / lock).read_text(encoding="utf-8")
    assert "://" not in text
    assert "--index" not in text
    entry = r"^[A-Za-z0-9._-]+==[^\n]*\\\n(?:    --hash=sha256:[0-9a-f]{64}(?: \\)?\n)+"
    entries = re.findall(entry, text, re.MULTILINE)
    pinned = re.findall(r"^[A-Za-z0-9._-]+==", text, re.MULTILINE)
    assert len(entries) == len(pinned) > 0


def test_both_locks_agree_on_what_they_share() -> None:
    def pins(name: str) -> dict[str, str]:
        text = (ROOT / "requirements" / name).read_text(encoding="utf-8")
        return dict(re.findall(r"^([A-Za-z0-9._-]+)==([^\s;]+)", text, re.MULTILINE))

    run, dev = pins("run.lock"), pins("dev.lock")
    assert all(dev.get(name, version) == version for name, version in run.items())


def test_every_public_function_of_a_module_says_what_it_does() -> None:
    bare = [
        f"{relative(source)}: {node.name}"
        for source in SOURCES
        for node in ast.parse(source.read_text(encoding="utf-8")).body
        if isinstance(node, ast.FunctionDef | ast.ClassDef)
        and not node.name.startswith("_")
        and not ast.get_docstring(node)
    ]
    assert not bare, "\n".join(bare)


def scalars(source: Path) -> list[str]:
    """Names of public arguments and fields that are plain floats."""
    names: list[tuple[str, ast.expr | None]] = []
    for node in ast.walk(ast.parse(source.read_text(encoding="utf-8"))):
        if isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
            names += [(a.arg, a.annotation) for a in (*node.args.args, *node.args.kwonlyargs)]
        elif isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
            names += [
                (item.target.id, item.annotation)
                for item in node.body
                if isinstance(item, ast.AnnAssign) and isinstance(item.target, ast.Name)
            ]
    return [n for n, kind in names if isinstance(kind, ast.Name) and kind.id == "float"]


def test_a_length_a_feed_or_a_mass_carries_its_unit_in_its_name() -> None:
    # The marks on paper of the picture are millimetres of paper throughout.
    outside = [s for s in SOURCES if "svg" not in s.parts]
    hidden = [
        f"{relative(s)}: {name}"
        for s in outside
        for name in scalars(s)
        if _PHYSICAL.fullmatch(name)
    ]
    assert not hidden, "\n".join(hidden)
