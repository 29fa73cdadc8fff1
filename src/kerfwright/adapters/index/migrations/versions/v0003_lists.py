"""What a list of thousands of jobs looks up, without reading their rows."""

from __future__ import annotations

from alembic import op

revision = "0003"
down_revision = "0002"
_MADE = {"added_id": ["added", "id"], "stage_fault": ["stage", "fault"], "fault": ["fault"]}


def upgrade() -> None:
    """Make them, in place of those that they hold."""
    for name in ("added", "stage"):
        op.drop_index(f"ix_kw_jobs_{name}", "kw_jobs")
    for name, columns in _MADE.items():
        op.create_index(f"ix_kw_jobs_{name}", "kw_jobs", columns)


def downgrade() -> None:
    """Put the earlier ones back."""
    for name in _MADE:
        op.drop_index(f"ix_kw_jobs_{name}", "kw_jobs")
    for name in ("added", "stage"):
        op.create_index(f"ix_kw_jobs_{name}", "kw_jobs", [name])
