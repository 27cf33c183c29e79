"""The part of the store that holds weather: hours as each service told them, and how to ask it."""

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from sqlite3 import Connection, Row
from typing import NamedTuple, Self

from drywind import schema
from drywind.weather.hour import WeatherHour
from drywind.weather.validators import Remembered

FORETOLD_EVERY_H = 3
"""Every so many hours of the day an hour of each issue is kept, to score forecasts by."""


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

    def __init__(self, path: Path) -> None:
        self.path = path
        self._db = schema.connect(path)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Close the database; nothing is left to be written."""
        self._db.close()

    @contextmanager
    def _transaction(self) -> Iterator[Connection]:
        with schema.plain_errors(self.path), self._db:
            yield self._db

    def _write(self, sql: str, *values: object) -> int:
        with self._transaction() as db:
            return db.execute(sql, values).rowcount

    def _read(self, sql: str, *values: object) -> list[Row]:
        with schema.plain_errors(self.path):
            return self._db.execute(sql, values).fetchall()

    def save_hours(self, place: str, hours: Iterable[WeatherHour]) -> int:
        """Keep hours of weather; return how many.

        Not kept are those of which the same service told later, and those that lack temperature,
        humidity or wind where it told all three before.
        """
        rows = [(place, *schema.hour_values(hour)) for hour in hours]
        with self._transaction() as db:
            return db.executemany(
                "INSERT OR REPLACE INTO weather_hour"
                " SELECT ?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12 WHERE NOT EXISTS"
                " (SELECT 1 FROM weather_hour WHERE place = ?1 AND source = ?2 AND time_utc = ?3"
                " AND (issued_at > ?12 OR (temp_c + rh + wind_ms IS NOT NULL"
                " AND ?4 + ?5 + ?6 IS NULL)))",
                rows,
            ).rowcount

    def hours(self, place: str, start: datetime, end: datetime) -> list[WeatherHour]:
        """Return the hours of a place from `start` up to, not including, `end`, in order.

        An hour told by several services is there as often.
        """
        rows = self._read(
            "SELECT * FROM weather_hour WHERE place = ? AND time_utc >= ? AND time_utc < ?"
            " ORDER BY time_utc, source",
            *(place, schema.seconds(start), schema.seconds(end)),
        )
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
            " AND (?2 IS NULL OR source = ?2) AND (?3 IS NULL OR time_utc >= ?3)",
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
        rows = self._read("SELECT * FROM service WHERE place = ? AND name = ?", place, service)
        return schema.read_remembered(rows[0]) if rows else Remembered()

    def note_foretold(self, place: str, hours: Iterable[WeatherHour]) -> None:
        """Keep some hours of an issue as it foretold them."""
        rows = [
            (
                place,
                h.source,
                schema.seconds(h.time_utc),
                schema.seconds(h.issued_at),
                h.temp_c,
                h.rh,
                h.wind_ms,
                h.cloud,
            )
            for h in hours
            if h.time_utc >= h.issued_at and h.time_utc.hour % FORETOLD_EVERY_H == 0
        ]
        with self._transaction() as db:
            db.executemany("INSERT OR IGNORE INTO foretold VALUES (?, ?, ?, ?, ?, ?, ?, ?)", rows)

    def foretold(self, place: str, source: str, since: datetime) -> list[Row]:
        """Return the hours kept of each issue from `since` on."""
        return self._read(
            "SELECT * FROM foretold WHERE place = ? AND source = ? AND time_utc >= ?",
            *(place, source, schema.seconds(since)),
        )

    def save_ensemble(self, place: str, issued_at: datetime, members: bytes) -> None:
        """Keep the newest ensemble of a place, in place of the one kept before."""
        self._write(
            "INSERT OR REPLACE INTO ensemble VALUES (?, ?, ?)",
            *(place, schema.seconds(issued_at), members),
        )

    def ensemble(self, place: str) -> tuple[datetime, bytes] | None:
        """Return when the ensemble kept of a place was issued, and its members; or None."""
        rows = self._read("SELECT issued_at, members FROM ensemble WHERE place = ?", place)
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
