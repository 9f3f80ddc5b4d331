"""The tables of a database of cases. They hold the lines of the case files as bytes, so a case comes out as it went in."""

from __future__ import annotations

from sqlalchemy import BigInteger, Column, ForeignKey, Index, Integer, LargeBinary, MetaData, String, Table

METADATA = MetaData()

CASES = Table(
    "cases",
    METADATA,
    Column("kept_as", String(20), primary_key=True),  # the case's id, with .2 and so on for further continuations
    Column("own_id", String(16), nullable=False, index=True),
    Column("header", LargeBinary, nullable=False),  # the first line of its file, without the newline
)
EVENTS = Table(
    "events",
    METADATA,
    Column("kept_as", String(20), ForeignKey("cases.kept_as"), primary_key=True),
    Column("number", Integer, primary_key=True, autoincrement=False),
    Column("line", LargeBinary, nullable=False),
    Column("sha", String(64), nullable=False),  # SHA-256 of the line
    Column("arrived", BigInteger, nullable=False),  # the transaction it came in: a count that only grows
    Index("events_arrived", "arrived"),
    Index("events_sha", "sha"),
)
