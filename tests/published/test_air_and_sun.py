"""Air and sun held to independent libraries, run live, and to published formulas.

The oracles are PsychroLib (ASHRAE Handbook of Fundamentals 2017, chapter 1), CoolProp (real-gas
humid air) and pvlib (NREL's solar position algorithm). Tolerance: 1 % in vapor pressure deficit, by
which the oracles and MetPy's formulas differ among themselves.
"""

import math

import numpy as np
import pandas as pd
import psychrolib
import pvlib
import pytest
from CoolProp.HumidAirProp import HAPropsSI
from metpy.calc import saturation_vapor_pressure
from metpy.units import units

from drywind.weather import air, sun, table
from drywind.weather.hour import WeatherHour

SEA_LEVEL_PA = 101325.0
STATES = [(30.0, 0.40), (20.0, 0.65), (10.0, 0.90), (35.0, 0.20)]
FROST = (-5.0, -7.9)
"""Temperature and dew point, °C."""
GREENSBORO = (36.1, -79.95)

psychrolib.SetUnitSystem(psychrolib.SI)


def coolprop(quantity: str, temp_c: float, rh: float) -> float:
    return float(HAPropsSI(quantity, "T", temp_c + 273.15, "P", SEA_LEVEL_PA, "R", rh))


def magnus_pa(temp_c: float) -> float:
    """Alduchov and Eskridge (1996), J. Appl. Meteorol. 35, eq. 21, over water (from memory)."""
    return 610.94 * math.exp(17.625 * temp_c / (243.04 + temp_c))


@pytest.mark.parametrize(("temp_c", "rh"), STATES)
def test_vapor_pressure_deficit_agrees_with_psychrolib_and_coolprop(
    temp_c: float, rh: float
) -> None:
    deficit = air.saturation_pressure_pa(temp_c) * (1.0 - rh)
    real_gas = coolprop("P_w", temp_c, 1.0) - coolprop("P_w", temp_c, rh)

    assert deficit == pytest.approx(psychrolib.GetSatVapPres(temp_c) * (1.0 - rh), rel=0.01)
    assert deficit == pytest.approx(real_gas, rel=0.01)


@pytest.mark.parametrize(("temp_c", "rh"), STATES)
def test_humidity_from_dew_point_agrees_with_psychrolib(temp_c: float, rh: float) -> None:
    dewpoint = psychrolib.GetTDewPointFromRelHum(temp_c, rh)

    assert air.rh_from_dewpoint(temp_c, dewpoint) == pytest.approx(rh, abs=0.003)


def test_below_freezing_humidity_is_over_water_as_weather_services_report_it() -> None:
    """PsychroLib takes ice there: its dew point, 0.34 K higher, would read 2 % too damp."""
    temp_c, dewpoint = FROST
    over_water = magnus_pa(dewpoint) / magnus_pa(temp_c)

    assert air.rh_from_dewpoint(temp_c, dewpoint) == pytest.approx(over_water, abs=0.002)
    over_ice = psychrolib.GetRelHumFromTDewPoint(temp_c, dewpoint)
    assert over_ice < over_water - 0.01


def test_fast_saturation_pressure_is_metpys() -> None:
    temp_c = np.linspace(-60.0, 60.0, 481)
    metpys = saturation_vapor_pressure(units.Quantity(temp_c, "degC")).m_as("Pa")

    np.testing.assert_allclose(air.saturation_pressure_pa(temp_c), metpys, rtol=1e-6)


def test_fast_saturation_pressure_is_ashraes_within_six_parts_in_a_thousand() -> None:
    temp_c = np.linspace(0.5, 50.0, 100)
    ashrae = [psychrolib.GetSatVapPres(temp) for temp in temp_c]

    np.testing.assert_allclose(air.saturation_pressure_pa(temp_c), ashrae, rtol=6e-3)


def test_saturation_slope_is_the_derivative_of_metpys_pressure() -> None:
    temp_c = np.linspace(-40.0, 60.0, 101)
    low, high = (
        saturation_vapor_pressure(units.Quantity(temp_c + step, "degC")).m_as("Pa")
        for step in (-0.01, 0.01)
    )

    np.testing.assert_allclose(
        air.saturation_pressure_slope(temp_c), (high - low) / 0.02, rtol=1e-6
    )


def test_a_dew_point_above_the_temperature_is_refused_but_rounding_is_forgiven() -> None:
    assert air.rh_from_dewpoint([20.0, 20.0], [20.5, 20.0]).tolist() == [1.0, 1.0]
    with pytest.raises(ValueError, match="dew point"):
        air.rh_from_dewpoint([20.0, 20.0], [20.0, 20.6])


def test_what_is_unknown_stays_unknown() -> None:
    known = np.isfinite(air.rh_from_dewpoint([20.0, math.nan, 20.0], [10.0, 10.0, math.nan]))

    assert known.tolist() == [True, False, False]


@pytest.mark.parametrize(
    ("lat", "lon"), [GREENSBORO, (61.2, -149.9), (19.7, -155.1), (-36.8, 174.8), (0.0, 0.0)]
)
def test_the_sun_stands_where_pvlib_puts_it(lat: float, lon: float) -> None:
    times = pd.date_range("2024-01-01", "2034-01-01", freq="4999min", tz="UTC")
    oracle = pvlib.solarposition.get_solarposition(times, lat, lon)

    elevation, azimuth = sun.sun_position(times.tz_localize(None).to_numpy(), lat, lon)

    np.testing.assert_allclose(elevation, oracle["elevation"], atol=0.05)
    turn = (azimuth - oracle["azimuth"] + 180.0) % 360.0 - 180.0
    # Near the zenith a small shift is a large turn: what counts is the angle on the sky.
    np.testing.assert_allclose(turn * np.cos(np.radians(elevation)), 0.0, atol=0.05)
    assert azimuth.min() >= 0.0
    assert azimuth.max() <= 360.0


def test_clear_sky_sun_is_pvlibs_haurwitz() -> None:
    elevation = np.linspace(-30.0, 90.0, 241)
    oracle = pvlib.clearsky.haurwitz(pd.Series(90.0 - elevation))["ghi"]

    np.testing.assert_allclose(sun.clear_sky_ghi(elevation), oracle, atol=0.1)


def test_cloud_takes_what_kasten_and_czeplak_found() -> None:
    """Solar Energy 24 (1980) 177-189: 1 - 0.75 (N/8)^3.4 of the clear sky at N eighths.

    The values at 0, 4 and 8 eighths are worked by hand from the formula as later authors quote it.
    """
    left = sun.ghi_from_cloud(np.array([800.0, 800.0, 800.0]), np.array([0.0, 0.5, 1.0]))

    assert left.tolist() == pytest.approx([800.0, 743.2, 200.0], abs=0.1)


def make_day(cloud: float, ghi_wm2: float) -> pd.DataFrame:
    hours = pd.date_range("2026-04-15", periods=24, freq="h", tz="UTC")
    return table.from_hours(
        [
            WeatherHour(hour, 15.0, 0.5, 2.0, 180.0, 4.0, ghi_wm2, cloud, 0.0, "test", hours[0])
            for hour in hours.to_pydatetime()
        ]
    )


def test_an_hour_gets_the_sun_of_its_half_hour() -> None:
    """On 15 April the equation of time is nil: at 0 E the hours to and from noon are alike."""
    ghi = sun.with_sun(make_day(cloud=0.0, ghi_wm2=math.nan), 45.0, 0.0)["ghi_wm2"]

    assert ghi.iloc[11] == pytest.approx(ghi.iloc[12], rel=0.002)
    assert ghi.iloc[11] == ghi.iloc[[10, 11, 13]].max()
    assert ghi.iloc[0] == 0.0


def test_given_sun_is_kept_and_none_is_made_up_where_the_cloud_is_unknown() -> None:
    assert (sun.with_sun(make_day(cloud=0.0, ghi_wm2=321.0), 45.0, 0.0)["ghi_wm2"] == 321.0).all()
    assert sun.with_sun(make_day(math.nan, math.nan), 45.0, 0.0)["ghi_wm2"].isna().all()
