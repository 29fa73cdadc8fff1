"""Questions to the index, in SQL."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any, Final

from sqlalchemy import ColumnElement, Select, and_, case, func, select

from kerfwright.adapters.index.query import Alike, Listed, Order, Query, Unreadable
from kerfwright.adapters.index.rows import enquiry_of
from kerfwright.adapters.index.schema import jobs
from kerfwright.app.enquiries import Enquiry, Stage

if TYPE_CHECKING:
    from sqlalchemy import Connection

_MANY: Final = 500
_STAGES: Final = {stage.value: place for place, stage in enumerate(Stage)}
"""In the order in which a job goes through them."""


def listed(connection: Connection, query: Query) -> Listed:
    """Return the jobs that a query wants."""
    # Of a job that cannot be read, and of no other, it is not known when it came in.
    fits = and_(jobs.c.added > "", *_conditions(query))
    by_stage = select(jobs.c.stage, func.count()).where(jobs.c.fault == "").group_by(jobs.c.stage)
    counts = {row[0]: row[1] for row in connection.execute(by_stage)}
    if query.search.split():
        counted = select(func.count()).select_from(jobs).where(fits)
        total = connection.execute(counted).scalar_one()
    else:
        total = sum(n for stage, n in counts.items() if not query.stages or stage in query.stages)
    wanted = _ordered(select(jobs.c.document).where(fits), query, connection.dialect.name)
    found = tuple(enquiry_of(row.document) for row in connection.execute(wanted))
    broken = select(jobs.c.fault, jobs.c.fault_where).where(jobs.c.fault != "").order_by(jobs.c.id)
    return Listed(
        enquiries=found,
        total=total,
        by_stage=counts,
        alike=alike(connection, found),
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
    if query.order is Order.STAGE:
        column = case(_STAGES, value=jobs.c.stage)
    if query.order is Order.ADDED:
        # Every job says when it came in: both ways are those of one index of the database.
        both = (column, name)
        keys: list[ColumnElement[Any]] = [
            one.desc() if query.descending else one.asc() for one in both
        ]
    else:
        keys = [is_empty, column.desc() if query.descending else column.asc(), name]
    return wanted.order_by(*keys).limit(query.most).offset(query.skipped)


def alike(connection: Connection, found: Sequence[Enquiry]) -> dict[str, Alike]:
    """Return other jobs of the same part, for each of some jobs that has any."""
    drawings = _sharing(connection, jobs.c.drawing_sha256, [e.drawing_sha256 for e in found])
    shapes = _sharing(connection, jobs.c.shape, [e.outcome.get("shape", "") for e in found])
    others = {}
    for one in found:
        same = drawings.get(one.drawing_sha256, set()) - {one.id}
        shaped = shapes.get(one.outcome.get("shape", ""), set()) - same - {one.id}
        if same or shaped:
            others[one.id] = Alike(
                same_drawing=tuple(sorted(same)), same_shape=tuple(sorted(shaped))
            )
    return others


def _sharing(
    connection: Connection, column: ColumnElement[str], values: Sequence[str]
) -> dict[str, set[str]]:
    """Return the jobs that share each of some values."""
    found: dict[str, set[str]] = defaultdict(set)
    asked = sorted({value for value in values if value})
    for begin in range(0, len(asked), _MANY):
        wanted = select(column, jobs.c.id).where(column.in_(asked[begin : begin + _MANY]))
        for value, name in connection.execute(wanted):
            found[value].add(name)
    return found
