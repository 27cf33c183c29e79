"""Surface mold on sawn sapwood: the VTT index of Hukka and Viitanen.

0 is none, 1 the first growth under a microscope, 3 spots the eye sees, 6 a surface overgrown. It
was fitted on pine and spruce in steady and in alternating climates, and stands here for hardwood
sapwood (assumption: no such model of a hardwood was found; sawn pine is the more ready of the two).
It says nothing of stain inside green wood.

References
----------
Hukka, A. and Viitanen, H. A. (1999), A mathematical model of mould growth on wooden material, Wood
Science and Technology 33, 475-485: from memory, with the same coefficients in two public programs
(seen). Those differ in two places that meaning settles: critical humidity falls with warmth, and
the index goes from 1 to 3 in just the time between `weeks_to_start` and `weeks_to_see`.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]

GROWS_BELOW_C = 50.0
RISING_TO_C = 20.0
LEAST_RH_PCT, SATURATED_RH_PCT = 80.0, 100.0

EARLY_DRY_HOURS, LATE_DRY_HOURS = 6, 24
EARLY_DECLINE_PER_DAY, LATE_DECLINE_PER_DAY = 0.032, 0.016
"""In the first 6 dry hours and after 24; between them the index rests."""


@dataclass(frozen=True)
class Mold:
    """The index at the end of each hour, shaped like the hours it came from.

    Attributes
    ----------
    index
        0-6. An unknown hour leaves it as it was, dry spell included.
    unknown_hours
        How many hours so far are unknown.
    dry_hours
        How many known hours in a row it has not grown.
    """

    index: Array
    unknown_hours: NDArray[np.int64]
    dry_hours: Array


def critical_rh_pct(temp_c: ArrayLike) -> Array:
    """Return the relative humidity in percent below which mold does not grow, at `temp_c` in °C.

    It is 100 at 0 °C and more in frost. The published cubic dips a hair under 80 between 15 and
    20 °C; it is held at 80.
    """
    t = np.asarray(temp_c, dtype=np.float64)
    cubic = 100.0 + t * (-3.13 + t * (0.160 - 0.00267 * t))
    return np.where(t > RISING_TO_C, LEAST_RH_PCT, np.maximum(cubic, LEAST_RH_PCT))


def weeks_to_start(temp_c: ArrayLike, rh_pct: ArrayLike) -> Array:
    """Return weeks of steady air to index 1, on sawn pine; `temp_c` in °C above 0."""
    t, rh = np.log(np.asarray(temp_c, float)), np.log(np.asarray(rh_pct, float))
    return np.asarray(np.exp(-0.68 * t - 13.9 * rh + 66.02))


def weeks_to_see(temp_c: ArrayLike, rh_pct: ArrayLike) -> Array:
    """Return weeks of steady air to index 3, visible growth, on pine; `temp_c` in °C above 0."""
    t, rh = np.log(np.asarray(temp_c, float)), np.log(np.asarray(rh_pct, float))
    return np.asarray(np.exp(-0.74 * t - 12.72 * rh + 61.50))


def highest_index(temp_c: ArrayLike, rh_pct: ArrayLike) -> Array:
    """Return the index growth in steady air tends to, 1-6 above the critical humidity."""
    critical = critical_rh_pct(temp_c)
    x = (critical - np.asarray(rh_pct, dtype=np.float64)) / (critical - SATURATED_RH_PCT)
    return 1.0 + 7.0 * x - 2.0 * x**2


def mold(
    temp_c: ArrayLike, rh: ArrayLike, before: tuple[ArrayLike, ArrayLike] = (0.0, 0.0)
) -> Mold:
    """Return the mold index over hours, from clean wood or from what it was before.

    Parameters
    ----------
    temp_c, rh
        Of the air at the surface, °C and a fraction (clipped to 0-1), both of shape (hours,) or
        (hours, boards). At a green board the surface is damper than the air.
    before
        Index and dry hours to begin with, of shape (boards,) or of none.

    Notes
    -----
    Euler steps of one hour: dM/dt = k1 k2 / (7 weeks_to_start) a day.
    """
    t = np.asarray(temp_c, dtype=np.float64)
    rh_pct = 100.0 * np.clip(np.asarray(rh, dtype=np.float64), 0.0, 1.0)
    known = ~np.isnan(t + rh_pct)
    critical = critical_rh_pct(t)
    grows = (critical < SATURATED_RH_PCT) & (t < GROWS_BELOW_C) & (rh_pct >= critical)
    at = np.where(grows, t, RISING_TO_C), np.where(grows, rh_pct, SATURATED_RH_PCT)
    weeks = weeks_to_start(*at)
    per_hour = 1.0 / (24.0 * 7.0 * weeks)
    later = 2.0 / (weeks_to_see(*at) / weeks - 1.0)
    highest = highest_index(*at)

    index, dry_hours = (np.zeros(t.shape[1:]) + np.asarray(b, dtype=np.float64) for b in before)
    course, dry = np.empty_like(t), np.empty_like(t)
    for hour, growing in enumerate(grows):
        slowing = np.maximum(1.0 - np.exp(2.3 * (index - highest[hour])), 0.0)
        growth = np.where(index < 1.0, 1.0, later[hour]) * slowing * per_hour[hour]
        change = np.where(growing, growth, -_decline_per_hour(dry_hours))
        dry_hours = np.where(known[hour], np.where(growing, 0.0, dry_hours + 1.0), dry_hours)
        index = np.clip(index + np.where(known[hour], change, 0.0), 0.0, 6.0)
        course[hour], dry[hour] = index, dry_hours
    return Mold(course, np.cumsum(~known, axis=0, dtype=np.int64), dry)


def _decline_per_hour(dry_hours: Array) -> Array:
    """Return what a dry hour takes off, after so many dry ones before it."""
    late = np.where(dry_hours >= LATE_DRY_HOURS, LATE_DECLINE_PER_DAY, 0.0)
    return np.where(dry_hours < EARLY_DRY_HOURS, EARLY_DECLINE_PER_DAY, late) / 24.0
