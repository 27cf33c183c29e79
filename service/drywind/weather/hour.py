"""One hour of outdoor weather, as a plain record that needs neither pandas nor numpy."""

from datetime import datetime
from typing import NamedTuple

VALUES = (
    "temp_c",
    "rh",
    "wind_ms",
    "wind_dir_deg",
    "gust_ms",
    "ghi_wm2",
    "cloud",
    "rain_mm",
)
"""The measured fields of a `WeatherHour`, in order."""

BOUNDS = {
    "temp_c": (-60.0, 60.0),
    "rh": (0.0, 1.0),
    "wind_ms": (0.0, 75.0),
    "wind_dir_deg": (0.0, 360.0),
    "gust_ms": (0.0, 75.0),
    "ghi_wm2": (0.0, 1400.0),
    "cloud": (0.0, 1.0),
    "rain_mm": (0.0, 200.0),
}
"""What each value can be outdoors; anything else is a fault of the service (assumption)."""

NEEDED = ("temp_c", "rh", "wind_ms")
"""What drying cannot be reckoned without: an hour is known if it tells all of these."""


class WeatherHour(NamedTuple):
    """The weather of one hour at one place; nan where a value is unknown, never 0.

    Attributes
    ----------
    time_utc
        Start of the hour.
    temp_c
        Air temperature, °C.
    rh
        Relative humidity over liquid water, 0-1.
    wind_ms, wind_dir_deg, gust_ms
        Wind at 10 m: speed and gust in m/s, the direction it blows from in degrees.
    ghi_wm2
        Global horizontal irradiance, mean of the hour that starts, W/m².
    cloud
        Fraction of the sky covered, 0-1.
    rain_mm
        Rain of the hour that starts, mm.
    source
        Short name of the service the hour came from.
    issued_at
        When that service issued it, by its own word.
    """

    time_utc: datetime
    temp_c: float
    rh: float
    wind_ms: float
    wind_dir_deg: float
    gust_ms: float
    ghi_wm2: float
    cloud: float
    rain_mm: float
    source: str
    issued_at: datetime
