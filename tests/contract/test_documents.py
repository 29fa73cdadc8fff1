"""What the documents say is true: their commands exist and their examples run."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest

import kerfwright
from kerfwright.cli.commands import COMMANDS

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")


def fenced(language: str) -> list[str]:
    return re.findall(rf"^```{language}\n(.*?)^```", README, re.MULTILINE | re.DOTALL)


def test_the_readme_opens_with_the_job_and_its_two_commands() -> None:
    assert "make demo" in README[:1500]
    assert "make test" in README[:1500]


def test_every_command_in_the_readme_exists() -> None:
    used = set(re.findall(r"^kerfwright (\w+)", "\n".join(fenced("sh")), re.MULTILINE))
    assert used
    assert used <= set(COMMANDS)
    made = set(re.findall(r"\bmake ([a-z]+)\b", "\n".join((*fenced("sh"), README[:1500]))))
    makefile = (ROOT / "Makefile").read_text(encoding="utf-8")
    assert made <= set(re.findall(r"^(\w+):", makefile, re.MULTILINE))


def test_the_library_example_has_ten_lines_and_runs(tmp_path: Path) -> None:
    (example,) = fenced("python")
    assert len([line for line in example.splitlines() if line.strip()]) <= 10
    done = subprocess.run(  # noqa: S603 our own text
        [sys.executable, "-W", "error", "-c", example],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout


def test_pictures_and_links_inside_the_repository_exist() -> None:
    documents = [ROOT / "README.md", ROOT / "CHANGELOG.md", *(ROOT / "docs").rglob("*.md")]
    for document in documents:
        text = document.read_text(encoding="utf-8")
        for target in re.findall(r"\]\((?!https?:|#)([^)#\s]+)", text):
            assert (document.parent / target).exists(), f"{document.name}: {target}"


def test_every_claim_of_safety_names_a_test_that_is_there() -> None:
    claims = (ROOT / "docs" / "security.md").read_text(encoding="utf-8")
    named = re.findall(r"`(tests/[\w/.]+)::(\w+)`", claims)
    assert len(named) > 15
    for file, test in named:
        assert f"def {test}(" in (ROOT / file).read_text(encoding="utf-8"), f"{file}::{test}"
    rows = re.findall(
        r"^\| (?!what |who |---)(.+)$", claims.partition("## Not kept")[0], re.MULTILINE
    )
    claimed = [row for row in rows if row.count("|") > 2]
    assert claimed
    assert all("`tests/" in row for row in claimed)


def test_the_pictures_are_well_formed() -> None:
    pictures = list((ROOT / "docs" / "images").glob("*.svg"))
    assert pictures
    for picture in pictures:
        ET.parse(picture)  # noqa: S314 our own file


def test_the_changelog_heads_with_this_version_and_says_whether_numbers_changed() -> None:
    text = (ROOT / "CHANGELOG.md").read_text(encoding="utf-8")
    sections = re.split(r"^## ", text, flags=re.MULTILINE)[1:]
    assert sections[0].startswith(kerfwright.__version__)
    assert all("### Numbers changed" in section for section in sections)


def test_a_decision_record_is_a_page_at_most_and_has_its_parts() -> None:
    records = sorted((ROOT / "docs" / "decisions").glob("[0-9]*.md"))
    assert records
    for record in records:
        text = record.read_text(encoding="utf-8")
        assert len(text.splitlines()) <= 60, record.name
        for part in ("## Context", "## Options", "## Decision", "## Revisit"):
            assert part in text, f"{record.name}: {part}"


@pytest.mark.parametrize("word", ["kerf", "slug", "start hole", "tab", "rough pass", "skim pass"])
def test_the_glossary_holds_the_words_of_the_trade(word: str) -> None:
    assert f"**{word}**" in (ROOT / "docs" / "glossary.md").read_text(encoding="utf-8")
