"""ISD-Lite: hours observed at a station, in fixed columns, in UTC; it names no place.

Source: NOAA, Integrated Surface Data - Lite, Format Documentation, June 20, 2006 (fields 1-10
seen): columns, scales, -9999 for missing, and that reports are rounded to the whole hour. That a
trace of rain is -1 was seen in translation. That the rain of a report fell in the hour before it,
and that sky codes over 9 are no oktas, is from memory (Integrated Surface Database, AA1 and GF1).
"""

import re

import pandas as pd

from drywind.weather import table
from drywind.weather.air import DEWPOINT_EXCESS_C, rh_from_dewpoint
from drywind.weather.files.parsed import Parsed
from drywind.weather.files.text import Column, Text

KIND = "ISD-Lite"

_ROW = re.compile(r"\d{4} \d{2} \d{2} \d{2}[ \d-]{48}")
_WIDTH = 61
_STAMP = slice(0, 13)
_COLUMNS = {
    "temp_c": Column(slice(13, 19), per=10, missing=-9999),
    "dewpoint_c": Column(slice(19, 25), per=10, missing=-9999),
    "wind_dir_deg": Column(slice(31, 37), missing=-9999),
    "wind_ms": Column(slice(37, 43), per=10, missing=-9999),
    "cloud": Column(slice(43, 49), per=8, missing=-9999),
    "rain_mm": Column(slice(49, 55), per=10, missing=-9999),
}
_TRACE_MM = -0.1
_HIDDEN = 9 / 8
"""Okta 9: the sky cannot be seen, for fog or snow, and counts as covered."""


def matches(text: Text) -> bool:
    """Say whether the first line is an hour of ISD-Lite."""
    return _ROW.fullmatch(text.lines[0]) is not None


def parse(text: Text) -> Parsed:
    """Read a file whose first line `matches`; several years may stand one after another.

    Raises
    ------
    UsageError
        At a line that is not in the format, or an hour that stands twice.
    """
    stamps = text.cells(0, _WIDTH, {"stamp": _STAMP})["stamp"]
    starts = pd.to_datetime(stamps, format="%Y %m %d %H", errors="coerce", utc=True)
    values = text.numbers(0, _WIDTH, _COLUMNS).set_axis(text.hours(starts))
    values["cloud"] = values["cloud"].mask(values["cloud"] > _HIDDEN).clip(upper=1.0)
    values["rain_mm"] = _rain(values["rain_mm"])
    values["rh"], dropped = _humidity(values["temp_c"], values["dewpoint_c"])
    return Parsed(values.drop(columns="dewpoint_c"), dropped=dropped)


def _rain(reported: pd.Series) -> pd.Series:
    """Give each report's rain to the hour before it, in which it fell."""
    fallen = reported.mask(reported == _TRACE_MM, 0.0)
    return fallen.shift(-1, freq="h").reindex(reported.index)


def _humidity(temp_c: pd.Series, dewpoint_c: pd.Series) -> tuple[pd.Series, dict[str, int]]:
    """Return the humidity where temperature and dew point can both be, and fit together."""
    lowest, highest = table.BOUNDS["temp_c"]
    both = temp_c.between(lowest, highest) & dewpoint_c.notna()
    usable = both & dewpoint_c.between(lowest, temp_c + DEWPOINT_EXCESS_C)
    unfit = int((both & ~usable).sum())
    rh = rh_from_dewpoint(temp_c.where(usable), dewpoint_c.where(usable))
    return pd.Series(rh, temp_c.index), {"dewpoint_c": unfit} if unfit else {}
