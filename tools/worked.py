"""Three worked jobs: what is asked, hand calculations, figures from elsewhere, fresh outputs."""

from __future__ import annotations

import ast
import contextlib
import io
import json
import math
import operator
import os
import re
import shutil
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from kerfwright.cli.run import run

ROOT: Final = Path(__file__).parents[1]
SAMPLES: Final = ROOT / "src" / "kerfwright" / "data" / "samples"
PAGES: Final = ROOT / "docs" / "worked-jobs"
BLOCKS: Final = ("output", "by hand", "from elsewhere")

Document = dict[str, Any]
Look = Callable[[Document], float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Hand:
    """A number worked out by hand, as arithmetic that anyone can follow.

    `arithmetic` is evaluated as it stands; `look` finds the plan's number, None where the plan has
    none; they must agree within the share `within`.
    """

    what: str
    arithmetic: str
    unit: str
    look: Look | None
    within: float
    why: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Elsewhere:
    """A figure of the plan beside one from elsewhere; the plan's must lie between low and high."""

    what: str
    look: Look
    low: float
    high: float
    unit: str
    printed: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """One worked job."""

    name: str
    drawing: str
    options: tuple[str, ...]
    hand: tuple[Hand, ...]
    elsewhere: tuple[Elsewhere, ...]

    @property
    def command(self) -> str:
        """What is typed."""
        rows = [f"kerfwright plan {self.drawing} -o {self.name}-job"]
        words = list(self.options)
        while words:
            option = words.pop(0)
            value = f" {words.pop(0)}" if words and not words[0].startswith("--") else ""
            rows.append(f"    {option}{value}")
        return " \\\n".join(rows)


def feed(number: int) -> Look:
    """Find the feed of a pass."""
    return lambda d: d["plan"]["passes"][number - 1]["feed_mm_per_min"]


def of_pass(number: int, field: str) -> Look:
    """Find a figure of a pass."""
    return lambda d: d["plan"]["passes"][number - 1][field]


def minutes(operation: str) -> Look:
    """Find the likely minutes of an operation."""
    return lambda d: next(
        t["minutes"]["likely"] for t in d["estimate"]["times"] if t["operation"] == operation
    )


def used(item: str) -> Look:
    """Find what is used up."""
    return lambda d: next(
        c["amount"]["likely"] for c in d["estimate"]["consumption"] if c["item"] == item
    )


def saved_each(instead: str) -> Look:
    """Find what a demand with another limit saves, each."""
    return lambda d: next(
        float(a["saved_each"])
        for a in d["what_if"]["alternatives"]
        if a["instead"].startswith(instead) and " on " not in a["sentence"]
    )


def slug_g(contour: str) -> Look:
    """Find the mass of a piece, g."""
    return lambda d: (
        1000 * next(s["mass_kg"] for s in d["plan"]["slugs"] if s["contour_id"] == contour)
    )


def said(code: str, key: str) -> Look:
    """Find a number in a finding."""
    return lambda d: next(f["data"][key] for f in d["findings"] if f["code"] == code)


def area_rate(d: Document) -> float:
    """Feed of the rough pass times the height."""
    return float(d["plan"]["passes"][0]["feed_mm_per_min"] * d["plan"]["height_mm"])


_BINARY: Final = {
    ast.Add: operator.add, ast.Sub: operator.sub, ast.Mult: operator.mul,
    ast.Div: operator.truediv, ast.Pow: operator.pow,
}  # fmt: skip
_NAMES: Final = {"pi": math.pi}
_CALLS: Final = {"sqrt": math.sqrt}


def worth(arithmetic: str) -> float:
    """Return what a line of arithmetic comes to: + - * / ^, brackets, pi and sqrt."""

    def value(node: ast.expr) -> float:
        match node:
            case ast.Constant(value=int() | float() as number):
                return float(number)
            case ast.BinOp(left=left, op=op, right=right):
                return float(_BINARY[type(op)](value(left), value(right)))
            case ast.UnaryOp(op=ast.USub(), operand=operand):
                return -value(operand)
            case ast.Name(id=name):
                return _NAMES[name]
            case ast.Call(func=ast.Name(id=name), args=[argument]):
                return _CALLS[name](value(argument))
        message = f"no arithmetic: {ast.dump(node)}"
        raise ValueError(message)

    return value(ast.parse(arithmetic.replace("^", "**"), mode="eval").body)


@contextlib.contextmanager
def _folder() -> Iterator[Path]:
    """Work in a folder of its own, so that the output names no place on this machine."""
    before = Path.cwd()
    with tempfile.TemporaryDirectory() as name:
        os.chdir(name)
        try:
            yield Path(name)
        finally:
            os.chdir(before)


def outcome(job: Job) -> tuple[str, Document]:
    """Run a job and return what it prints, and the same as a document.

    Raises
    ------
    ValueError
        If the job is refused or its program not proved.
    """
    with _folder() as folder:
        shutil.copy(SAMPLES / job.drawing, folder)
        call = ["plan", job.drawing, "-o", f"{job.name}-job", *job.options]
        shown = []
        for more in ([], ["--json"]):
            into = io.StringIO()
            with contextlib.redirect_stdout(into):
                code = run([*call, *more])
            if code != 0:
                message = f"{job.name}: exit code {code}"
                raise ValueError(message)
            shown.append(into.getvalue())
    text = "\n".join(row.rstrip() for row in shown[0].splitlines()).strip("\n")
    document = json.loads(shown[1])
    if not document["proof"]["passed"]:
        message = f"{job.name}: not proved"
        raise ValueError(message)
    return text, document


def _number(value: float) -> str:
    return f"{value:.3g}"


def blocks(job: Job, ran: tuple[str, Document]) -> dict[str, str]:
    """Return the parts of a page that are made: output, hand calculations, figures elsewhere.

    `ran` is the outcome of the job.
    """
    text, document = ran
    by_hand = ["| what | by hand | comes to | the plan says |", "|---|---|---|---|"]
    for one in job.hand:
        plan = "–" if one.look is None else f"{_number(one.look(document))} {one.unit}"
        what = f"{one.what}: {one.why}" if one.why else one.what
        mine = f"{_number(worth(one.arithmetic))} {one.unit}"
        by_hand.append(f"| {what} | `{one.arithmetic}` | {mine} | {plan} |")
    elsewhere = ["| what | the plan says | elsewhere | source |", "|---|---|---|---|"]
    elsewhere += [
        f"| {e.what} | {_number(e.look(document))} {e.unit} | {e.printed} | {e.source} |"
        for e in job.elsewhere
    ]
    made = (f"```text\n{text}\n```", "\n".join(by_hand), "\n".join(elsewhere))
    return dict(zip(BLOCKS, made, strict=True))


def _pattern(block: str) -> re.Pattern[str]:
    return re.compile(rf"(<!-- {block}: made -->\n)(.*?)(<!-- end -->)", re.DOTALL)


def kept(page: str, block: str) -> str:
    """Return a made part of a page as it stands there."""
    found = _pattern(block).search(page)
    if found is None:
        message = f"the page has no part '{block}'"
        raise ValueError(message)
    return found.group(2).removesuffix("\n")


def renewed(page: str, made: dict[str, str]) -> str:
    """Return a page with its made parts replaced."""
    for block, text in made.items():
        kept(page, block)
        page = _pattern(block).sub(lambda m, t=text: f"{m[1]}{t}\n{m[3]}", page)
    return page
