"""How far a forecast may be off: its error by lead time, and members that live it out.

A member is the forecast with an error added that could well be made: it grows with lead time,
lasts from hour to hour, and takes temperature and humidity along together. The error belongs to
the place and to the hour it falls in, not to the issue: as newer forecasts come in, the errors of
a member shrink but keep their signs, so that what is said of its weather does not flap.

Errors are added on a scale without ends (see `to_scale`), so no member leaves what is possible,
and half of them lie on either side of the forecast.
"""

import zlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise
from typing import NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from drywind.clock import floor_hour
from drywind.weather.sun import clear_sky_ghi, ghi_from_cloud, sun_position
from drywind.weather.table import BOUNDS
from drywind.yard import Site

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

VARIABLES = ("temp_c", "rh", "wind_ms", "cloud")
"""What is perturbed; sun follows cloud, and wind direction, gust and rain stay as forecast."""

LEAD_EDGES_H = (0, 6, 12, 24, 48, 72, 120, 168, 240)
"""Hours from issue that part the lead times into bins."""

_CENTERS_H = [(a + b) / 2 for a, b in pairwise(LEAD_EDGES_H)]
_ENDS = {
    "temp_c": (-np.inf, np.inf),
    "rh": (-0.02, 1.05),
    "wind_ms": (-2.0, np.inf),
    "cloud": (-0.1, 1.1),
}
"""Where each scale ends: beyond what can be, so that fog, calm or clear sky foretold is not certain
(assumption; believable beyond 0-1 of RH 0.01-0.1, of cloud 0.05-0.2, below a calm 1-3 m/s)."""

_WARM_UP_DAYS = 10
_HALF_HOUR = np.timedelta64(30, "m")
_HOUR = pd.Timedelta(hours=1)


class Guess(NamedTuple):
    """An assumption: the value, what we would still find believable, and why."""

    value: float
    low: float
    high: float
    why: str


class Growth(NamedTuple):
    """How the error of one quantity grows, from `start` up to `limit`, and how long it lasts."""

    start: Guess
    per_day: Guess
    limit: Guess
    memory_h: Guess


GROWTH: Mapping[str, Growth] = {
    "temp_c": Growth(
        Guess(1.3, 0.8, 1.8, "K; what a grid cell of kilometers cannot know of one yard"),
        Guess(0.33, 0.2, 0.5, "K a day; mean errors of about 1.5 K at one day, 3 K at seven (1)"),
        Guess(3.6, 2.8, 4.3, "K; about climatology (2): O'Hare 4.1, Newark 3.6, JFK 2.9"),
        Guess(24.0, 12.0, 30.0, "h; about climatology at O'Hare 27, GEFS members (3) 11-16"),
    ),
    "rh": Growth(
        Guess(0.3, 0.2, 0.4, "log odds; 8 % RH where the air is half saturated"),
        Guess(0.055, 0.03, 0.08, "log odds a day; so 9 % RH at one day, 15 % at five"),
        Guess(0.62, 0.5, 0.77, "log odds; about climatology: O'Hare 0.61-0.70, New York 0.76"),
        Guess(15.0, 8.0, 24.0, "h; about climatology at O'Hare 15"),
    ),
    "wind_ms": Growth(
        Guess(0.2, 0.15, 0.3, "logarithm; 1.2 m/s in a wind of 4 m/s, most of it the place"),
        Guess(0.02, 0.01, 0.04, "logarithm a day; winds near the ground are soon unknown"),
        Guess(0.32, 0.28, 0.4, "logarithm; about climatology at all three airports 0.35-0.38"),
        Guess(6.0, 4.0, 12.0, "h; about climatology at O'Hare 7, GEFS members 6"),
    ),
    "cloud": Growth(
        Guess(0.9, 0.6, 1.2, "log odds; a quarter of the sky where half is covered"),
        Guess(0.04, 0.0, 0.1, "log odds a day; cloud is hardly foreseen hour by hour"),
        Guess(1.1, 0.9, 1.6, "log odds; about climatology at O'Hare 1.05-1.6"),
        Guess(8.0, 4.0, 15.0, "h; about climatology at O'Hare 10, GEFS members 5"),
    ),
}
"""Every guessed number of `DEFAULT`. (1) Of official US forecasts, from memory; in 2005 the next
day's maximum was within 3 °F of the forecast 68 % of the time (ForecastAdvisor, 24 September 2006,
seen). (2) Spread of hourly observations about a running mean of each hour of the day, and the time
to 1/e of its autocorrelation, April to October: O'Hare 2012 and 2015-17, New York 2013 (NOAA;
computed). (3) That time of what members differ by: GEFS, 15 May 2019, Tucson (NOAA; computed)."""

TEMP_RH = Guess(-0.4, -0.7, -0.1, "changes from day to day at three airports: -0.2 to -0.4")
"""The correlation of the errors of temperature and humidity on their scales. Of temperature alone,
under the right dew point, it would come near -0.7."""

RELIED_ON_H = (72.0, 96.0)
"""Up to the first lead time an ensemble is widened, from the second it is left alone (assumption):
early it knows the weather but not the yard, later its spread says more than any average."""


@dataclass(frozen=True)
class ErrorModel:
    """How large errors are, how long they last and how they hang together.

    Attributes
    ----------
    sd
        Standard deviation of the error of each of `VARIABLES` on its scale, one for each lead
        time bin of `LEAD_EDGES_H`; linear in lead time between the middles of the bins.
    memory_h
        Hours after which an error is down to 1/e of itself.
    temp_rh
        Correlation of the errors of temperature and humidity.
    """

    sd: Mapping[str, tuple[float, ...]]
    memory_h: Mapping[str, float]
    temp_rh: float

    def at(self, name: str, lead_h: ArrayLike) -> Floats:
        """Return the standard deviation of a variable's error at lead times in hours."""
        return np.interp(np.asarray(lead_h, np.float64), _CENTERS_H, self.sd[name])


def _grown(growth: Growth) -> tuple[float, ...]:
    start, per_day, limit, _ = (guess.value for guess in growth)
    return tuple(min(start + per_day * lead_h / 24.0, limit) for lead_h in _CENTERS_H)


DEFAULT = ErrorModel(
    sd={name: _grown(growth) for name, growth in GROWTH.items()},
    memory_h={name: growth.memory_h.value for name, growth in GROWTH.items()},
    temp_rh=TEMP_RH.value,
)


def to_scale(name: str, values: ArrayLike) -> Floats:
    """Return values of one of `VARIABLES` on the scale on which its errors are counted.

    Temperature stays in °C; of wind it is a logarithm, of humidity and cloud they are log odds.
    """
    low, high = _ENDS[name]
    plain = np.asarray(values, np.float64)
    if np.isinf(low):
        return plain
    return np.log(plain - low) - (0.0 if np.isinf(high) else np.log(high - plain))


def from_scale(name: str, scaled: ArrayLike) -> Floats:
    """Return what `to_scale` was given, moved onto the bounds of what can be."""
    low, high = _ENDS[name]
    values = np.asarray(scaled, np.float64)
    if np.isfinite(high):
        values = low + (high - low) / (1.0 + np.exp(-values))
    elif np.isfinite(low):
        values = low + np.exp(values)
    return np.clip(values, *BOUNDS[name])


def members(
    table: pd.DataFrame,
    site: Site,
    now: datetime,
    count: int,
    model: ErrorModel = DEFAULT,
    seed: int = 0,
) -> list[pd.DataFrame]:
    """Return weather that could come of a forecast; the first member is the forecast itself.

    Parameters
    ----------
    table
        The canonical hourly table; an hour's lead time counts from its own `issued_at`. Hours
        that began before the one `now` lies in are left as they are.
    count
        How many members, at least 1. The first few are the same however many are asked for, and
        they come in pairs that err by the same to either side.
    seed
        Another one makes other errors, which have nothing to do with these.

    Returns
    -------
    list of pandas.DataFrame
        Tables like the one given; what it does not know no member knows.
    """
    ahead = _ahead(table, now)
    return _stirred([table] * count, site, ahead, _model_sd(table, ahead, model), model, seed)


def widened(
    tables: Sequence[pd.DataFrame], site: Site, now: datetime, model: ErrorModel = DEFAULT
) -> list[pd.DataFrame]:
    """Return the members of a real ensemble, spread as wide as the model where that is wider.

    Each but the first, the control run, gets the error of `members` as far as the ensemble's own
    spread falls short of the model's; fully for three days, not at all from four (`RELIED_ON_H`).

    Raises
    ------
    ValueError
        If the tables do not have the same hours.
    """
    if any(not table.index.equals(tables[0].index) for table in tables):
        raise ValueError("the members of an ensemble must have the same hours")
    ahead = _ahead(tables[0], now)
    stacked = np.stack([t.loc[ahead, list(VARIABLES)].to_numpy(float).T for t in tables])
    scaled = np.stack([to_scale(v, stacked[:, i]) for i, v in enumerate(VARIABLES)], axis=1)
    # Where a member is unknown the spread is too, and counts as none.
    own = np.nan_to_num(scaled.std(axis=0))
    wanted = _model_sd(tables[0], ahead, model)
    missing = np.sqrt(np.maximum(wanted**2 - own**2, 0.0))
    share = np.interp(_lead_h(tables[0])[ahead], RELIED_ON_H, (1.0, 0.0))
    return _stirred(tables, site, ahead, missing * share, model)


def _ahead(table: pd.DataFrame, now: datetime) -> Flags:
    return np.asarray(table.index >= pd.Timestamp(floor_hour(now)))


def _lead_h(table: pd.DataFrame) -> Floats:
    """Return each hour's lead time; a bridged hour is as old as the one before it."""
    issued = pd.DatetimeIndex(table["issued_at"].ffill().bfill())
    return np.asarray((pd.DatetimeIndex(table.index) - issued) / _HOUR, np.float64)


def _model_sd(table: pd.DataFrame, ahead: Flags, model: ErrorModel) -> Floats:
    """Return the model's standard deviations over the hours ahead, shape (variables, hours)."""
    lead_h = _lead_h(table)[ahead]
    return np.stack([model.at(name, lead_h) for name in VARIABLES])


def _stirred(
    tables: Sequence[pd.DataFrame],
    site: Site,
    ahead: Flags,
    sd: Floats,
    model: ErrorModel,
    seed: int = 0,
) -> list[pd.DataFrame]:
    """Add an error of standard deviation `sd` to every table but the first."""
    if not ahead.any():
        return list(tables)
    hours = pd.DatetimeIndex(tables[0].index[ahead])
    elevation, _ = sun_position(hours.tz_localize(None).to_numpy() + _HALF_HOUR, site.lat, site.lon)
    clear = clear_sky_ghi(elevation)
    errors = sd * _noise(hours, (zlib.crc32(site.place.encode()), seed), len(tables), model)
    pairs = zip(tables[1:], errors[1:], strict=True)
    return [tables[0], *(_with_errors(table, ahead, error, clear) for table, error in pairs)]


def _with_errors(table: pd.DataFrame, ahead: Flags, errors: Floats, clear: Floats) -> pd.DataFrame:
    """Return the table with errors of shape (variables, hours ahead) added on their scales."""
    columns = {n: table[n].to_numpy(float, copy=True) for n in (*VARIABLES, "ghi_wm2")}
    cloud = columns["cloud"][ahead]
    for name, error in zip(VARIABLES, errors, strict=True):
        columns[name][ahead] = from_scale(name, to_scale(name, columns[name][ahead]) + error)
    ghi = columns["ghi_wm2"]
    ghi[ahead] = _sun(ghi[ahead], clear, (cloud, columns["cloud"][ahead]))
    return table.assign(**columns)


def _sun(ghi: Floats, clear: Floats, clouds: tuple[Floats, Floats]) -> Floats:
    """Return the sun after cloud has changed from the first to the second of `clouds`.

    It changes by as much as it would under a clear sky, between overcast and clear; where the
    cloud is unknown it stays as it is.
    """
    before, after = (ghi_from_cloud(clear, cloud) for cloud in clouds)
    overcast = ghi_from_cloud(clear, np.ones_like(clear))
    changed = np.clip(ghi + after - before, np.minimum(ghi, overcast), np.maximum(ghi, clear))
    return np.where(np.isnan(before), ghi, changed)


def _noise(
    hours: pd.DatetimeIndex, seeds: tuple[int, int], count: int, model: ErrorModel
) -> Floats:
    """Return errors of unit variance, shape (count, variables, hours), none for the first member.

    Each UTC day has its own random numbers for each pair of seeds. A first-order autoregression
    runs through them, begun so early that it no longer shows where.
    """
    first = hours[0].normalize() - pd.Timedelta(days=_WARM_UP_DAYS)
    days = range((hours[-1] - first).days + 1)
    first_day = int(first.timestamp()) // 86400
    place, seed = seeds
    shape = (count // 2, len(VARIABLES), 24)
    random = (np.random.default_rng([place, first_day + day, seed]) for day in days)
    white = np.concatenate([each.standard_normal(shape) for each in random], axis=2)
    kept = np.exp([-1.0 / model.memory_h[name] for name in VARIABLES])
    red = white.copy()
    for hour in range(1, red.shape[2]):
        red[:, :, hour] = kept * red[:, :, hour - 1] + np.sqrt(1 - kept**2) * white[:, :, hour]
    temp, rh = VARIABLES.index("temp_c"), VARIABLES.index("rh")
    red[:, rh] = model.temp_rh * red[:, temp] + np.sqrt(1 - model.temp_rh**2) * red[:, rh]
    unit = red[:, :, ((hours - first) // _HOUR).to_numpy()]
    noise = np.zeros((count, len(VARIABLES), len(hours)))
    noise[1::2] = unit
    noise[2::2] = -unit[: (count - 1) // 2]
    return noise
