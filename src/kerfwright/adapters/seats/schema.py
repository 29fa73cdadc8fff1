"""Tables of the seats, as the newest migration leaves them."""

from __future__ import annotations

from typing import Final

from sqlalchemy import BigInteger, Column, Float, Integer, MetaData, String, Table, Text

HEAD: Final = "0001"
"""Newest migration."""
VERSION_TABLE: Final = "kw_seats_schema"

metadata = MetaData()

about = Table(
    "kw_seats_about",
    metadata,
    Column("name", String(40), primary_key=True),
    Column("text", Text, nullable=False),
)

seats = Table(
    "kw_seats",
    metadata,
    Column("name", String(40), primary_key=True),
    Column("role", String(20), nullable=False),
    Column("customer", Text, nullable=False),
    # As argon2 writes it: kind, cost, salt and hash.
    Column("password", Text, nullable=False),
    Column("added", String(40), nullable=False),
    # Addresses that this seat logged in from last, apart by spaces.
    Column("known", Text, nullable=False),
)

sessions = Table(
    "kw_sessions",
    metadata,
    # SHA-256 of the token: whoever reads the table can log in as nobody.
    Column("key", String(64), primary_key=True),
    Column("seat", String(40), nullable=False, index=True),
    Column("change_token", String(64), nullable=False),
    Column("address", String(60), nullable=False),
    # Seconds since 1970.
    Column("begun_s", Float, nullable=False),
    Column("seen_s", Float, nullable=False),
)

audit = Table(
    "kw_audit",
    metadata,
    Column("number", BigInteger().with_variant(Integer, "sqlite"), primary_key=True,
           autoincrement=False),
    Column("at", String(40), nullable=False, index=True),
    Column("seat", String(40), nullable=False),
    Column("role", String(20), nullable=False),
    Column("address", String(60), nullable=False),
    Column("kind", String(20), nullable=False),
    Column("deed", String(200), nullable=False),
    Column("job", String(120), nullable=False, index=True),
    Column("detail", String(200), nullable=False),
    Column("status", Integer, nullable=False),
    # SHA-256 of the one of the line before and of this line.
    Column("chain", String(64), nullable=False),
)  # fmt: skip
