"""Addresses of the shop's tables: look, override, copy, take back."""

from __future__ import annotations

from typing import Any, Final

from fastapi import APIRouter

from kerfwright.app.table_names import value_name
from kerfwright.workbench.desk import Desk
from kerfwright.workbench.jobs import OurDesk
from kerfwright.workbench.parameters import RowId, TableName, ValueKey
from kerfwright.workbench.refusals import refusals
from kerfwright.workbench.table_shapes import (
    NewRow,
    RowShape,
    TableCard,
    TableShape,
    Written,
)

router = APIRouter(prefix="/api/tables", tags=["tables"])

_TASKS: Final = "kerfwright.workbench.table_tasks"
_WRITES: Final = refusals(400, 404, 422)
_TAKES: Final = refusals(404, 422)


@router.get("", responses=refusals(422))
async def tables(desk: OurDesk) -> list[TableCard]:
    """List the tables, with how many values are the shop's own."""
    return [TableCard.model_validate(one) for one in await _run(desk, "listing")]


@router.get("/{name}", responses=_TAKES)
async def table(name: TableName, desk: OurDesk) -> TableShape:
    """Return one table: each value with its unit and source, the shop's over the shipped one."""
    return TableShape.model_validate(await _run(desk, "look", name))


@router.put("/{name}/values/{key:path}", responses=_WRITES)
async def put(name: TableName, key: ValueKey, value: Written, desk: OurDesk) -> RowShape:
    """Write a value of the shop's over the shipped one; open jobs are priced anew."""
    found = await _run(desk, "put", name, key, value.model_dump())
    desk.price_anew(f"{name}, {value_name(key.rpartition('/')[2])}")
    return RowShape.model_validate(found)


@router.delete("/{name}/values/{key:path}", responses=_TAKES)
async def drop(name: TableName, key: ValueKey, desk: OurDesk) -> RowShape:
    """Take a value of the shop's away, so that the shipped one counts again."""
    found = await _run(desk, "drop", name, key)
    desk.price_anew(f"{name}, {value_name(key.rpartition('/')[2])}")
    return RowShape.model_validate(found)


@router.post("/{name}/rows", status_code=201, responses=_WRITES | refusals(409))
async def copy(name: TableName, row: NewRow, desk: OurDesk) -> TableShape:
    """Add a row of the shop's like another, to be changed value by value."""
    found = await _run(desk, "copy", name, row.like, row.id, row.title)
    desk.price_anew(f"{name}, {row.id}")
    return TableShape.model_validate(found)


@router.delete("/{name}/rows/{row:path}", responses=_TAKES)
async def drop_row(name: TableName, row: RowId, desk: OurDesk) -> TableShape:
    """Take a row of the shop's away."""
    found = await _run(desk, "drop_row", name, row)
    desk.price_anew(f"{name}, {row}")
    return TableShape.model_validate(found)


async def _run(desk: Desk, task: str, *arguments: Any) -> Any:
    return await desk.run(f"{_TASKS}.{task}", *arguments, desk.tables_folder)
