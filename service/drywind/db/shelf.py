"""The part of the store that holds weather: hours as each service told them, and how to ask it."""

import logging
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from datetime import datetime, timedelta
from pathlib import Path
from sqlite3 import Connection, Row
from typing import NamedTuple, Self

from drywind.db import schema
from drywind.db.database import plain_errors
from drywind.db.opening import connect, connect_to_read
from drywind.db.seals import damage
from drywind.weather.hour import BOUNDS, VALUES, WeatherHour
from drywind.weather.validators import Remembered

_log = logging.getLogger(__name__)

FORETOLD = ("temp_c", "rh", "wind_ms", "cloud")
"""What is kept of an hour foretold."""

FORETOLD_EVERY_H = 3
"""Every so many hours of the day an hour of an issue is kept, to score forecasts by."""

ISSUES_APART = timedelta(hours=6)
"""An issue sooner after the last kept is not kept: it errs as that one does, and the store would
grow by half a gigabyte in a year (assumption: the global models are run every six hours)."""

_SAVE_HOUR = """
INSERT OR REPLACE INTO weather_hour SELECT ?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12
WHERE NOT EXISTS (
  SELECT 1 FROM weather_hour WHERE place = ?1 AND source = ?2 AND time_utc = ?3
  AND (
    issued_at > ?12
    OR (temp_c + rh + wind_ms IS NOT NULL AND ?4 + ?5 + ?6 IS NULL)
    OR (
      issued_at >= time_utc + 3600
      AND (temp_c, rh, wind_ms, wind_dir_deg, gust_ms, ghi_wm2, cloud, rain_mm)
      IS (?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11)
    )
  )
)
"""


def _possible(columns: Sequence[str]) -> str:
    """Return the SQL of columns of weather; what cannot be is unknown: no seal guards these."""
    bounds = ((column, *BOUNDS[column]) for column in columns)
    return ", ".join(
        f"CASE WHEN {c} BETWEEN {low} AND {high} THEN {c} END" for c, low, high in bounds
    )


_A_TIME = "issued_at BETWEEN 0 AND 4102444800"
"""Of this century; the hours of a byte that was flipped need not be."""

_HOURS = (
    f"SELECT place, source, time_utc, {_possible(VALUES)}, issued_at FROM weather_hour"
    f" WHERE place = ? AND time_utc >= ? AND time_utc < ? AND time_utc % 3600 = 0 AND {_A_TIME}"
    " ORDER BY time_utc, source"
)
_FORETOLD = (
    f"SELECT place, source, time_utc, issued_at, {_possible(FORETOLD)} FROM foretold"
    f" WHERE place = ? AND source = ? AND time_utc >= ? AND time_utc % 3600 = 0 AND {_A_TIME}"
    " AND time_utc < issued_at + 90 * 86400"
)


class KeptYear(NamedTuple):
    """A past year a person handed in; its hours as `drywind.weather.usual` packs them."""

    year: int
    name: str
    lat: float
    lon: float
    is_typical: bool
    hours: bytes


class WeatherShelf:
    """The database, open, as far as weather goes; see `drywind.store.Store`."""

    def __init__(self, path: Path, *, to_read: bool = False) -> None:
        self.path = path
        self.up_to_date = True
        """Whether what was written last is there to read, see `drywind.db.database.look`."""
        if to_read:
            self._db, self.up_to_date = connect_to_read(path)
        else:
            self._db = connect(path)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Close the database; nothing is left to be written."""
        self._db.close()

    @contextmanager
    def _transaction(self) -> Iterator[Connection]:
        with plain_errors(self.path), self._db:
            yield self._db

    def _write(self, sql: str, *values: object) -> int:
        with self._transaction() as db:
            return db.execute(sql, values).rowcount

    def _read(self, sql: str, *values: object) -> list[Row]:
        with plain_errors(self.path):
            return self._db.execute(sql, values).fetchall()

    def _read_sound(self, table: str, order: str) -> list[Row]:
        """Return the rows of a table that are as they were written; the others are logged."""
        rows = self._read(f"SELECT * FROM sound_{table} ORDER BY {order}")
        [(sealed,)] = self._read("SELECT count(*) FROM seal WHERE tbl = ?", table)
        if len(rows) != sealed:
            with plain_errors(self.path):
                for what in damage(self._db, table):
                    _log.error("%s is not as it was written, and is not used", what)
        return rows

    def save_hours(self, place: str, hours: Iterable[WeatherHour]) -> int:
        """Keep hours of weather; return how many.

        Not kept are those of which the same service told later, those that lack temperature,
        humidity or wind where it told all three before, and those that were over when it told the
        same of them before: they would only wear the disk.
        """
        rows = [(place, *schema.hour_values(hour)) for hour in hours]
        with self._transaction() as db:
            return db.executemany(_SAVE_HOUR, rows).rowcount

    def hours(self, place: str, start: datetime, end: datetime) -> list[WeatherHour]:
        """Return the hours of a place from `start` up to, not including, `end`, in order.

        An hour told by several services is there as often.
        """
        rows = self._read(_HOURS, place, schema.seconds(start), schema.seconds(end))
        return [schema.read_hour(row) for row in rows]

    def latest_issue(
        self, place: str, source: str | None = None, reaching: datetime | None = None
    ) -> datetime | None:
        """Return when the newest weather of a place was issued, or None.

        Parameters
        ----------
        source
            Whose; None is anybody's.
        reaching
            Only of hours from then on.
        """
        [row] = self._read(
            "SELECT max(issued_at) AS at FROM weather_hour WHERE place = ?1"
            f" AND {_A_TIME} AND (?2 IS NULL OR source = ?2)"
            " AND (?3 IS NULL OR (time_utc >= ?3 AND issued_at <= time_utc))",
            *(place, source, schema.seconds(reaching)),
        )
        return schema.instant_or_none(row["at"])

    def remember(self, place: str, service: str, known: Remembered) -> None:
        """Remember how a service stands at a place."""
        self._write(
            "INSERT OR REPLACE INTO service VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
            *(place, service, *schema.remembered_values(known)),
        )

    def remembered(self, place: str, service: str) -> Remembered:
        """Return what is remembered of a service at a place."""
        rows = self._read(
            "SELECT * FROM sound_service WHERE place = ? AND name = ?", place, service
        )
        return schema.read_remembered(rows[0]) if rows else Remembered()

    def note_foretold(self, place: str, hours: Iterable[WeatherHour]) -> None:
        """Keep some hours of an issue as it foretold them; see `ISSUES_APART`."""
        rows = [
            (
                place,
                h.source,
                schema.seconds(h.issued_at),
                schema.seconds(h.time_utc),
                h.temp_c,
                h.rh,
                h.wind_ms,
                h.cloud,
                ISSUES_APART.total_seconds(),
            )
            for h in hours
            if h.time_utc >= h.issued_at and h.time_utc.hour % FORETOLD_EVERY_H == 0
        ]
        with self._transaction() as db:
            db.executemany(
                "INSERT OR IGNORE INTO foretold SELECT ?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8"
                " WHERE NOT EXISTS (SELECT 1 FROM foretold WHERE place = ?1 AND source = ?2"
                " AND issued_at > ?3 - ?9 AND issued_at < ?3)",
                rows,
            )

    def foretold(self, place: str, source: str, since: datetime) -> list[Row]:
        """Return the hours kept of each issue from `since` on."""
        return self._read(_FORETOLD, place, source, schema.seconds(since))

    def save_ensemble(self, place: str, issued_at: datetime, members: bytes) -> None:
        """Keep the newest ensemble of a place, in place of the one kept before."""
        self._write(
            "INSERT OR REPLACE INTO ensemble VALUES (?, ?, ?)",
            *(place, schema.seconds(issued_at), members),
        )

    def ensemble(self, place: str) -> tuple[datetime, bytes] | None:
        """Return when the ensemble kept of a place was issued, and its members; or None."""
        rows = self._read("SELECT * FROM sound_ensemble WHERE place = ?", place)
        return (schema.instant(rows[0]["issued_at"]), rows[0]["members"]) if rows else None

    def save_past_year(self, place: str, kept: KeptYear) -> None:
        """Keep a past year of a place, in place of the same one kept before."""
        self._write(
            "INSERT OR REPLACE INTO past_year VALUES (?, ?, ?, ?, ?, ?, ?)",
            *(place, kept.year, kept.name, kept.lat, kept.lon, kept.is_typical, kept.hours),
        )

    def past_years(self, place: str) -> list[KeptYear]:
        """Return the past years kept of a place, in order."""
        rows = self._read("SELECT * FROM past_year WHERE place = ? ORDER BY year, name", place)
        return [
            KeptYear(r["year"], r["name"], r["lat"], r["lon"], bool(r["is_typical"]), r["hours"])
            for r in rows
        ]

    def forget_past_years(self, place: str) -> int:
        """Forget the past years kept of a place; return how many there were."""
        return self._write("DELETE FROM past_year WHERE place = ?", place)
