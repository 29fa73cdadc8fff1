"""Prove a program: text and claim in, verdict out.

Nothing here knows how the program was made.  The text is read by
:mod:`kerfwright.nc.reader`; the wanted wall comes from the claim.
"""

from __future__ import annotations

import hashlib

import numpy as np

from kerfwright.foundation.errors import InputError
from kerfwright.foundation.findings import Finding, Severity
from kerfwright.nc.reader import read_program
from kerfwright.nc.timeline import Lean, Timeline
from kerfwright.proof.against_solid import with_solid
from kerfwright.proof.claimed import check_feeds, check_starts, check_stated_offsets
from kerfwright.proof.clamped import check_clamps
from kerfwright.proof.compare import compare
from kerfwright.proof.edge_feeds import check_edge_feeds
from kerfwright.proof.engaged import check_engaged
from kerfwright.proof.eroded import check_eroded
from kerfwright.proof.lean_prove import prove_leaning
from kerfwright.proof.passes import pass_runs
from kerfwright.proof.pieces import pieces_freed
from kerfwright.proof.records import Claim, Proof
from kerfwright.proof.rooms import rooms_of
from kerfwright.proof.rules import check_cuts, check_moves, check_pieces, check_wire
from kerfwright.proof.solid import check_free_pieces, joint_pieces
from kerfwright.proof.strung import check_strings
from kerfwright.proof.tabs import check_tabs
from kerfwright.proof.track import build_track
from kerfwright.proof.wall import Wall
from kerfwright.proof.ways import check_ways


def prove_program(text: str, claim: Claim) -> Proof:
    """Read a program and prove it against a claim.

    Parameters
    ----------
    text : str
        The whole program.
    claim : Claim

    Returns
    -------
    Proof
        ``passed`` only if nothing was refused.

    Raises
    ------
    ProgramError
        If the text breaks a rule of the language.
    InputError
        If the claim cannot be used.
    """
    digest = hashlib.sha256(text.encode()).hexdigest()
    timeline = read_program(text, machine=claim.machine)
    return prove_timeline(timeline, claim, program_sha256=digest)


def _leans(lean: Lean) -> bool:
    return bool(lean.start_mm.any() or lean.end_mm.any())


def prove_timeline(timeline: Timeline, claim: Claim, *, program_sha256: str) -> Proof:
    """Prove a time line against a claim, and against the solid where the part is one.

    Parameters
    ----------
    timeline : Timeline
    claim : Claim
    program_sha256 : str
        Digest of the text that the time line was read from.

    Raises
    ------
    InputError
        If the claim has no contour, an open one, no kerf radius above 0, or a pass of a contour
        that has none.
    """
    if not claim.kerf_radius_mm or not all(r > 0 for r in claim.kerf_radius_mm.values()):
        raise InputError(
            f"a claim needs kerf radii above 0 mm, got {dict(claim.kerf_radius_mm)}",
            code="claim-kerf",
        )
    for name, numbers in claim.pass_numbers.items():
        if not numbers or not set(numbers) <= set(claim.kerf_radius_mm):
            raise InputError(
                f"contour {name} is to be cut in passes {list(numbers)}; kerf radii are known of "
                f"{sorted(claim.kerf_radius_mm)}",
                code="claim-passes",
            )
    proof = _against_contours(timeline, claim, program_sha256=program_sha256)
    return with_solid(proof, timeline, claim) if claim.solid else proof


def _against_contours(timeline: Timeline, claim: Claim, *, program_sha256: str) -> Proof:
    if claim.walls or (timeline.lean is not None and _leans(timeline.lean)):
        return prove_leaning(timeline, claim, program_sha256=program_sha256)
    wall = Wall(claim.contours)
    track = build_track(
        timeline,
        claim.kerf_radius_mm,
        idle_mm_per_min=claim.machine.idle_speed_mm_per_min,
    )
    runs = pass_runs(timeline, track, wall, claim)
    freed = pieces_freed(timeline, track, claim)
    rooms = rooms_of(timeline, claim, freed)
    compared = compare(timeline, track, wall, claim, runs, rooms=rooms)
    joint = joint_pieces(timeline, track, claim, freed=freed)
    wire_findings, wire_events = check_wire(timeline, track, claim, rooms=rooms)
    findings: tuple[Finding, ...] = (
        *compared.findings,
        *check_starts(wall, claim),
        *check_cuts(timeline, track, claim),
        *check_stated_offsets(timeline, claim),
        *check_feeds(timeline, track, claim, runs, rooms=rooms),
        *check_edge_feeds(timeline, track, claim, runs),
        *check_ways(timeline, track, wall, claim, runs=runs, freed=freed, rooms=rooms),
        *check_engaged(timeline, track, wall, claim, runs=runs, freed=freed, rooms=rooms),
        *check_moves(timeline, track, claim),
        *check_clamps(timeline, claim),
        *check_tabs(timeline, track, claim),
        *check_eroded(timeline, track, claim),
        *wire_findings,
        *check_pieces(timeline, track, (*freed, *joint)),
        *check_strings(timeline, track, claim, freed=freed),
        *check_free_pieces(timeline, track, claim, freed=(*freed, *joint)),
    )
    events = sorted([*wire_events, *(f.event for f in (*freed, *joint))], key=lambda e: e.line)
    cutting = track.move[np.flatnonzero(np.diff(track.move, prepend=-1))]
    return Proof(
        passed=not any(f.severity is Severity.REFUSAL for f in findings),
        max_gouge_um=max(d.max_gouge_um for d in compared.deviations),
        max_leftover_um=max(d.max_leftover_um for d in compared.deviations),
        deviations=compared.deviations,
        unreachable=compared.unreachable,
        events=tuple(events),
        findings=findings,
        cutting_time_s=float(track.move_seconds[cutting].sum()),
        path_length_mm=float(track.segments.length.sum()),
        samples=compared.samples,
        program_sha256=program_sha256,
    )
