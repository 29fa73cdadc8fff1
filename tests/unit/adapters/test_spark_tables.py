"""A shop's own figures of spark and water stand over the shipped ones."""

from __future__ import annotations

import tomllib
from dataclasses import fields
from importlib.resources import files
from pathlib import Path

from kerfwright.adapters.figures import Node, TableFile
from kerfwright.adapters.spark_tables import flushing_law
from kerfwright.adapters.tables import load_tables
from kerfwright.foundation.sources import SourceTag
from kerfwright.process.flushing import state_share


def test_a_shops_figure_replaces_ours_and_counts_as_its_own(tmp_path):
    (tmp_path / "flushing.toml").write_text("[debris]\nrate_exponent = 0.5\n", "utf-8")
    (tmp_path / "spark.toml").write_text("[surface]\nra_scale_um = 1.6\n", "utf-8")
    own, shipped = load_tables(tmp_path).technology, load_tables().technology
    assert own.flushing.debris.rate_exponent == 0.5
    assert own.flushing.debris.sources["rate_exponent"].tag is SourceTag.SHOP
    assert own.spark.surface.ra_scale_um == 1.6
    assert own.flushing.nozzle == shipped.flushing.nozzle
    assert own.spark.surface.gap_scale_um == shipped.spark.surface.gap_scale_um


def test_every_shipped_figure_says_where_it_comes_from():
    technology = load_tables().technology
    for law in (technology.spark, technology.flushing):
        for part in fields(law):
            record = getattr(law, part.name)
            names = {f.name for f in fields(record)} - {"sources"}
            assert set(record.sources) == names
            for name, source in record.sources.items():
                assert source.tag is not SourceTag.SHOP, name
                # Only common practice may do without a citation.
                assert source.citation or source.tag is SourceTag.COMMON_PRACTICE, name


def test_a_law_kept_from_before_thin_work_had_a_rule_counts_the_model_at_every_height():
    shipped = Path(str(files("kerfwright.data") / "flushing.toml"))
    whole = tomllib.loads(shipped.read_text("utf-8"))
    del whole["debris"]["model_from_mm"], whole["debris"]["state_binds_below_mm"]
    file = TableFile(
        shipped=shipped, own=None, replaced=frozenset(), citations=whole.pop("citations")
    )
    kept = flushing_law(Node(data=whole, path="", file=file))
    assert state_share(1.0, law=kept) == 0
    assert state_share(1.0, law=load_tables().technology.flushing) == 1
