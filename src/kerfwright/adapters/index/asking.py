"""Questions to the index, in SQL."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any, Final

from sqlalchemy import ColumnElement, Select, and_, func, select

from kerfwright.adapters.index.query import Listed, Order, Query, Unreadable
from kerfwright.adapters.index.rows import enquiry_of
from kerfwright.adapters.index.schema import jobs
from kerfwright.app.enquiries import Enquiry

if TYPE_CHECKING:
    from sqlalchemy import Connection

_MANY: Final = 500


def listed(connection: Connection, query: Query) -> Listed:
    """Return the jobs that a query wants."""
    fits = and_(jobs.c.fault == "", *_conditions(query))
    by_stage = select(jobs.c.stage, func.count()).where(jobs.c.fault == "").group_by(jobs.c.stage)
    total = connection.execute(select(func.count()).select_from(jobs).where(fits)).scalar_one()
    wanted = _ordered(select(jobs.c.document).where(fits), query, connection.dialect.name)
    found = tuple(enquiry_of(row.document) for row in connection.execute(wanted))
    drawings = _alike(connection, jobs.c.drawing_sha256, [e.drawing_sha256 for e in found])
    shapes = _alike(connection, jobs.c.shape, [e.outcome.get("shape", "") for e in found])
    broken = select(jobs.c.fault, jobs.c.fault_where).where(jobs.c.fault != "").order_by(jobs.c.id)
    return Listed(
        enquiries=found,
        total=total,
        by_stage={row[0]: row[1] for row in connection.execute(by_stage)},
        same_drawing=_others(found, drawings, shapes, of_drawing=True),
        same_shape=_others(found, drawings, shapes, of_drawing=False),
        unreadable=tuple(
            Unreadable(message=row.fault, where=row.fault_where)
            for row in connection.execute(broken)
        ),
    )


def _conditions(query: Query) -> Iterable[ColumnElement[bool]]:
    for word in query.search.casefold().split():
        yield jobs.c.words.contains(word, autoescape=True)
    if query.stages:
        yield jobs.c.stage.in_([stage.value for stage in query.stages])


def _ordered(wanted: Select[Any], query: Query, dialect: str) -> Select[Any]:
    column: ColumnElement[Any] = jobs.c[query.order.value]
    is_empty = column.is_(None) if query.order is Order.EACH else column == ""
    name: ColumnElement[Any] = jobs.c.id
    if dialect == "postgresql":
        # By code point as SQLite does, whatever language the server was set up for.
        name = name.collate("C")
        column = column if query.order is Order.EACH else column.collate("C")
    order = column.desc() if query.descending else column.asc()
    return wanted.order_by(is_empty, order, name).limit(query.most).offset(query.skipped)


def _alike(
    connection: Connection, column: ColumnElement[str], values: Sequence[str]
) -> dict[str, list[str]]:
    """Return the jobs that share each of some values."""
    found: dict[str, list[str]] = defaultdict(list)
    asked = sorted({value for value in values if value})
    for begin in range(0, len(asked), _MANY):
        wanted = select(column, jobs.c.id).where(column.in_(asked[begin : begin + _MANY]))
        for value, name in connection.execute(wanted.order_by(jobs.c.id)):
            found[value].append(name)
    return found


def _others(
    found: Iterable[Enquiry],
    drawings: dict[str, list[str]],
    shapes: dict[str, list[str]],
    *,
    of_drawing: bool,
) -> dict[str, tuple[str, ...]]:
    others = {}
    for one in found:
        same = frozenset(drawings.get(one.drawing_sha256, ()))
        alike = shapes.get(one.outcome.get("shape", ""), [])
        if of_drawing:
            names = tuple(sorted(same - {one.id}))
        else:
            names = tuple(name for name in alike if name not in same)
        if names:
            others[one.id] = names
    return others
