"""Damaged rows of a store put right from a copy, or dropped where the program makes them anew."""

import sqlite3
from pathlib import Path

from drywind.db.seals import FILE, Sealed, sealed_tables

ENTERED = {"stack", "event", "lot", "logged_hour", "past_year"}
"""What people told: it is never dropped. The rest the program makes anew; a warning is decided
once more."""


def mend_from(db: sqlite3.Connection, copy: Path) -> None:
    """Take from an unpacked copy, of this version, each row that the store lacks a sound form of.

    Only rows whose checksum is the one sealed in the store are taken, and only seals by which the
    store and the copy agree on a row: nothing older than what was written last.
    """
    db.execute("ATTACH DATABASE ? AS old", (str(copy),))
    try:
        with db:
            for table in sealed_tables(db):
                _seal_what_both_hold(db, table)
                _take_what_is_proven(db, table)
                _drop_doubles(db, table)
    finally:
        db.execute("DETACH DATABASE old")


def _seal_what_both_hold(db: sqlite3.Connection, table: Sealed) -> None:
    name = table.name
    same = " AND ".join(f"o.{column} = t.{column}" for column in table.key_columns)
    db.execute(
        f"INSERT OR REPLACE INTO seal SELECT '{name}', {table.key('t')}, {table.crc('t')}"
        f" FROM main.{name} AS t JOIN old.{name} AS o ON {same}"
        f" JOIN old.seal AS s ON s.tbl = '{name}' AND s.key = {table.key('o')}"
        f" WHERE NOT {table.is_sound('t')}"
        f" AND {table.crc('t')} = {table.crc('o')} AND s.crc = {table.crc('o')}"
    )


def _take_what_is_proven(db: sqlite3.Connection, table: Sealed) -> None:
    name, columns = table.name, ", ".join(table.columns)
    updates = ", ".join(f"{column} = excluded.{column}" for column in table.columns)
    db.execute(
        f"INSERT OR IGNORE INTO main.{name} ({columns})"
        f" SELECT {', '.join(f'o.{column}' for column in table.columns)} FROM old.{name} AS o"
        f" JOIN main.seal AS s ON s.tbl = '{name}' AND s.key = {table.key('o')}"
        f" AND s.crc = {table.crc('o')}"
        f" WHERE {table.key('o')} NOT IN (SELECT {table.key('t')} FROM sound_{name} AS t)"
        f" ON CONFLICT ({', '.join(table.key_columns)}) DO UPDATE SET {updates}"
    )


def _drop_doubles(db: sqlite3.Connection, table: Sealed) -> None:
    """Drop what is there twice now: seals and rows that go by a damaged key."""
    name = table.name
    db.execute(
        f"DELETE {_rowless(table)} AND crc IN (SELECT {table.crc('t')} FROM sound_{name} AS t)"
    )
    if db.execute(f"SELECT 1 {_rowless(table)} LIMIT 1").fetchone() is None:
        db.execute(f"DELETE FROM main.{name} AS t WHERE NOT {table.is_sound('t')}")


def drop_unsound(db: sqlite3.Connection) -> None:
    """Drop the rows that match no seal and the seals that match no row, but for the `ENTERED`."""
    tables = sealed_tables(db)
    for table in tables:
        if table.name not in ENTERED:
            db.execute(f"DELETE FROM main.{table.name} AS t WHERE NOT {table.is_sound('t')}")
            db.execute(f"DELETE {_rowless(table)}")
    known = ", ".join(f"'{name}'" for name in (FILE, *(table.name for table in tables)))
    db.execute(f"DELETE FROM main.seal WHERE tbl NOT IN ({known})")


def _rowless(table: Sealed) -> str:
    """Return the SQL of the seals of a table that match no row."""
    return (
        f"FROM main.seal WHERE tbl = '{table.name}'"
        f" AND key NOT IN (SELECT {table.key('t')} FROM sound_{table.name} AS t)"
    )
