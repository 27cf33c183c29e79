"""What holds for the members of every forecast, made up or of a real ensemble."""

from collections.abc import Mapping
from datetime import UTC, datetime, timedelta

import numpy as np
import pandas as pd
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from drywind.weather.hour import VALUES
from drywind.weather.spread import (
    DEFAULT,
    GROWTH,
    TEMP_RH,
    VARIABLES,
    from_scale,
    members,
    to_scale,
    widened,
)
from drywind.weather.sun import clear_sky_ghi, sun_position
from drywind.weather.table import BOUNDS
from drywind.yard import Site

Floats = NDArray[np.float64]

SITE = Site("yard", 36.10, -79.95, 273.0)
ISSUED = datetime(2026, 6, 13, 6, tzinfo=UTC)
NOW = ISSUED + timedelta(hours=2, minutes=20)
BEFORE_H = 12
"""Hours of the forecasts here that began before it was issued."""
AHEAD = slice(BEFORE_H + 2, None)
"""The hours from the one `NOW` lies in."""
MIDDLE: Mapping[str, float | Floats] = {
    "temp_c": 25.0,
    "rh": 0.6,
    "wind_ms": 3.0,
    "cloud": 0.5,
    "ghi_wm2": 0.0,
}
patient = settings(deadline=None, max_examples=40, suppress_health_check=[HealthCheck.too_slow])
"""The tests may share a slow machine."""


def hours_of(ahead_h: int) -> pd.DatetimeIndex:
    start = ISSUED - timedelta(hours=BEFORE_H)
    return pd.date_range(start, periods=BEFORE_H + ahead_h, freq="h", name="time_utc")


def forecast(
    values: Mapping[str, float | Floats] = MIDDLE, ahead_h: int = 168, issued: datetime = ISSUED
) -> pd.DataFrame:
    """Return a forecast that says the same for every hour, but for the values given."""
    told = {**dict.fromkeys(VALUES, 0.0), **MIDDLE, **values}
    return pd.DataFrame(told, index=hours_of(ahead_h)).assign(
        source="test", issued_at=pd.Timestamp(issued)
    )


def scaled(tables: list[pd.DataFrame], name: str) -> Floats:
    """Return what members say of a variable on its scale, shape (members, hours)."""
    return to_scale(name, np.stack([table[name].to_numpy(float) for table in tables]))


def lead_h(table: pd.DataFrame) -> Floats:
    return np.arange(len(table), dtype=np.float64) - BEFORE_H


@pytest.mark.parametrize("name", VARIABLES)
def test_what_is_put_on_its_scale_comes_back(name: str) -> None:
    values = np.linspace(*BOUNDS[name], 101)

    np.testing.assert_allclose(from_scale(name, to_scale(name, values)), values, atol=1e-9)


def test_the_first_member_is_the_forecast_itself() -> None:
    table = forecast()

    pd.testing.assert_frame_equal(members(table, SITE, NOW, 5)[0], table)


def test_what_has_passed_and_what_is_not_perturbed_stays_as_it_is() -> None:
    table = forecast({"rain_mm": 1.5, "gust_ms": 9.0, "wind_dir_deg": 270.0})

    other = members(table, SITE, NOW, 2)[1]

    before = slice(None, BEFORE_H + 2)
    pd.testing.assert_frame_equal(other.iloc[before], table.iloc[before])
    kept = ["rain_mm", "gust_ms", "wind_dir_deg", "source", "issued_at"]
    pd.testing.assert_frame_equal(other[kept], table[kept])
    assert (other[list(VARIABLES)] != table[list(VARIABLES)]).iloc[AHEAD].all(axis=None)


def test_a_forecast_with_nothing_ahead_has_only_itself_for_members() -> None:
    table = forecast(ahead_h=2)

    for other in members(table, SITE, NOW, 3):
        pd.testing.assert_frame_equal(other, table)


@patient
@given(st.integers(0, 2**32 - 1))
def test_members_stay_within_what_can_be_and_unknown_stays_unknown(seed: int) -> None:
    draw = np.random.default_rng(seed)
    hours = 72 + BEFORE_H
    values = {name: draw.uniform(*BOUNDS[name], hours) for name in (*VARIABLES, "ghi_wm2")}
    for name, column in values.items():
        column[draw.integers(0, hours, 9)] = draw.choice(BOUNDS[name], 9)
        column[draw.integers(0, hours, 9)] = np.nan
    table = forecast(values, 72)

    for other in members(table, SITE, NOW, 5):
        for name in values:
            known = other[name].notna()
            assert (known == table[name].notna()).all()
            assert other[name][known].between(*BOUNDS[name]).all()


@pytest.mark.parametrize(("name", "end"), [("rh", 1.0), ("wind_ms", 0.0), ("cloud", 0.0)])
def test_fog_calm_and_clear_sky_are_not_certain(name: str, end: float) -> None:
    tables = members(forecast({name: end}), SITE, NOW, 41)

    strayed = np.stack([t[name].to_numpy(float) != end for t in tables[1:]])[:, AHEAD].mean()

    assert 0.45 < strayed < 0.55


@pytest.mark.parametrize("name", VARIABLES)
def test_members_err_to_either_side_by_the_same(name: str) -> None:
    table = forecast()
    own = scaled([table], name)

    off = scaled(members(table, SITE, NOW, 7), name) - own

    np.testing.assert_allclose(off[1::2], -off[2::2], atol=1e-9)
    assert np.abs(off[1::2, AHEAD]).mean() > 0.2 * DEFAULT.sd[name][0]


@pytest.mark.parametrize("name", VARIABLES)
def test_members_lie_apart_as_the_model_says_and_ever_more(name: str) -> None:
    table = forecast(ahead_h=240)
    own = lead_h(table)

    spread = scaled(members(table, SITE, NOW, 801), name).std(axis=0)[AHEAD]

    # 400 independent errors: the standard deviation is uncertain by 1/sqrt(800), 4 % and more
    # for the worst of 238 hours.
    np.testing.assert_allclose(spread, DEFAULT.at(name, own[AHEAD]), rtol=0.16)
    by_day = spread[: 9 * 24].reshape(9, 24).mean(axis=1)
    assert by_day[-1] > 1.08 * by_day[0]
    assert (np.diff(DEFAULT.sd[name]) >= 0).all()


@pytest.mark.parametrize("name", VARIABLES)
def test_an_error_lasts_as_long_as_the_model_says(name: str) -> None:
    table = forecast()
    off = (scaled(members(table, SITE, NOW, 801), name) - scaled([table], name))[1::2, AHEAD]

    unit = off / off.std(axis=0)
    after_6_h = (unit[:, 6:] * unit[:, :-6]).mean()

    memory = DEFAULT.memory_h[name]
    expected = np.exp(-6 / memory)
    if name == "rh":  # it goes along with temperature, which lasts longer
        share = TEMP_RH.value**2
        expected = share * np.exp(-6 / DEFAULT.memory_h["temp_c"]) + (1 - share) * expected
    assert after_6_h == pytest.approx(expected, abs=0.03)


def test_a_member_too_warm_is_mostly_too_dry() -> None:
    tables = members(forecast(), SITE, NOW, 801)
    warm, damp = (scaled(tables, name)[1::2, AHEAD] for name in ("temp_c", "rh"))

    hourly = [np.corrcoef(a, b)[0, 1] for a, b in zip(warm.T, damp.T, strict=True)]

    assert np.mean(hourly) == pytest.approx(TEMP_RH.value, abs=0.05)


def test_a_pass_repeated_has_the_same_members_and_more_of_them_begin_with_the_same() -> None:
    table = forecast()

    again = members(table, SITE, NOW, 9)

    for one, other in zip(members(table, SITE, NOW, 6), again[:6], strict=True):
        pd.testing.assert_frame_equal(one, other)


def test_another_place_has_other_errors() -> None:
    far = Site("far", 41.98, -87.92, 201.0)
    here, there = (members(forecast(), site, NOW, 2)[1]["temp_c"][AHEAD] for site in (SITE, far))

    assert abs(np.corrcoef(here, there)[0, 1]) < 0.9


@pytest.mark.parametrize("name", VARIABLES)
def test_a_newer_issue_shrinks_the_errors_of_a_member_but_keeps_their_signs(name: str) -> None:
    newer = ISSUED + timedelta(hours=30)
    later = slice(BEFORE_H + 31, None)
    own = to_scale(name, MIDDLE[name])

    old = scaled(members(forecast(), SITE, NOW, 4), name)[:, later] - own
    new = scaled(members(forecast(issued=newer), SITE, newer, 4), name)[:, later] - own

    hours = lead_h(forecast())[later]
    shrunk = DEFAULT.at(name, hours - 30) / DEFAULT.at(name, hours)
    assert (shrunk[:60] < 1).all()
    assert (shrunk <= 1).all()
    least, most = to_scale(name, BOUNDS[name])  # where nothing can be further off
    within = (old + own > least + 0.2) & (old + own < most - 0.2)
    assert within.mean() > 0.8
    np.testing.assert_allclose(new[within], (old * shrunk)[within], atol=2e-3)


def test_a_bridged_hour_is_as_uncertain_as_the_one_before() -> None:
    table = forecast()
    bridged = table.copy()
    bridged.loc[table.index[BEFORE_H + 50], ["source", "issued_at"]] = [None, pd.NaT]

    one, other = (members(t, SITE, NOW, 2)[1]["temp_c"] for t in (table, bridged))

    pd.testing.assert_series_equal(one, other)
    assert other.iloc[BEFORE_H + 50] != 25.0


def test_sun_follows_cloud_between_overcast_and_clear() -> None:
    index = hours_of(48)
    elevation, _ = sun_position(
        index.tz_localize(None).to_numpy() + np.timedelta64(30, "m"), SITE.lat, SITE.lon
    )
    clear = clear_sky_ghi(elevation)
    table = forecast({"ghi_wm2": 0.7 * clear}, 48)
    day = clear[AHEAD] > 100.0

    tables = members(table, SITE, NOW, 41)

    sun = np.stack([t["ghi_wm2"].to_numpy(float) for t in tables])[:, AHEAD]
    cloud = np.stack([t["cloud"].to_numpy(float) for t in tables])[:, AHEAD]
    assert (sun[:, ~day] <= clear[AHEAD][~day] + 1e-9).all()
    assert (sun <= clear[AHEAD] + 1e-9).all()
    assert (sun >= 0.25 * clear[AHEAD] - 1e-9).all()
    for hour in np.flatnonzero(day):
        assert (np.diff(sun[np.argsort(cloud[:, hour]), hour]) <= 1e-9).all()
        assert np.ptp(sun[:, hour]) > 0.2 * clear[AHEAD][hour]


def test_sun_under_unknown_cloud_stays_as_forecast() -> None:
    table = forecast({"cloud": np.nan, "ghi_wm2": 300.0})

    other = members(table, SITE, NOW, 3)[2]

    assert (other["ghi_wm2"] == 300.0).all()
    assert other["cloud"].isna().all()


def ensemble(apart_k: float, count: int = 31) -> list[pd.DataFrame]:
    """Return an ensemble whose temperatures alone lie apart, by the same at every hour."""
    steps = np.linspace(-1.0, 1.0, count)
    return [forecast({"temp_c": 25.0 + k}) for k in apart_k * steps / steps.std()]


def test_a_narrow_ensemble_is_made_as_wide_as_the_model_for_three_days() -> None:
    narrow = ensemble(0.3, 401)

    wide = scaled(widened(narrow, SITE, NOW), "temp_c").std(axis=0)

    lead = lead_h(narrow[0])
    early = (lead >= 2) & (lead <= 72)
    np.testing.assert_allclose(wide[early], DEFAULT.at("temp_c", lead[early]), rtol=0.16)
    np.testing.assert_allclose(wide[lead >= 96], 0.3, rtol=1e-6)
    np.testing.assert_allclose(wide[lead < 2], 0.3, rtol=1e-6)


def test_a_wide_ensemble_and_its_control_run_are_left_alone() -> None:
    given_tables = ensemble(8.0)

    out = widened(given_tables, SITE, NOW)

    for one, other in zip(given_tables, out, strict=True):
        np.testing.assert_allclose(one["temp_c"], other["temp_c"], atol=1e-9)
    pd.testing.assert_frame_equal(out[0], given_tables[0])
    assert (out[1]["rh"] != given_tables[1]["rh"]).iloc[AHEAD][:70].all()


def test_what_one_member_does_not_know_the_others_still_do() -> None:
    tables = ensemble(0.3, 5)
    tables[3].loc[tables[3].index[40], "rh"] = np.nan

    out = widened(tables, SITE, NOW)

    assert [int(t["rh"].isna().sum()) for t in out] == [0, 0, 0, 1, 0]
    assert out[1]["rh"].iloc[40] != tables[1]["rh"].iloc[40]


def test_an_ensemble_of_different_hours_is_refused() -> None:
    with pytest.raises(ValueError, match="same hours"):
        widened([forecast(ahead_h=48), forecast(ahead_h=72)], SITE, NOW)


def test_every_guess_lies_within_what_is_believed_and_says_why() -> None:
    guesses = [guess for growth in GROWTH.values() for guess in growth]

    for guess in (*guesses, TEMP_RH):
        assert guess.low < guess.value < guess.high
        assert len(guess.why) > 10
