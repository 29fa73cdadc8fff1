"""What a shop learned, as JSON: the same content always gives the same text."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import asdict, replace
from types import MappingProxyType
from typing import Any, Final

import numpy as np
from scipy import sparse

from kerfwright.adapters.learning_rules import NO_GROSS_SIZE
from kerfwright.foundation.errors import InputError
from kerfwright.learning.posterior import Fitted, Posterior, SheetInQuestion
from kerfwright.learning.records import Input, LearningRules, Measure
from kerfwright.learning.sizes import SizeGroup
from kerfwright.process.borne_feeds import Borne
from kerfwright.process.experience import SizeRecord, SizesTurn
from kerfwright.process.sheet_records import SheetRecord

_FORMAT, _VERSION = "kerfwright-learned", 1


def posterior_text(posterior: Posterior) -> str:
    """Return a posterior as JSON; the same content always gives the same text."""
    measures = {}
    for measure, fitted in posterior.measures.items():
        upper = sparse.coo_array(sparse.triu(fitted.precision))
        entries = zip(upper.row.tolist(), upper.col.tolist(), upper.data.tolist(), strict=True)
        measures[measure.value] = {
            "names": list(fitted.names),
            "mean": fitted.mean.tolist(),
            "precision": sorted(entries),
            "variance": {kind.value: value for kind, value in fitted.variance.items()},
            "records": fitted.records,
            "burst": fitted.burst,
        }
    rules = posterior.rules
    document = {
        "format": _FORMAT,
        "version": _VERSION,
        "previous": posterior.previous,
        "tables_sha256": posterior.tables_sha256,
        "basis_sha256": posterior.basis_sha256,
        "rules": {name: _plain(getattr(rules, name)) for name in _RULES},
        "counts": dict(posterior.counts),
        "sizes": dict(posterior.sizes),
        "few_jobs": dict(posterior.few_jobs),
        "size_groups": [asdict(group) for group in posterior.size_groups],
        "turns": {name: asdict(one) for name, one in posterior.turns.items()},
        "sheets": [asdict(sheet) for sheet in posterior.sheets],
        "borne": {
            key: [[s.factor, s.jobs, s.hours, s.breaks] for s in steps]
            for key, steps in posterior.borne.items()
        },
        "measures": measures,
    }
    return json.dumps(document, ensure_ascii=False, separators=(",", ":")) + "\n"


_RULES: Final = (
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
    "height_bands_mm",
    "ra_sigma_log",
    "wire_sigma_log",
    "breaks_sigma_log",
    "size_share_of_tolerance",
    "breaks_per_h",
    "breaks_burst",
    "burst_weight",
    "most_burst",
    "renamed_machines",
)


def _plain(value: object) -> object:
    return dict(value) if isinstance(value, Mapping) else value


def posterior_from(document: Mapping[str, Any], *, sha256: str, rules: LearningRules) -> Posterior:
    """Return the posterior of a document, with the rules that were in force when it was made.

    Raises
    ------
    InputError
        Code ``experience-format`` if it is none of this version.
    """
    if (document.get("format"), document.get("version")) != (_FORMAT, _VERSION):
        raise InputError(
            f"not a record of experience of version {_VERSION}", code="experience-format"
        )
    # Experience from before gross sizes were left out had counted them all; that from before every
    # size counted in what is held says what was held then.
    kept: dict[str, Any] = {
        "gross_size_tolerances": NO_GROSS_SIZE,
        "size_prior_jobs": 0.0,
        "size_accident_chance": 0.0,
        "sheet_slip_share": 0.0,
        **document["rules"],
    }
    kept["height_bands_mm"] = tuple(kept["height_bands_mm"])
    kept["renamed_machines"] = MappingProxyType(dict(kept.get("renamed_machines", {})))
    return Posterior(
        sha256=sha256,
        tables_sha256=document["tables_sha256"],
        rules=replace(rules, **kept),
        measures=MappingProxyType(
            {Measure(name): _fitted(one) for name, one in document["measures"].items()}
        ),
        counts=MappingProxyType(dict(document["counts"])),
        sizes=MappingProxyType(dict(document["sizes"])),
        previous=document["previous"],
        basis_sha256=document.get("basis_sha256", ""),
        # Experience from before jobs were counted says nothing of them.
        few_jobs=MappingProxyType(dict(document.get("few_jobs", {}))),
        # Experience from before sheets were judged asks about none.
        sheets=tuple(_sheet(one) for one in document.get("sheets", ())),
        size_groups=tuple(_size_group(group) for group in document.get("size_groups", ())),
        turns=MappingProxyType(
            {
                name: SizesTurn(**{**one, "jobs": tuple(one["jobs"])})
                for name, one in document.get("turns", {}).items()
            }
        ),
        borne=MappingProxyType(
            {
                key: tuple(Borne(factor=f, jobs=j, hours=h, breaks=n) for f, j, h, n in steps)
                for key, steps in document.get("borne", {}).items()
            }
        ),
    )


def _size_group(document: Mapping[str, Any]) -> SizeGroup:
    group = dict(document)
    # Experience from before sizes were in question counted far ones at a limit and named none.
    doubted = group.pop("doubted_plus", 0) + group.pop("doubted_minus", 0)
    group.pop("accidents", 0)
    for key in ("worst", "questioned"):
        group[key] = tuple(SizeRecord(**one) for one in group.get(key, ()))
    return SizeGroup(**{"doubted": doubted, **group, "names": tuple(group["names"])})


def _sheet(document: Mapping[str, Any]) -> SheetInQuestion:
    record = dict(document["record"])
    for key in ("places", "jobs"):
        record[key] = tuple(record[key])
    return SheetInQuestion(
        record=SheetRecord(**record), combinations=tuple(document["combinations"])
    )


def _fitted(document: Mapping[str, Any]) -> Fitted:
    size = len(document["names"])
    entries = np.array(document["precision"], dtype=np.float64).reshape(-1, 3)
    places = entries[:, :2].astype(np.int64)
    upper = sparse.coo_matrix((entries[:, 2], (places[:, 0], places[:, 1])), shape=(size, size))
    return Fitted(
        names=tuple(document["names"]),
        mean=np.array(document["mean"], dtype=np.float64),
        precision=sparse.csc_matrix(upper + sparse.triu(upper, k=1).T),
        variance=MappingProxyType({Input(k): float(v) for k, v in document["variance"].items()}),
        records=int(document["records"]),
        # Experience from before bursts were learned has none.
        burst=float(document.get("burst", 0.0)),
    )
