"""The part of the store that looks after what is in it: how long, whether sound, all of it."""

import sqlite3
from collections.abc import Iterator
from contextlib import suppress
from datetime import datetime, timedelta
from pathlib import Path
from sqlite3 import Row
from typing import Literal

from drywind.db import merging, schema
from drywind.db.database import plain_errors
from drywind.db.lessons import LessonShelf
from drywind.db.recovery import Kind, Recovery
from drywind.db.seals import damage
from drywind.yard import EventKind

RETENTION = timedelta(days=400)
"""How long decisions, and what became of their messages, are kept."""

KEEP_STORIES = timedelta(days=60)
"""How long the e-mails' own words are kept; their subjects, and all texts, stay for `RETENTION`."""

KEEP_WEATHER = timedelta(days=3 * 365)
"""How long weather is kept: no stack stands longer (assumption)."""

KEEP_FORETOLD = timedelta(days=120)
"""How long hours of each issue are kept, to score forecasts by."""


class Upkeep(LessonShelf):
    """The database, open, as far as its upkeep goes; see `drywind.store.Store`."""

    def done_at(self, job: str) -> datetime | None:
        """Return when a job was last done to its end, or None."""
        rows = self._read("SELECT done_at FROM sound_job WHERE name = ?", job)
        return schema.instant(rows[0]["done_at"]) if rows else None

    def note_done(self, job: str, now: datetime) -> None:
        """Note that a job was done to its end."""
        self._write("INSERT OR REPLACE INTO job VALUES (?, ?)", job, schema.seconds(now))

    def newest_stamp(self) -> datetime | None:
        """Return the latest instant at which anything was decided, or None."""
        [row] = self._read("SELECT max(made_at) AS at FROM sound_decision")
        return schema.instant_or_none(row["at"])

    def pull_back(self, now: datetime) -> None:
        """Let nothing lie in the future that a clock that ran ahead has noted there."""
        limit = now + timedelta(hours=1)
        with self._transaction() as db:
            for table, column in (
                ("weather_hour", "issued_at"),
                ("ensemble", "issued_at"),
                ("decision", "made_at"),
                ("job", "done_at"),
            ):
                db.execute(
                    f"UPDATE {table} SET {column} = ? WHERE {column} > ?",  # noqa: S608
                    (schema.seconds(now), schema.seconds(limit)),
                )

    def fold(self) -> None:
        """Bring all that was committed into the one file, so that it can be moved."""
        with plain_errors(self.path):
            self._db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
            self._db.execute("PRAGMA journal_mode = DELETE")

    def take_over(self, copy: Path) -> None:
        """Bring home what a copy of this store has newer, all of it or nothing."""
        with plain_errors(self.path):
            self._db.execute("ATTACH ? AS kept", (str(copy),))
        try:
            with self._transaction() as db:
                merging.take_over(db)
        finally:
            with suppress(sqlite3.Error):
                self._db.execute("DETACH kept")

    def prune(self, now: datetime) -> None:
        """Drop what was kept long enough, and the checkpoints of ended stacks."""
        with self._transaction() as db:
            db.execute(
                "DELETE FROM checkpoint WHERE stack IN (SELECT stack FROM event WHERE kind = ?)",
                (EventKind.ENDED,),
            )
            db.execute("DELETE FROM decision WHERE made_at < ?", (schema.seconds(now - RETENTION),))
            db.execute(
                "UPDATE outbox SET story = '', html = '' WHERE next_try_at IS NULL AND story <> ''"
                " AND id IN (SELECT id FROM decision WHERE made_at < ?)",
                (schema.seconds(now - KEEP_STORIES),),
            )
            db.execute(
                "DELETE FROM foretold WHERE time_utc < ?", (schema.seconds(now - KEEP_FORETOLD),)
            )
            db.execute(
                "DELETE FROM weather_hour WHERE time_utc < ?", (schema.seconds(now - KEEP_WEATHER),)
            )

    def every(self, table: Literal["weather_hour", "decision", "outcome"]) -> Iterator[Row]:
        """Return all that is kept of a kind, in order, row by row; decisions with their message."""
        query = {
            "weather_hour": "SELECT * FROM weather_hour ORDER BY place, time_utc, source",
            "decision": "SELECT * FROM sound_decision LEFT JOIN sound_outbox USING (id)"
            " ORDER BY id",
            "outcome": "SELECT * FROM sound_outcome ORDER BY id",
        }[table]
        with plain_errors(self.path):
            yield from self._db.execute(query)

    def told(self) -> list[str]:
        """Return all contacts anything was ever decided about."""
        return [row[0] for row in self._read("SELECT DISTINCT contact FROM sound_decision")]

    def damage(self) -> list[str]:
        """Return the rows that are not as they were written, like ``stack R7``; they are not used.

        One query over all there is: for the night and the start, see `recovery.make_sound`.
        """
        with plain_errors(self.path):
            return damage(self._db)

    def last_recovery(self) -> Recovery | None:
        """Return what was last done about a damaged store."""
        rows = self._read("SELECT * FROM sound_recovery ORDER BY id DESC LIMIT 1")
        if not rows:
            return None
        row = rows[0]
        backup_at = schema.instant_or_none(row["backup_at"])
        return Recovery(schema.instant(row["at"]), Kind(row["kind"]), backup_at, row["detail"])
