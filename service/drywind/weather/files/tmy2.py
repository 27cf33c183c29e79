"""TMY2: typical years of 1961-1990 at stations in the United States, in fixed columns.

Source: W. Marion and K. Urban, User's Manual for TMY2s, NREL 1995, section 3, tables 3-1 and 3-2:
the clock and the years in the wording of the web edition (seen); positions, scales and codes for
missing from memory, held to a station's file and to pvlib.
"""

import re

from drywind.weather.files import typical
from drywind.weather.files.parsed import Parsed
from drywind.weather.files.text import Column, Text

KIND = "TMY2"

_HEADER = re.compile(
    r" [ \d]{5} .{22} .{2} (?P<clock_h>[ -]*\d+) (?P<ns>[NS]) (?P<lat>[ \d]\d) (?P<lat_min>[ \d]\d)"
    r" (?P<ew>[EW]) (?P<lon>[ \d]{2}\d) (?P<lon_min>[ \d]\d) +(?P<altitude_m>-?\d+)"
)
_WIDTH = 142
_COLUMNS = typical.clock(slice(1, 3), slice(3, 5), slice(5, 7), slice(7, 9)) | {
    "ghi_wm2": Column(slice(17, 21), missing=9999),
    "cloud": Column(slice(59, 61), per=10, missing=99),
    "temp_c": Column(slice(67, 71), per=10, missing=9999),
    "rh": Column(slice(79, 82), per=100, missing=999),
    "wind_dir_deg": Column(slice(90, 93), missing=999),
    "wind_ms": Column(slice(95, 98), per=10, missing=999),
}


def matches(text: Text) -> bool:
    """Say whether the first line is a TMY2 station."""
    return _HEADER.match(text.lines[0]) is not None


def parse(text: Text) -> Parsed:
    """Read a file whose first line `matches`.

    Raises
    ------
    UsageError
        At a line that is not in the format; see also `typical.parse`.
    """
    header = _HEADER.match(text.lines[0])
    assert header is not None
    lat, lat_min, lon, lon_min, altitude_m, clock_h = map(
        int, header.group("lat", "lat_min", "lon", "lon_min", "altitude_m", "clock_h")
    )
    station = typical.Station(
        lat=(lat + lat_min / 60) * (-1 if header["ns"] == "S" else 1),
        lon=(lon + lon_min / 60) * (-1 if header["ew"] == "W" else 1),
        altitude_m=altitude_m,
        clock_h=clock_h,
    )
    rows = text.numbers(1, _WIDTH, _COLUMNS)
    return typical.parse(text, station, rows.assign(year=rows["year"] + 1900))
