"""What the answers of the US National Weather Service (api.weather.gov) have in common.

They are GeoJSON with values in units the service names; instants carry their offset from UTC.
"""

import math
from collections import Counter
from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Any

import pandas as pd

from drywind.errors import WeatherError
from drywind.weather import air, table

CELSIUS = {"degC": 1.0}
PERCENT = {"percent": 0.01}
SPEED = {"km_h-1": 1.0 / 3.6, "m_s-1": 1.0}
ANGLE = {"degree_(angle)": 1.0}
"""The factors that take the units the service writes to ours."""


def point(lat: float, lon: float) -> str:
    """Write a place as the service wants it: at most four decimals and no trailing zeros."""
    return ",".join(f"{degrees:.4f}".rstrip("0").rstrip(".") for degrees in (lat, lon))


def properties_of(body: Mapping[str, Any]) -> Mapping[str, Any]:
    """Return the properties of an answer, or raise `WeatherError` where it has none."""
    properties = body.get("properties")
    if not isinstance(properties, Mapping):
        raise WeatherError("the weather service's answer has no properties")
    return properties


def features_of(body: Mapping[str, Any]) -> list[Any]:
    """Return the members of a list the service sent, or raise `WeatherError` where it sent none."""
    features = body.get("features")
    if not isinstance(features, list):
        raise WeatherError("the weather service's answer is no list")
    return features


def read_instant(text: Any) -> datetime:
    """Read an instant with its offset and return it in UTC, or raise `ValueError`."""
    instant = datetime.fromisoformat(text) if isinstance(text, str) else None
    if instant is None or instant.tzinfo is None:
        raise ValueError(f"{text!r} is not an instant")
    try:
        return instant.astimezone(UTC)
    except OverflowError:
        raise ValueError(f"{text!r} is not an instant of this calendar") from None


def read_number(value: Any) -> float:
    """Read a number, null as nan; raise `TypeError` or `OverflowError` for anything else."""
    if value is None:
        return math.nan
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise TypeError(f"{value!r} is not a number")
    return float(value)


def humidity_from_dewpoint(
    frame: pd.DataFrame, dewpoint: "pd.Series[float]", dropped: Counter[str]
) -> None:
    """Fill unknown humidity where temperature and dew point are known and fit together.

    `frame` is changed in place; `dewpoint`, °C, has its index. Dew points that contradict their
    temperature are counted in `dropped`.
    """
    wanted = frame["rh"].isna() & frame["temp_c"].notna() & dewpoint.notna()
    lowest, _ = table.BOUNDS["temp_c"]
    usable = wanted & dewpoint.between(lowest, frame["temp_c"] + air.DEWPOINT_EXCESS_C)
    dropped["dewpoint_c"] += int(wanted.sum() - usable.sum())
    if usable.any():
        frame.loc[usable, "rh"] = air.rh_from_dewpoint(
            frame.loc[usable, "temp_c"], dewpoint[usable]
        )
