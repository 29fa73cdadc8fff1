"""Run by Alembic, on the connection that it is given."""

from __future__ import annotations

from alembic import context

from kerfwright.adapters.seats.schema import VERSION_TABLE, metadata

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=metadata,
    version_table=VERSION_TABLE,
    transactional_ddl=True,
)
with context.begin_transaction():
    context.run_migrations()
