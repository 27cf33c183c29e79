"""The weather of a saw day, as it is told: of the day and the next, in the forecast or usually."""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd

from drywind.judge.sawing import DayAir, SawYard

TOLD = timedelta(days=2)
"""Boards are hardest hit in their first two days."""


def day_air(yard: SawYard, site: str, day: date) -> DayAir:
    """Return the weather of a day and the next at a site; NaN where it is unknown."""
    start = _midnight(day, yard.zone)
    foretold = start + TOLD <= yard.foretold_until
    tables = [w[site] for w in yard.weathers]
    spans = [_span(table, start) for table in (tables[:1] if foretold else tables)]
    found = np.array([_figures(span) for span in spans])
    before = pd.concat([yard.tables[site].loc[: yard.now], tables[0]])
    earlier = _span(before[~before.index.duplicated(keep="last")], start - TOLD)["temp_c"]
    means = [span["temp_c"].mean() for span in spans]
    change = float(np.mean(means) - earlier.mean()) if foretold else float("nan")
    low, high, rh, wind = map(float, found.mean(axis=0))
    return DayAir(low, high, rh, wind, change, foretold)


def _midnight(day: date, zone: ZoneInfo) -> datetime:
    return datetime.combine(day, time(), zone).astimezone(UTC)


def _span(table: pd.DataFrame, start: datetime) -> pd.DataFrame:
    return table.loc[start : start + TOLD - timedelta(hours=1)]


def _figures(span: pd.DataFrame) -> tuple[float, float, float, float]:
    temp = span["temp_c"]
    return temp.min(), temp.max(), span["rh"].mean(), span["wind_ms"].mean()
