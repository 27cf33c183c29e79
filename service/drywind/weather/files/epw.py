"""EPW: a year of hours for EnergyPlus, at any place of the world, as comma-separated values.

Source: EnergyPlus 24.1, Auxiliary Programs, "EnergyPlus Weather File (EPW) Data Dictionary"
(seen): order, units and codes for missing of the columns; hour 1 is 00:01 to 01:00.
"""

from drywind.weather.files import typical
from drywind.weather.files.parsed import Parsed
from drywind.weather.files.text import Column, Text

KIND = "EPW"

_HEADER_LINES = 8
_LEAST_WIDTH = 23
_COLUMNS = typical.clock(0, 1, 2, 3) | {
    "temp_c": Column(6, missing=99.9),
    "rh": Column(8, per=100, missing=999),
    "ghi_wm2": Column(13, missing=9999),
    "wind_dir_deg": Column(20, missing=999),
    "wind_ms": Column(21, missing=999),
    "cloud": Column(22, per=10, missing=99),
}


def matches(text: Text) -> bool:
    """Say whether the first line is the location of an EPW."""
    return text.lines[0].startswith("LOCATION,")


def parse(text: Text) -> Parsed:
    """Read a file whose first line `matches`.

    Raises
    ------
    UsageError
        At a line that is not in the format; see also `typical.parse`.
    """
    station = typical.read_station(text, "lat", "lon", "clock_h", "altitude_m")
    header, rows = text.lines[:_HEADER_LINES], text.lines[_HEADER_LINES:]
    if not rows or not header[-1].startswith("DATA PERIODS,"):
        raise text.fault(len(header), "line 8 must be DATA PERIODS, and the hours must follow")
    width = max(rows[0].count(",") + 1, _LEAST_WIDTH)
    hours = text.numbers(_HEADER_LINES, width, _COLUMNS, lambda line: line.split(","))
    return typical.parse(text, station, hours)
