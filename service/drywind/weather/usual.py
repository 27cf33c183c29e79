"""What the weather usually is: past years that stand for the weeks no forecast reaches.

A year is kept as its 8,760 hours by UTC, without a 29 February, and is laid over other weeks by
the calendar. Where it was measured elsewhere, its hours are moved so that noon stays noon.
"""

import csv
import io
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from enum import StrEnum
from functools import cache
from importlib import resources
from typing import NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from drywind.weather.hour import NEEDED, VALUES
from drywind.weather.nws_stations import distance_km
from drywind.weather.sun import with_sun
from drywind.weather.table import hourly

Floats = NDArray[np.float64]

HOURS = 8760
SOURCE = "past_year"
"""The source of hours that a past year stands for."""

STEPS = {
    "temp_c": 0.1,
    "rh": 0.001,
    "wind_ms": 0.1,
    "wind_dir_deg": 1.0,
    "ghi_wm2": 1.0,
    "cloud": 0.01,
    "rain_mm": 0.1,
}
"""What is kept of an hour, and to what step; gusts act on no board."""

UNKNOWN = np.iinfo(np.int16).min
LEAST_SHARE = 0.25
"""Less of a year tells nothing worth keeping (assumption)."""

SHIFTS_DAYS = (0, 7, -7, 14, -14)
DRAWS = len(SHIFTS_DAYS)
"""Fewer years than these are also laid a week or two earlier and later: single weeks of one year
are chance (assumption)."""

_FIRST = datetime(2001, 1, 1, tzinfo=UTC)


class Origin(StrEnum):
    """Where past years are from."""

    YARD = "yard"
    """Imported for, or watched at, the place itself."""
    SHIPPED = "shipped"


@dataclass(frozen=True, eq=False)
class PastYear:
    """A year of hours somewhere.

    Attributes
    ----------
    year
        Of a typical year the nominal one, whose months are of many years.
    hours
        Shape (8760, len(STEPS)), from 1 January 0:00 UTC on; NaN is unknown.
    """

    name: str
    lat: float
    lon: float
    year: int
    is_typical: bool
    hours: Floats

    @property
    def label(self) -> str:
        """Name it for people: Greensboro, NC (typical year)."""
        return f"{self.name} ({'typical year' if self.is_typical else self.year})"


class Draw(NamedTuple):
    """A year, and by how many days its weeks are moved."""

    which: int
    shift_days: int


@dataclass(frozen=True, eq=False)
class Usual:
    """The past years that stand for a place.

    Attributes
    ----------
    years
        By year; not empty.
    distance_km
        From the place to where they were measured.
    lon
        Of the place.
    """

    years: tuple[PastYear, ...]
    origin: Origin
    distance_km: float
    lon: float

    @property
    def words(self) -> str:
        """Say which years these are, and how far off."""
        names = dict.fromkeys(y.name for y in self.years)
        if self.years[0].is_typical:
            told = f"the typical year of {', '.join(names)}"
        elif len(self.years) == 1:
            told = f"{self.years[0].year} at {self.years[0].name}"
        else:
            first, last = self.years[0].year, self.years[-1].year
            told = f"{len(self.years)} years at {', '.join(names)} ({first} to {last})"
        return told if self.distance_km < 1 else f"{told}, {self.distance_km:.0f} km off"

    @property
    def draws(self) -> tuple[Draw, ...]:
        """The weathers it stands for: each year as it was, and where these are few, moved too."""
        shifts = SHIFTS_DAYS if len(self.years) < DRAWS else (0,)
        return tuple(Draw(i, shift) for shift in shifts for i in range(len(self.years)))

    def values(self, draw: Draw, start: datetime, hours: int) -> Floats:
        """Return so many hours from `start` on as that year had them; it goes on into the next.

        Where the next is missing the year begins again.
        """
        lag = round((self.lon - self.years[draw.which].lon) / 15.0)
        first = hour_of_year(start) + lag - 24 * draw.shift_days
        at = first + np.arange(hours)
        found = np.empty((hours, len(STEPS)))
        turns = at // HOURS
        for turn in np.unique(turns):
            mine = turns == turn
            found[mine] = self._year_after(draw.which, int(turn)).hours[at[mine] % HOURS]
        return found

    def _year_after(self, which: int, turns: int) -> PastYear:
        wanted = self.years[which].year + turns
        return next((y for y in self.years if y.year == wanted), self.years[which])

    def known(self, start: datetime, hours: int) -> tuple[Draw, ...]:
        """Return the draws that know all that drying needs of a span."""
        needed = [list(STEPS).index(name) for name in NEEDED]
        return tuple(
            draw
            for draw in self.draws
            if np.isfinite(self.values(draw, start, hours)[:, needed]).all()
        )


def hour_of_year(instant: datetime) -> int:
    """Return the hour of a year without a 29 February; that day counts as the 28th."""
    day = 28 if (instant.month, instant.day) == (2, 29) else instant.day
    there = instant.astimezone(UTC).replace(year=_FIRST.year, day=day)
    return (there - _FIRST) // timedelta(hours=1)


def continued(table: pd.DataFrame, usual: Usual, draw: Draw, end: datetime) -> pd.DataFrame:
    """Return a table whose hours after the last known one, up to `end`, are those of a past year.

    A gap within stays unknown.
    """
    known = table.index[table[list(NEEDED)].notna().all(axis=1)]
    last = known[-1] if len(known) else table.index[0] - pd.Timedelta(hours=1)
    index = pd.date_range(
        last + pd.Timedelta(hours=1), end, freq="h", inclusive="left", name="time_utc"
    )
    return pd.concat([table.loc[:last], laid_over(usual, draw, index)])


def laid_over(usual: Usual, draw: Draw, index: pd.DatetimeIndex) -> pd.DataFrame:
    """Return the canonical table of some hours in a row, as a past year had them."""
    start = index[0].to_pydatetime() if len(index) else _FIRST
    frame = pd.DataFrame(usual.values(draw, start, len(index)), index=index, columns=list(STEPS))
    return frame.reindex(columns=list(VALUES)).assign(
        source=SOURCE, issued_at=pd.Series(pd.NaT, index=index, dtype="datetime64[us, UTC]")
    )


def years_of(
    table: pd.DataFrame, name: str, place: tuple[float, float], *, is_typical: bool
) -> list[PastYear]:
    """Return the years of a canonical table, its gaps bridged, the sun filled in.

    A year with less than a quarter of its hours is left out.
    """
    end = table.index[-1].to_pydatetime() + timedelta(hours=1)
    hours = with_sun(hourly(table, table.index[0].to_pydatetime(), end), *place)
    index = pd.DatetimeIndex(hours.index)
    leap = (index.month == 2) & (index.day == 29)  # noqa: PLR2004
    at = np.array([hour_of_year(t.to_pydatetime()) for t in index])
    # What a typical year's own clock carries into the next year belongs to its beginning.
    years = np.full(len(index), index.year[0]) if is_typical else index.year.to_numpy()
    made = []
    for year in np.unique(years):
        mine = (years == year) & ~leap
        values = np.full((HOURS, len(STEPS)), np.nan)
        values[at[mine]] = hours.loc[mine, list(STEPS)].to_numpy(float)
        if np.isfinite(values[:, 0]).mean() >= LEAST_SHARE:
            made.append(PastYear(name, *place, int(year), is_typical, _patched(values)))
    return made


def _patched(values: Floats) -> Floats:
    """Return a year in which the days around stand in for hours missing in a row of two days.

    It stands for a season, not for a day (assumption).
    """
    needed = [list(STEPS).index(name) for name in NEEDED]
    for hours in (24, -24, 48, -48):
        missing = np.isnan(values[:, needed]).any(axis=1, keepdims=True)
        values = np.where(missing, np.roll(values, hours, axis=0), values)
    return values


def packed(year: PastYear) -> bytes:
    """Return a year's hours as bytes to keep, to the steps of `STEPS`."""
    scaled = np.round(year.hours / list(STEPS.values()))
    whole = np.where(np.isnan(scaled), UNKNOWN, scaled).astype(np.int16)
    buffer = io.BytesIO()
    np.savez_compressed(buffer, **dict(zip(STEPS, whole.T, strict=True)))
    return buffer.getvalue()


def unpacked(blob: bytes) -> Floats:
    """Return the hours that `packed` was given."""
    with np.load(io.BytesIO(blob), allow_pickle=False) as arrays:
        columns = [_scaled(arrays[name], step) for name, step in STEPS.items()]
    return np.column_stack(columns)


def _scaled(whole: NDArray[np.int16], step: float) -> Floats:
    return np.where(whole == UNKNOWN, np.nan, whole * step)


def nearest(lat: float, lon: float) -> Usual:
    """Return the shipped years of the place nearest to another."""
    years = shipped()
    name = min(years, key=lambda y: distance_km((y.lat, y.lon), (lat, lon))).name
    there = tuple(y for y in years if y.name == name)
    return Usual(there, Origin.SHIPPED, distance_km((there[0].lat, there[0].lon), (lat, lon)), lon)


def of_place(years: Sequence[PastYear], lat: float, lon: float) -> Usual:
    """Return years that are the place's own: those observed, or where none is, a typical one."""
    observed = [replace(y) for y in years if not y.is_typical]
    chosen = sorted(observed or years[-1:], key=lambda y: y.year)
    far = max(distance_km((y.lat, y.lon), (lat, lon)) for y in chosen)
    return Usual(tuple(chosen), Origin.YARD, far, lon)


@cache
def shipped() -> tuple[PastYear, ...]:
    """Return the years that come with the program; `years/index.csv` says of where."""
    return tuple(_shipped())


def _shipped() -> Iterator[PastYear]:
    folder = resources.files("drywind.weather").joinpath("years")
    with folder.joinpath("index.csv").open(encoding="utf-8") as file:
        for row in csv.DictReader(file):
            hours = unpacked(folder.joinpath(f"{row['file']}.npz").read_bytes())
            place = (float(row["lat"]), float(row["lon"]))
            typical = row["is_typical"] == "1"
            yield PastYear(row["name"], *place, int(row["year"]), typical, hours)
