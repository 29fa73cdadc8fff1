"""Versions of jobs with the digests of their files, and jobs taken off the list."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    """Make the tables, and let every job be read anew for its versions."""
    op.create_table(
        "kw_versions",
        sa.Column("job", sa.String(100), primary_key=True),
        sa.Column("number", sa.Integer, primary_key=True, autoincrement=False),
        sa.Column("made", sa.String(40), nullable=False),
        sa.Column("kerfwright", sa.String(40), nullable=False),
        sa.Column("sha256", sa.String(64), nullable=False),
        sa.Column("quantity", sa.Integer),
        sa.Column("each", sa.Text, nullable=False),
        sa.Column("currency", sa.String(8), nullable=False),
        sa.Column("fault", sa.Text, nullable=False),
    )
    op.create_index("ix_kw_versions_made", "kw_versions", ["made"])
    op.create_table(
        "kw_files",
        sa.Column("job", sa.String(100), primary_key=True),
        sa.Column("number", sa.Integer, primary_key=True, autoincrement=False),
        sa.Column("name", sa.String(255), primary_key=True),
        sa.Column("sha256", sa.String(64), nullable=False),
    )
    op.create_index("ix_kw_files_sha256", "kw_files", ["sha256"])
    op.create_table(
        "kw_removed",
        sa.Column("name", sa.String(120), primary_key=True),
        sa.Column("id", sa.String(120), nullable=False),
        sa.Column("title", sa.Text, nullable=False),
        sa.Column("customer", sa.Text, nullable=False),
        sa.Column("added", sa.String(40), nullable=False),
        sa.Column("removed", sa.String(40), nullable=False),
    )
    op.execute("UPDATE kw_jobs SET stamp = ''")


def downgrade() -> None:
    """Take the tables away; the folders of the jobs hold all of it."""
    for name in ("kw_removed", "kw_files", "kw_versions"):
        op.drop_table(name)
