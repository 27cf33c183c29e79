"""The days ahead at each place, as the page shows them."""

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from math import isfinite
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from drywind.climate.potential import drying_potential_mm
from drywind.clock import floor_hour
from drywind.report.record import Day, PlaceAhead, SiteAhead, Values
from drywind.reports import KNOWN_SHARE, site_days
from drywind.wood.emc import emc_pct
from drywind.yard import Site

DAYS = 10
"""As far as the services forecast, and no further."""


def places_ahead(
    sites: Mapping[str, Site], tables: Mapping[str, pd.DataFrame], now: datetime, zone: ZoneInfo
) -> tuple[PlaceAhead, ...]:
    """Return the days ahead of the sites, those that share a forecast together."""
    by_place: dict[str, list[Site]] = {}
    for site in sites.values():
        by_place.setdefault(site.place, []).append(site)
    return tuple(_place(group, tables[group[0].name], now, zone) for group in by_place.values())


def _place(sites: Sequence[Site], table: pd.DataFrame, now: datetime, zone: ZoneInfo) -> PlaceAhead:
    start = floor_hour(now)
    ahead = table.loc[start : start + timedelta(days=DAYS, hours=-1)]
    return PlaceAhead(
        start=start,
        sites=tuple(SiteAhead(s.name, _values(drying_potential_mm(ahead, s), 3)) for s in sites),
        emc_pct=_values(emc_pct(ahead["temp_c"], ahead["rh"])),
        wind_ms=_values(ahead["wind_ms"]),
        rain_mm=_values(ahead["rain_mm"]),
        sun_wm2=_values(ahead["ghi_wm2"], 0),
        days=tuple(_days(sites[0].name, ahead, now, zone)),
    )


def _days(name: str, ahead: pd.DataFrame, now: datetime, zone: ZoneInfo) -> list[Day]:
    dates = ahead.index.tz_convert(zone).date  # type: ignore[attr-defined]
    return [
        Day(
            date=day.day,
            word=day.word,
            high_c=day.high_c,
            low_c=_of(ahead["temp_c"], dates == day.day, "min"),
            low_rh=day.low_rh,
            wind_ms=day.wind_ms,
            rain_mm=_of(ahead["rain_mm"], dates == day.day, "sum"),
            sun_kwh=_kwh(_of(ahead["ghi_wm2"], dates == day.day, "sum")),
            emc_pct=day.emc_pct,
        )
        for day in site_days(name, ahead, now, zone, DAYS)
    ]


def _of(column: pd.Series, chosen: NDArray[np.bool_], what: str) -> float | None:
    """Return the least, or the sum, of the hours of a day; None where too few are known."""
    hours = column[chosen]
    known = hours.dropna()
    if hours.empty or len(known) < KNOWN_SHARE * len(hours):
        return None
    return float(known.agg(what))


def _kwh(watt_hours: float | None) -> float | None:
    return None if watt_hours is None else watt_hours / 1000.0


def _values(series: "pd.Series | NDArray[np.float64]", digits: int = 1) -> Values:
    return tuple(round(float(v), digits) if isfinite(v) else None for v in series)
