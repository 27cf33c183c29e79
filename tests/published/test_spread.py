"""The error model beside real ensembles, real forecasts and what forecasts must beat."""

from datetime import datetime
from statistics import NormalDist

import numpy as np
import pandas as pd
import pytest
from tests.published import years
from tests.published.conftest import Against

from drywind.weather.hour import VALUES
from drywind.weather.skill import brier, crps
from drywind.weather.spread import DEFAULT, VARIABLES, members, to_scale

OHARE_YEARS = (2012, 2015, 2016, 2017)
DAY_H = 24
DAILY = ["temp_c", "rh", "wind_ms"]
FAHRENHEIT_K = 1 / 1.8
ISD = "NOAA ISD-Lite, O'Hare, April to October"
GEFS = "NOAA GEFS, 15 May 2019 00 UTC, Tucson (spread computed from its 20 members)"
EIGHT_YEARS = f"{ISD} of 2010-13, 2015-17 and 2020 (computed beforehand from all eight)"


def in_season(values: pd.DataFrame) -> pd.DataFrame:
    """Return the rows of April to October, when stacks dry fast."""
    return values[pd.DatetimeIndex(values.index).month.isin(range(4, 11))]


def daily(table: pd.DataFrame) -> pd.DataFrame:
    """Return the means of local standard days known for 20 hours at least."""
    local = table[DAILY].tz_convert("Etc/GMT+6").resample("D")
    return local.mean().where(local.count() >= 20)


def off_climatology(values: pd.DataFrame) -> pd.DataFrame:
    """Return how far hours lie from the 31-day running mean of their hour of the day."""
    by_hour = values.groupby(pd.DatetimeIndex(values.index).hour)
    return values - by_hour.transform(lambda v: v.rolling(31, center=True, min_periods=10).mean())


def on_scales(table: pd.DataFrame) -> pd.DataFrame:
    return pd.DataFrame({v: to_scale(v, table[v]) for v in VARIABLES}, index=table.index)


def rms(errors: pd.Series) -> float:
    return float(np.sqrt((errors**2).mean()))


def off_season() -> pd.DataFrame:
    """Return how far daily means at O'Hare lie from the 15-day mean of their day of the year."""
    days = pd.concat([daily(years.ohare(year)) for year in OHARE_YEARS])
    of_year = pd.DatetimeIndex(days.index).day_of_year
    usual = days.groupby(of_year).mean().rolling(15, center=True, min_periods=8).mean()
    return in_season(days - usual.loc[of_year].set_axis(days.index))


@pytest.fixture(scope="module")
def by_day() -> dict[str, list[float]]:
    """Return by how much daily means of members lie apart, days 0 to 10, in a mild season."""
    issued = datetime.fromisoformat("2019-05-15T00:00Z")
    index = pd.date_range(issued, periods=11 * DAY_H, freq="h", name="time_utc")
    told = dict.fromkeys(VALUES, 0.0) | {"temp_c": 18.0, "rh": 0.68, "wind_ms": 4.3}
    table = pd.DataFrame(told, index=index).assign(issued_at=pd.Timestamp(issued))
    drawn = members(table, years.OHARE, issued, 1201)[1:]
    hours = {name: np.stack([t[name].to_numpy(float) for t in drawn]) for name in DAILY}
    return {n: h.reshape(len(drawn), 11, DAY_H).mean(2).std(0).tolist() for n, h in hours.items()}


def test_days_of_members_lie_further_apart_than_those_of_a_real_ensemble_but_less_than_all_do(
    by_day: dict[str, list[float]], against: Against
) -> None:
    """An ensemble leaves out what the grid cannot know of a place; climatology knows no day."""
    gefs = pd.read_csv(years.DATA / "gefs_2019-05-15_spread.csv").groupby("day")
    least = gefs["temp_spread_k"].apply(rms)
    most = rms(off_season()["temp_c"])

    for day in range(1, 11):
        what = f"spread of daily mean temperature, day {day}, K"
        against.between(what, f"{GEFS}; {ISD}", by_day["temp_c"][day], least[day], most)


@pytest.mark.parametrize("name", DAILY)
def test_after_ten_days_members_lie_nearly_as_far_apart_as_all_days_do(
    name: str, by_day: dict[str, list[float]], against: Against
) -> None:
    usual = rms(off_season()[name])

    what = f"spread of daily mean {name}, day 10, of that about climatology"
    against.between(what, ISD, by_day[name][10] / usual, 0.75, 1.0)
    assert by_day[name][1] < 0.8 * by_day[name][10]


def test_the_error_of_knowing_the_season_alone_is_found_again(against: Against) -> None:
    """Half of the eight years stand here, which a climatology of four fits a little better."""
    ours = off_season().abs().mean()

    for name, theirs, tolerance in (
        ("temp_c", 3.08, 0.1),
        ("rh", 0.096, 0.003),
        ("wind_ms", 1.1, 0.02),
    ):
        what = f"mean error of climatology, daily mean {name}"
        against.value(what, EIGHT_YEARS, ours[name], theirs, tolerance)


@pytest.mark.parametrize(
    ("name", "days_back", "theirs", "tolerance"),
    [
        ("temp_c", 1, 2.32, 0.2),
        ("temp_c", 2, 3.5, 0.2),
        ("temp_c", 3, 3.9, 0.2),
        ("temp_c", 7, 4.5, 0.2),
        ("rh", 1, 0.085, 0.005),
        ("rh", 2, 0.113, 0.005),
        ("rh", 3, 0.121, 0.005),
        ("rh", 7, 0.127, 0.005),
        ("wind_ms", 1, 1.29, 0.05),
    ],
)
def test_the_error_of_saying_it_stays_as_it_was_is_found_again(
    name: str, days_back: int, theirs: float, tolerance: float, against: Against
) -> None:
    """Four of the eight years stand here, so rounding is not all that parts the numbers.

    From year to year the errors scatter by 0.3 K, 0.007 and 0.07 m/s; the mean of half the years
    strays from that of all by about a third of it, and the tolerance is twice that.
    """
    changes = [in_season(daily(years.ohare(y)).diff(days_back)) for y in OHARE_YEARS]
    ours = pd.concat(changes)[name].abs().mean()

    what = f"mean error of persistence over {days_back} d, daily mean {name}"
    against.value(what, EIGHT_YEARS, ours, theirs, tolerance)


@pytest.mark.parametrize("name", VARIABLES)
def test_a_forecast_of_one_day_is_surer_than_that_it_stays_as_it_was(
    name: str, against: Against
) -> None:
    changes = [in_season(on_scales(years.ohare(y)).diff(DAY_H))[name] for y in OHARE_YEARS]

    ours = float(DEFAULT.at(name, DAY_H))

    what = f"error at 24 h on the scale of {name}, below that of persistence"
    against.between(what, ISD, ours, 0.0, 0.7 * rms(pd.concat(changes)))


@pytest.mark.parametrize("name", VARIABLES)
def test_no_forecast_is_less_sure_than_climatology(name: str, against: Against) -> None:
    """At the far end the model is nearly, but not quite, as unsure as one who knows the season."""
    off = [in_season(off_climatology(on_scales(years.ohare(y))))[name] for y in OHARE_YEARS]
    usual = rms(pd.concat(off))

    what = f"error at 10 days on the scale of {name}, near climatology"
    against.between(what, ISD, float(DEFAULT.at(name, 240)), 0.8 * usual, usual)


def test_a_forecast_of_a_day_is_as_sure_as_real_ones_or_surer_by_what_they_gained(
    against: Against,
) -> None:
    """Forecasts gain about a day in ten years (from memory): those of now are two days' better."""
    one_day, two_days_gained = DEFAULT.at("temp_c", 20), DEFAULT.at("temp_c", 68)
    gained = float(two_days_gained - one_day)

    for what, source, theirs in (
        (
            "error of next day's maximum, K: 3 °F or less, told in whole °F, 68 % of the time",
            "ForecastAdvisor, Accuracy of Temperature Forecasts, 24 Sep 2006, US 2005 (seen)",
            3.5 / NormalDist().inv_cdf(0.84) * FAHRENHEIT_K,
        ),
        (
            "RMSE of the maximum 12-24 h ahead, K: forecasters at Norman, 3.80 °F",
            "H. Brooks, nssl.noaa.gov, tables on Oklahoma City forecasts, table 1 (seen)",
            3.80 * FAHRENHEIT_K,
        ),
    ):
        against.between(what, source, float(one_day), theirs - gained, theirs)


def test_crps_agrees_with_the_libraries(against: Against) -> None:
    drawn = np.random.default_rng(0).normal(20, 2, (5, 20))
    came = [19, 22, 25, 18, 20.5]

    against.value(
        "CRPS of five ensembles of 20",
        "properscoring 0.1, scoringrules 0.10.0 (estimator nrg), xskillscore 0.0.29",
        crps(drawn, came),
        [0.483200, 1.259712, 3.123087, 1.551122, 0.644627],
        5e-7,
    )


def test_crps_of_a_large_ensemble_is_that_of_its_distribution(against: Against) -> None:
    levels = (np.arange(20_000) + 0.5) / 20_000
    normal = [NormalDist(20, 2).inv_cdf(p) for p in levels]
    came = [19, 22, 25, 18, 20.5]

    against.value(
        "CRPS of a normal distribution, 20 and 2, from 20,000 of its quantiles",
        "properscoring 0.1, scoringrules 0.10.0",
        crps(np.tile(normal, (5, 1)), came),
        [0.662807, 1.204883, 3.879637, 1.204883, 0.517000],
        # The 20,000 quantiles lack the outermost tails: 1e-4 of the value.
        1e-4,
    )


def test_brier_agrees_with_the_libraries(against: Against) -> None:
    scored = brier([0.8, 0.3, 0.4], [1, 0, 1])

    source = "properscoring 0.1, scoringrules 0.10.0, xskillscore 0.0.29"
    against.value("Brier score", source, scored, [0.04, 0.09, 0.36], 1e-9)
    against.value("mean Brier score", source, scored.mean(), 0.1633, 5e-5)
