"""The swept kerf against the wall: gouges, stock left, places out of reach, offsets kept."""

from __future__ import annotations

from dataclasses import dataclass

from kerfwright.foundation.findings import Finding
from kerfwright.nc.timeline import Timeline
from kerfwright.proof.gouge import find_gouges
from kerfwright.proof.offsets import check_offsets, check_passes_along_wall
from kerfwright.proof.passes import UM_PER_MM, PassRun, Worst
from kerfwright.proof.records import Claim, Deviation, Unreachable
from kerfwright.proof.rooms import Room
from kerfwright.proof.stock import judge_stock, mean_deviations, stock_left
from kerfwright.proof.track import Track
from kerfwright.proof.wall import Wall


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Comparison:
    """Result of comparing path and wall."""

    deviations: tuple[Deviation, ...]
    unreachable: tuple[Unreachable, ...]
    findings: tuple[Finding, ...]
    samples: int


def compare(
    timeline: Timeline,
    track: Track,
    wall: Wall,
    claim: Claim,
    runs: tuple[PassRun, ...],
    *,
    rooms: tuple[Room, ...] = (),
) -> Comparison:
    """Compare the kerf of every pass with the wall.

    Parameters
    ----------
    timeline : Timeline
    track : Track
    wall : Wall
    claim : Claim
    runs : tuple of PassRun
    rooms : tuple of Room
        Where parts were that have been taken out.
    """
    tolerance_mm = claim.tolerance_um / UM_PER_MM
    worst = Worst(wall)
    findings = find_gouges(track, wall, claim, runs, worst, rooms=rooms)
    findings += check_offsets(timeline, track, wall, runs, tolerance_mm)
    spots, stock, pass_of = stock_left(wall, runs, tolerance_mm)
    forced, unreachable, more = judge_stock(wall, claim, runs, spots, stock, pass_of, worst)
    findings += more
    findings += check_passes_along_wall(wall, claim, runs, tolerance_mm)
    means = mean_deviations(wall, spots, stock, forced)
    samples = len(spots) * max(len(runs), 1) + len(track)
    return Comparison(
        deviations=worst.deviations(means),
        unreachable=unreachable,
        findings=tuple(findings),
        samples=samples,
    )
