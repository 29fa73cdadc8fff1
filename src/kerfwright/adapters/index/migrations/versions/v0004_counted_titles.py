"""Names that hold numbers are sorted by them: plate 2 before plate 10."""

from __future__ import annotations

from alembic import op

revision = "0004"
down_revision = "0003"
_READ_ANEW = "UPDATE kw_jobs SET stamp = ''"


def upgrade() -> None:
    """Let every job be read anew when the list is wanted next, with its name as it is sorted."""
    op.execute(_READ_ANEW)


def downgrade() -> None:
    """Let the version before write the names in its own way."""
    op.execute(_READ_ANEW)
