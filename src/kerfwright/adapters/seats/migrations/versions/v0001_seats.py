"""Who may log in, who is logged in, and who did what."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None

_SQLITE = (
    "CREATE TRIGGER kw_audit_no_{0} BEFORE {0} ON kw_audit BEGIN"
    " SELECT RAISE(ABORT, 'what was done stays written'); END"
)
_FUNCTION = (
    "CREATE FUNCTION kw_audit_stays() RETURNS trigger LANGUAGE plpgsql AS"
    " $$ BEGIN RAISE EXCEPTION 'what was done stays written'; END $$"
)
_POSTGRESQL = (
    "CREATE TRIGGER kw_audit_no_change BEFORE UPDATE OR DELETE OR TRUNCATE ON kw_audit"
    " FOR EACH STATEMENT EXECUTE FUNCTION kw_audit_stays()"
)


def upgrade() -> None:
    """Make the tables; lines of what was done can be added and nothing else."""
    op.create_table(
        "kw_seats_about",
        sa.Column("name", sa.String(40), primary_key=True),
        sa.Column("text", sa.Text, nullable=False),
    )
    op.create_table(
        "kw_seats",
        sa.Column("name", sa.String(40), primary_key=True),
        sa.Column("role", sa.String(20), nullable=False),
        sa.Column("customer", sa.Text, nullable=False),
        sa.Column("password", sa.Text, nullable=False),
        sa.Column("added", sa.String(40), nullable=False),
        sa.Column("known", sa.Text, nullable=False),
    )
    op.create_table(
        "kw_sessions",
        sa.Column("key", sa.String(64), primary_key=True),
        sa.Column("seat", sa.String(40), nullable=False),
        sa.Column("change_token", sa.String(64), nullable=False),
        sa.Column("address", sa.String(60), nullable=False),
        sa.Column("begun_s", sa.Float, nullable=False),
        sa.Column("seen_s", sa.Float, nullable=False),
    )
    op.create_index("ix_kw_sessions_seat", "kw_sessions", ["seat"])
    number = sa.BigInteger().with_variant(sa.Integer, "sqlite")
    op.create_table(
        "kw_audit",
        sa.Column("number", number, primary_key=True, autoincrement=False),
        sa.Column("at", sa.String(40), nullable=False),
        sa.Column("seat", sa.String(40), nullable=False),
        sa.Column("role", sa.String(20), nullable=False),
        sa.Column("address", sa.String(60), nullable=False),
        sa.Column("kind", sa.String(20), nullable=False),
        sa.Column("deed", sa.String(200), nullable=False),
        sa.Column("job", sa.String(120), nullable=False),
        sa.Column("detail", sa.String(200), nullable=False),
        sa.Column("status", sa.Integer, nullable=False),
        sa.Column("chain", sa.String(64), nullable=False),
    )
    for name in ("at", "job"):
        op.create_index(f"ix_kw_audit_{name}", "kw_audit", [name])
    if op.get_bind().dialect.name == "postgresql":
        op.execute(_FUNCTION)
        op.execute(_POSTGRESQL)
    else:
        for verb in ("UPDATE", "DELETE"):
            op.execute(_SQLITE.format(verb))


def downgrade() -> None:
    """Take the tables away, with everybody's passwords and all that was written."""
    op.drop_table("kw_audit")
    if op.get_bind().dialect.name == "postgresql":
        op.execute("DROP FUNCTION kw_audit_stays()")
    for name in ("kw_sessions", "kw_seats", "kw_seats_about"):
        op.drop_table(name)
