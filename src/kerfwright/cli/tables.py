"""``kerfwright tables``: what plans and prices look up, each value with its source."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator, Mapping
from decimal import Decimal
from pathlib import Path
from typing import Any

import click

from kerfwright.adapters import json_shapes
from kerfwright.adapters.drills import load_drill, shipped_drills
from kerfwright.adapters.hole_tables import load_hole_tables
from kerfwright.adapters.machines import load_machine, shipped_machines
from kerfwright.adapters.table_files import copy_shipped
from kerfwright.adapters.tables import Tables, load_tables
from kerfwright.cli.options import TABLES
from kerfwright.cli.output import Page, put_json
from kerfwright.foundation.findings import Finding
from kerfwright.foundation.sources import Source, SourceTag
from kerfwright.process.erodibility import RANK_CAUTION, REFERENCE_ID, erodibility
from kerfwright.process.handbook_units import handbook_unit_findings
from kerfwright.trade.material import Material

_NAMES = (
    "materials", "wires", "machines", "drills", "passes", "planning", "holes", "rates", "learning",
    "flushing", "spark", "wire_physics", "papers", "roughness", "fits",
)  # fmt: skip
_WHOLE = ("flushing", "spark", "wire_physics", "papers")
"""Tables that are shown as their files have them."""
COPIED = (*_WHOLE, "materials", "wires", "passes", "planning", "holes", "rates", "learning")
"""Tables of which a shop can have its own."""
_AND_REST = ("passes", "planning", "rates", "learning")
"""Tables of which the file holds more than the records that are shown first."""
_IN_JSON = ("of", "name", "value", "source")
_MACHINE_NOTE = "invented to start from; measure your own"


@dataclasses.dataclass(frozen=True, slots=True, kw_only=True)
class Value:
    """One value of a table with its source, and the decimals to show where 4 digits will not do."""

    of: str
    name: str
    value: Any
    source: str
    decimals: int | None = None

    @property
    def shown(self) -> str:
        """The value as people read it."""
        return _shown(self.value) if self.decimals is None else f"{self.value:.{self.decimals}f}"


@click.command("tables")
@click.argument("table", type=click.Choice(_NAMES))
@click.argument("name", required=False)
@click.option("--tables", "folder", type=TABLES, help="Folder with the shop's own tables.")
@click.option(
    "--copy-to",
    type=click.Path(path_type=Path),
    help="Write the shipped file, to be changed, into a folder or to a .toml file.",
)
@click.option("--json", "as_json", is_flag=True, help="Print one JSON document only.")
def command(
    table: str,
    name: str | None,
    folder: Path | None,
    copy_to: Path | None,
    as_json: bool,  # noqa: FBT001 a flag of the command line
) -> int:
    """Show a TABLE, or only what NAME in it says.

    Sources: a read, b from memory of the source named, c common practice without a source,
    d computed, s the shop's own.
    """
    if copy_to is not None:
        return _copied(table, name, copy_to)
    if table == "fits" and name:
        rows = list(_fit(name))
    else:
        rows = [v for v in _values(table, folder) if _fits(v, name)]
    if not rows and name and table == "materials":
        # As `plan` would find it: any name people write, or the nearest in the message.
        found = load_tables(folder).catalogue.material(name)
        rows = [v for v in _values(table, folder) if v.of.startswith(f"{found.id} (")]
    if not rows:
        raise click.UsageError(f"nothing in {table} is called {name!r}.")
    if as_json:
        document = {"format": "kerfwright-table", "version": 1, "table": table}
        shapes = [json_shapes.plain(r) for r in rows]
        put_json(document | {"values": [{k: s[k] for k in _IN_JSON} for s in shapes]})
        return 0
    page = Page()
    page.heading(f"Table of {table}")
    cells: list[tuple[str, ...]] = []
    last = ""
    for row in rows:
        cells.append((row.of if row.of != last else "", row.name, row.shown, row.source))
        last = row.of
    page.table(("of", "quantity", "value", "source"), cells, left=(0, 1, 3))
    if table == "materials":
        page.line("The rate factor is what counts; the indices are a check for slips.", indent=2)
        page.line(RANK_CAUTION, indent=2)
        for gone in load_tables(folder).catalogue.left_out:
            page.line(f"left out: {gone.names[0]}: {gone.message}", indent=2, style="yellow")
            for more in (gone.where, f"remedy: {gone.remedy}" if gone.remedy else ""):
                if more:
                    page.line(more, indent=6)
        for said in _unlike({row.of for row in rows}, load_tables(folder)):
            page.line(f"{said.severity.value}: {said.message}", indent=2, style="yellow")
            page.line(f"remedy: {said.remedy}", indent=6)
    return 0


def _copied(table: str, name: str | None, target: Path) -> int:
    """Write a shipped file where a shop wants its own."""
    definitions = {"machines": shipped_machines, "drills": shipped_drills}
    page = Page()
    if table in definitions:
        known = definitions[table]()
        if name not in known:
            raise click.UsageError(f"say which definition is copied: {', '.join(known)}.")
        path = copy_shipped(f"{table}/{name}.toml", target)
        page.line(f"Written to {path}; its figures stand for no real machine: change each line.")
        return 0
    if table not in COPIED or name is not None:
        what = "of a name" if table in COPIED else f"of {table}, which no shop sets,"
        raise click.UsageError(f"a file {what} cannot be copied; copied are {', '.join(COPIED)}.")
    path = copy_shipped(f"{table}.toml", target)
    page.line(
        f"Written to {path}. Keep the lines that you change; what is left out stays as shipped."
    )
    return 0


def _fits(value: Value, name: str | None) -> bool:
    return name is None or name.casefold() in value.of.casefold()


def _values(table: str, folder: Path | None) -> Iterator[Value]:
    if table in _WHOLE:
        yield from _of_file(table, folder, besides=set())
        return
    shown = list(_of_records(table, folder))
    yield from shown
    if table in _AND_REST:
        yield from _of_file(table, folder, besides={v.name.split(".")[0] for v in shown})


def _of_file(table: str, folder: Path | None, *, besides: set[str]) -> Iterator[Value]:
    """Yield what the file holds and nothing above has shown."""
    from kerfwright.adapters.table_rows import figures_of

    for of, key, value, source in figures_of(table, folder):
        if key not in besides and of not in besides and of.split(" ")[-1] not in besides:
            yield Value(
                of=of, name=key, value=value, source=_cited(source) if source else "none stated"
            )


def _of_records(table: str, folder: Path | None) -> Iterator[Value]:
    match table:
        case "materials":
            for m in load_tables(folder).catalogue.materials:
                names = ", ".join((m.name, *m.aliases))
                yield from _record(m, of=f"{m.id} ({names})")
                yield from _indices(m, load_tables(folder), of=f"{m.id} ({names})")
        case "wires":
            for w in load_tables(folder).catalogue.wires:
                yield from _record(w, of=f"{w.kind} {w.diameter_mm:g} mm")
        case "machines":
            yield from _machines()
        case "drills":
            yield from _drills()
        case "holes":
            yield from _small_holes(folder)
        case "passes":
            yield from _technology(load_tables(folder))
        case "planning":
            yield from _record(load_tables(folder).rules, of="planning")
        case "rates":
            yield from _rates(load_tables(folder))
        case "learning":
            yield from _learning(folder)
        case "fits":
            yield from _fit_table()
        case _:
            yield from _roughness()


def _machines() -> Iterator[Value]:
    note = Source(tag=SourceTag.COMMON_PRACTICE, citation=_MACHINE_NOTE)
    for name in shipped_machines():
        machine = load_machine(name)
        yield from _record(machine, of=machine.id, source=note)
        yield from _record(machine.dialect, of=machine.id, source=note)


def _small_holes(folder: Path | None) -> Iterator[Value]:
    for part in load_hole_tables(folder):
        yield from _record(part, of="small holes")


def _drills() -> Iterator[Value]:
    note = Source(tag=SourceTag.COMMON_PRACTICE, citation=_MACHINE_NOTE)
    for name in shipped_drills():
        drill = load_drill(name)
        for part in (drill, drill.tubes, drill.dialect):
            yield from (v for v in _record(part, of=drill.id, source=note) if v.name != "axes")
        for axis in drill.axes:
            yield from _record(axis, of=f"{drill.id} {axis.letter}", source=note)


def _record(record: Any, *, of: str, source: Source | None = None) -> Iterator[Value]:
    """Every number of a record; with ``source`` its words too, as of a machine."""
    sources: Mapping[str, Source] = getattr(record, "sources", {})
    for one in dataclasses.fields(record):
        value = getattr(record, one.name)
        is_number = isinstance(value, float | Decimal)
        is_worded = source is not None and not dataclasses.is_dataclass(value)
        if one.name in sources or is_number or is_worded:
            said = sources.get(one.name, source)
            where = _cited(said) if said else "none stated"
            yield Value(of=of, name=one.name, value=value, source=where)


def _indices(material: Material, tables: Tables, *, of: str) -> Iterator[Value]:
    """Return the rates that handbook properties alone suggest, beside the explicit factor."""
    reference = tables.catalogue.material(REFERENCE_ID)
    law = tables.technology.spark.erodibility
    found = erodibility(material, reference=reference, law=law)
    source = f"d, computed from the properties, relative to {reference.name}"
    for name, value in (
        ("index: melt energy", found.melt_energy_rate),
        ("index: Palatnik", found.palatnik_rate),
        ("index: melting point", found.kalpakjian_rate),
    ):
        yield Value(of=of, name=name, value=value, source=source)


def _unlike(shown: set[str], tables: Tables) -> Iterator[Finding]:
    """Remark on properties in another unit, and on rate factors unlike their indices."""
    reference = tables.catalogue.material(REFERENCE_ID)
    law = tables.technology.spark.erodibility
    for material in tables.catalogue.materials:
        if any(of.startswith(f"{material.id} (") for of in shown):
            yield from handbook_unit_findings(material)
            yield from erodibility(material, reference=reference, law=law).findings


def _technology(tables: Tables) -> Iterator[Value]:
    technology = tables.technology
    for seed in technology.passes:
        yield from _record(seed, of=f"pass {seed.number}")
    for one in dataclasses.fields(technology):
        if one.name not in {"passes", "experience", "guides"}:
            yield from _record(getattr(technology, one.name), of=one.name.replace("_", " "))


def _rates(tables: Tables) -> Iterator[Value]:
    rates = tables.rates
    yield Value(of="all", name="currency", value=rates.currency, source="ISO 4217 code")
    for one in dataclasses.fields(rates):
        part = getattr(rates, one.name)
        if dataclasses.is_dataclass(part):
            yield from _record(part, of=one.name.replace("_", " "))
    yield from _record(rates, of="order")


def _learning(folder: Path | None) -> Iterator[Value]:
    from kerfwright.adapters.learning_rules import learning_values

    for key, (value, source) in learning_values(folder).items():
        of, _, name = key.rpartition(".")
        yield Value(of=of.replace(".", " of "), name=name, value=value, source=_cited(source))


def _roughness() -> Iterator[Value]:
    from kerfwright.foundation.units import UM_PER_MICROINCH
    from kerfwright.trade.roughness import finish

    for said in (*(f"N{n}" for n in range(1, 13)), *(f"VDI {n}" for n in range(0, 46, 3))):
        read = finish(said)
        source = _cited(read.source)
        yield Value(of=said, name="ra_um", value=read.ra_um, source=source)
        yield Value(of=said, name="ra_uin", value=read.ra_um / UM_PER_MICROINCH, source=source)


def _fit_table() -> Iterator[Value]:
    """Every row of ISO 286, a value for each step of size."""
    from kerfwright.adapters.fit_tables import load_fits

    table = load_fits()
    for grade, row in table.grades_um.items():
        source = _cited(table.sources[f"grade.{grade}"])
        steps = f"zone_um up to {_shown(table.to_mm)} mm"
        yield Value(of=f"grade {grade}", name=steps, value=row, source=source)
    for letter, row in table.deviations_um.items():
        to_mm = table.to_mm if len(row) == len(table.to_mm) else table.fine_to_mm
        source = _cited(table.sources[f"deviation.{letter}"])
        steps = f"distance_um up to {_shown(to_mm)} mm"
        yield Value(of=f"letter {letter}", name=steps, value=row, source=source)


def _fit(text: str) -> Iterator[Value]:
    """Compute what a size with its symbol comes to; of two mating parts also the clearance."""
    from kerfwright.adapters.fit_tables import load_fits
    from kerfwright.trade.fits import read_fits, wall_tolerance

    fits = read_fits(text, table=load_fits())
    for fit in fits:
        source = "; ".join(dict.fromkeys(_cited(s) for s in fit.sources))
        low_mm, high_mm = fit.limits_mm
        wall = wall_tolerance(fit)
        of = f"{fit.nominal_mm:g} mm {fit.symbol} ({fit.member.value})"
        yield Value(of=of, name="lower_um", value=fit.lower_um, source=source)
        yield Value(of=of, name="upper_um", value=fit.upper_um, source=source)
        for name, value, decimals in (
            ("smallest_mm", low_mm, 4),
            ("largest_mm", high_mm, 4),
            ("size_half_um", fit.size_half_um, None),
            ("size_middle_from_nominal_um", fit.size_shift_um, None),
            ("wall_half_um", wall.half_um, None),
            ("wall_middle_from_drawn_um", wall.shift_um, None),
        ):
            yield Value(of=of, name=name, value=value, source="d, computed", decimals=decimals)
        if fit.note:
            yield Value(of=of, name="note", value=fit.note, source="d, computed")
    if len(fits) == 2:
        hole, shaft = fits
        for name, clearance_um in (
            ("least_clearance_um", hole.lower_um - shaft.upper_um),
            ("most_clearance_um", hole.upper_um - shaft.lower_um),
        ):
            yield Value(of=text, name=name, value=clearance_um, source="d, computed")


def _shown(value: object) -> str:
    match value:
        case float():
            return f"{value:.4g}" if value < 1000 else f"{value:g}"
        case Mapping():
            return ", ".join(f"{k} {_shown(v)}" for k, v in value.items())
        case tuple() | list():
            return ", ".join(_shown(v) for v in value)
    return str(value)


def _cited(source: Source) -> str:
    return f"{source.tag.value}, {source}"
