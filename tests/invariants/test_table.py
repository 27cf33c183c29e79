"""What holds for every table and every grid, whatever weather is in it."""

import json
import math
from collections.abc import Iterator
from copy import deepcopy
from datetime import UTC, datetime, timedelta
from functools import reduce
from itertools import pairwise
from operator import getitem
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from drywind.errors import WeatherError
from drywind.weather import nws, table
from drywind.weather.hour import VALUES, WeatherHour

START = datetime(2026, 6, 13, 5, tzinfo=UTC)
HOUR = timedelta(hours=1)
BRIDGED = ["temp_c", "rh", "wind_ms"]
patient = settings(deadline=None, max_examples=60, suppress_health_check=[HealthCheck.too_slow])
"""The tests may share a slow machine."""

GRID = json.loads((Path(__file__).parents[1] / "replay/data/nws_grid.json").read_text())


def duration(hours: int) -> str:
    days, rest = divmod(hours, 24)
    return "P" + (f"{days}D" if days else "") + (f"T{rest}H" if rest else "")


def chain(lengths: list[timedelta], amounts: list[float]) -> list[nws.Run]:
    times = [START]
    for length in lengths:
        times.append(times[-1] + length)
    spans = zip(pairwise(times), amounts, strict=False)
    return [nws.Run(start, end, amount) for (start, end), amount in spans]


amounts = st.lists(st.floats(0.0, 50.0), min_size=20, max_size=20)
whole_hours = st.lists(st.integers(1, 200), min_size=1, max_size=20)
quarter_hours = st.lists(st.integers(1, 50), min_size=1, max_size=20)


@patient
@given(st.integers(1, 384))
def test_every_way_to_write_a_duration_reads_the_same(hours: int) -> None:
    weeks, days = divmod(hours // 24, 7)
    spellings = [duration(hours), f"PT{hours}H", f"PT{hours * 60}M"]
    spellings.append(f"P{weeks}W{days}DT{hours % 24}H")

    for spelling in spellings:
        start, end = nws.parse_interval(f"2026-06-13T01:00:00-04:00/{spelling}")
        assert start == START
        assert end - start == hours * HOUR


@pytest.mark.parametrize(
    "text",
    ["", "/", "/PT1H", "2026-06-13T05:00:00+00:00", "2026-06-13T05:00:00+00:00/"]
    + ["2026-06-13T05:00:00/PT1H", "now/PT1H"]
    + [f"2026-06-13T05:00:00+00:00/{d}" for d in ("P", "PT", "PT0H", "P1M", "P1Y", "PT-1H", "1H")],
)
def test_what_is_no_interval_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match=r"not an instant|not a duration|no length|Invalid"):
        nws.parse_interval(text)


@patient
@given(whole_hours, amounts)
def test_expansion_gives_each_hour_of_each_run_its_value(
    lengths: list[int], given_amounts: list[float]
) -> None:
    hours = nws.by_hour(chain([n * HOUR for n in lengths], given_amounts))

    assert list(hours) == [START + n * HOUR for n in range(sum(lengths))]
    assert list(hours.values()) == [
        amount for n, amount in zip(lengths, given_amounts, strict=False) for _ in range(n)
    ]


@patient
@given(quarter_hours, amounts, st.randoms())
def test_spreading_loses_and_adds_no_rain(
    lengths: list[int], given_amounts: list[float], random: Any
) -> None:
    runs = chain([n * HOUR / 4 for n in lengths], given_amounts)
    random.shuffle(runs)

    hours = nws.by_hour(runs, total=True)

    assert sum(hours.values()) == pytest.approx(sum(run.value for run in runs))
    assert len(hours) == math.ceil(sum(lengths) / 4)


@patient
@given(st.lists(st.tuples(st.integers(0, 60), st.integers(1, 40), st.floats(0.0, 9.0)), max_size=9))
def test_runs_that_overlap_never_count_rain_twice(runs: list[tuple[int, int, float]]) -> None:
    read = [nws.Run(START + at * HOUR, START + (at + n) * HOUR, mm) for at, n, mm in runs]

    hours = nws.by_hour(read, total=True)

    for hour, rain in hours.items():
        covering = [run for run in read if run.start <= hour < run.end]
        assert rain <= max(run.value / ((run.end - run.start) / HOUR) for run in covering) + 1e-9


def paths(value: Any, above: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """Name every spot below the top of a JSON value."""
    steps = list(value) if isinstance(value, dict) else []
    steps += range(len(value)) if isinstance(value, list) else []
    for step in steps:
        yield (*above, step)
        yield from paths(value[step], (*above, step))


anything = st.recursive(
    st.none()
    | st.booleans()
    | st.floats(allow_nan=False)
    | st.sampled_from([10**400, -(10**400), 1, 0])
    | st.sampled_from(["", "2026-03-14T06:00:00+00:00/P999W", "9999-12-31T23:00:00+00:00/PT9H"])
    | st.sampled_from(["0001-01-01T00:00:00+14:00/PT1H", "wmoUnit:K", "0001-01-01T00:00:00+14:00"])
    | st.text(max_size=5),
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner, max_size=3)
    ),
    max_leaves=5,
)


@patient
@given(st.lists(st.tuples(st.sampled_from(list(paths(GRID))), anything), min_size=1, max_size=4))
def test_a_damaged_grid_gives_a_sound_table_or_a_weather_error(
    damages: list[tuple[tuple[Any, ...], Any]],
) -> None:
    body = deepcopy(GRID)
    for path, value in sorted(damages, key=lambda damage: -len(damage[0])):
        reduce(getitem, path[:-1], body)[path[-1]] = value

    try:
        forecast = nws.parse_grid(body)
    except WeatherError:
        return

    assert_sound(forecast.table)
    assert forecast.table.iloc[-1][BRIDGED].notna().all()


def assert_sound(frame: pd.DataFrame) -> None:
    assert list(frame.columns) == [*VALUES, "source", "issued_at"]
    assert frame.index.is_unique
    assert frame.index.is_monotonic_increasing
    assert str(frame.index.dtype) == "datetime64[us, UTC]"
    for name, (low, high) in table.BOUNDS.items():
        assert frame[name].dropna().between(low, high).all()


value = st.none() | st.floats(0.0, 1.0)


@st.composite
def frames(draw: st.DrawFn, size: int = 30) -> pd.DataFrame:
    """Make a table of up to `size` hours, some of them missing, with unknown values strewn in."""
    present = draw(st.sets(st.integers(0, size - 1)))
    columns = [draw(st.lists(value, min_size=size, max_size=size)) for _ in VALUES]
    return table.from_hours(
        [
            WeatherHour._make(
                [
                    START + n * HOUR,
                    *(math.nan if column[n] is None else column[n] for column in columns),
                    "test",
                    START,
                ]
            )
            for n in present
        ]
    )


@patient
@given(frames())
def test_a_table_survives_the_way_through_its_records(frame: pd.DataFrame) -> None:
    hours = table.to_hours(frame)

    pd.testing.assert_frame_equal(table.from_hours(hours[::-1]), frame)
    assert all(hour.time_utc.tzinfo == UTC and type(hour.temp_c) is float for hour in hours)


def test_of_two_records_of_an_hour_the_one_issued_last_stands() -> None:
    old = WeatherHour(START, 10.0, 0.5, 1.0, 0.0, 1.0, 0.0, 0.0, 0.0, "a", START)
    new = old._replace(temp_c=12.0, source="b", issued_at=START + HOUR)

    assert table.to_hours(table.from_hours([new, old])) == [new]


def test_a_record_off_the_whole_hour_is_refused() -> None:
    hour = WeatherHour(START, 10.0, 0.5, 1.0, 0.0, 1.0, 0.0, 0.0, 0.0, "a", START)

    with pytest.raises(ValueError, match="whole hour"):
        table.from_hours([hour._replace(time_utc=START + HOUR / 2)])


@patient
@given(frames(), st.integers(-6, 40), st.integers(0, 30), st.integers(0, 5))
def test_hourly_gives_each_hour_once_and_leaves_known_values_alone(
    frame: pd.DataFrame, first: int, count: int, max_gap: int
) -> None:
    start = START + first * HOUR
    full = table.hourly(frame, start, start + count * HOUR, max_gap)

    assert list(full.index) == [start + n * HOUR for n in range(count)]
    original = frame.reindex(full.index)
    for name in VALUES:
        known = original[name].notna()
        assert (full.loc[known, name] == original.loc[known, name]).all()
    for name in ("gust_ms", "ghi_wm2", "cloud", "rain_mm"):
        assert (full[name].isna() == original[name].isna()).all()
    bridged = (original[BRIDGED].isna() & full[BRIDGED].notna()).any(axis=1)
    assert (full["filled"] == bridged).all()


@patient
@given(frames(), st.integers(0, 5))
def test_only_short_gaps_are_bridged_on_a_straight_line(frame: pd.DataFrame, max_gap: int) -> None:
    end = START + 30 * HOUR
    full = table.hourly(frame, START, end, max_gap)
    original = frame.reindex(full.index)

    for name in BRIDGED:
        places = np.flatnonzero(original[name].notna())
        expected = original[name].to_numpy().copy()
        for left, right in pairwise(places):
            if right - left - 1 <= max_gap:
                expected[left : right + 1] = np.linspace(
                    expected[left], expected[right], right - left + 1
                )
        np.testing.assert_allclose(full[name], expected, atol=1e-12)


@patient
@given(frames(), st.integers(0, 29))
def test_a_bridge_does_not_depend_on_the_hours_asked_for(frame: pd.DataFrame, cut: int) -> None:
    end = START + 30 * HOUR
    whole = table.hourly(frame, START, end)

    part = table.hourly(frame, START + cut * HOUR, end)

    pd.testing.assert_frame_equal(part, whole.iloc[cut:], check_freq=False)


def test_wind_direction_takes_the_nearest_known_hour() -> None:
    """Halfway between north-northwest and north-northeast the wind is not from the south."""
    known = {0: 350.0, 4: 10.0}
    hours = [
        WeatherHour(
            START + n * HOUR, 10.0, 0.5, 1.0, known.get(n, math.nan), 1.0, 0.0, 0.0, 0.0, "a", START
        )
        for n in range(5)
    ]

    full = table.hourly(table.from_hours(hours), START, START + 5 * HOUR)

    assert list(full["wind_dir_deg"]) == [350.0, 350.0, 350.0, 10.0, 10.0]


def test_hours_no_service_gave_have_no_source_and_no_record() -> None:
    hour = WeatherHour(START, 10.0, 0.5, 1.0, 0.0, 1.0, 0.0, 0.0, 0.0, "a", START)
    pair = table.from_hours([hour, hour._replace(time_utc=START + 2 * HOUR)])

    full = table.hourly(pair, START, START + 4 * HOUR)

    assert list(full["filled"]) == [False, True, False, False]
    assert full["source"].isna().tolist() == [False, True, False, True]
    assert [record.time_utc for record in table.to_hours(full)] == [START, START + 2 * HOUR]


def test_an_hour_asked_from_within_starts_at_the_next_whole_one() -> None:
    empty = table.from_hours([])

    full = table.hourly(empty, START + HOUR / 3, START + 2.5 * HOUR)

    assert list(full.index) == [START + HOUR, START + 2 * HOUR]
    assert full["temp_c"].isna().all()


wild = st.floats(-1e9, 1e9) | st.floats(-10.0, 10.0) | st.sampled_from([math.nan, math.inf])


@patient
@given(st.lists(st.lists(wild, min_size=8, max_size=8), max_size=8))
def test_no_impossible_value_passes_and_each_lost_one_is_counted(rows: list[list[float]]) -> None:
    frame = table.from_hours(
        [WeatherHour._make([START + n * HOUR, *row, "a", START]) for n, row in enumerate(rows)]
    )

    kept, dropped = table.within_bounds(frame)

    assert_sound(kept)
    lost = kept[list(VALUES)].isna().sum() - frame[list(VALUES)].isna().sum()
    assert {name: int(n) for name, n in lost.items() if n} == dropped
    pd.testing.assert_frame_equal(table.within_bounds(kept)[0], kept)


@pytest.mark.parametrize(
    ("column", "given_value", "expected"),
    [
        ("rh", 1.04, 1.0),
        ("rh", 1.06, math.nan),
        ("rh", -0.01, math.nan),
        ("ghi_wm2", -0.2, 0.0),
        ("ghi_wm2", -84155.0, math.nan),
        ("ghi_wm2", 1401.0, math.nan),
        ("temp_c", 60.0, 60.0),
        ("temp_c", -60.1, math.nan),
        ("wind_ms", 468.5, math.nan),
        ("gust_ms", 75.1, math.nan),
        ("cloud", 1.01, math.nan),
        ("rain_mm", 200.1, math.nan),
    ],
)
def test_rounding_is_moved_onto_the_bound_and_a_fault_is_unknown(
    column: str, given_value: float, expected: float
) -> None:
    hour = WeatherHour(START, 10.0, 0.5, 1.0, 0.0, 1.0, 0.0, 0.0, 0.0, "a", START)
    frame = table.from_hours([hour]).assign(**{column: given_value})

    kept, _ = table.within_bounds(frame)

    assert kept[column].iloc[0] == pytest.approx(expected, nan_ok=True)
