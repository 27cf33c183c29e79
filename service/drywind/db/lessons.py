"""The part of the store that holds what the yard taught: results of weighings, loggers' hours."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from math import nan
from typing import NamedTuple

from drywind.db import schema
from drywind.db.lots import LotShelf


@dataclass(frozen=True)
class Lesson:
    """What weighings taught of a stack.

    Attributes
    ----------
    version
        Of the method and its priors.
    fingerprint
        Of all that was simulated from.
    result, simulated
        What is believed, as JSON, and what was simulated for it.
    """

    stack: str
    made_at: datetime
    version: str
    fingerprint: str
    result: str
    simulated: bytes


class LoggedHour(NamedTuple):
    """What a logger at a site measured in the hour that starts; nan where it did not."""

    time_utc: datetime
    temp_c: float
    rh: float
    wind_ms: float


class LessonShelf(LotShelf):
    """The database, open, as far as lessons go; see `drywind.store.Store`."""

    def save_lessons(self, lessons: Iterable[Lesson]) -> None:
        """Keep what was learned of stacks, in place of what was kept before."""
        rows = [
            (x.stack, schema.seconds(x.made_at), x.version, x.fingerprint, x.result, x.simulated)
            for x in lessons
        ]
        with self._transaction() as db:
            db.executemany("INSERT OR REPLACE INTO learned VALUES (?, ?, ?, ?, ?, ?)", rows)

    def lessons(self) -> dict[str, Lesson]:
        """Return what was learned, by stack."""
        return {
            row["stack"]: Lesson(row["stack"], schema.instant(row["made_at"]), *row[2:])
            for row in self._read_sound("learned", "stack")
        }

    def save_logged(self, site: str, hours: Iterable[LoggedHour]) -> int:
        """Keep what a logger measured, in place of the same hours kept before; return how many."""
        rows = [(site, schema.seconds(h.time_utc), h.temp_c, h.rh, h.wind_ms) for h in hours]
        with self._transaction() as db:
            db.executemany("INSERT OR REPLACE INTO logged_hour VALUES (?, ?, ?, ?, ?)", rows)
        return len(rows)

    def forget_logged(self, site: str) -> int:
        """Drop what loggers measured at a site, and taught; return how many hours that was."""
        with self._transaction() as db:
            db.execute("DELETE FROM site_offset WHERE site = ?", (site,))
            return db.execute("DELETE FROM logged_hour WHERE site = ?", (site,)).rowcount

    def save_offset(self, site: str, made_at: datetime, result: str) -> None:
        """Keep what loggers taught of a site, as JSON, in place of what was kept before."""
        self._write(
            "INSERT OR REPLACE INTO site_offset VALUES (?, ?, ?)",
            *(site, schema.seconds(made_at), result),
        )

    def offsets(self) -> dict[str, str]:
        """Return what loggers taught, as JSON, by site."""
        return {row["site"]: row["result"] for row in self._read_sound("site_offset", "site")}

    def logged(self, site: str) -> list[LoggedHour]:
        """Return what loggers measured at a site, in order of time."""
        rows = self._read(
            "SELECT time_utc, temp_c, rh, wind_ms FROM sound_logged_hour WHERE site = ?"
            " ORDER BY time_utc",
            site,
        )
        return [
            LoggedHour(schema.instant(row[0]), *(nan if v is None else v for v in row[1:]))
            for row in rows
        ]
