"""The readers of weather files against other readers of the same files.

pvlib reads typical years for people who plan solar plants, pandas reads columns of fixed width:
what they and drywind find in a file must be the same number, to the last digit.
"""

import gzip
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd
import psychrolib
import pytest
from pvlib.iotools import read_epw, read_tmy2, read_tmy3
from pvlib.solarposition import get_solarposition
from tests.published.conftest import Against
from tests.published.years import DATA, EPW, OHARE

from drywind.weather.files import Place, WeatherFile, read_weather_file

FILES = {
    "Miami": DATA / "12839_miami.tm2.gz",
    "Greensboro": DATA / "723170_greensboro.tmy3.csv.gz",
    **{place: DATA / f"{name}.epw.gz" for place, name in EPW.items()},
}
"""Typical years: one in TMY2, one in TMY3, the others in EPW."""

PVLIB_TMY2 = {
    "temp_c": ("DryBulb", 10),
    "rh": ("RHum", 100),
    "wind_ms": ("Wspd", 10),
    "wind_dir_deg": ("Wdir", 1),
    "ghi_wm2": ("GHI", 1),
    "cloud": ("TotCld", 10),
}
PVLIB_TMY3 = {
    "temp_c": ("temp_air", 1),
    "rh": ("relative_humidity", 100),
    "wind_ms": ("wind_speed", 1),
    "wind_dir_deg": ("wind_direction", 1),
    "ghi_wm2": ("ghi", 1),
    "cloud": ("TotCld (tenths)", 10),
}
PVLIB_EPW = PVLIB_TMY3 | {"cloud": ("total_sky_cover", 10)}
"""Their name of each of our columns, and how many of their units make one of ours."""

OHARE_2012 = DATA / "725300_ohare_2012.isd-lite.gz"
ISD_LITE = {"year": 4, "month": 3, "day": 3, "hour": 3} | dict.fromkeys(
    ("temp", "dewpoint", "pressure", "wind_dir", "wind", "okta", "rain", "rain_6h"), 6
)
"""Columns and their widths."""


def tmy2(path: Path) -> tuple[pd.DataFrame, dict[str, float]]:
    """Read by pvlib, which puts all on the year of the first row, 1962."""
    table, station = read_tmy2(path)
    return table.set_axis([stamp.replace(year=2001) for stamp in table.index]), station


def tmy3(path: Path) -> tuple[pd.DataFrame, dict[str, float]]:
    """Read by pvlib, which names the end of the hour."""
    table, station = read_tmy3(path, coerce_year=2001)
    return table.set_axis(table.index - pd.Timedelta(hours=1)), station


def epw(path: Path) -> tuple[pd.DataFrame, dict[str, float]]:
    table, station = read_epw(path, coerce_year=2001)
    return table, station


@pytest.mark.parametrize(
    ("place", "read", "columns"),
    [
        ("Miami", tmy2, PVLIB_TMY2),
        ("Greensboro", tmy3, PVLIB_TMY3),
        ("Dulles", epw, PVLIB_EPW),
        ("Golden", epw, PVLIB_EPW),
        ("Tampa", epw, PVLIB_EPW),
    ],
)
def test_a_typical_year_is_read_as_pvlib_reads_it(
    against: Against,
    tmp_path: Path,
    place: str,
    read: Callable[[Path], tuple[pd.DataFrame, dict[str, float]]],
    columns: dict[str, tuple[str, float]],
) -> None:
    plain = tmp_path / place
    plain.write_bytes(gzip.decompress(FILES[place].read_bytes()))
    source = f"pvlib.iotools.read_{read.__name__}"
    theirs, station = read(plain)

    ours = read_weather_file(FILES[place])

    hours_late = (ours.table.index - pd.DatetimeIndex(theirs.index)) / pd.Timedelta(hours=1)
    against.value(f"{place}, hour", source, hours_late, 0.0, 0.0)
    for name, (their_name, per) in columns.items():
        numbers = theirs[their_name] / per
        against.value(f"{place}, {name}", source, ours.table[name], numbers, 0.0)
    for name, their_name in (("lat", "latitude"), ("lon", "longitude"), ("altitude_m", "altitude")):
        against.value(f"{place}, {name}", source, getattr(ours, name), station[their_name], 0.0)


@pytest.mark.parametrize("place", FILES)
def test_the_sun_of_an_hour_stands_where_it_is_half_past(against: Against, place: str) -> None:
    """A clock an hour or a time zone off, or stamps taken for starts, would show by an hour.

    Sun and its height go together best some minutes off half past where clouds gather on one side
    of noon, as they do over the mountains by Golden: hence 15 minutes.
    """
    file = read_weather_file(FILES[place])
    starts = pd.DatetimeIndex(file.table.index)
    minutes = np.arange(-60, 121, 15)

    heights = [
        get_solarposition(starts + pd.Timedelta(minutes=m), file.lat, file.lon)["zenith"]
        for m in minutes
    ]
    fits = [
        np.corrcoef(np.cos(np.radians(height)).clip(0), file.table["ghi_wm2"])[0, 1]
        for height in heights
    ]

    best = minutes[np.argmax(fits)]
    against.value(f"{place}, minutes of best fit", "pvlib.solarposition", best, 30, 15)


@pytest.mark.parametrize(
    ("place", "temp_c", "rh_pct", "wind_ms"),
    [
        ("Greensboro", 14.4, 70, 3.05),
        ("Dulles", 12.7, 69, 3.28),
        ("Tampa", 22.3, 75, 3.25),
        ("Golden", 9.8, 54, 3.96),
    ],
)
def test_the_means_of_a_typical_year_are_those_found_before(
    against: Against, place: str, temp_c: float, rh_pct: float, wind_ms: float
) -> None:
    """Within half the last digit they were noted with."""
    source = "worked once apart from the program on the same file"

    mean = read_weather_file(FILES[place]).table.mean(numeric_only=True)

    against.value(f"{place}, mean temp_c", source, mean["temp_c"], temp_c, 0.05)
    against.value(f"{place}, mean rh, percent", source, 100 * mean["rh"], rh_pct, 0.5)
    against.value(f"{place}, mean wind_ms", source, mean["wind_ms"], wind_ms, 0.005)


@pytest.fixture(scope="module")
def ohare() -> WeatherFile:
    return read_weather_file(OHARE_2012, Place(OHARE.lat, OHARE.lon, OHARE.altitude_m))


@pytest.fixture(scope="module")
def by_pandas() -> pd.DataFrame:
    """Return the same year as pandas reads it: in tenths, by the start of the hour in UTC."""
    raw = pd.read_fwf(
        OHARE_2012,
        compression="gzip",
        widths=list(ISD_LITE.values()),
        names=list(ISD_LITE),
        na_values=["-9999"],
    )
    return raw.set_index(pd.to_datetime(raw[["year", "month", "day", "hour"]], utc=True))


@pytest.mark.parametrize(
    ("name", "their_name", "per"),
    [("temp_c", "temp", 10), ("wind_ms", "wind", 10), ("wind_dir_deg", "wind_dir", 1)],
)
def test_isd_lite_is_read_as_pandas_reads_it(
    against: Against,
    ohare: WeatherFile,
    by_pandas: pd.DataFrame,
    name: str,
    their_name: str,
    per: float,
) -> None:
    theirs = by_pandas[their_name] / per

    assert ohare.table.index.tolist() == theirs.index.tolist()
    assert ohare.table[name].isna().tolist() == theirs.isna().tolist()
    known = theirs.notna()
    against.value(
        f"O'Hare, {name}", "pandas.read_fwf", ohare.table[name][known], theirs[known], 0.0
    )


def test_isd_lite_humidity_is_that_of_its_dew_point(
    against: Against, ohare: WeatherFile, by_pandas: pd.DataFrame
) -> None:
    """By another formula than MetPy's, so within 0.001; over ice, below 0 °C, they must differ."""
    psychrolib.SetUnitSystem(psychrolib.SI)
    warm = by_pandas[by_pandas["dewpoint"] > 0].dropna(subset=["temp"])
    dewpoint = warm[["dewpoint", "temp"]].min(axis=1)

    theirs = [
        psychrolib.GetRelHumFromTDewPoint(t / 10, d / 10)
        for t, d in zip(warm["temp"], dewpoint, strict=True)
    ]

    assert len(theirs) > 5000
    ours = ohare.table["rh"].loc[warm.index]
    against.value("O'Hare, rh", "psychrolib, ASHRAE Fundamentals 2017", ours, theirs, 0.001)


def test_a_year_of_isd_lite_has_the_rain_found_before(
    against: Against, ohare: WeatherFile, by_pandas: pd.DataFrame
) -> None:
    source = "worked once apart from the program on the same file"

    total_mm = ohare.table["rain_mm"].sum()

    against.value("O'Hare 2012, rain, mm", source, total_mm, 606, 0.5)
    assert (by_pandas["rain"] == -1).sum() == 578  # traces, which are no rain
    assert ohare.table["rain_mm"].min() == 0.0
