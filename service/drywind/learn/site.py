"""What a logger teaches of a site: how its air differs from what the model has there.

By the hour of the day and the direction of the wind, each as far as the record speaks for it:
differences are drawn toward none, and what does not help on days left out is not used.
"""

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any, NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from drywind.climate.assumptions import DEFAULT
from drywind.climate.surroundings import sun_on_ground, wind_at_stack, yard_air
from drywind.weather.air import saturation_pressure_pa
from drywind.weather.spread import from_scale, to_scale
from drywind.yard import Site

Array = NDArray[np.float64]

HOUR_BINS, SECTORS = 8, 8
HELD_OUT = 5
"""Every so manieth day is left out in turn."""


class Belief(NamedTuple):
    """What is believed of a difference before any record, all assumptions.

    Attributes
    ----------
    sd
        Of a bin's difference about none.
    noise
        Of an hour's about its bin's; hours of a stretch of weather are one measurement.
    stretch_h
        How many hours are one.
    least
        What lowers the error by less is not worth it: K, RH 0-1, m/s.
    """

    sd: float
    noise: float
    stretch_h: float
    least: float


BELIEFS: Mapping[str, Belief] = {
    "temp_c": Belief(1.5, 1.5, 12.0, 0.05),
    "rh": Belief(0.35, 0.35, 12.0, 0.005),
    "wind_ms": Belief(0.6, 0.5, 6.0, 0.05),
}
"""On the scales of `drywind.weather.spread`: kelvins, log odds, logarithm."""

LEAST_DAYS = 3
LEAST_HELP = 0.02
"""A difference that lowers the error on days left out by less is not used (assumption)."""

SUNNY_K_PER_KWM2 = 6.0
"""A shaded logger warms by a kelvin or so with the sun on the yard; one that stands in it, by many
times as much (assumption, 4 to 10)."""


@dataclass(frozen=True)
class Help:
    """How far a record is off the model on days left out: without and with what was learned."""

    before: float
    after: float

    @property
    def share(self) -> float:
        """By what share the error falls."""
        return 1.0 - self.after / self.before if self.before > 0 else 0.0


@dataclass(frozen=True)
class SiteOffset:
    """How a site's air differs, by variable: first by hour of the day, then by wind direction."""

    by_hour: Mapping[str, tuple[float, ...]]
    by_wind: Mapping[str, tuple[float, ...]]

    def as_json(self) -> dict[str, Any]:
        """Return it as it is stored."""
        return asdict(self)

    @classmethod
    def of_json(cls, told: dict[str, Any]) -> "SiteOffset":
        """Return what `as_json` gave."""
        parts = (
            {n: tuple(bins) for n, bins in told[key].items()} for key in ("by_hour", "by_wind")
        )
        return cls(*parts)


@dataclass(frozen=True)
class Taught:
    """What a logger taught.

    Attributes
    ----------
    helps
        By variable, root mean squares: kelvins, RH 0-1, m/s.
    sun_k_per_kwm2
        By how much more than the model the logger warms with the sun.
    """

    offset: SiteOffset
    helps: Mapping[str, Help]
    days: int
    sun_k_per_kwm2: float

    @property
    def in_sun(self) -> bool:
        """Whether it stood in the sun, and tells nothing of the air."""
        return self.sun_k_per_kwm2 > SUNNY_K_PER_KWM2


def site_air(table: pd.DataFrame, site: Site) -> pd.DataFrame:
    """Return what the model has at a site of what a logger measures."""
    temp, vapor = yard_air(table, site, sun_on_ground(table, site), DEFAULT)
    return pd.DataFrame(
        {
            "temp_c": temp,
            "rh": np.clip(vapor / saturation_pressure_pa(temp), 0.0, 1.0),
            "wind_ms": wind_at_stack(table, site, DEFAULT),
        },
        index=table.index,
    )


def learn_site(logged: pd.DataFrame, table: pd.DataFrame, site: Site) -> Taught:
    """Learn of a logger's hours against the weather of the same hours.

    Parameters
    ----------
    logged
        Columns `temp_c`, `rh` and perhaps `wind_ms`, by the hour.
    table
        The canonical hourly table, regular.
    """
    both = pd.DatetimeIndex(table.index.intersection(logged.index))
    here, told = table.loc[both], logged.loc[both]
    model = site_air(here, site)
    where = _bins(here)
    by_hour, by_wind, helps = dict[str, tuple[float, ...]](), dict[str, tuple[float, ...]](), {}
    days = both.floor("D").nunique()
    for name in (n for n in BELIEFS if n in told and told[n].notna().any()):
        off = to_scale(name, told[name]) - to_scale(name, model[name])
        known = np.isfinite(off)
        if days < LEAST_DAYS or not known.any():
            continue
        help_ = _help(name, where[known], (model[name][known], told[name][known]), off[known])
        helps[name] = help_
        if help_.share >= LEAST_HELP and help_.before - help_.after >= BELIEFS[name].least:
            found = _fit(name, where[known], off[known])
            by_hour[name] = tuple(float(x) for x in found[0] + found[1 : 1 + HOUR_BINS])
            by_wind[name] = tuple(float(x) for x in found[1 + HOUR_BINS :])
    return Taught(
        SiteOffset(by_hour, by_wind), helps, int(days), _sun_slope(told, model, here, site)
    )


def corrected(table: pd.DataFrame, offset: SiteOffset) -> pd.DataFrame:
    """Return a weather table as it is at a site with such differences; NaN stays NaN."""
    where, changed = _bins(table), {}
    for name, hours in offset.by_hour.items():
        off = where[:, 1:] @ np.array([*hours, *offset.by_wind[name]])
        changed[name] = from_scale(name, to_scale(name, table[name]) + off)
    return table.assign(**changed)


def _bins(table: pd.DataFrame) -> Array:
    """Return which bins hold each hour, shape (hours, 1 + HOUR_BINS + SECTORS).

    The first holds all; an hour of unknown wind lies in no sector.
    """
    index = pd.DatetimeIndex(table.index)
    hour = (index.hour.to_numpy() * HOUR_BINS) // 24
    blows = table["wind_dir_deg"].to_numpy(float)
    sector = np.floor(np.nan_to_num(blows) / 360.0 * SECTORS + 0.5).astype(int) % SECTORS
    where = np.zeros((len(index), 1 + HOUR_BINS + SECTORS))
    rows = np.arange(len(index))
    where[:, 0] = 1.0
    where[rows, 1 + hour] = 1.0
    where[rows, 1 + HOUR_BINS + sector] = np.isfinite(blows)
    return where


def _fit(name: str, where: Array, off: Array) -> Array:
    """Return the mean of the posterior of each bin's difference: a ridge regression."""
    belief = BELIEFS[name]
    precision = 1.0 / (belief.noise**2 * belief.stretch_h)
    normal = precision * where.T @ where + np.eye(where.shape[1]) / belief.sd**2
    return np.asarray(np.linalg.solve(normal, precision * where.T @ off), np.float64)


def _help(name: str, where: Array, values: tuple[pd.Series, pd.Series], off: Array) -> Help:
    """Return the error on days left out in turn."""
    model, told = values
    days = pd.DatetimeIndex(model.index).floor("D").to_numpy()
    fold = np.unique(days, return_inverse=True)[1] % HELD_OUT
    after = np.empty(len(off))
    for left_out in range(HELD_OUT):
        out = fold == left_out
        if out.all() or not out.any():
            after[out] = to_scale(name, model[out])
            continue
        found = _fit(name, where[~out], off[~out])
        after[out] = to_scale(name, model[out]) + where[out] @ found

    def rms(guess: Array) -> float:
        return float(np.sqrt(np.mean((guess - told.to_numpy(float)) ** 2)))

    return Help(rms(model.to_numpy(float)), rms(from_scale(name, after)))


def _sun_slope(told: pd.DataFrame, model: pd.DataFrame, here: pd.DataFrame, site: Site) -> float:
    """Return by how many kelvins a kW/m2 of sun warms the logger more than the model's air."""
    sun = sun_on_ground(here, site) / 1000.0
    off = (told["temp_c"] - model["temp_c"]).to_numpy(float)
    known = np.isfinite(off + sun)
    if known.sum() < LEAST_DAYS * 24 or np.ptp(sun[known]) < 0.1:  # noqa: PLR2004 - no sun at all
        return 0.0
    return float(np.polyfit(sun[known], off[known], 1)[0])
