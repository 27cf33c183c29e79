"""What the yard's own record of forecasts teaches: how far each service is off at each place."""

from dataclasses import dataclass
from datetime import datetime, timedelta

import pandas as pd

from drywind.store import Store
from drywind.weather.skill import scores, updated
from drywind.weather.spread import DEFAULT, VARIABLES, ErrorModel
from drywind.weather.table import from_hours

SCORED_FOR = timedelta(days=90)
"""Older forecasts tell of another season (assumption)."""

DAYS_FOR_BIAS = 3
"""A bias of fewer days is chance (assumption)."""


@dataclass(frozen=True)
class HumidityBias:
    """How much damper, in points of relative humidity, a forecast is than what was observed."""

    points: float
    days: int


def score(store: Store, place: str, source: str, now: datetime) -> pd.DataFrame | None:
    """Return how far a service's forecasts were off at a place; None where nothing can be told."""
    since = now - SCORED_FOR
    rows = [tuple(row) for row in store.foretold(place, source, since)]
    came = [h for h in store.hours(place, since, now) if h.issued_at >= h.time_utc]
    if not rows or not came:
        return None
    columns = ["place", "source", "time_utc", "issued_at", *VARIABLES]
    foretold = pd.DataFrame(rows, columns=columns)
    for name in ("time_utc", "issued_at"):
        foretold[name] = pd.to_datetime(foretold[name], unit="s", utc=True).dt.as_unit("us")
    foretold[list(VARIABLES)] = foretold[list(VARIABLES)].astype(float)
    scored = scores(foretold, from_hours(came))
    return None if scored.empty else scored


def error_model(scored: pd.DataFrame | None) -> ErrorModel:
    """Return how far forecasts may be off: the general model, moved toward the yard's own."""
    return DEFAULT if scored is None else updated(DEFAULT, scored)


def humidity_bias(scored: pd.DataFrame | None) -> HumidityBias | None:
    """Return the bias of humidity over the first day ahead; None before some days are known."""
    if scored is None or "rh" not in scored.index.get_level_values("variable"):
        return None
    first_day = scored.loc["rh"]
    first_day = first_day[first_day.index < 24]  # noqa: PLR2004 - hours
    days = int(first_day["days"].max()) if len(first_day) else 0
    if days < DAYS_FOR_BIAS:
        return None
    mean = (first_day["bias"] * first_day["count"]).sum() / first_day["count"].sum()
    return HumidityBias(100.0 * float(mean), days)
