"""Rows of a batch before and after they were planned."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from pathlib import Path
from typing import Any


class State(StrEnum):
    """What became of one drawing of a batch."""

    PRICED = "priced"
    """All that is drawn can be cut as asked."""
    IN_PART = "priced in part"
    """The price is for what can be cut; contours that cannot are left out of it."""
    REFUSED = "refused"
    """Read or planned, and nothing to offer: the reason says why."""
    WRONG_ROW = "row not usable"
    """What is asked, or the file that is named, cannot be used."""
    TIMED_OUT = "timed out"
    """Not done within the limit of time, and ended."""
    FAILED = "failed"
    """The computation broke off: a fault of ours, or no memory."""
    LOST = "worker lost"
    """The cluster lost the worker twice that had it."""
    NOT_DONE = "not done"
    """The batch was stopped before."""


PRICED = frozenset({State.PRICED, State.IN_PART})
BROKEN = frozenset({State.TIMED_OUT, State.FAILED, State.LOST})
"""States that say nothing of the drawing itself."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What came out for one drawing; plain values only, as they stand in journal and table.

    Attributes
    ----------
    state : State
    reason, code, remedy : str
        Why there is no price, or none for all; the code for scripts; empty for a priced drawing.
    contours, left_out : int or None
        Contours to be cut as drawn, and those of them that the price leaves out.
    refusals, warnings, notes : int
        Findings by severity.
    codes : mapping of str to int
        Codes of refusals and warnings, and how often each is there.
    said : mapping of str to str
        First words of each of these codes, for the summary; no column of the table.
    first_refusal, first_warning : str
    material, machine, wire : str
    height_mm, wire_mm : float or None
    passes : int or None
        Most passes of a contour.
    proved : bool or None
        Whether the program passed its proof; None where no proof was made.
    currency : str
    quantity : int or None
        The least that was asked; the prices and minutes that follow are for it, all pieces.
    price_low, price, price_high, price_each : str
        Amounts as decimals; low and high are the 10th and 90th percentile.
    prices : str
        Price of each at every quantity: ``"1: 120.00; 5: 80.00"``.
    machine_min_low, machine_min, machine_min_high : float or None
        Minutes of the machine.
    attended_min : float or None
        Minutes of them with somebody by, likely.
    wire_kg : float or None
        Wire for that quantity, likely.
    rough_mm : float or None
        Length of wall of one load that is roughed.
    """

    state: State
    reason: str = ""
    code: str = ""
    remedy: str = ""
    contours: int | None = None
    left_out: int | None = None
    refusals: int = 0
    warnings: int = 0
    notes: int = 0
    codes: Mapping[str, int] = field(default_factory=dict)
    said: Mapping[str, str] = field(default_factory=dict)
    first_refusal: str = ""
    first_warning: str = ""
    material: str = ""
    machine: str = ""
    height_mm: float | None = None
    wire: str = ""
    wire_mm: float | None = None
    passes: int | None = None
    proved: bool | None = None
    currency: str = ""
    quantity: int | None = None
    price_low: str = ""
    price: str = ""
    price_high: str = ""
    price_each: str = ""
    prices: str = ""
    machine_min_low: float | None = None
    machine_min: float | None = None
    machine_min_high: float | None = None
    attended_min: float | None = None
    wire_kg: float | None = None
    rough_mm: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """One row of a batch.

    Attributes
    ----------
    name : str
        Drawing as the table names it: the path below the folder, or as the row has it.
    path : Path
        Where it is.
    given : mapping of str to Any
        Fields of a :class:`kerfwright.app.records.JobRequest` save the drawing.
    line : int or None
        Line of the CSV.
    remark : str
        Carried through to the table.
    columns : mapping of str to str
        Column of the CSV by the field that it gives, for messages.
    refused : Outcome or None
        Why the row cannot be used, where that is known already.
    job : str
        Name of its job folder below that of the jobs, where they are kept.
    """

    name: str
    path: Path
    given: Mapping[str, Any]
    line: int | None = None
    remark: str = ""
    columns: Mapping[str, str] = field(default_factory=dict)
    refused: Outcome | None = None
    job: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """Where the job folder of a task goes, and what its request names there.

    Attributes
    ----------
    folder, drawing : Path
        Absolute.
    """

    folder: Path
    drawing: Path


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """One drawing to be planned by another process, perhaps on another machine.

    Attributes
    ----------
    key : str
        Hash of all that the outcome depends on.
    name : str
        File name of the drawing, without folder.
    content : bytes
    given : mapping of str to Any
        As of :class:`Item`; plain values.
    figures : bytes
        Tables and machine as kept with a job, compressed (zlib).
    figures_sha256 : str
    limit_s : float
    with_proof : bool
    version : str
        Of kerfwright.
    kept : Kept or None
    """

    key: str
    name: str
    content: bytes
    given: Mapping[str, Any]
    figures: bytes
    figures_sha256: str
    limit_s: float
    with_proof: bool
    version: str
    kept: Kept | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What a task came to.

    Attributes
    ----------
    outcome : Outcome
    files : mapping of str to str or None
        Text of every file of the job folder, where it is kept.
    seconds : float
        Time that it took; of a broken one none is told.
    """

    outcome: Outcome
    files: Mapping[str, str] | None = None
    seconds: float = 0.0
