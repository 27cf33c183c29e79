"""Weather files that are missing, cut short, of another kind, in other units, or rubbish."""

import gzip
import random
import re
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tests.replay.samples import CSV, ISD_LITE, YARD, YEARS, year_lines

from drywind.errors import UsageError
from drywind.weather.files import read_weather_file
from drywind.weather.hour import WeatherHour

HEADER = "time_utc,temp_c,rh,wind_ms"
ROW = "2026-06-13T05:00Z,21.5,0.6,2.0"


def refusal(path: Path, content: bytes) -> str:
    """Return what a file of this content is refused with, which begins with its name."""
    path.write_bytes(content)
    with pytest.raises(UsageError) as refused:
        read_weather_file(path, YARD)
    assert str(refused.value).startswith(str(path))
    return str(refused.value).removeprefix(str(path))


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "weather"


def test_a_file_that_is_not_there_is_named(path: Path) -> None:
    with pytest.raises(UsageError, match=f"{re.escape(str(path))}: cannot be read: No such file"):
        read_weather_file(path, YARD)


def test_a_folder_is_no_file(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match="cannot be read: Is a directory"):
        read_weather_file(tmp_path, YARD)


@pytest.mark.parametrize(
    "content",
    [b"", b"\n\n", b"\xef\xbb\xbf", gzip.compress(b"")],
    ids=["nothing", "blank lines", "a byte order mark", "nothing, packed"],
)
def test_an_empty_file_is_refused(path: Path, content: bytes) -> None:
    assert refusal(path, content) == ": is empty"


@pytest.mark.parametrize(
    ("content", "line"),
    [
        (CSV.encode("utf-16"), 1),
        (f"{HEADER},source\n{ROW},mill\n{ROW},moul\u00e9\n".encode("latin-1"), 3),
        (random.Random(1).randbytes(100_000), 1),
    ],
    ids=["UTF-16", "Latin-1", "random"],
)
def test_what_is_not_utf8_is_refused_at_its_line(path: Path, content: bytes, line: int) -> None:
    assert refusal(path, content) == (
        f", line {line}: not UTF-8 text; if it is a text, save it as UTF-8"
    )


@pytest.mark.parametrize(
    "content", [b"\x00" * 1000, b"origin,year,temp\nEWR,2013,39.02\n", b'{"a": 1}', b"\x1b[31m\n"]
)
def test_what_is_no_kind_of_weather_file_is_refused(path: Path, content: bytes) -> None:
    assert refusal(path, content) == (
        ", line 1: this begins no TMY2, TMY3, EPW, ISD-Lite or CSV with a time_utc column"
    )


def test_a_compressed_file_that_is_cut_short_is_refused(path: Path) -> None:
    whole = gzip.compress(ISD_LITE.encode())

    for length in range(2, len(whole)):
        assert refusal(path, whole[:length]) == ": the compressed file is cut short"


def test_compressed_data_that_was_damaged_is_refused(path: Path) -> None:
    whole = bytearray(YEARS["TMY2"].read_bytes())
    whole[100_000] ^= 0xFF

    assert refusal(path, bytes(whole)).startswith(": cannot be read: ")


@pytest.mark.parametrize(
    "content", [b"\n" * 10_000_000, b"0" * 60_000_001], ids=["10 million lines", "60 MB"]
)
def test_a_file_of_no_sensible_length_is_refused_before_it_is_read(
    path: Path, content: bytes
) -> None:
    assert refusal(path, gzip.compress(content, 1)) == (
        ": longer than 60 MB and 500000 lines; split it by years"
    )


@pytest.mark.parametrize(
    ("kind", "lines", "why"),
    [
        ("TMY2", 5001, ", line 5001: the file ends with 5000 of a year's 8760 hours"),
        ("TMY3", 5002, ", line 5002: the file ends with 5000 of a year's 8760 hours"),
        ("EPW", 5008, ", line 5008: the file ends with 5000 of a year's 8760 hours"),
        ("TMY2", 1, ", line 1: the file ends with 0 of a year's 8760 hours"),
        ("TMY3", 2, ", line 2: the file ends with 0 of a year's 8760 hours"),
        ("EPW", 8, ", line 8: line 8 must be DATA PERIODS, and the hours must follow"),
        ("EPW", 1, ", line 1: line 8 must be DATA PERIODS, and the hours must follow"),
    ],
)
def test_a_year_that_ends_early_is_refused(path: Path, kind: str, lines: int, why: str) -> None:
    assert refusal(path, "\n".join(year_lines(kind)[:lines]).encode()) == why


@pytest.mark.parametrize(
    ("kind", "length", "why"),
    [
        ("TMY2", 120, ", line 31: 120 characters, where each row has 142"),
        ("TMY3", 120, ", line 31: 51 values, where each row has 74"),
        ("EPW", 120, ", line 31: 24 values, where each row has 35"),
        ("ISD-Lite", 40, ", line 4: 40 characters, where each row has 61"),
        ("CSV", 22, ", line 4: 2 values, where each row has 5"),
    ],
)
def test_a_line_that_is_cut_short_is_refused(path: Path, kind: str, length: int, why: str) -> None:
    texts = {"ISD-Lite": ISD_LITE.splitlines()[:4], "CSV": CSV.splitlines()}
    lines = texts.get(kind) or list(year_lines(kind)[:31])
    lines[-1] = lines[-1][:length]

    assert refusal(path, "\n".join(lines).encode()) == why


@pytest.mark.parametrize(
    ("kind", "old", "new", "why"),
    [
        ("TMY2", "\n 62010106", "\n 62010107", ", line 7: month 1, day 1, hour 6 is due here"),
        ("TMY3", "01/01/1988,24:00", "01/02/1988,00:00", "26: month 1, day 1, hour 24 is due here"),
        ("EPW", "\n1995,2,1,1,", "\n1995,2,29,1,", "month 2, day 1, hour 1 is due here"),
        ("TMY2", "A70200A7", "A702x0A7", ", line 2: temp_c: '02x0' is neither a number nor empty"),
        (
            "TMY3",
            ",10.0,A,7,6.1",
            ",10.0C,A,7,6.1",
            ", line 3: temp_c: '10.0C' is neither a number nor empty",
        ),
        ("TMY3", "RHum (%)", "RHum (1)", ", line 2: the column RHum (%) is missing"),
        (
            "TMY3",
            ",-5.0,36.1",
            ",-5.5,36.1",
            "1: clock_h: -5.5; only whole hours from UTC are read",
        ),
        ("TMY3", ",36.100,", ",3610.0,", ", line 1: lat: 3610 does not lie from -90 to 90"),
        ("TMY3", ",36.100,", ",north,", ", line 1: lat: 'north' is neither a number nor empty"),
        ("TMY3", ",36.100,", ",,", ", line 1: lat: nan does not lie from -90 to 90"),
        ("EPW", ",-5.0,6.0\n", ",-50,6.0\n", ", line 1: clock_h: -50 does not lie from -12 to 14"),
    ],
)
def test_a_year_with_a_faulty_line_is_refused_at_it(
    path: Path, kind: str, old: str, new: str, why: str
) -> None:
    text = "\n".join(year_lines(kind))
    assert old in text

    assert refusal(path, text.replace(old, new, 1).encode()).endswith(why)


@pytest.mark.parametrize(
    ("old", "new", "why"),
    [
        ("06 15 21", "06 15 20", ", line 2: its hour stands a second time"),
        ("06 15 21", "06 31 21", ", line 2: its time cannot be"),
        ("06 15 21", "06 15 24", ", line 2: its time cannot be"),
        ("   328", "   3.x", ", line 2: temp_c: '3.x' is neither a number nor empty"),
    ],
)
def test_isd_lite_with_a_faulty_line_is_refused_at_it(
    path: Path, old: str, new: str, why: str
) -> None:
    assert refusal(path, ISD_LITE.replace(old, new).encode()) == why


@pytest.mark.parametrize(
    ("header", "row", "why"),
    [
        (
            "time_utc,temp_f,rh,wind_ms",
            ROW,
            f", line 1: 'temp_f' is not a column of the table: {', '.join(WeatherHour._fields)}",
        ),
        (
            "time_utc,temp_c,rh",
            ROW,
            ", line 1: the table needs time_utc, temp_c, rh, wind_ms; wind_ms is missing",
        ),
        (f"{HEADER},rh", ROW, ", line 1: the column rh stands twice"),
        (HEADER, f"{ROW},1", ", line 3: 5 values, where each row has 4"),
        (HEADER, f'"{ROW}', ", line 3: 1 values, where each row has 4"),
        (
            HEADER,
            "2026-06-13T06:00Z,NA,0.6,2.0",
            ", line 3: temp_c: 'NA' is neither a number nor empty",
        ),
        (
            HEADER,
            "13.06.2026 06:00,21.5,0.6,2.0",
            ", line 3: time_utc: '13.06.2026 06:00' is not a time; write it like 2026-06-13T05:00Z",
        ),
        (HEADER, "2026-06-13T06:30Z,21.5,0.6,2.0", ", line 3: its time is not a whole hour"),
        (HEADER, "2026-06-13T01:00-04:00,9,0.6,2.0", ", line 3: its hour stands a second time"),
    ],
)
def test_csv_with_a_fault_is_refused_with_its_line_its_column_and_what_is_allowed(
    path: Path, header: str, row: str, why: str
) -> None:
    assert refusal(path, f"{header}\n{ROW}\n{row}\n".encode()) == why


def test_humidity_in_percent_is_told_from_a_few_impossible_values(path: Path) -> None:
    percent = "".join(f"2026-06-13T{hour:02}:00Z,21.5,{60 + hour},2.0\n" for hour in range(6))

    assert refusal(path, f"{HEADER}\n{percent}".encode()) == (
        ", line 2: rh: most of the column is not from 0 to 1, as 60; is it in another unit?"
    )


def test_a_file_that_knows_no_hour_whole_is_refused(path: Path) -> None:
    rows = ["2026-06-13T05:00Z,21.5,0.6,", "2026-06-13T06:00Z,,0.6,2.0"]

    why = ": no hour has temperature, humidity and wind"
    assert refusal(path, "\n".join([HEADER, *rows]).encode()) == why
    assert refusal(path, HEADER.encode()) == why


EDITS = st.tuples(
    st.integers(0, 400),
    st.integers(0, 60),
    st.sampled_from(
        [b"", b"\n", b",", b" ", b"-", b"9" * 20, b"nan", b"inf", b'"', b"\0", b"\xff"]
    ),
)


@settings(deadline=None, max_examples=300, suppress_health_check=[HealthCheck.too_slow])
@given(text=st.sampled_from([CSV, ISD_LITE]), edits=st.lists(EDITS, min_size=1, max_size=4))
def test_whatever_is_done_to_a_file_it_is_refused_or_read_into_hours_that_can_be(
    tmp_path_factory: pytest.TempPathFactory, text: str, edits: list[tuple[int, int, bytes]]
) -> None:
    content = text.encode()
    for start, length, put in edits:
        content = content[:start] + put + content[start + length :]
    path = tmp_path_factory.mktemp("spoiled") / "weather"
    path.write_bytes(content)

    try:
        hours = read_weather_file(path, YARD).table
    except UsageError as refused:
        assert str(refused).startswith(str(path))  # noqa: PT017 - either end is right
    else:
        assert hours.index.is_monotonic_increasing
        assert hours.index.is_unique
        assert hours["temp_c"].dropna().between(-60, 60).all()
        assert hours["rh"].dropna().between(0, 1).all()
