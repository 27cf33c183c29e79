"""What holds for the score kept of forecasts, and for what is learned from it."""

from datetime import UTC, datetime, timedelta

import numpy as np
import pandas as pd
import pytest

from drywind.weather.skill import FLOOR, PRIOR_DAYS, crps, scores, updated
from drywind.weather.spread import DEFAULT, LEAD_EDGES_H, VARIABLES, ErrorModel, members
from drywind.yard import Site

SITE = Site("yard", 36.10, -79.95, 273.0)
START = datetime(2026, 6, 1, tzinfo=UTC)
HOUR = timedelta(hours=1)
MIDDLE = {"temp_c": 25.0, "rh": 0.6, "wind_ms": 3.0, "cloud": 0.5}
BINS = list(LEAD_EDGES_H[:-1])


def told(rows: list[tuple[int, int, float]]) -> pd.DataFrame:
    """Return forecasts that differ in temperature alone: hour, hour of issue, degrees."""
    return pd.DataFrame(
        [
            {"time_utc": START + t * HOUR, "issued_at": START + i * HOUR, **MIDDLE, "temp_c": c}
            for t, i, c in rows
        ]
    )


def came(hours: int, issued_after_h: int = 0) -> pd.DataFrame:
    """Return what came: the same at every hour, issued some hours after each began."""
    index = pd.date_range(START, periods=hours, freq="h", name="time_utc")
    return pd.DataFrame(MIDDLE, index=index).assign(issued_at=index + issued_after_h * HOUR)


def of(name: str, scored: pd.DataFrame) -> pd.DataFrame:
    """Return the scores of one variable by the first lead time of each bin."""
    return scored.loc[[name]].droplevel("variable")


def seen(rmse: float, days: int) -> pd.DataFrame:
    """Return scores that are the same for every variable and lead time."""
    index = pd.MultiIndex.from_product([VARIABLES, BINS], names=["variable", "from_h"])
    return pd.DataFrame({"scaled_rmse": rmse, "days": days}, index=index)


def test_errors_are_counted_by_the_lead_time_they_were_made_at() -> None:
    forecasts = told([(10, 8, 26.0), (11, 8, 22.0), (40, 8, 30.0), (41, 8, 25.0)])

    table = of("temp_c", scores(forecasts, came(48)))

    assert list(table.index) == [0, 24]
    assert dict(table.loc[0]) == pytest.approx(
        {"bias": -1, "mae": 2, "rmse": 5**0.5, "scaled_rmse": 5**0.5, "count": 2, "days": 1}
    )
    assert list(table.loc[24, ["bias", "mae", "count"]]) == [2.5, 2.5, 2.0]
    assert table.loc[24, "rmse"] == pytest.approx(12.5**0.5)


def test_a_forecast_is_held_neither_to_itself_nor_to_a_later_forecast() -> None:
    forecasts = told([(10, 4, 30.0), (11, 4, 30.0)])
    weather = came(48)
    weather.loc[START + 11 * HOUR, "issued_at"] = pd.Timestamp(START + 7 * HOUR)

    assert of("temp_c", scores(forecasts, weather))["count"].to_list() == [1]
    itself = came(48).assign(issued_at=pd.Timestamp(START + 4 * HOUR))
    assert scores(forecasts, itself).empty


def test_a_lead_time_on_an_edge_counts_below_it_and_the_hour_of_issue_not_at_all() -> None:
    forecasts = told([(8, 8, 26.0), (14, 8, 26.0), (15, 8, 27.0), (248, 8, 26.0)])

    table = of("temp_c", scores(forecasts, came(264)))

    assert table["count"].to_dict() == {0: 1, 6: 1, 168: 1}
    assert table["bias"].to_dict() == {0: 1.0, 6: 2.0, 168: 1.0}


def test_hours_nobody_knows_and_leads_beyond_the_bins_are_not_scored() -> None:
    forecasts = told([(9, 8, np.nan), (10, 8, 26.0), (11, 12, 26.0), (260, 8, 26.0), (90, 8, 26.0)])
    weather = came(264)
    weather.loc[START + 90 * HOUR, "temp_c"] = np.nan

    table = scores(forecasts, weather)

    assert of("temp_c", table)["count"].to_dict() == {0: 1}
    assert of("rh", table)["count"].to_dict() == {0: 2, 72: 1}


def test_days_count_once_however_many_hours_they_have() -> None:
    forecasts = told([(t, t - 2, 26.0) for t in range(2, 72)])

    table = of("temp_c", scores(forecasts, came(72)))

    assert list(table.loc[0, ["count", "days"]]) == [70, 3]


def test_weather_drawn_from_the_model_scores_as_the_model_says() -> None:
    """The members of many forecasts stand for what came, so the model must find itself again."""
    index = pd.date_range(START, periods=241, freq="h", name="time_utc")
    table = pd.DataFrame({**MIDDLE, "ghi_wm2": 0.0}, index=index).assign(issued_at=START)
    forecasts = table.reset_index()

    drawn = members(table, SITE, START, 201)[1::2]
    squares = [
        scores(forecasts, t.assign(issued_at=index + HOUR))["scaled_rmse"] ** 2 for t in drawn
    ]

    found = np.sqrt(pd.concat(squares, axis=1).mean(axis=1))
    for name in VARIABLES:
        hours = [np.arange(a, b) + 1 for a, b in zip(BINS, LEAD_EDGES_H[1:], strict=True)]
        expected = [np.sqrt((DEFAULT.at(name, h) ** 2).mean()) for h in hours]
        # 100 draws: 7 % at one hour, and 20 % is three times that.
        np.testing.assert_allclose(found.loc[name], expected, rtol=0.2)


def test_nothing_seen_teaches_nothing() -> None:
    nothing = seen(1.0, 1).iloc[:0]

    for learned in (updated(DEFAULT, nothing), updated(DEFAULT, seen(5.0, 0))):
        for name in VARIABLES:
            np.testing.assert_allclose(learned.sd[name], DEFAULT.sd[name])


def test_the_yard_counts_for_half_after_the_days_of_the_prior() -> None:
    flat = ErrorModel(dict.fromkeys(VARIABLES, (1.0,) * len(BINS)), DEFAULT.memory_h, -0.4)

    learned = updated(flat, seen(2.0, PRIOR_DAYS))

    for name in VARIABLES:
        np.testing.assert_allclose(learned.sd[name], np.sqrt((1.0 + 4.0) / 2))
    assert (learned.memory_h, learned.temp_rh) == (flat.memory_h, flat.temp_rh)


@pytest.mark.parametrize("name", VARIABLES)
def test_perfect_agreement_is_not_believed(name: str) -> None:
    learned = updated(DEFAULT, seen(0.0, 100_000))

    np.testing.assert_allclose(learned.sd[name], FLOOR * DEFAULT.sd[name][0])


def test_errors_never_shrink_with_lead_time() -> None:
    scored = seen(0.0, 100_000)
    scored.loc[("temp_c", 12), "scaled_rmse"] = 3.0

    sd = updated(DEFAULT, scored).sd["temp_c"]

    np.testing.assert_allclose(sd[2:], 3.0, rtol=1e-3)
    assert sd[1] == pytest.approx(FLOOR * DEFAULT.sd["temp_c"][0])


def test_of_one_member_the_score_is_its_error() -> None:
    np.testing.assert_allclose(crps([[20.0], [3.0]], [22.5, 3.0]), [2.5, 0.0])


def test_an_unknown_member_or_outcome_has_no_score() -> None:
    scored = crps([[1.0, np.nan], [1.0, 2.0], [1.0, 2.0]], [1.0, np.nan, 1.0])

    assert np.isnan(scored).tolist() == [True, True, False]
