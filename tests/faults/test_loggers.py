"""Loggers' files of several layouts are read by their content; a logger in the sun is refused."""

from datetime import UTC, datetime, timedelta
from math import cos, pi
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from tests.conftest import Command, WeatherService, Yard

from drywind.errors import UsageError
from drywind.weather.logger_file import read_logger_file

CHICAGO = ZoneInfo("America/Chicago")
NOW = datetime(2026, 6, 20, 12, tzinfo=UTC)
DAYS = 6
START = NOW - timedelta(days=DAYS)


def column(names: str, path: Path, **told: str) -> None:
    """Read a file and check which columns were taken."""
    read = read_logger_file(path, CHICAGO, told)
    found = (read.columns.date, read.columns.time, read.columns.temp, read.columns.rh)
    assert " | ".join(filter(None, found)) == names


def write(folder: Path, *lines: str) -> Path:
    """Write a file."""
    path = folder / "log.csv"
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def test_one_column_of_time_after_a_preamble_in_fahrenheit(tmp_path: Path) -> None:
    path = write(
        tmp_path,
        "Plot Title: shed",
        "#,Date-Time,Temp (°F),RH (%),Dew point (°F)",
        *(
            f'{i},06/13/2026 {i:02}:{m:02},"{70 + i}.5",{50 - i}.0,50.1'
            for i in range(6)
            for m in (0, 30)
        ),
    )

    read = read_logger_file(path, CHICAGO, {})

    column("Date-Time | Temp (°F) | RH (%)", path)
    assert read.hours.index[0] == datetime(2026, 6, 13, 5, tzinfo=UTC)
    assert len(read.hours) == 6
    assert read.hours["temp_c"].iloc[0] == pytest.approx((70.5 - 32) / 1.8)
    assert read.hours["rh"].iloc[5] == pytest.approx(0.45)


def test_date_beside_time_with_decimal_commas_and_the_day_first(tmp_path: Path) -> None:
    path = write(
        tmp_path,
        "Date;Time;Temperature [°C];Relative humidity [%];Wind m/s",
        *(f"{day:02}.06.2026;12:00:00;21,5;55,0;1,5" for day in range(1, 16)),
    )

    read = read_logger_file(path, CHICAGO, {})

    column("Date | Time | Temperature [°C] | Relative humidity [%]", path)
    assert read.hours.index[-1] == datetime(2026, 6, 15, 17, tzinfo=UTC)
    assert read.hours.iloc[0].to_dict() == {"temp_c": 21.5, "rh": 0.55, "wind_ms": 1.5}


def test_columns_of_other_names_are_told_once(yard: Yard, quick: Command) -> None:
    rows = [f"2026-06-13T{i:02}:00Z,{20 + i},{60 - i}" for i in range(8)]
    path = write(yard.folder, "when,a,b", *rows)
    mapped = ("--time", "when", "--temp", "a", "--rh", "b", "--temp-unit", "C")

    unknown = quick("logger", "import", path, "--site", "gravel")
    told = quick("logger", "import", path, "--site", "gravel", *mapped)
    again = quick("logger", "import", path, "--site", "gravel")

    assert unknown.code == 2
    assert "--time NAME; it has: when, a, b" in unknown.stderr
    assert (told.code, again.code) == (0, 0)
    assert "gravel: 8 hours kept" in again.stdout
    assert "too little to learn from" in again.stdout


@pytest.mark.parametrize(
    ("lines", "words"),
    [
        (["nothing", "here"], "has no header"),
        (["time,temp,rh", *["x,1,2"] * 4], "is 'temp' in C or F"),
        (["time,temp (C),rh", *["x,1,2"] * 4], "does not hold times"),
        (["time,temp (C),rh", *[f"2026-06-13 0{i}:00,70,500" for i in range(5)]], "another unit"),
    ],
)
def test_what_cannot_be_read_is_told_in_plain_words(
    tmp_path: Path, lines: list[str], words: str
) -> None:
    with pytest.raises(UsageError, match=words):
        read_logger_file(write(tmp_path, *lines), CHICAGO, {})


def air(hour: int) -> tuple[float, float, float]:
    """Return a summer's air: warm and dry by day."""
    day = cos(2 * pi * (hour - 20) / 24)
    return 22.0 + 6.0 * day, 55.0 - 15.0 * day, 3.0


def logged(folder: Path, warmer: float, damper: float, in_sun: float = 0.0) -> Path:
    """Write what a logger measured that is so much warmer, damper and sunnier than the forecast."""
    rows = []
    for i in range(24 * DAYS):
        at = START + timedelta(hours=i)
        temp, rh, _ = air(at.hour)
        sun = max(0.0, cos(2 * pi * (at.hour - 18) / 24)) * in_sun
        rows.append(f"{at:%Y-%m-%dT%H:%MZ},{temp + warmer + sun:.2f},{rh + damper:.1f}")
    return write(folder, "time,temp C,rh", *rows)


def show(quick: Command) -> dict[str, Any]:
    """Show the stack as of the present."""
    shown: dict[str, Any] = quick("stack", "show", "R7", "--json", "--now", NOW.isoformat()).json
    return shown


@pytest.fixture
def forecast(quick: Command, weather_service: WeatherService) -> None:
    """Let the yard know the weather of the days gone by."""
    weather_service.issue(START, [air((START + timedelta(hours=i)).hour) for i in range(240)])
    quick(
        *[
            "stack",
            "add",
            "R7",
            "--species",
            "red_oak",
            "--thickness",
            "4/4",
            "--site",
            "barn",
            "--stacked",
        ],
        START,
    )
    done = quick("watch", "--once", "--dry-run", "--now", START.isoformat())
    assert done.code == 0, done.stderr


@pytest.mark.usefixtures("forecast")
def test_a_damp_cool_site_is_learned_out_of_sample_and_slows_its_stacks(
    yard: Yard, quick: Command
) -> None:
    before = show(quick)["mc_pct"]["typical"]
    path = logged(yard.folder, -3.0, 15.0)

    told = quick("logger", "import", path, "--site", "barn", "--json")
    after = show(quick)["mc_pct"]["typical"]
    dropped = quick("logger", "forget", "--site", "barn")
    then = show(quick)["mc_pct"]["typical"]

    error = told.json["error"]
    assert error["temp_c"]["before"] == pytest.approx(3.0, abs=0.1)
    assert error["temp_c"]["after"] < 1.0
    assert error["rh"]["after"] < 0.5 * error["rh"]["before"]
    assert after > before + 1.0
    assert dropped.stdout == f"barn: {24 * DAYS} hours dropped.\n"
    assert then == before


@pytest.mark.usefixtures("forecast")
def test_a_logger_in_the_sun_is_refused(yard: Yard, quick: Command) -> None:
    path = logged(yard.folder, 0.0, 0.0, in_sun=12.0)

    done = quick("logger", "import", path, "--site", "gravel")

    assert done.code == 2
    assert "it hung in the sun" in done.stderr
    assert yard.sql("SELECT count(*) FROM logged_hour") == [(0,)]


@pytest.mark.usefixtures("forecast")
def test_what_does_not_help_is_not_used(yard: Yard, quick: Command) -> None:
    path = logged(yard.folder, 0.0, 0.0)

    quick("logger", "import", path, "--site", "barn")

    assert yard.sql("SELECT result FROM site_offset") == [('{"by_hour": {}, "by_wind": {}}',)]
