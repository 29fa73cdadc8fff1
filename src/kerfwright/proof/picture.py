"""What a proof saw, kept to be looked at: the path by line, the pieces, the deviations.

Read from the NC text and measured against the claim, as the verdict is; nothing of the planner
enters.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from kerfwright.geometry.segments import Floats
from kerfwright.nc.reader import read_program
from kerfwright.nc.timeline import Timeline
from kerfwright.proof.deviation_map import DeviationMap, deviation_map
from kerfwright.proof.passes import pass_runs
from kerfwright.proof.pieces import Freed, pieces_freed
from kerfwright.proof.records import Claim, Event
from kerfwright.proof.solid import joint_pieces
from kerfwright.proof.split_walls import as_one
from kerfwright.proof.track import build_track
from kerfwright.proof.wall import Wall


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FreedPiece:
    """A piece that comes free, with its shape.

    Attributes
    ----------
    event : Event
        As in the verdict.
    move : int
        Move of the time line at whose end it is free.
    outline_mm : (n, 2) float
        Its edge as chords, closed.
    holes_mm : tuple of (n, 2) float
        What was cut out of it before.
    """

    event: Event
    move: int
    outline_mm: Floats
    holes_mm: tuple[Floats, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ProofPicture:
    """What the proof of one program saw.

    Attributes
    ----------
    timeline : Timeline
        As it was read, line by line.
    move_seconds : (moves,) float
        Duration of every move of it.
    pieces : tuple of FreedPiece
        In order of time.
    deviations : DeviationMap
    """

    timeline: Timeline
    move_seconds: Floats
    pieces: tuple[FreedPiece, ...]
    deviations: DeviationMap


def picture_of(text: str, claim: Claim) -> ProofPicture:
    """Read a program again and keep what can be looked at.

    Parameters
    ----------
    text : str
        The whole program, one that :func:`kerfwright.proof.prove.prove_program` could read.
    claim : Claim

    Raises
    ------
    ProgramError
        If the text breaks a rule of the language.
    """
    return picture_of_timeline(read_program(text, machine=claim.machine), claim)


def picture_of_timeline(timeline: Timeline, claim: Claim) -> ProofPicture:
    """Keep what can be looked at of a program that was read.

    Parameters
    ----------
    timeline : Timeline
    claim : Claim
    """
    wall = Wall(claim.contours)
    track = build_track(
        timeline, claim.kerf_radius_mm, idle_mm_per_min=claim.machine.idle_speed_mm_per_min
    )
    runs = pass_runs(timeline, track, wall, claim)
    # Of a wall made in two cuts one piece comes free, in the first.
    line, here = as_one(timeline, claim, 0.0)
    freed = pieces_freed(line, track, here)
    every = (*freed, *joint_pieces(line, track, here, freed=freed))
    return ProofPicture(
        timeline=timeline,
        move_seconds=track.move_seconds,
        pieces=tuple(_shown(one) for one in sorted(every, key=lambda f: f.move)),
        deviations=deviation_map(track, wall, claim, runs),
    )


def _shown(one: Freed) -> FreedPiece:
    return FreedPiece(
        event=one.event,
        move=one.move,
        outline_mm=np.asarray(one.piece.exterior.coords)[:, :2],
        holes_mm=tuple(np.asarray(ring.coords)[:, :2] for ring in one.piece.interiors),
    )
