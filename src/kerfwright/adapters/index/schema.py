"""Tables of the index, as the newest migration leaves them."""

from __future__ import annotations

from typing import Final

from sqlalchemy import Column, Float, Integer, MetaData, String, Table, Text

HEAD: Final = "0001"
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
    Column("stage", String(20), nullable=False, index=True),
    # Keys for sorting: UTC, casefolded, or a number.
    Column("added", String(40), nullable=False, index=True),
    Column("title", Text, nullable=False),
    Column("customer", Text, nullable=False),
    Column("material", Text, nullable=False),
    Column("due", String(20), nullable=False),
    Column("each", Float),
    Column("revision", Integer, nullable=False),
)
