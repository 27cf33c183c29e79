"""Made weather: days all alike, to try assumptions in."""

from typing import NamedTuple

import numpy as np
import pandas as pd


class Afternoon(NamedTuple):
    """The air at 15:00; at 03:00 it is cooler and damper, and the wind half as strong."""

    temp_c: float
    rh: float
    wind_ms: float
    cooler_k: float
    damper: float


HOT, COLD = Afternoon(35.0, 0.25, 5.0, 14.0, 0.35), Afternoon(5.0, 0.40, 6.0, 10.0, 0.40)
MILD, DAMP = Afternoon(27.0, 0.45, 2.0, 10.0, 0.35), Afternoon(22.0, 0.80, 1.0, 12.0, 0.18)
RAIN_MM, RAIN_HOURS = 3.0, 12


def rainy() -> pd.DataFrame:
    """Return hours of windy rain."""
    hours = made_days(Afternoon(15.0, 0.95, 6.0, 0.0, 0.0), 6, 1).iloc[:RAIN_HOURS]
    return hours.assign(rain_mm=RAIN_MM, wind_ms=6.0, cloud=1.0, ghi_wm2=0.0)


def made_days(afternoon: Afternoon, month: int, days: int) -> pd.DataFrame:
    """Return cloudless days alike, from local midnight on the first of a month."""
    start = pd.Timestamp(2026, month, 1, 5, tz="UTC")
    hours = pd.date_range(start, periods=24 * days, freq="h", name="time_utc")
    night = 0.5 - 0.5 * np.cos(2 * np.pi * (np.arange(24 * days) - 15) / 24)
    values = {
        "temp_c": afternoon.temp_c - afternoon.cooler_k * night,
        "rh": afternoon.rh + afternoon.damper * night,
        "wind_ms": afternoon.wind_ms * (1.0 - 0.5 * night),
        "wind_dir_deg": 270.0,
        "gust_ms": np.nan,
        "ghi_wm2": np.nan,
        "cloud": 0.0,
        "rain_mm": 0.0,
    }
    return pd.DataFrame(values, index=hours)
