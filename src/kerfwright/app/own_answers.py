"""What is held against a line that asks something of single contours."""

from __future__ import annotations

from kerfwright.app.enquiries import CONTOUR
from kerfwright.app.records import JobResult
from kerfwright.app.said import NOTHING, Said
from kerfwright.foundation.counts import counted
from kerfwright.foundation.directed import Use
from kerfwright.foundation.units import UnitSystem, roughness_text
from kerfwright.foundation.zones import zone_text

_MOST_NAMED = 6


def own_answer(name: str, result: JobResult) -> tuple[Said, Said, tuple[str, ...]]:
    """Return what the contours of a line are expected to hold, and how many passes that takes.

    Parameters
    ----------
    name : str
        Of the line, its contours with commas.
    result : JobResult
    """
    ids = {one.upper() for one in name.removeprefix(CONTOUR).split(",")}
    planned = [c for c in result.plan.contours if c.target.id.upper() in ids and c.passes]
    if not planned:
        return (
            Said(metric="not planned: see the findings", inch="not planned: see the findings"),
            (NOTHING),
            (),
        )
    groups: dict[tuple[float, float, int], list[str]] = {}
    for one in planned:
        last = one.passes[-1]
        key = (last.tolerance_um, last.ra_um, len(one.passes))
        groups.setdefault(key, []).append(one.target.id)
    sentences = {
        system: "; ".join(
            f"{f'{_listed(names)}: ' * (len(groups) > 1)}holds "
            f"±{zone_text(held, Use.HELD, system=system)}, {roughness_text(ra, system=system)} "
            f"after {counted(passes, 'pass', 'passes')}"
            for (held, ra, passes), names in groups.items()
        )
        for system in UnitSystem
    }
    answer = Said(metric=sentences[UnitSystem.METRIC], inch=sentences[UnitSystem.INCH])
    return answer, NOTHING, ()


def _listed(names: list[str]) -> str:
    more = f" and {len(names) - _MOST_NAMED} more" if len(names) > _MOST_NAMED else ""
    return f"{', '.join(names[:_MOST_NAMED])}{more}"
