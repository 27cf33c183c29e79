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
from tests.published.conftest import Against

from drywind.weather import air, sun, table
from drywind.weather.hour import WeatherHour

SEA_LEVEL_PA = 101325.0
STATES = [(30.0, 0.40), (20.0, 0.65), (10.0, 0.90), (35.0, 0.20)]
FROST = (-5.0, -7.9)
"""Temperature and dew point, °C."""
GREENSBORO = (36.1, -79.95)

PSYCHROLIB = "PsychroLib (ASHRAE Handbook of Fundamentals 2017, ch. 1), run live"
COOLPROP = "CoolProp HumidAirProp (real gas), run live"
METPY = "MetPy saturation_vapor_pressure, run live"
MAGNUS = "Alduchov and Eskridge 1996, J. Appl. Meteorol. 35, eq. 21 (from memory)"
PVLIB = "pvlib (NREL solar position algorithm), run live"
HAURWITZ = "pvlib clearsky.haurwitz, run live"
KASTEN = "Kasten and Czeplak 1980, Solar Energy 24:177 (as later authors quote it; by hand)"

psychrolib.SetUnitSystem(psychrolib.SI)


def state(temp_c: float, rh: float) -> str:
    return f"{temp_c:g} C, {100 * rh:g} %"


def coolprop(quantity: str, temp_c: float, rh: float) -> float:
    return float(HAPropsSI(quantity, "T", temp_c + 273.15, "P", SEA_LEVEL_PA, "R", rh))


def magnus_pa(temp_c: float) -> float:
    """Saturation pressure over water, also below freezing."""
    return 610.94 * math.exp(17.625 * temp_c / (243.04 + temp_c))


@pytest.mark.parametrize(("temp_c", "rh"), STATES)
def test_vapor_pressure_deficit_agrees_with_psychrolib_and_coolprop(
    against: Against, temp_c: float, rh: float
) -> None:
    deficit = air.saturation_pressure_pa(temp_c) * (1.0 - rh) / 1000.0
    ideal = psychrolib.GetSatVapPres(temp_c) * (1.0 - rh) / 1000.0
    real = (coolprop("P_w", temp_c, 1.0) - coolprop("P_w", temp_c, rh)) / 1000.0

    what = f"vapor pressure deficit, kPa, {state(temp_c, rh)}"
    against.value(what, PSYCHROLIB, deficit, ideal, 0.01 * ideal)
    against.value(what, COOLPROP, deficit, real, 0.01 * real)


@pytest.mark.parametrize(("temp_c", "rh"), STATES)
def test_humidity_from_dew_point_agrees_with_psychrolib_and_coolprop(
    against: Against, temp_c: float, rh: float
) -> None:
    """Within 0.3 %, which 0.05 K of dew point make."""
    ideal = psychrolib.GetTDewPointFromRelHum(temp_c, rh)
    real = coolprop("D", temp_c, rh) - 273.15

    what = f"humidity from dew point, %, {state(temp_c, rh)}"
    against.value(what, PSYCHROLIB, 100.0 * air.rh_from_dewpoint(temp_c, ideal), 100.0 * rh, 0.3)
    against.value(what, COOLPROP, 100.0 * air.rh_from_dewpoint(temp_c, real), 100.0 * rh, 0.3)


def test_below_freezing_humidity_is_over_water_as_weather_services_report_it(
    against: Against,
) -> None:
    """PsychroLib takes ice there: its dew point, 0.34 K higher, would read 2 % too damp."""
    temp_c, dewpoint = FROST
    over_water = magnus_pa(dewpoint) / magnus_pa(temp_c)

    ours = 100.0 * air.rh_from_dewpoint(temp_c, dewpoint)

    what = f"humidity at {temp_c:g} C of a dew point of {dewpoint:g} C, %"
    against.value(what, MAGNUS, ours, 100.0 * over_water, 0.2)
    over_ice = psychrolib.GetRelHumFromTDewPoint(temp_c, dewpoint)
    assert over_ice < over_water - 0.01


def test_fast_saturation_pressure_is_metpys(against: Against) -> None:
    temp_c = np.linspace(-60.0, 60.0, 481)
    metpys = saturation_vapor_pressure(units.Quantity(temp_c, "degC")).m_as("Pa")

    ratio = air.saturation_pressure_pa(temp_c) / metpys

    against.value("saturation pressure over MetPy's, -60 to 60 C", METPY, ratio, 1.0, 1e-6)


def test_fast_saturation_pressure_is_ashraes_within_six_parts_in_a_thousand(
    against: Against,
) -> None:
    """By which the two formulas differ at 50 °C; MetPy's is the cruder."""
    temp_c = np.linspace(0.5, 50.0, 100)
    ashrae = np.array([psychrolib.GetSatVapPres(temp) for temp in temp_c])

    ratio = air.saturation_pressure_pa(temp_c) / ashrae

    against.value("saturation pressure over ASHRAE's, 0 to 50 C", PSYCHROLIB, ratio, 1.0, 6e-3)


def test_saturation_slope_is_the_derivative_of_metpys_pressure(against: Against) -> None:
    temp_c = np.linspace(-40.0, 60.0, 101)
    low, high = (
        saturation_vapor_pressure(units.Quantity(temp_c + step, "degC")).m_as("Pa")
        for step in (-0.01, 0.01)
    )
    _, slope = air.saturation_pressure_and_slope(temp_c)

    ratio = slope / (high - low) * 0.02

    against.value("its slope over that of MetPy's, -40 to 60 C", METPY, ratio, 1.0, 1e-6)


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
def test_the_sun_stands_where_pvlib_puts_it(against: Against, lat: float, lon: float) -> None:
    """Within 0.05°, which moves the sun's heat by a thousandth."""
    times = pd.date_range("2024-01-01", "2034-01-01", freq="4999min", tz="UTC")
    oracle = pvlib.solarposition.get_solarposition(times, lat, lon)

    elevation, azimuth = sun.sun_position(times.tz_localize(None).to_numpy(), lat, lon)

    place = f"degrees, at {lat:g}, {lon:g}, 2024 to 2033"
    against.value(f"elevation of the sun, {place}", PVLIB, elevation, oracle["elevation"], 0.05)
    turn = (azimuth - oracle["azimuth"] + 180.0) % 360.0 - 180.0
    # Near the zenith a small shift is a large turn: what counts is the angle on the sky.
    aside = turn * np.cos(np.radians(elevation))
    against.value(f"sun aside of pvlib's, {place}", PVLIB, aside, 0.0, 0.05)
    assert azimuth.min() >= 0.0
    assert azimuth.max() <= 360.0


@pytest.mark.parametrize(
    ("noon", "zenith", "azimuth"),
    [("2024-06-21T17:00", 13.51, 158.13), ("2024-12-21T17:00", 59.67, 175.17)],
)
def test_at_the_solstices_the_sun_stands_over_greensboro_as_worked_once_with_pvlib(
    against: Against, noon: str, zenith: float, azimuth: float
) -> None:
    """12:00 Eastern Standard Time; pvlib's is the apparent sun, lifted by 0.03° in December."""
    up, around = sun.sun_position(np.array([noon], dtype="datetime64[s]"), *GREENSBORO)

    source = "pvlib 0.16.1, worked once"
    against.value(f"zenith angle at Greensboro, {noon}Z", source, 90.0 - up, zenith, 0.03)
    against.value(f"azimuth at Greensboro, {noon}Z", source, around, azimuth, 0.05)


def test_clear_sky_sun_is_pvlibs_haurwitz(against: Against) -> None:
    elevation = np.linspace(-30.0, 90.0, 241)
    oracle = pvlib.clearsky.haurwitz(pd.Series(90.0 - elevation))["ghi"]

    against.value("clear-sky sun, W/m2", HAURWITZ, sun.clear_sky_ghi(elevation), oracle, 0.1)


def test_cloud_takes_what_kasten_and_czeplak_found(against: Against) -> None:
    """1 - 0.75 (N/8)^3.4 of the clear sky at N eighths, here 0, 4 and 8."""
    left = sun.ghi_from_cloud(np.array([800.0, 800.0, 800.0]), np.array([0.0, 0.5, 1.0]))

    against.value("sun of 800 W/m2 under cloud", KASTEN, left, [800.0, 743.2, 200.0], 0.1)


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
