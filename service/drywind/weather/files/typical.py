"""What TMY2, TMY3 and EPW share: a station, and a year of hours on its standard clock.

Each row is the hour that ends at its stamp, 1-24, of local standard time: the sun is that hour's
mean, the other values were observed at its end. The whole row goes to the start of the hour, as
EnergyPlus and pvlib have it.

The months of a typical year are of different years. They are put on one nominal year, so that the
hours follow one another; what a stack does across the joins is fiction. What these files call rain
mixes sums over one, three and six hours with gaps, and is left unknown.
"""

import calendar
from typing import NamedTuple

import numpy as np
import pandas as pd

from drywind.weather.files.parsed import Parsed, Place
from drywind.weather.files.text import Column, Text

NOMINAL_YEAR = 2001
"""The year a typical year is put on: without a 29 February, as typical years are."""

_YEARS = range(1900, 2101)
_CLOCK = ["year", "month", "day", "hour"]


class Station(NamedTuple):
    """Where a file's weather was measured, and how far its clock is ahead of UTC."""

    lat: float
    lon: float
    altitude_m: float
    clock_h: float


_POSSIBLE = ((-90, 90), (-180, 180), (-450, 9000), (-12, 14))


def clock(*at: int | slice) -> dict[str, Column]:
    """Return the columns of a stamp's year, month, day and hour."""
    return {name: Column(place) for name, place in zip(_CLOCK, at, strict=True)}


def read_station(text: Text, *order: str) -> Station:
    """Read a station from the last cells of the first line, which stand in this order.

    Raises
    ------
    UsageError
        If there are fewer, or one is no number.
    """
    cells = text.lines[0].split(",")[-len(order) :]
    if len(cells) < len(order):
        raise text.fault(1, f"it does not end with a station's {', '.join(order)}")
    numbers = text.to_numbers(pd.DataFrame([cells], index=[1], columns=order, dtype=str))
    return Station(**numbers.loc[1])


def parse(text: Text, station: Station, rows: pd.DataFrame) -> Parsed:
    """Put a year's rows on the hours of UTC.

    Parameters
    ----------
    station
        From the first line.
    rows
        The year, month, day and hour (1-24) of the stamps, and the values, by line number. A file
        of one whole year keeps that year; any other is put on `NOMINAL_YEAR`.

    Raises
    ------
    UsageError
        If the station cannot be, its clock is not whole hours from UTC, or the rows are not every
        hour of a year in order.
    """
    for name, number, (least, most) in zip(Station._fields, station, _POSSIBLE, strict=True):
        if not least <= number <= most:
            raise text.fault(1, f"{name}: {number:g} does not lie from {least} to {most}")
    if station.clock_h % 1:
        raise text.fault(1, f"clock_h: {station.clock_h:g}; only whole hours from UTC are read")
    hours = rows.drop(columns=_CLOCK)
    hours.index = _starts(text, rows) - pd.Timedelta(hours=station.clock_h)
    return Parsed(hours, Place(station.lat, station.lon, station.altitude_m))


def _starts(text: Text, rows: pd.DataFrame) -> pd.DatetimeIndex:
    """Return the starts of the rows' hours on the station's clock, written as if it were UTC."""
    years = rows["year"].unique()
    one = len(years) == 1 and years[0] in _YEARS and len(rows) == _hours_in(int(years[0]))
    year = int(years[0]) if one else NOMINAL_YEAR
    due = pd.date_range(f"{year}-01-01", periods=_hours_in(year), freq="h", tz="UTC")
    stamps = np.column_stack([due.month, due.day, due.hour + 1])
    both = min(len(due), len(rows))
    wrong = (rows[_CLOCK[1:]].to_numpy()[:both] != stamps[:both]).any(axis=1)
    if wrong.any():
        month, day, hour = stamps[wrong.argmax()]
        line = rows.index[wrong.argmax()]
        raise text.fault(line, f"month {month}, day {day}, hour {hour} is due here")
    if len(rows) != len(due):
        line = len(text.lines)
        raise text.fault(line, f"the file ends with {len(rows)} of a year's {len(due)} hours")
    return due


def _hours_in(year: int) -> int:
    return 24 * (365 + calendar.isleap(year))
