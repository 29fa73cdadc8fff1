"""The proof in the readable summary: how far the wall is off, and what happens on the way."""

from __future__ import annotations

from collections import Counter

from kerfwright.cli.output import Page
from kerfwright.cli.words import Show
from kerfwright.foundation.counts import counted
from kerfwright.proof.records import EventKind, LeanProof, Proof


def show_proof(page: Page, proof: Proof | None, show: Show) -> None:
    """Write the verdict and what happens in the program."""
    page.heading("Proof")
    if proof is None:
        page.line("no program was proved", indent=2, style="bold red")
        return
    verdict = "passed" if proof.passed else "FAILED"
    page.line(
        f"{verdict}: largest gouge {show.small(proof.max_gouge_um)}, largest leftover"
        f" {show.small(proof.max_leftover_um)}, compared at {proof.samples:,} points",
        indent=2,
        style="bold green" if proof.passed else "bold red",
    )
    happens = Counter(e.kind for e in proof.events)
    freed = [e for e in proof.events if e.kind is EventKind.PIECE_FREE]
    alone = sum(not e.is_attended for e in freed)
    page.line(
        f"{counted(happens[EventKind.THREAD], 'threading')},"
        f" {counted(happens[EventKind.STOP], 'stop')},"
        f" {counted(len(freed), 'piece')} freed, {alone} of them with nobody by",
        indent=2,
    )
    if proof.leaning is not None:
        lean = proof.leaning
        page.line(
            f"the wire leans by up to {lean.max_angle_deg:.3f}°, the upper guide goes"
            f" U ±{show.size(lean.max_u_mm)}, V ±{show.size(lean.max_v_mm)};"
            f" walls compared at {len(lean.heights_mm)} heights",
            indent=2,
        )
        _walls_by_height(page, lean, show)
    if proof.solid:
        page.line(
            f"against sections of the solid at {len({d.height_mm for d in proof.solid})} heights:"
            f" gouge up to {show.small(max(d.max_gouge_um for d in proof.solid))}, leftover up to"
            f" {show.small(max(d.max_leftover_um for d in proof.solid))}",
            indent=2,
        )
    if proof.unreachable:
        deepest = max(u.leftover_um for u in proof.unreachable)
        page.line(
            f"{counted(len(proof.unreachable), 'place')} no wire of this kerf reaches, "
            f"{show.small(deepest)} of stock at most",
            indent=2,
        )


def _walls_by_height(page: Page, lean: LeanProof, show: Show) -> None:
    """Write how far each leaning wall is off where it stands, from its lowest to highest height."""
    for name in dict.fromkeys(d.contour_id for d in lean.by_height):
        mine = [d for d in lean.by_height if d.contour_id == name]
        low, high = min(d.height_mm for d in mine), max(d.height_mm for d in mine)
        page.line(
            f"{name}, {show.length(low)} to {show.length(high)} {show.unit.value} up: gouge up to"
            f" {show.small(max(d.max_gouge_um for d in mine))}, leftover up to"
            f" {show.small(max(d.max_leftover_um for d in mine))}",
            indent=4,
        )
