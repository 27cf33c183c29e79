"""What stands around a stack: wind that gets there, sun, sky, damp ground and driven rain."""

import numpy as np
import pandas as pd

from drywind.climate.assumptions import Assumptions
from drywind.climate.transfer import STEFAN_BOLTZMANN, Array
from drywind.weather.air import saturation_pressure_pa
from drywind.weather.sun import clear_sky_ghi, sun_position
from drywind.yard import DIRECTIONS, Exposure, Ground, Site

ZERO_C = 273.15


def wind_at_stack(table: pd.DataFrame, site: Site, assumed: Assumptions) -> Array:
    """Bring the wind [m/s] from 10 m in the open field down to the stack (logarithmic profile)."""
    profile = np.log(assumed.stack_height_m / assumed.roughness_m) / np.log(
        10.0 / assumed.roughness_m
    )
    exposure = {
        Exposure.OPEN: assumed.wind_open,
        Exposure.SHED: assumed.wind_shed,
        Exposure.BARN: assumed.wind_barn,
    }[site.exposure]
    by_sector = np.array([site.shelter.get(name, 1.0) for name in DIRECTIONS])
    direction = table["wind_dir_deg"].to_numpy(float)
    sector = np.nan_to_num(np.round(direction / 45.0)).astype(int) % 8
    # Where the direction is unknown no shelter is counted on.
    shelter = np.where(np.isnan(direction), by_sector.max(), by_sector[sector])
    wind: Array = table["wind_ms"].to_numpy(float) * profile * exposure * shelter
    return wind


def sun_on_ground(table: pd.DataFrame, site: Site) -> Array:
    """Return the sun on level ground [W/m2]; a clear sky's where it is unknown."""
    ghi = table["ghi_wm2"].to_numpy(float)
    middle = table.index.tz_convert(None).to_numpy() + np.timedelta64(30, "m")  # type: ignore[attr-defined]
    elevation, _ = sun_position(middle, site.lat, site.lon)
    sun: Array = np.where(np.isnan(ghi), clear_sky_ghi(elevation), ghi)
    return sun


def yard_air(
    table: pd.DataFrame, site: Site, sun: Array, assumed: Assumptions
) -> tuple[Array, Array]:
    """Return temperature [°C] and vapor pressure [Pa] of the air that comes to the stack.

    Bare dry ground warms it in the sun; grass and a wet lot give their heat to evaporation and
    bring the air a share of the way to saturation.
    """
    temp = table["temp_c"].to_numpy(float)
    saturated = saturation_pressure_pa(temp)
    vapor = table["rh"].to_numpy(float) * saturated
    damp = {
        Ground.GRAVEL: 0.0,
        Ground.GRASS: assumed.damp_grass,
        Ground.WET: assumed.damp_wet_ground,
    }[site.ground]
    warms = site.ground is Ground.GRAVEL and site.exposure is Exposure.OPEN
    warm = temp + sun / 1000.0 * (assumed.yard_warming if warms else 0.0)
    return warm, vapor + damp * (saturated - vapor)


def sky_wm2(table: pd.DataFrame) -> Array:
    """Return the long-wave radiation of the sky on level ground [W/m2].

    References
    ----------
    Clear sky: Brutsaert 1975, Water Resources Research 11:742, 1.24 (e/T)^(1/7) with e in hPa.
    Cloud: Crawford & Duchon 1999, J. Appl. Meteorology 38:474. Both from memory.
    """
    temp = table["temp_c"].to_numpy(float)
    vapor_hpa = table["rh"].to_numpy(float) * saturation_pressure_pa(temp) / 100.0
    kelvin = temp + ZERO_C
    clear = 1.24 * (vapor_hpa / kelvin) ** (1.0 / 7.0)
    cloud = np.nan_to_num(table["cloud"].to_numpy(float))
    sky: Array = (cloud + (1.0 - cloud) * clear) * STEFAN_BOLTZMANN * kelvin**4
    return sky


def rain_mm(table: pd.DataFrame) -> Array:
    """Return the rain of each hour; none where it is unknown, which errs on the dry side."""
    rain: Array = np.nan_to_num(table["rain_mm"].to_numpy(float))
    return rain


def driven_rain_mm(rain: Array, wind_ms: Array) -> Array:
    """Return the rain that strikes an upright surface across the wind, in millimeters an hour.

    References
    ----------
    Lacy 1965, Driving-rain maps and the onslaught of rain on buildings: 0.222 v R^0.88, of
    wind v [m/s] and rain R [mm/h] (from memory).
    """
    struck: Array = 0.222 * wind_ms * rain**0.88
    return struck
