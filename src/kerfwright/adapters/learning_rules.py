"""The rules of learning: a TOML table shipped with us, overridden by the shop."""

from __future__ import annotations

import math
from pathlib import Path
from types import MappingProxyType
from typing import Final

from kerfwright.adapters.figures import Node
from kerfwright.adapters.kept_tables import is_kept
from kerfwright.adapters.table_files import open_table
from kerfwright.foundation.sources import Source, SourceTag
from kerfwright.learning.possible import CutLimits
from kerfwright.learning.records import Input, LearningRules, Measure

FILE: Final = "learning.toml"
NO_GROSS_SIZE: Final = 1e6
"""Tolerances that no size error goes beyond: every size counts."""
_LATER: Final = {
    "slip_share": 0.0,
    "slip_sigmas": 1.0,
    "job_slip_share": 0.0,
    "sheet_slip_share": 0.0,
    "settled_jobs": 0.0,
    "gross_size_tolerances": NO_GROSS_SIZE,
    "size_prior_jobs": 0.0,
    "size_accident_chance": 0.0,
}
"""Figures that only weigh measured cuts, came after tables were first kept with jobs, and what
weighs as before them.  One that moves a price itself is asked for, never filled in."""
_MODEL: Final = (
    "scatter_df",
    "slip_share",
    "slip_sigmas",
    "job_slip_share",
    "sheet_slip_share",
    "settled_jobs",
    "variance_scale_sigma_log",
    "fewest_sizes",
    "gross_size_tolerances",
    "size_prior_jobs",
    "size_accident_chance",
    "far_deviations",
)
_WHOLE: Final = 2.0**-20
"""How far shares may miss 1 by the rounding of their sum."""


def load_learning_rules(folder: Path | None = None) -> LearningRules:
    """Load the shipped rules, with a shop's own ``learning.toml`` over them.

    Parameters
    ----------
    folder : Path or None
        Folder with the shop's tables.

    Raises
    ------
    InputError
        Code ``table-syntax``, ``table-value`` or ``table-key``.
    """
    node = open_table(FILE, folder)
    node.only("model", "sigma", "breaks", "limits", "share", "renamed_machine")
    sources: dict[str, Source] = {}

    def figures(name: str, *keys: str, also: tuple[str, ...] = ()) -> dict[str, float]:
        table = node.table(name)
        table.only(*keys, *also)
        # Kept figures of before these came: cuts are weighed as they were then.
        later = _LATER if is_kept(folder) else {}
        absent = [key for key in keys if key not in table.data and key in later]
        values, found = table.record(*(key for key in keys if key not in absent))
        values |= {key: _LATER[key] for key in absent}
        found |= {key: Source(tag=SourceTag.COMMON_PRACTICE) for key in absent}
        sources.update({f"{name}.{key}": source for key, source in found.items()})
        return values

    model = figures("model", *_MODEL, also=("height_bands_mm",))
    sigma = figures("sigma", "ra_log", "wire_log", "size_share_of_tolerance", "breaks_log")
    breaks = figures("breaks", "per_h", "burst", "burst_weight", "most_burst")
    shares = node.table("share")
    shares.only(*Measure)
    return LearningRules(
        scatter_df=model["scatter_df"],
        slip_share=model["slip_share"],
        slip_sigmas=model["slip_sigmas"],
        job_slip_share=model["job_slip_share"],
        sheet_slip_share=model["sheet_slip_share"],
        settled_jobs=model["settled_jobs"],
        variance_scale_sigma_log=model["variance_scale_sigma_log"],
        fewest_sizes=model["fewest_sizes"],
        gross_size_tolerances=model["gross_size_tolerances"],
        size_prior_jobs=model["size_prior_jobs"],
        size_accident_chance=model["size_accident_chance"],
        far_deviations=model["far_deviations"],
        height_bands_mm=node.table("model").numbers("height_bands_mm"),
        ra_sigma_log=sigma["ra_log"],
        wire_sigma_log=sigma["wire_log"],
        breaks_sigma_log=sigma["breaks_log"],
        size_share_of_tolerance=sigma["size_share_of_tolerance"],
        breaks_per_h=breaks["per_h"],
        breaks_burst=breaks["burst"],
        burst_weight=breaks["burst_weight"],
        most_burst=breaks["most_burst"],
        shares=MappingProxyType({m: _shares(shares.table(m), m, sources) for m in Measure}),
        sources=MappingProxyType(sources),
        renamed_machines=_renamed(node),
    )


_PAIRS: Final = ("height_mm", "length_mm", "minutes", "feed_mm_per_min", "ra_um", "wire_kg")


_SINGLE: Final = ("size_error_um", "breaks", "breaks_per_h", "rough_mm2_per_min")


def load_cut_limits(folder: Path | None = None) -> CutLimits:
    """Load what no row can be beyond, a shop's own values over the shipped ones.

    Figures kept by a version that had no limits take the shipped ones: they move no price.

    Raises
    ------
    InputError
        Code ``table-syntax``, ``table-value`` or ``table-key``.
    """
    node = open_table(FILE, folder)
    if "limits" not in node.data:
        node = open_table(FILE, None)
    limits = node.table("limits")
    limits.only(*_PAIRS, *_SINGLE)
    pairs: dict[str, tuple[float, float]] = {}
    sources: dict[str, Source] = {}
    for key in _PAIRS:
        ends, sources[key] = limits.sizes(key)
        if len(ends) != 2:
            limits.fail(key, list(ends), "the least and the most")
        pairs[key] = (ends[0], ends[1])
    # Kept by a version that did not look at area rates.
    known = [key for key in _SINGLE if key in limits.data]
    single, found = limits.record(*known)
    return CutLimits(
        height_mm=pairs["height_mm"],
        length_mm=pairs["length_mm"],
        minutes=pairs["minutes"],
        feed_mm_per_min=pairs["feed_mm_per_min"],
        ra_um=pairs["ra_um"],
        wire_kg=pairs["wire_kg"],
        size_error_um=single["size_error_um"],
        breaks=single["breaks"],
        breaks_per_h=single["breaks_per_h"],
        rough_mm2_per_min=single.get("rough_mm2_per_min", math.inf),
        sources=MappingProxyType(sources | found),
    )


def _renamed(node: Node) -> MappingProxyType[str, str]:
    if "renamed_machine" not in node.data:
        return MappingProxyType({})
    names = node.table("renamed_machine")
    found = {former: names.text(former) for former in names.data}
    for former, present in found.items():
        if present in found:
            names.fail(former, present, "the present name, not one that was changed again")
    return MappingProxyType(found)


def _shares(
    node: Node, measure: Measure, sources: dict[str, Source]
) -> MappingProxyType[Input, float]:
    node.only(*Input)
    found: dict[Input, float] = {}
    for kind in Input:
        # Counts scatter by themselves too; every other variance must leave room to learn.
        counted = measure is Measure.BREAKS and kind is Input.CUT
        value, source = node.number(kind, least=0 if counted else None)
        found[kind], sources[f"share.{measure}.{kind}"] = value, source
    whole = math.fsum(found.values())
    if abs(whole - 1) > _WHOLE:
        node.fail("*", round(whole, 6), "shares that add up to 1")
    return MappingProxyType(found)


def learning_values(folder: Path | None = None) -> dict[str, tuple[float, Source]]:
    """Return every figure of the rules with its source, by its dotted key, for showing."""
    rules = load_learning_rules(folder)
    plain = {
        "model.scatter_df": rules.scatter_df,
        "model.slip_share": rules.slip_share,
        "model.slip_sigmas": rules.slip_sigmas,
        "model.job_slip_share": rules.job_slip_share,
        "model.sheet_slip_share": rules.sheet_slip_share,
        "model.settled_jobs": rules.settled_jobs,
        "model.variance_scale_sigma_log": rules.variance_scale_sigma_log,
        "model.fewest_sizes": rules.fewest_sizes,
        "model.gross_size_tolerances": rules.gross_size_tolerances,
        "model.size_prior_jobs": rules.size_prior_jobs,
        "model.size_accident_chance": rules.size_accident_chance,
        "model.far_deviations": rules.far_deviations,
        "sigma.ra_log": rules.ra_sigma_log,
        "sigma.wire_log": rules.wire_sigma_log,
        "sigma.size_share_of_tolerance": rules.size_share_of_tolerance,
        "sigma.breaks_log": rules.breaks_sigma_log,
        "breaks.per_h": rules.breaks_per_h,
        "breaks.burst": rules.breaks_burst,
        "breaks.burst_weight": rules.burst_weight,
        "breaks.most_burst": rules.most_burst,
    }
    plain |= {
        f"share.{measure}.{kind}": value
        for measure, shares in rules.shares.items()
        for kind, value in shares.items()
    }
    return {key: (value, rules.sources[key]) for key, value in plain.items()}
