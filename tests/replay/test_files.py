"""Past weather out of files: short samples in each format, and real years spoiled on purpose."""

import gzip
import math
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tests.replay.samples import CSV, HEADER_LINES, ISD_LITE, YARD, YEARS, year_lines

from drywind.errors import UsageError
from drywind.weather import table
from drywind.weather.files import WeatherFile, read_weather_file
from drywind.weather.hour import VALUES, WeatherHour

TEXTS = {kind: "\n".join(year_lines(kind)) + "\n" for kind in YEARS}
TEXTS |= {"ISD-Lite": ISD_LITE, "CSV": CSV}
NAN = math.nan


def read(tmp_path: Path, content: str | bytes) -> WeatherFile:
    """Read a file of this content, whose name says nothing."""
    path = tmp_path / "weather"
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    return read_weather_file(path, YARD)


def values(file: WeatherFile, column: str) -> list[float]:
    return [float(value) for value in file.table[column]]


def spoil(kind: str, row: int, old: str, new: str) -> str:
    """Return a year's text with one thing changed in the row of this number, from 0."""
    lines = list(year_lines(kind))
    line = HEADER_LINES[kind] + row
    assert lines[line].count(old) == 1
    lines[line] = lines[line].replace(old, new)
    return "\n".join(lines)


@pytest.mark.parametrize("kind", TEXTS)
def test_the_kind_is_told_by_the_content(tmp_path: Path, kind: str) -> None:
    file = read(tmp_path, TEXTS[kind])

    assert file.kind == kind
    assert list(file.table.columns) == [*VALUES, "source", "issued_at"]


@pytest.mark.parametrize("kind", TEXTS)
def test_compression_byte_order_mark_and_line_ends_make_no_difference(
    tmp_path: Path, kind: str
) -> None:
    plain = TEXTS[kind].encode()
    windows = b"\xef\xbb\xbf" + plain.replace(b"\n", b"\r\n") + b"\r\n"

    expected = read(tmp_path, plain).table

    for content in (gzip.compress(plain), windows, gzip.compress(windows), plain.rstrip(b"\n")):
        pd.testing.assert_frame_equal(read(tmp_path, content).table, expected)


@pytest.mark.parametrize(("kind", "hours_behind"), [("TMY2", 5), ("TMY3", 5), ("EPW", 5)], ids=str)
def test_a_typical_year_is_every_hour_of_2001_on_its_own_standard_clock(
    tmp_path: Path, kind: str, hours_behind: int
) -> None:
    hours = pd.date_range("2001-01-01", "2002-01-01", freq="h", inclusive="left", tz="UTC")

    index = read(tmp_path, TEXTS[kind]).table.index

    assert index.equals(hours + pd.Timedelta(hours=hours_behind))
    assert index.name == "time_utc"


def test_hour_24_of_new_years_eve_is_the_last_of_its_year(tmp_path: Path) -> None:
    changed = read(tmp_path, spoil("TMY3", 8759, ",2.2,A,7,0.6", ",9.9,A,7,0.6"))

    assert changed.table["temp_c"].loc[datetime(2002, 1, 1, 4, tzinfo=UTC)] == 9.9
    assert "12/31/1980,24:00," in year_lines("TMY3")[-1]


@pytest.mark.parametrize("kind", YEARS)
def test_what_typical_years_call_rain_is_unknown(tmp_path: Path, kind: str) -> None:
    assert read(tmp_path, TEXTS[kind]).table["rain_mm"].isna().all()


def test_an_observed_year_keeps_its_year_and_its_leap_day(tmp_path: Path) -> None:
    header, rows = year_lines("EPW")[:8], year_lines("EPW")[8:]
    cells = [row.split(",", maxsplit=4)[4] for row in (*rows, *rows[:24])]
    stamps = pd.date_range("2012-01-01", periods=8784, freq="h")
    dated = [
        f"2012,{stamp.month},{stamp.day},{stamp.hour + 1},{rest}"
        for stamp, rest in zip(stamps, cells, strict=True)
    ]

    index = read(tmp_path, "\n".join((*header, *dated))).table.index

    assert index.equals((stamps + pd.Timedelta(hours=5)).tz_localize("UTC").rename("time_utc"))


def test_a_year_set_to_a_leap_year_without_its_leap_day_is_typical(tmp_path: Path) -> None:
    header, rows = year_lines("EPW")[:8], year_lines("EPW")[8:]
    dated = [f"2012,{row.split(',', maxsplit=1)[1]}" for row in rows]

    assert read(tmp_path, "\n".join((*header, *dated))).table.index[0].year == 2001


@pytest.mark.parametrize(
    ("kind", "old", "new", "column", "dropped"),
    [
        ("TMY2", "0200A7", "9999?0", "temp_c", 0),
        ("TMY2", "073A7", "999?0", "rh", 0),
        ("TMY3", ",10.0,A,7,6.1", ",-9900,?,0,6.1", "temp_c", 0),
        ("TMY3", ",6.2,A,7,16100", ",468.5,A,7,16100", "wind_ms", 1),
        ("EPW", ",100,", ",999,", "rh", 0),
        ("EPW", ",100,", ",150,", "rh", 1),
        ("EPW", ",100,", ",,", "rh", 0),
    ],
)
def test_a_missing_value_is_unknown_and_an_impossible_one_is_counted_too(
    tmp_path: Path, kind: str, old: str, new: str, column: str, dropped: int
) -> None:
    file = read(tmp_path, spoil(kind, 0, old, new))

    assert math.isnan(file.table[column].iloc[0])
    assert file.table[column].iloc[1:].notna().all()
    assert file.dropped == ({column: dropped} if dropped else {})


@pytest.mark.parametrize(
    ("kind", "place"),
    [
        ("TMY2", (25 + 48 / 60, -80 - 16 / 60, 2)),
        ("TMY3", (36.1, -79.95, 273)),
        ("EPW", (27.97, -82.53, 6)),
        ("CSV", YARD),
    ],
)
def test_the_file_says_where_or_else_the_caller(
    tmp_path: Path, kind: str, place: tuple[float, float, float]
) -> None:
    file = read(tmp_path, TEXTS[kind])

    assert (file.lat, file.lon, file.altitude_m) == place


@pytest.mark.parametrize("kind", ["ISD-Lite", "CSV"])
def test_without_a_place_a_file_that_names_none_is_refused(tmp_path: Path, kind: str) -> None:
    (tmp_path / "weather").write_text(TEXTS[kind])

    with pytest.raises(UsageError, match=f"{kind} names no place; give one with --lat, --lon"):
        read_weather_file(tmp_path / "weather")


@pytest.fixture
def isd_lite(tmp_path: Path) -> WeatherFile:
    return read(tmp_path, ISD_LITE)


def test_isd_lite_names_the_start_of_the_hour_and_lacks_hours_nobody_reported(
    isd_lite: WeatherFile,
) -> None:
    stamps = ["15 20", "15 21", "15 23", "16 00", "16 01", "16 02"]

    assert [stamp.strftime("%d %H") for stamp in isd_lite.table.tz_convert("UTC").index] == stamps
    assert values(isd_lite, "temp_c") == pytest.approx(
        [33.3, 32.8, NAN, 28.0, 22.0, NAN], nan_ok=True
    )


def test_isd_lite_rain_is_of_the_hour_before_its_report_and_a_trace_is_none(
    isd_lite: WeatherFile,
) -> None:
    expected = [0.0, NAN, 0.0, NAN, 0.0, NAN]

    assert values(isd_lite, "rain_mm") == pytest.approx(expected, nan_ok=True)


def test_isd_lite_rain_is_in_millimeters(tmp_path: Path) -> None:
    file = read(tmp_path, ISD_LITE.replace("06 15 21", "06 15 22"))

    assert values(file, "rain_mm") == pytest.approx([NAN, 2.5, 0, NAN, 0, NAN], nan_ok=True)


def test_isd_lite_counts_a_hidden_sky_as_covered_and_knows_no_oktas_over_9(
    isd_lite: WeatherFile,
) -> None:
    assert values(isd_lite, "cloud") == pytest.approx([0, 1, NAN, 0.5, NAN, 1], nan_ok=True)


def test_isd_lite_humidity_is_unknown_where_its_dew_point_cannot_be(
    isd_lite: WeatherFile,
) -> None:
    rh = values(isd_lite, "rh")

    assert rh[0] == pytest.approx(0.2497, abs=0.001)  # 12.76 by 51.10 hPa: Alduchov, Eskridge 1996
    assert rh[3] == 1.0
    assert np.isnan([rh[2], rh[4], rh[5]]).all()
    assert isd_lite.dropped == {"dewpoint_c": 1, "temp_c": 1, "wind_ms": 1}


def test_years_of_isd_lite_may_be_joined(tmp_path: Path) -> None:
    later = ISD_LITE.replace("2012 06", "2013 06")

    file = read(tmp_path, gzip.compress(ISD_LITE.encode()) + gzip.compress(later.encode()))

    assert len(file.table) == 12
    assert {stamp.year for stamp in file.table.index} == {2012, 2013}


def test_csv_columns_and_hours_may_stand_in_any_order(tmp_path: Path) -> None:
    file = read(tmp_path, CSV)

    assert [stamp.hour for stamp in file.table.index] == [5, 6, 7]
    assert values(file, "temp_c") == pytest.approx([21.5, NAN, 20.0], nan_ok=True)
    assert values(file, "rh") == [0.6, 0.61, 0.62]
    assert values(file, "rain_mm") == pytest.approx([NAN, 0.4, 0.0], nan_ok=True)
    assert file.table["gust_ms"].isna().all()


def test_csv_values_that_cannot_be_are_unknown_and_counted(tmp_path: Path) -> None:
    file = read(tmp_path, CSV)

    assert values(file, "wind_ms") == pytest.approx([2.0, 2.5, NAN], nan_ok=True)
    assert file.dropped == {"wind_ms": 1}


def test_slightly_negative_sun_at_night_is_no_wrong_unit(tmp_path: Path) -> None:
    lines = ["time_utc,temp_c,rh,wind_ms,ghi_wm2", "2026-06-13T05:00Z,15,0.9,1,-1.5"]

    assert values(read(tmp_path, "\n".join(lines)), "ghi_wm2") == [0.0]


def test_an_hour_is_its_own_issue_unless_the_file_says_otherwise(tmp_path: Path) -> None:
    bare = read(tmp_path, CSV).table
    lines = CSV.splitlines()
    lines = [f"{lines[0]},source,issued_at", f"{lines[1]},,", f"{lines[2]},nws,2026-06-12T18:20Z"]

    told = read(tmp_path, "\n".join(lines)).table

    assert set(bare["source"]) == {"CSV"}
    assert (bare["issued_at"] == bare.index).all()
    assert told["source"].tolist() == ["nws", "CSV"]
    assert told["issued_at"].tolist() == [
        datetime(2026, 6, 12, 18, 20, tzinfo=UTC),
        datetime(2026, 6, 13, 6, tzinfo=UTC),
    ]


START = datetime(2026, 6, 13, 5, tzinfo=UTC)
hours = st.builds(
    WeatherHour,
    time_utc=st.integers(0, 9999).map(lambda h: START + pd.Timedelta(hours=h)),
    **{name: st.floats(*table.BOUNDS[name]) | st.just(NAN) for name in VALUES},
    source=st.sampled_from(["nws", 'a "b", c', "ISD-Lite"]),
    issued_at=st.datetimes(timezones=st.just(UTC)),
)
sound = WeatherHour(
    START + pd.Timedelta(hours=10_000), 20.0, 0.5, 1.0, NAN, NAN, NAN, NAN, NAN, "nws", START
)


@settings(deadline=None, max_examples=60, suppress_health_check=[HealthCheck.too_slow])
@given(st.lists(hours, max_size=20))
def test_a_table_written_as_csv_comes_back_to_the_last_bit(
    tmp_path_factory: pytest.TempPathFactory, records: list[WeatherHour]
) -> None:
    written = table.from_hours([*records, sound])
    path = tmp_path_factory.mktemp("csv") / "weather"
    written.to_csv(path)

    file = read_weather_file(path, YARD)

    pd.testing.assert_frame_equal(file.table, written, check_exact=True)
    assert file.dropped == {}
