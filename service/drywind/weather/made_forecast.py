"""The forecast there could have been of weather that is known by now.

Each hour ahead errs as `drywind.weather.spread` says a forecast does: more at a longer lead time,
and to the same side from one issue to the next, so that it comes true bit by bit. That forecasts
are no better and no worse than that model says is an assumption.
"""

import zlib
from datetime import datetime, timedelta

import numpy as np
import pandas as pd

from drywind.clock import floor_hour
from drywind.weather.spread import members
from drywind.yard import Site

ISSUED_EVERY = "6h"
"""Weather models are run at 00, 06, 12 and 18 UTC; the delay of their answer is left out."""

RAIN_ASTRAY, RAIN_ASTRAY_PER_DAY, RAIN_ASTRAY_MOST = 0.05, 0.08, 0.6
"""The chance that a day's rain is foretold as another day's of the season, which drops it or makes
it up: at once, more for each day of lead time, and at most (assumption: of rainy days one to three
days ahead about three in four are foretold)."""

RAIN_LATE_H, RAIN_LATE_H_PER_DAY = 1.0, 1.5
"""Standard deviation of how late or early rain is foretold (assumption)."""

SEASON_DAYS = 15
"""How far off the other day lies at most."""

_HOUR, _DAY = pd.Timedelta(hours=1), pd.Timedelta(days=1)


def forecast(
    truth: pd.DataFrame, site: Site, now: datetime, hours: int, seed: int | None
) -> pd.DataFrame:
    """Return the hours from the one `now` lies in, as they could have been foretold.

    Parameters
    ----------
    truth
        The canonical hourly table, regular; what it does not know is not foretold either.
    hours
        How many, fewer where the table ends before.
    seed
        Of the errors, from 1 up; 0 are those of `spread.members` itself. None foretells the truth.
    """
    start = floor_hour(now)
    issued = pd.Timestamp(start).floor(ISSUED_EVERY)
    ahead = truth.loc[start : start + timedelta(hours=hours - 1)].assign(issued_at=issued)
    if seed is None or ahead.empty:
        return ahead
    _, astray = members(ahead, site, now, 2, seed=seed)
    index = pd.DatetimeIndex(ahead.index)
    return astray.assign(rain_mm=_rain(truth["rain_mm"], index, issued, (site.place, seed)))


def _rain(
    rain_mm: pd.Series, hours: pd.DatetimeIndex, issued: pd.Timestamp, seeds: tuple[str, int]
) -> pd.Series:
    """Return the rain of other hours: somewhat earlier or later ones, or ones of another day.

    Each UTC day of a place has its own luck; a day whose rain is foretold right stays so.
    """
    lead_days = np.asarray((hours - issued) / _DAY)
    days, day_of = np.unique(hours.normalize(), return_inverse=True)
    luck, late, other = np.array([_luck(day, *seeds) for day in days]).T[:, day_of]
    share = np.minimum(RAIN_ASTRAY + RAIN_ASTRAY_PER_DAY * lead_days, RAIN_ASTRAY_MOST)
    moved = np.round(late * (RAIN_LATE_H + RAIN_LATE_H_PER_DAY * lead_days))
    shift = np.where(luck < share, 24.0 * other, moved)
    foretold = rain_mm.reindex(hours + pd.to_timedelta(shift, unit="h"))
    # Beyond the ends of the table nobody knows: there it is foretold right.
    return foretold.set_axis(hours).fillna(rain_mm.reindex(hours))


def _luck(day: pd.Timestamp, place: str, seed: int) -> tuple[float, float, float]:
    """Return a day's chance, its delay in standard deviations, and how many days off the other."""
    number = int(day.timestamp()) // 86400
    random = np.random.default_rng([zlib.crc32(place.encode()), number, seed, 1])
    days = random.integers(1, SEASON_DAYS + 1) * random.choice([-1, 1])
    return random.random(), random.standard_normal(), float(days)
