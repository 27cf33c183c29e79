"""A checksum of every row that cannot be had again, so that no flipped byte is taken for true.

SQLite's own check looks at how pages hang together: most single flipped bytes within a row pass it.
So each connection that writes keeps, by triggers of its own, the CRC-32 of each row in the table
``seal``, in the same transaction; no code that writes a row can forget it. Rows are read by the
views ``sound_…``, which leave out what does not match its seal; `damage` names it.
"""

import sqlite3
import zlib
from dataclasses import dataclass
from struct import pack

LOOSE = {"seal", "weather_hour", "foretold"}
"""Tables without seals: hours of weather are many, are got again or outlived, and are held to what
can be outdoors."""


FILE = "sqlite_schema"
"""The tables' own description in the file, which only an upgrade changes; sealed by that."""


@dataclass(frozen=True)
class Sealed:
    """A table whose rows are sealed."""

    name: str
    columns: tuple[str, ...]
    key_columns: tuple[str, ...]

    def key(self, row: str) -> str:
        """Return the SQL of what tells a row, by the name of the table or its alias, as text.

        A number that is not cast would be compared as one, past the index.
        """
        return " || '|' || ".join(f"CAST({row}.{column} AS TEXT)" for column in self.key_columns)

    def crc(self, row: str) -> str:
        """Return the SQL of a row's checksum; bytes that are no text must not end the query."""
        values = (
            f"CASE typeof({row}.{c}) WHEN 'text' THEN CAST({row}.{c} AS BLOB) ELSE {row}.{c} END"
            for c in self.columns
        )
        return f"crc({', '.join(values)})"

    def is_sound(self, row: str) -> str:
        """Return the SQL of whether a row is as it was written."""
        return (
            f"(SELECT crc FROM main.seal WHERE tbl = '{self.name}' AND key = {self.key(row)})"
            f" IS {self.crc(row)}"
        )


def sealed_tables(db: sqlite3.Connection) -> list[Sealed]:
    """Return the tables whose rows are sealed: all but the `LOOSE`."""
    names = [
        name
        for (name,) in db.execute(
            "SELECT name FROM main.sqlite_schema WHERE type = 'table'"
            " AND name NOT LIKE 'sqlite\\_%' ESCAPE '\\' ORDER BY name"
        ).fetchall()
        if name not in LOOSE
    ]
    found = []
    for name in names:
        columns = db.execute(f"PRAGMA main.table_info({name})").fetchall()
        keys = sorted((place, column) for _, column, *_, place in columns if place)
        found.append(
            Sealed(name, tuple(c[1] for c in columns), tuple(column for _, column in keys))
        )
    return found


_DESCRIPTION = Sealed(FILE, ("type", "name", "tbl_name", "sql"), ("type", "name"))


def description_is_sound(db: sqlite3.Connection) -> bool:
    """Return whether the tables are still described as the last upgrade left them."""
    db.create_function("crc", -1, _crc, deterministic=True)
    of = _DESCRIPTION
    (off,) = db.execute(
        f"SELECT count(*) FROM seal AS s LEFT JOIN main.{FILE} AS t ON {of.key('t')} = s.key"
        f" WHERE s.tbl = '{FILE}' AND s.crc IS NOT {of.crc('t')}"
    ).fetchone()
    return bool(off == 0)


def prepare(db: sqlite3.Connection) -> None:
    """Give a connection the views of sound rows, and the triggers that seal what it writes.

    They are its own and never in the file: a table changed by an upgrade has them anew.
    """
    db.create_function("crc", -1, _crc, deterministic=True)
    db.execute("PRAGMA temp_store = MEMORY")
    for table in sealed_tables(db):
        name = table.name
        unseal = f"DELETE FROM seal WHERE tbl = '{name}' AND key = {table.key('OLD')}"
        seal = (
            f"INSERT OR REPLACE INTO seal VALUES ('{name}', {table.key('NEW')}, {table.crc('NEW')})"
        )
        db.execute(
            f"CREATE TEMP VIEW sound_{name} AS SELECT * FROM main.{name} AS t"
            f" WHERE {table.is_sound('t')}"
        )
        for what, done in {
            "INSERT": [seal],
            "UPDATE": [unseal, seal],
            "DELETE": [unseal],
        }.items():
            db.execute(
                f"CREATE TEMP TRIGGER seal_{what}_{name} AFTER {what} ON main.{name}"
                f" BEGIN {'; '.join(done)}; END"
            )


def damage(db: sqlite3.Connection, *only: str) -> list[str]:
    """Return what is not as it was written, like ``stack R7``; rows that are gone too.

    Of the tables named, or of all.
    """
    tables = sealed_tables(db)
    known = ", ".join(f"'{name}'" for name in (FILE, *(table.name for table in tables)))
    as_bytes = "SELECT CAST(tbl AS BLOB), CAST(key AS BLOB)"
    queries = [f"{as_bytes} FROM main.seal WHERE tbl NOT IN ({known})"]
    for table in tables if not only else [t for t in tables if t.name in only]:
        name, key = table.name, table.key("t")
        seals = f"FROM main.seal WHERE tbl = '{name}'"
        rows = f"(SELECT '{name}' AS tbl, {key} AS key FROM main.{name} AS t)"
        queries += [
            f"{as_bytes} {seals} AND key NOT IN (SELECT {key} FROM sound_{name} AS t)",
            f"{as_bytes} FROM {rows} WHERE key NOT IN (SELECT key {seals})",
        ]
    found = (row for query in queries for row in db.execute(query).fetchall())
    return sorted({b" ".join(row).decode(errors="replace") for row in found})


def reseal(db: sqlite3.Connection, spoiled: set[str]) -> None:
    """Seal all rows anew, after tables were changed, but not what was found spoiled before."""
    db.create_function("crc", -1, _crc, deterministic=True)
    keep = ", ".join(_quoted(name) for name in spoiled) or "''"
    db.execute(f"DELETE FROM seal WHERE tbl || ' ' || key NOT IN ({keep})")
    for table in (_DESCRIPTION, *sealed_tables(db)):
        name, key = table.name, table.key("t")
        db.execute(
            f"INSERT INTO seal SELECT '{name}', {key}, {table.crc('t')} FROM main.{name} AS t"
            f" WHERE '{name} ' || {key} NOT IN ({keep})"
        )


def _quoted(text: str) -> str:
    escaped = text.replace("'", "''")
    return f"'{escaped}'"


def _crc(*values: bytes | float | None) -> int:
    """Return the CRC-32 of a row; every kind of value has bytes of its own."""
    found = 0
    for value in values:
        if isinstance(value, bytes):
            coded = b"b%d:" % len(value) + value
        elif isinstance(value, float):
            coded = b"f" + pack(">d", value)
        else:
            coded = b"n" if value is None else b"i%d;" % value
        found = zlib.crc32(coded, found)
    return found
