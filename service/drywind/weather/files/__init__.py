"""Past weather out of files: typical years and observed ones, as the canonical hourly table."""

from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path
from typing import Protocol

import numpy as np
import pandas as pd

from drywind.errors import UsageError
from drywind.weather import table
from drywind.weather.files import epw, isd_lite, own_csv, tmy2, tmy3
from drywind.weather.files.parsed import Parsed, Place
from drywind.weather.files.text import Text, read_text
from drywind.weather.files.typical import NOMINAL_YEAR
from drywind.weather.hour import VALUES

__all__ = ["Place", "WeatherFile", "read_weather_file"]


TYPICAL = (tmy2.KIND, tmy3.KIND, epw.KIND)
"""Kinds of file that may hold a typical year."""


class _Format(Protocol):
    """A kind of file: its name, how it is known by its first lines, and its reader."""

    KIND: str

    def matches(self, text: Text) -> bool: ...
    def parse(self, text: Text) -> Parsed: ...


_FORMATS: tuple[_Format, ...] = (tmy2, tmy3, epw, isd_lite, own_csv)


@dataclass(frozen=True, eq=False)
class WeatherFile:
    """The weather of a file.

    Attributes
    ----------
    table
        The canonical hourly table, in order; hours the file lacks have no row. `source` and
        `issued_at` are the kind of file and the hour itself, unless the file names them.
    lat, lon, altitude_m
        Where it was measured: degrees, north and east positive, and meters above the sea.
    kind
        What the file is: TMY2, TMY3, EPW, ISD-Lite or CSV.
    dropped
        How many values were thrown away because they cannot be, by column.
    """

    table: pd.DataFrame
    lat: float
    lon: float
    altitude_m: float
    kind: str
    dropped: dict[str, int] = field(default_factory=dict)

    @property
    def is_typical(self) -> bool:
        """Whether its months are of different years."""
        first = self.table.index[0]
        return self.kind in TYPICAL and bool((first + pd.Timedelta(days=1)).year == NOMINAL_YEAR)


def read_weather_file(path: Path, place: Place | None = None) -> WeatherFile:
    """Read a file of past weather, plain or gzipped; its kind is told by its content.

    A typical year (TMY2, TMY3, most EPW) is put on 2001, by its own standard clock. The sun is
    unknown where the file has none; `sun.with_sun` estimates it from the cloud.

    Parameters
    ----------
    path
        Of the file.
    place
        Where it was measured, for a file that does not say (ISD-Lite, CSV).

    Raises
    ------
    UsageError
        If it cannot be read, is of no kind known, is faulty, says nothing of temperature, humidity
        and wind in any hour, or names no place while none is given.
    """
    text = read_text(path)
    kind = next((each for each in _FORMATS if each.matches(text)), None)
    if kind is None:
        raise text.fault(
            1, "this begins no TMY2, TMY3, EPW, ISD-Lite or CSV with a time_utc column"
        )
    parsed = kind.parse(text)
    measured_at = parsed.place or place
    if measured_at is None:
        raise UsageError(
            f"{path}: {kind.KIND} names no place; give one with --lat, --lon and --altitude"
        )
    hours, impossible = table.within_bounds(_canonical(parsed.hours, kind.KIND))
    if table.known_hours(hours).empty:
        raise UsageError(f"{path}: no hour has temperature, humidity and wind")
    dropped = Counter(impossible) + Counter(parsed.dropped)
    return WeatherFile(hours, *measured_at, kind.KIND, dict(dropped))


def _canonical(hours: pd.DataFrame, kind: str) -> pd.DataFrame:
    """Give hours every column of the table, in its order and types."""
    starts = pd.DatetimeIndex(hours.index, name="time_utc").as_unit("us")
    frame = hours.set_axis(starts).sort_index()
    full = frame.reindex(columns=list(VALUES)).astype(np.float64)
    return full.assign(
        source=frame.get("source", kind), issued_at=frame.get("issued_at", frame.index.to_series())
    )
