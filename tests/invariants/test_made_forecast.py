"""Forecasts made of weather that is known: true so far, and truer the nearer."""

from datetime import datetime, timedelta

import numpy as np
import pandas as pd
import pytest
from tests.published import years
from tests.timelines.seasons import COOL, HOT, LOT, R7, days

from drywind.judge.cases import make_case
from drywind.judge.runs import Run, advance
from drywind.season.past import Past
from drywind.season.replay import foresee
from drywind.weather.made_forecast import forecast
from drywind.weather.spread import VARIABLES, members, to_scale

HOURS = 72
TRUTH = days(30, COOL, {12: HOT}).tables[LOT.name]
NOW: datetime = TRUTH.index[250].to_pydatetime()
ISSUE = timedelta(hours=6)


def error(now: datetime, name: str, at: pd.Timestamp, seed: int = 1) -> float:
    foretold = forecast(TRUTH, LOT, now, HOURS, seed)
    both = (to_scale(name, table.loc[[at], name]) for table in (foretold, TRUTH))
    left, right = both
    return float(left[0] - right[0])


@pytest.mark.parametrize("name", VARIABLES)
def test_the_error_of_an_hour_shrinks_as_it_comes_near_and_keeps_its_sign(name: str) -> None:
    at = pd.Timestamp(NOW + timedelta(hours=60))
    errors = [error(NOW + i * ISSUE, name, at) for i in range(10)]

    assert np.all(np.diff(np.abs(errors)) <= 1e-9)
    assert abs(errors[-1]) < abs(errors[0])
    assert len(set(np.sign(errors))) == 1


def test_it_begins_with_the_present_hour_and_is_issued_every_six() -> None:
    foretold = forecast(TRUTH, LOT, NOW + timedelta(minutes=59), HOURS, 1)

    assert foretold.index[0] == NOW
    assert len(foretold) == HOURS
    assert set(foretold["issued_at"]) == {pd.Timestamp(NOW).floor("6h")}
    assert list(foretold.columns) == list(TRUTH.columns)


def test_perfect_it_is_the_truth() -> None:
    foretold = forecast(TRUTH, LOT, NOW, HOURS, None)

    pd.testing.assert_frame_equal(
        foretold.drop(columns="issued_at"),
        TRUTH.loc[foretold.index].drop(columns="issued_at"),
    )


def test_its_errors_are_not_those_the_chances_are_reckoned_with() -> None:
    truth = forecast(TRUTH, LOT, NOW, HOURS, None)
    own = members(truth, LOT, NOW, 31)

    for seed in (1, 2, 3):
        foretold = forecast(TRUTH, LOT, NOW, HOURS, seed)
        apart = foretold["temp_c"] - truth["temp_c"]
        alike = [np.corrcoef(apart, m["temp_c"] - truth["temp_c"])[0, 1] for m in own[1:]]
        assert 0 < apart.abs().mean() < 5
        assert np.max(np.abs(alike)) < 0.999


def test_what_is_not_known_is_not_foretold() -> None:
    gappy = TRUTH.copy()
    gappy.loc[NOW : NOW + timedelta(hours=5), ["temp_c", "cloud"]] = np.nan

    foretold = forecast(gappy, LOT, NOW, HOURS, 1)

    assert foretold["temp_c"].isna().to_list() == [True] * 6 + [False] * (HOURS - 6)


def test_rain_goes_astray_more_often_the_farther_off_and_stays_as_much_in_all() -> None:
    truth = years.ohare(2012)
    right: dict[int, list[bool]] = {1: [], 3: []}
    amounts = []
    for day in range(100, 280, 3):
        now = truth.index[24 * day].to_pydatetime()
        foretold = forecast(truth, years.OHARE, now, HOURS, 1)["rain_mm"].fillna(0.0)
        came = truth.loc[foretold.index, "rain_mm"].fillna(0.0)
        amounts.append((foretold.sum(), came.sum()))
        for ahead, found in right.items():
            part = slice(24 * (ahead - 1), 24 * ahead)
            found.append((foretold.iloc[part].sum() > 1) == (came.iloc[part].sum() > 1))

    assert np.mean(right[3]) < np.mean(right[1]) < 1.0
    assert np.mean(right[3]) > 0.6
    foretold_mm, came_mm = np.sum(amounts, axis=0)
    assert 0.6 < foretold_mm / came_mm < 1.6


def test_the_hours_gone_by_of_a_stack_are_those_that_came() -> None:
    past = Past({LOT.name: LOT}, {LOT.name: TRUTH}, days(1, COOL).zone, seed=1)
    (run,) = advance([Run.fresh(make_case(R7, past.truth, past.end, R7.stacked_at))], [100])
    now = run.case.time_of(100)

    foreseen = foresee(run, past.foreseen(now), now, HOURS)

    weather = foreseen.case.weather
    pd.testing.assert_frame_equal(weather.iloc[:100], run.case.weather.iloc[:100])
    assert foreseen.case.hours == 100 + HOURS
    changed = weather.iloc[100:]["temp_c"] - TRUTH.loc[now:, "temp_c"].iloc[:HOURS]
    assert changed.abs().min() > 0
