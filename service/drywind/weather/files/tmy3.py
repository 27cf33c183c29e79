"""TMY3: typical years of 1976-2005 at stations in the United States, as comma-separated values.

Source: S. Wilcox and W. Marion, Users Manual for TMY3 Data Sets, NREL/TP-581-43156, 2008: the
column titles as a station's file has them (seen), the code for missing from memory.
"""

import re

from drywind.weather.files import typical
from drywind.weather.files.parsed import Parsed
from drywind.weather.files.text import Column, Text

KIND = "TMY3"

_STAMP = "Date (MM/DD/YYYY),Time (HH:MM),"
_STAMP_CELLS = 5
"""Month, day, year, hour and minute, where the titles have two."""

_TITLES = {
    "temp_c": ("Dry-bulb (C)", 1),
    "rh": ("RHum (%)", 100),
    "wind_ms": ("Wspd (m/s)", 1),
    "wind_dir_deg": ("Wdir (degrees)", 1),
    "ghi_wm2": ("GHI (W/m^2)", 1),
    "cloud": ("TotCld (tenths)", 10),
}
"""The titles of our columns, and how many of theirs make one of our units."""

_MISSING = -9900


def matches(text: Text) -> bool:
    """Say whether the second line holds the titles of TMY3."""
    return len(text.lines) > 1 and text.lines[1].startswith(_STAMP)


def parse(text: Text) -> Parsed:
    """Read a file whose second line `matches`.

    Raises
    ------
    UsageError
        At a line that is not in the format; see also `typical.parse`.
    """
    station = typical.read_station(text, "clock_h", "lat", "lon", "altitude_m")
    titles = text.lines[1].removeprefix(_STAMP).split(",")
    columns = typical.clock(2, 0, 1, 3)
    for name, (title, per) in _TITLES.items():
        if title not in titles:
            raise text.fault(2, f"the column {title} is missing")
        columns[name] = Column(_STAMP_CELLS + titles.index(title), per, _MISSING)
    rows = text.numbers(2, _STAMP_CELLS + len(titles), columns, _split)
    return typical.parse(text, station, rows)


def _split(line: str) -> list[str]:
    *stamp, rest = re.split("[/:,]", line, maxsplit=_STAMP_CELLS)
    return [*stamp, *rest.split(",")]
