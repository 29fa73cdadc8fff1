"""The jobs, and whose they are."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None


def upgrade() -> None:
    """Make the tables."""
    op.create_table(
        "kw_about",
        sa.Column("name", sa.String(40), primary_key=True),
        sa.Column("text", sa.Text, nullable=False),
    )
    op.create_table(
        "kw_jobs",
        sa.Column("id", sa.String(100), primary_key=True),
        sa.Column("stamp", sa.String(80), nullable=False),
        sa.Column("fault", sa.Text, nullable=False),
        sa.Column("fault_where", sa.Text, nullable=False),
        sa.Column("document", sa.Text, nullable=False),
        sa.Column("words", sa.Text, nullable=False),
        sa.Column("drawing_sha256", sa.String(64), nullable=False),
        sa.Column("shape", sa.Text, nullable=False),
        sa.Column("stage", sa.String(20), nullable=False),
        sa.Column("added", sa.String(40), nullable=False),
        sa.Column("title", sa.Text, nullable=False),
        sa.Column("customer", sa.Text, nullable=False),
        sa.Column("material", sa.Text, nullable=False),
        sa.Column("due", sa.String(20), nullable=False),
        sa.Column("each", sa.Float),
        sa.Column("revision", sa.Integer, nullable=False),
    )
    for name in ("drawing_sha256", "shape", "stage", "added"):
        op.create_index(f"ix_kw_jobs_{name}", "kw_jobs", [name])


def downgrade() -> None:
    """Take the tables away; the folders of the jobs hold all of it."""
    op.drop_table("kw_jobs")
    op.drop_table("kw_about")
