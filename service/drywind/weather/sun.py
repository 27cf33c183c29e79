"""Where the sun stands, and how much of it reaches level ground through the clouds.

The position follows the solar calculator of NOAA's Global Monitoring Laboratory, which takes its
series from J. Meeus, Astronomical Algorithms (1991), chapter 24, but leaves out nutation, which
moves the sun by less than 0.006° (coefficients from memory; the tests hold them to pvlib's
implementation of the NREL solar position algorithm, from which they stray by 0.012°).
"""

import numpy as np
import pandas as pd
from numpy.typing import NDArray

Floats = NDArray[np.float64]

_J2000 = np.datetime64("2000-01-01T12:00:00")
_CENTURY_S = 36525 * 86400.0
_ABERRATION = 0.00569  # degrees, by which the sun is seen behind its place
_HALF_HOUR = np.timedelta64(30, "m")


def sun_position(time_utc: NDArray[np.datetime64], lat: float, lon: float) -> tuple[Floats, Floats]:
    """Return the sun's true elevation and its azimuth; refraction is not added.

    Parameters
    ----------
    time_utc
        Instants in UTC, any shape.
    lat, lon
        Degrees, north and east positive.

    Returns
    -------
    elevation_deg
        Above the level horizon, negative at night.
    azimuth_deg
        Clockwise from north, 0-360.
    """
    seconds = (time_utc - _J2000) / np.timedelta64(1, "s")
    century = seconds / _CENTURY_S
    anomaly = np.radians(357.52911 + century * (35999.05029 - 0.0001537 * century))
    mean_longitude = 280.46646 - _ABERRATION + century * (36000.76983 + 0.0003032 * century)
    center = (
        (1.914602 - 0.004817 * century) * np.sin(anomaly)
        + 0.019993 * np.sin(2 * anomaly)
        + 0.000289 * np.sin(3 * anomaly)
    )
    longitude = np.radians(mean_longitude + center)
    obliquity = np.radians(23.439291 - 0.0130042 * century)
    declination = np.arcsin(np.sin(obliquity) * np.sin(longitude))
    ascension = np.arctan2(np.cos(obliquity) * np.sin(longitude), np.cos(longitude))
    # The mean sun crosses the meridian of Greenwich at noon UTC: sidereal time is its longitude
    # plus the time of day, and so needs no series of its own.
    sidereal = mean_longitude + 180.0 + (seconds + 43200.0) % 86400.0 / 240.0
    hour_angle = np.radians(sidereal + lon) - ascension
    phi = np.radians(lat)
    up = np.sin(phi) * np.sin(declination) + np.cos(phi) * np.cos(declination) * np.cos(hour_angle)
    south = np.sin(phi) * np.cos(hour_angle) - np.cos(phi) * np.tan(declination)
    azimuth = np.degrees(np.arctan2(np.sin(hour_angle), south)) + 180.0
    return np.degrees(np.arcsin(np.clip(up, -1.0, 1.0))), azimuth


def clear_sky_ghi(elevation_deg: Floats) -> Floats:
    """Return the global horizontal irradiance under a clear sky, W/m²; 0 while the sun is down.

    Source: B. Haurwitz, "Insolation in relation to cloudiness and cloud density", Journal of
    Meteorology 2 (1945) 154-166, with the coefficients of pvlib.clearsky.haurwitz.
    """
    rise = np.sin(np.radians(elevation_deg))
    up = np.maximum(rise, 1e-3)
    return np.where(rise > 0.0, 1098.0 * up * np.exp(-0.059 / up), 0.0)


def ghi_from_cloud(clear_wm2: Floats, cloud: Floats) -> Floats:
    """Return what of the clear-sky irradiance is left under a cloud cover of 0-1, W/m².

    Source: F. Kasten and G. Czeplak, "Solar and terrestrial radiation dependent on the amount and
    type of cloud", Solar Energy 24 (1980) 177-189, doi:10.1016/0038-092X(80)90391-6 (the formula
    as later authors quote it; the paper itself was not seen).
    """
    return clear_wm2 * (1.0 - 0.75 * cloud**3.4)


def with_sun(table: pd.DataFrame, lat: float, lon: float) -> pd.DataFrame:
    """Fill the unknown `ghi_wm2` of hours whose cloud is known, from the sun at the half hour."""
    starts = pd.DatetimeIndex(table.index).tz_localize(None).to_numpy()
    elevation, _ = sun_position(starts + _HALF_HOUR, lat, lon)
    estimate = ghi_from_cloud(clear_sky_ghi(elevation), table["cloud"].to_numpy())
    return table.assign(ghi_wm2=table["ghi_wm2"].where(table["ghi_wm2"].notna(), estimate))
