"""Past years laid over other weeks, and kept as bytes."""

from datetime import UTC, datetime, timedelta

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drywind.weather.hour import VALUES
from drywind.weather.usual import (
    DRAWS,
    HOURS,
    STEPS,
    Draw,
    Origin,
    PastYear,
    Usual,
    continued,
    hour_of_year,
    laid_over,
    nearest,
    of_place,
    packed,
    shipped,
    unpacked,
)

COUNTED = np.tile(np.arange(HOURS, dtype=float)[:, None], len(STEPS))


def year(number: int, lon: float = -80.0, *, is_typical: bool = False) -> PastYear:
    """Return a year whose every value is the hour of the year, and ten thousand times the year."""
    return PastYear("there", 36.0, lon, number, is_typical, COUNTED + 10_000.0 * number)


def usual(*years: PastYear, lon: float = -80.0) -> Usual:
    return Usual(tuple(years), Origin.YARD, 0.0, lon)


@given(st.datetimes(datetime(2020, 1, 1), datetime(2031, 12, 31)))  # noqa: DTZ001 - made aware below
def test_the_same_hour_of_every_year_is_one_hour(instant: datetime) -> None:
    at = instant.replace(tzinfo=UTC, minute=0, second=0, microsecond=0)
    other = (
        at.replace(year=2023, day=28) if (at.month, at.day) == (2, 29) else at.replace(year=2023)
    )

    assert hour_of_year(at) == hour_of_year(other)
    assert 0 <= hour_of_year(at) < HOURS


@settings(max_examples=20)
@given(st.integers(0, 2**32 - 1), st.floats(0.0, 0.3))
def test_a_year_comes_out_of_its_bytes_to_the_step(seed: int, gaps: float) -> None:
    random = np.random.default_rng(seed)
    hours = random.uniform(0.0, 1.0, (HOURS, len(STEPS))) * [60, 1, 30, 360, 1200, 1, 30]
    hours[random.uniform(size=hours.shape) < gaps] = np.nan

    found = unpacked(packed(PastYear("x", 0.0, 0.0, 2001, False, hours)))

    assert np.array_equal(np.isnan(found), np.isnan(hours))
    assert np.nanmax(np.abs(found - hours) / list(STEPS.values())) <= 0.5 + 1e-6


def test_a_year_goes_on_into_the_next_or_begins_again() -> None:
    start = datetime(2030, 12, 31, 22, tzinfo=UTC)
    two, one = usual(year(2011), year(2012)), usual(year(2011))

    assert list(two.values(Draw(0, 0), start, 4)[:, 0] - 20_110_000) == [8758, 8759, 10_000, 10_001]
    assert list(one.values(Draw(0, 0), start, 4)[:, 0] - 20_110_000) == [8758, 8759, 0, 1]


def test_noon_stays_noon_where_the_year_is_from_another_longitude() -> None:
    noon_at_80_west = datetime(2030, 6, 1, 17, tzinfo=UTC)
    noon_at_125_west = noon_at_80_west + timedelta(hours=3)
    here, there = usual(year(2011)), usual(year(2011), lon=-125.0)

    ours = here.values(Draw(0, 0), noon_at_80_west, 1)
    theirs = there.values(Draw(0, 0), noon_at_125_west, 1)

    assert np.array_equal(ours, theirs)


def test_few_years_are_laid_some_weeks_earlier_and_later_too() -> None:
    start = datetime(2030, 6, 15, tzinfo=UTC)
    one, many = usual(year(2011)), usual(*(year(2000 + i) for i in range(DRAWS)))

    shifts = {float(one.values(draw, start, 1)[0, 0]) for draw in one.draws}

    assert len(one.draws) == DRAWS
    assert {round((hour - min(shifts)) / 24) for hour in shifts} == {0, 7, 14, 21, 28}
    assert [draw.shift_days for draw in many.draws] == [0] * DRAWS


def test_a_forecast_goes_on_as_a_past_year_and_a_gap_in_it_stays_unknown() -> None:
    start = datetime(2030, 6, 15, tzinfo=UTC)
    index = pd.date_range(start, periods=10, freq="h", name="time_utc")
    table = pd.DataFrame(1.0, index=index, columns=list(VALUES)).assign(
        source="nws", issued_at=pd.Timestamp(start)
    )
    table.loc[index[4], "temp_c"] = np.nan
    table.loc[index[8:], "rh"] = np.nan

    whole = continued(table, usual(year(2011)), Draw(0, 0), start + timedelta(hours=14))

    assert len(whole) == 14
    assert whole.index.is_monotonic_increasing
    assert list(np.flatnonzero(whole["temp_c"].isna())) == [4]
    assert list(whole["source"]) == ["nws"] * 8 + ["past_year"] * 6
    assert whole["temp_c"].iloc[8] == 20_110_000 + hour_of_year(start) + 8
    assert set(whole.columns) == set(table.columns)


def test_years_with_gaps_in_a_span_do_not_stand_for_it() -> None:
    holed = COUNTED.copy()
    holed[5000, 0] = np.nan
    both = usual(year(2011), PastYear("there", 36.0, -80.0, 2012, False, holed))
    before, across = (datetime(2030, 1, 1, tzinfo=UTC) + timedelta(hours=h) for h in (1000, 4990))

    assert {d.which for d in both.known(before, 100) if not d.shift_days} == {0, 1}
    assert {d.which for d in both.known(across, 100) if not d.shift_days} == {0}


def test_a_place_has_its_own_observed_years_before_a_typical_one() -> None:
    own = of_place([year(2012), year(2001, is_typical=True), year(2011)], 36.0, -80.0)
    typical = of_place([year(2001, is_typical=True)], 36.0, -80.0)

    assert [y.year for y in own.years] == [2011, 2012]
    assert own.words == "2 years at there (2011 to 2012)"
    assert typical.words == "the typical year of there"


@pytest.mark.parametrize(
    ("lat", "lon", "name", "km"),
    [
        (36.07, -79.79, "Greensboro NC", (10, 20)),
        (41.88, -87.63, "Chicago O'Hare IL", (20, 35)),
        (25.76, -80.19, "Miami FL", (5, 15)),
        (40.0, -105.3, "Golden CO", (25, 35)),
    ],
)
def test_without_any_the_nearest_shipped_place_stands_in_and_says_how_far(
    lat: float, lon: float, name: str, km: tuple[float, float]
) -> None:
    found = nearest(lat, lon)

    assert {y.name for y in found.years} == {name}
    assert km[0] <= found.distance_km <= km[1]
    assert name in found.words
    assert f"{found.distance_km:.0f} km off" in found.words


def test_a_typical_year_is_laid_over_its_own_hours() -> None:
    (there,) = (y for y in shipped() if y.name == "Greensboro NC")
    index = pd.date_range("2001-03-01", periods=48, freq="h", tz="UTC", name="time_utc")

    found = laid_over(Usual((there,), Origin.SHIPPED, 0.0, there.lon), Draw(0, 0), index)

    first = hour_of_year(index[0].to_pydatetime())
    assert np.allclose(found["temp_c"], there.hours[first : first + 48, 0])
