"""Weather files for tests: short ones written in their formats, and real years to be spoiled."""

import gzip
from functools import cache
from pathlib import Path

from drywind.weather.files import Place

DATA = Path(__file__).parents[1] / "published/data"
YEARS = {
    "TMY2": DATA / "12839_miami.tm2.gz",
    "TMY3": DATA / "723170_greensboro.tmy3.csv.gz",
    "EPW": DATA / "USA_FL_Tampa.Intl.AP.722110_TMY3.epw.gz",
}
HEADER_LINES = {"TMY2": 1, "TMY3": 2, "EPW": 8}

YARD = Place(41.98, -87.92, 201.0)

ISD_LITE = """\
2012 06 15 20   333   106 10136   210    57     0     0 -9999
2012 06 15 21   328   111 10132   220    51     9    -1 -9999
2012 06 15 23 -9999   111 10129     0     0    10    25 -9999
2012 06 16 00   280   284 10130 -9999  4685     4     0    25
2012 06 16 01   220   230 10130   190    26 -9999 -9999 -9999
2012 06 16 02  9990   230 10130   190    26     8     0 -9999
"""
"""In turn: sound; hidden sky, a trace of rain; an hour later no temperature; a wind of 1048 mph and
a dew point rounded up; a dew point above the temperature; an impossible temperature."""

CSV = """\
time_utc,wind_ms,rh,temp_c,rain_mm
2026-06-13T06:00Z,2.5,0.61,,0.4
2026-06-13T01:00-04:00,2.0,0.6,21.5,
2026-06-13 07:00,468.5,0.62,20.0,0
"""
"""In turn: no temperature; the hour before, on an eastern clock; a wind of 1048 mph."""


@cache
def year_lines(kind: str) -> tuple[str, ...]:
    """Return the lines of the real year of a kind of `YEARS`."""
    return tuple(gzip.decompress(YEARS[kind].read_bytes()).decode().splitlines())
