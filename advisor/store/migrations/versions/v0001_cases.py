"""Cases and their lines, which only grow: the database itself refuses to change or delete one, or to take a forged one in."""

from __future__ import annotations

from alembic import op
from sqlalchemy import BigInteger, Column, ForeignKey, Integer, LargeBinary, String, text

revision = "0001"
down_revision: str | None = None

REFUSED = "advisor: cases only grow"
FORGED = "advisor: this line does not follow from the one above"

POSTGRESQL = f"""
CREATE FUNCTION advisor_only_grow() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN RAISE EXCEPTION '{REFUSED}'; END $$;
CREATE TRIGGER cases_only_grow BEFORE UPDATE OR DELETE ON cases FOR EACH ROW EXECUTE FUNCTION advisor_only_grow();
CREATE TRIGGER cases_not_emptied BEFORE TRUNCATE ON cases FOR EACH STATEMENT EXECUTE FUNCTION advisor_only_grow();
CREATE TRIGGER events_only_grow BEFORE UPDATE OR DELETE ON events FOR EACH ROW EXECUTE FUNCTION advisor_only_grow();
CREATE TRIGGER events_not_emptied BEFORE TRUNCATE ON events FOR EACH STATEMENT EXECUTE FUNCTION advisor_only_grow();
CREATE FUNCTION advisor_chain() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE
  said text := convert_from(NEW.line, 'UTF8');
  own text := substring(said FROM ',"own":"([0-9a-f]{{64}})"\\}}$');
  above text;
BEGIN
  IF NEW.number = 0 THEN
    SELECT encode(sha256(header), 'hex') INTO above FROM cases WHERE kept_as = NEW.kept_as;
  ELSE
    SELECT sha INTO above FROM events WHERE kept_as = NEW.kept_as AND number = NEW.number - 1;
  END IF;
  IF NEW.sha IS DISTINCT FROM encode(sha256(NEW.line), 'hex')
    OR said::json->>'number' IS DISTINCT FROM NEW.number::text
    OR above IS NULL OR said::json->>'previous' IS DISTINCT FROM above
    OR (own IS NOT NULL AND own <> encode(sha256(convert_to(left(said, -74) || '}}', 'UTF8')), 'hex'))
  THEN RAISE EXCEPTION '{FORGED}'; END IF;
  NEW.arrived := pg_current_xact_id()::text::bigint;
  RETURN NEW;
END $$;
CREATE TRIGGER events_chain BEFORE INSERT ON events FOR EACH ROW EXECUTE FUNCTION advisor_chain();
"""

# `sha256` is a function that the program gives to its connection; without it nothing is taken in.
# REPLACE deletes without a trigger, so that a row which is there already is refused when it is inserted.
SQLITE = (
    *(
        f"CREATE TRIGGER {table}_no_{verb.lower()} BEFORE {verb} ON {table} BEGIN SELECT RAISE(ABORT, '{REFUSED}'); END"
        for table in ("cases", "events")
        for verb in ("UPDATE", "DELETE")
    ),
    f"""CREATE TRIGGER cases_once BEFORE INSERT ON cases
    WHEN EXISTS (SELECT 1 FROM cases WHERE kept_as = NEW.kept_as) BEGIN SELECT RAISE(ABORT, '{REFUSED}'); END""",
    f"""CREATE TRIGGER events_once BEFORE INSERT ON events
    WHEN EXISTS (SELECT 1 FROM events WHERE kept_as = NEW.kept_as AND number = NEW.number)
    BEGIN SELECT RAISE(ABORT, '{REFUSED}'); END""",
    f"""CREATE TRIGGER events_chain BEFORE INSERT ON events
    WHEN NEW.sha IS NOT sha256(NEW.line)
      OR json_extract(CAST(NEW.line AS TEXT), '$.number') IS NOT NEW.number
      OR json_extract(CAST(NEW.line AS TEXT), '$.previous') IS NOT (
        CASE NEW.number
          WHEN 0 THEN (SELECT sha256(header) FROM cases WHERE kept_as = NEW.kept_as)
          ELSE (SELECT sha FROM events WHERE kept_as = NEW.kept_as AND number = NEW.number - 1)
        END)
      OR (json_extract(CAST(NEW.line AS TEXT), '$.own') IS NOT NULL AND json_extract(CAST(NEW.line AS TEXT), '$.own')
        IS NOT sha256(CAST(substr(NEW.line, 1, length(NEW.line) - 74) AS TEXT) || '}}'))
    BEGIN SELECT RAISE(ABORT, '{FORGED}'); END""",
)


def upgrade() -> None:
    op.create_table(
        "cases",
        Column("kept_as", String(20), primary_key=True),
        Column("own_id", String(16), nullable=False),
        Column("header", LargeBinary, nullable=False),
    )
    op.create_index("ix_cases_own_id", "cases", ["own_id"])
    op.create_table(
        "events",
        Column("kept_as", String(20), ForeignKey("cases.kept_as"), primary_key=True),
        Column("number", Integer, primary_key=True, autoincrement=False),
        Column("line", LargeBinary, nullable=False),
        Column("sha", String(64), nullable=False),
        Column("arrived", BigInteger, nullable=False),
    )
    op.create_index("events_arrived", "events", ["arrived"])
    op.create_index("events_sha", "events", ["sha"])
    if op.get_bind().dialect.name == "postgresql":
        op.execute(text(POSTGRESQL.replace(":", r"\:")))
    else:
        for statement in SQLITE:
            op.execute(text(statement.replace(":", r"\:")))
