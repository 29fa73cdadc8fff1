"""Tables of the index, as the newest migration leaves them."""

from __future__ import annotations

from typing import Final

from sqlalchemy import Column, Float, Index, Integer, MetaData, String, Table, Text

HEAD: Final = "0004"
"""Newest migration."""
VERSION_TABLE: Final = "kw_schema"

metadata = MetaData()

about = Table(
    "kw_about",
    metadata,
    Column("name", String(40), primary_key=True),
    Column("text", Text, nullable=False),
)

jobs = Table(
    "kw_jobs",
    metadata,
    Column("id", String(100), primary_key=True),
    # Of the files as they were read; empty where they may have changed since unseen.
    Column("stamp", String(80), nullable=False),
    # Why the job cannot be read; all below is empty then.
    Column("fault", Text, nullable=False),
    Column("fault_where", Text, nullable=False),
    # The enquiry as JSON, without the steps that can be undone.
    Column("document", Text, nullable=False),
    Column("words", Text, nullable=False),
    Column("drawing_sha256", String(64), nullable=False, index=True),
    Column("shape", Text, nullable=False, index=True),
    Column("stage", String(20), nullable=False),
    # Keys for sorting: UTC, casefolded with numbers of one width, or a number.
    Column("added", String(40), nullable=False),
    Column("title", Text, nullable=False),
    Column("customer", Text, nullable=False),
    Column("material", Text, nullable=False),
    Column("due", String(20), nullable=False),
    Column("each", Float),
    Column("revision", Integer, nullable=False),
    Index("ix_kw_jobs_added_id", "added", "id"),
    Index("ix_kw_jobs_stage_fault", "stage", "fault"),
    Index("ix_kw_jobs_fault", "fault"),
)

versions = Table(
    "kw_versions",
    metadata,
    Column("job", String(100), primary_key=True),
    Column("number", Integer, primary_key=True, autoincrement=False),
    # UTC.
    Column("made", String(40), nullable=False, index=True),
    Column("kerfwright", String(40), nullable=False),
    # Of the closed file.
    Column("sha256", String(64), nullable=False),
    # Price of the least quantity.
    Column("quantity", Integer),
    Column("each", Text, nullable=False),
    Column("currency", String(8), nullable=False),
    Column("fault", Text, nullable=False),
)

files = Table(
    "kw_files",
    metadata,
    Column("job", String(100), primary_key=True),
    Column("number", Integer, primary_key=True, autoincrement=False),
    Column("name", String(255), primary_key=True),
    Column("sha256", String(64), nullable=False, index=True),
)

removed = Table(
    "kw_removed",
    metadata,
    Column("name", String(120), primary_key=True),
    Column("id", String(120), nullable=False),
    Column("title", Text, nullable=False),
    Column("customer", Text, nullable=False),
    Column("added", String(40), nullable=False),
    Column("removed", String(40), nullable=False),
)
