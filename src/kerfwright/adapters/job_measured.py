"""What a job folder says of its passes, and what was measured on them."""

from __future__ import annotations

import json
import math
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from typing import Any, Final, TypedDict

from kerfwright.adapters.cut_files import CutReader, Known, measured_files
from kerfwright.adapters.job_folder import ESTIMATE, PLAN, TABLES, read_job_toml, read_plan
from kerfwright.adapters.machines import DEFAULT_MACHINE
from kerfwright.adapters.owned_files import digest
from kerfwright.adapters.whole_files import read_whole, write_whole
from kerfwright.foundation.errors import InputError
from kerfwright.foundation.ranges import Range
from kerfwright.learning.outcome import PassForecast, PassOutcome, outcomes
from kerfwright.process.technology import Flushing, StockBy
from kerfwright.trade.catalogue import Catalogue

PREDICTED: Final = "predicted-passes.json"


@dataclass(frozen=True, slots=True, kw_only=True)
class OfJob:
    """What rows that say nothing else take from the job that was cut.

    Attributes
    ----------
    usual : dict of str to str
        Job, machine, material, wire and height, as a row says them.
    passes : dict of int to PassForecast
    nozzles : Flushing
        How they stood along the rough cuts, by the plan.
    nozzles_factor : float
        What that is to the rough feed: by the tables, and by what the shop knew.
    guides_factor : float
        How many times as far the wire gives way between its guides as between close ones.
    """

    usual: dict[str, str] = field(default_factory=dict)
    passes: dict[int, PassForecast] = field(default_factory=dict)
    nozzles: Flushing = Flushing.SEALED
    nozzles_factor: float = 1.0
    guides_factor: float = 1.0

    def feed_share(self, number: int, *, says_nozzles: bool) -> float:
        """Return how far the plan itself slows a pass.

        Nozzles that a row speaks of are weighed by that, for the plan's rough feeds know their
        own; a skim knows none.
        """
        if number not in self.passes or (number == 1 and says_nozzles):
            return 1.0
        share = self.passes[number].feed_share
        # The cut is said to be under those nozzles: what they are to the feed is theirs to tell.
        return share / self.nozzles_factor if number == 1 else share

    def guides_of(self, job: str) -> float:
        """Return the factor of the guides for a row of some job: of another's nobody knows."""
        return self.guides_factor if job == self.usual.get("job") else 1.0


def read_job(folder: Path) -> OfJob:
    """Return what a job folder says of its cuts.

    Raises
    ------
    FileError, InputError
        If the folder is no job.
    """
    wanted, plan = read_job_toml(folder), read_plan(folder)
    machine = wanted.machine
    if wanted.tables_sha256:
        # As it was when the job was planned, whatever its file says now.
        machine = str(folder / TABLES)
    elif machine and (folder / machine).is_file():
        machine = str(folder / machine)
    wire = plan["wire"]
    return OfJob(
        usual={
            "job": folder.resolve().name,
            "machine": machine or DEFAULT_MACHINE,
            "material": wanted.material,
            # Of all sheets where the job is cut as a stack.
            "height": f"{plan['height_mm']:.6f} mm",
            "wire": f"{wire['diameter_mm']:g} mm {wire['name']}",
        },
        passes={one.number: one for one in _forecasts(folder, plan)},
        # The same for all passes; a plan that does not say it has them close.
        guides_factor=max(
            (float(p.get("guides_factor", 1.0)) for p in plan["passes"]), default=1.0
        ),
        **_nozzles(plan),
    )


def left_by_pass(plan: dict[str, Any]) -> dict[int, tuple[float, float]]:
    """Return the stock in µm that each pass leaves for those after it: least and most of all walls.

    Parameters
    ----------
    plan : dict
        As :func:`kerfwright.adapters.job_folder.read_plan` returns it.
    """
    rows = [one["stock_um"] for one in plan.get("contour_passes", ())]
    if not rows:
        rows = [[one["stock_um"] for one in plan["passes"]]]
    found: dict[int, tuple[float, float]] = {}
    for number in range(1, max(map(len, rows)) + 1):
        left = [math.fsum(row[number:]) for row in rows if len(row) >= number]
        found[number] = (min(left), max(left))
    return found


class _Nozzles(TypedDict, total=False):
    nozzles: Flushing
    nozzles_factor: float


def _nozzles(plan: dict[str, Any]) -> _Nozzles:
    """Return how the nozzles of a plan stood, the same for all its contours.

    What the lean of a contour opens is in its feed and no matter of the set-up.  A plan made
    before it said what the nozzles are to the feed leaves that in its feeds.
    """
    said: dict[str, Any] = next(iter(plan.get("flushing", ())), {})
    said = said.get("upright", said)
    if "tables_factor" not in said:
        return {}
    factor = float(said["tables_factor"]) * float(said["learned_factor"])
    return {"nozzles": Flushing(said["nozzles"]), "nozzles_factor": factor}


def outcomes_of(folder: Path, *, catalogue: Catalogue, known: Known) -> tuple[PassOutcome, ...]:
    """Return each measured pass of a job beside what was predicted.

    Parameters
    ----------
    folder : Path
        Of the job.
    catalogue : Catalogue
    known : Known
        The cuts that count in the shop; one that was taken back does not.

    Raises
    ------
    FileError, InputError
        If the folder is no job, or a file of cuts in it is damaged.
    """
    reader = CutReader(catalogue=catalogue)
    kept = [cut for path in measured_files(folder) for cut in reader.read(path)[0]]
    gone, _ = known.new(kept)
    cuts = [cut for cut in kept if not any(cut is other for other in gone)]
    return outcomes(predicted(folder), cuts)


def predicted(folder: Path) -> list[PassForecast]:
    """Return what was predicted of a job's passes before the first of them was measured.

    A plan made anew with what was learned from those very cuts would only repeat them.

    Raises
    ------
    FileError, InputError
        If the folder is no job, or what it keeps cannot be read.
    """
    place = folder / PREDICTED
    if not place.is_file():
        return _forecasts(folder, read_plan(folder))
    try:
        kept = json.loads(read_whole(place))
        if kept["asked_sha256"] != _asked_sha256(folder):
            return _forecasts(folder, read_plan(folder))
        return [
            PassForecast(**{**one, "minutes": Range(**one["minutes"])}) for one in kept["passes"]
        ]
    except (ValueError, KeyError, TypeError) as fault:
        raise InputError(
            f"what was predicted cannot be read: {fault}",
            code="json-broken",
            where=str(place),
            remedy="Delete the file: the plan of today then stands beside the cuts.",
        ) from fault


def keep_forecast(folder: Path) -> None:
    """Keep what is predicted of a job's passes, once for what is asked.

    Raises
    ------
    FileError, InputError
        If the folder is no job, or cannot be written to.
    """
    asked, place = _asked_sha256(folder), folder / PREDICTED
    if place.is_file():
        try:
            if json.loads(read_whole(place))["asked_sha256"] == asked:
                return
        except (ValueError, KeyError, TypeError):
            # Damaged: what is predicted today takes its place.
            pass
    document = {
        "format": "kerfwright-predicted-passes",
        "version": 1,
        "asked_sha256": asked,
        "passes": [asdict(one) for one in _forecasts(folder, read_plan(folder))],
    }
    write_whole(place, json.dumps(document, indent=1) + "\n")


def _asked_sha256(folder: Path) -> str:
    """Return a digest of what is asked of a job, without the figures it is computed with."""
    wanted = read_job_toml(folder)
    figures = replace(
        wanted, tables="", tables_sha256="", shop="", experience="", kerfwright="", quantities=(1,)
    )
    return digest(repr(replace(figures, customer="", reference="", revision="", due="")))


def _forecasts(folder: Path, plan: dict[str, Any]) -> list[PassForecast]:
    """Read the passes of a job; none where it was refused and has no estimate."""
    place = folder / ESTIMATE
    if not place.is_file():
        return []
    try:
        times = json.loads(place.read_text(encoding="utf-8"))["times"]
        return [_forecast(one, times, _table_feed(one, plan)) for one in plan["passes"]]
    except InputError:
        raise
    except (OSError, ValueError, KeyError, TypeError) as fault:
        raise InputError(
            f"the estimate cannot be read: {type(fault).__name__} {fault}",
            code="json-broken",
            where=str(place),
            remedy="Plan the job anew with this version of kerfwright.",
        ) from fault


def _table_feed(one: dict[str, Any], plan: dict[str, Any]) -> float:
    """Return the feed of a pass with the stock of the pass table, with which cuts are compared.

    Contours that take more are slower by the plan itself; that is no slow machine.
    """
    slow = one.get("stock_feed_factor")
    if slow is None:
        ways = {contour.get("stock_by") for contour in plan.get("contour_passes", ())}
        if StockBy.HURT_LAYER.value in ways:
            raise InputError(
                "the plan does not say by how much stock beyond the pass table slows its skims",
                code="plan-other-version",
                where=PLAN,
                remedy="Plan the job again with this version of kerfwright, then record its cuts.",
            )
        slow = 1.0
    return float(one["feed_mm_per_min"]) / float(slow)


def _forecast(
    one: dict[str, Any], times: list[dict[str, Any]], table_mm_per_min: float
) -> PassForecast:
    lines = [line for line in times if line.get("pass_number") == one["number"]]

    def whole(*keys: str) -> float:
        values = []
        for line in lines:
            value: Any = line
            for key in keys:
                value = value[key]
            values.append(float(value))
        return math.fsum(values)

    # The lines of one pass are slow or fast together: their ends add up.
    minutes = Range(
        low=whole("minutes", "low"),
        likely=whole("minutes", "likely"),
        high=whole("minutes", "high"),
    )
    wall_mm, wall_min = whole("wall_mm"), whole("wall_min")
    share = wall_mm / wall_min / table_mm_per_min if wall_min else 1.0
    return PassForecast(
        number=int(one["number"]),
        wall_mm=wall_mm,
        minutes=minutes,
        feed_share=share,
        ra_um=float(one["ra_um"]),
        tolerance_um=float(one["tolerance_um"]),
    )
