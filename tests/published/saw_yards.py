"""A yard to saw into, in made weather and in whole years of it."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
from tests.published import years
from tests.published.lumber import Array

from drywind.clock import floor_hour
from drywind.judge.places import PlaceMonth, PlacesYard, places
from drywind.judge.sawing import Parcel, SawYard
from drywind.planning import carried_on
from drywind.units import Thickness
from drywind.weather.spread import members
from drywind.weather.usual import Usual, laid_over, nearest
from drywind.yard import DIRECTIONS, Exposure, LogLot, Setup, Site, Stack

ZONE = ZoneInfo("America/New_York")
NOW = datetime(2001, 5, 10, 10, tzinfo=UTC)
WEEK_H = 168

MILD = (19.0, 7.0, 0.65, 2.5)
WARM_DAMP = (20.0, 6.0, 0.78, 1.5)
FRONT = (7.0, 4.0, 0.60, 4.0)
HOT_DRY = (31.0, 7.0, 0.28, 6.0)
COOL = (17.0, 5.0, 0.72, 2.0)
"""A day's mean temperature and half its range in °C, mean humidity, and wind in m/s."""


def sites(lat: float = 36.10, lon: float = -79.95) -> dict[str, Site]:
    """Return a lot, an open-sided shed out of the west wind, and a barn."""
    lee = {d: 0.5 if "W" in d else 1.0 for d in DIRECTIONS}
    return {
        "lot": Site("lot", lat, lon, 273.0),
        "shed": Site("shed", lat, lon, 273.0, Exposure.SHED, roof=True, shelter=lee),
        "barn": Site("barn", lat, lon, 273.0, Exposure.BARN, roof=True),
    }


def made_week(days: Sequence[tuple[float, ...]], now: datetime = NOW) -> pd.DataFrame:
    """Return such local days as the canonical table, foretold at `now`, and five before."""
    start = floor_hour(now)
    midnight = start.astimezone(ZONE).replace(hour=0)
    index = pd.date_range(
        start - timedelta(days=5), start + timedelta(days=len(days)), freq="h", name="time_utc"
    )
    local = index.tz_convert(ZONE)
    which = np.clip((local - midnight) // pd.Timedelta(days=1), 0, len(days) - 1)
    mean_c, half_c, rh, wind_ms = np.array(days)[np.asarray(which)].T
    swing = np.cos((np.asarray(local.hour) - 15.0) / 12.0 * np.pi)
    return pd.DataFrame(
        {
            "temp_c": mean_c + half_c * swing,
            "rh": np.clip(rh - 0.25 * swing * half_c / 7.0, 0.1, 1.0),
            "wind_ms": wind_ms,
            "wind_dir_deg": 270.0,
            "gust_ms": np.nan,
            "ghi_wm2": np.nan,
            "cloud": 0.3,
            "rain_mm": 0.0,
            "source": "made",
            "issued_at": pd.Timestamp(start),
        },
        index=index,
    )


def saw_yard(
    table: pd.DataFrame,
    now: datetime = NOW,
    count: int = 7,
    usual: Usual | None = None,
    within: Mapping[str, Site] | None = None,
) -> SawYard:
    """Return a yard in a week of weather, then a past year, in so many weathers."""
    there = within or sites()
    site, start = next(iter(there.values())), floor_hour(now)
    ahead = table.loc[start : start + timedelta(hours=WEEK_H - 1)]
    could_come = [dict.fromkeys(there, member) for member in members(ahead, site, now, count)]
    past = {site.place: usual or nearest(site.lat, site.lon)}
    return SawYard(
        sites=there,
        setups={name: Setup(name) for name in there},
        tables=dict.fromkeys(there, table),
        weathers=carried_on(could_come, there, past, now),
        foretold_until=start + timedelta(hours=len(ahead)),
        own_limits={},
        now=now,
        zone=ZONE,
    )


def parcel(species: str, size: str = "4/4", felled_days_ago: float | None = None) -> Parcel:
    """Return logs felled so long ago; trees that still stand if not said."""
    felled = NOW - timedelta(days=felled_days_ago or 0.0)
    lot = LogLot("L1", species, felled, "lot")
    return Parcel(lot, Thickness.parse(size), standing=felled_days_ago is None)


def months_of(
    woods: Iterable[tuple[str, str]], months: Sequence[int], usual: Usual, weathers: int = 2
) -> list[PlaceMonth]:
    """Return how woods fare at every site, stacked in the middle of months of past years."""
    there = sites(usual.years[0].lat, usual.years[0].lon)
    starts = [datetime(2001, month, 15, 17, tzinfo=UTC) for month in months]
    span = pd.date_range(starts[0], starts[-1] + timedelta(days=366), freq="h", name="time_utc")
    tables = [laid_over(usual, draw, span) for draw in usual.draws[:weathers]]
    yard = PlacesYard(
        sites=there,
        setups={name: Setup(name) for name in there},
        weathers=[dict.fromkeys(there, table) for table in tables],
        starts=starts,
        months=list(months),
        own_limits={},
    )
    stacks = [Stack("S1", w, Thickness.parse(size), starts[0], Setup("lot")) for w, size in woods]
    return places(stacks, yard)


def column(found: Iterable[PlaceMonth], name: str, **only: object) -> Array:
    """Return one figure of all that match."""
    mine = [p for p in found if all(getattr(p, key) == want for key, want in only.items())]
    values = [getattr(p, name, None) if hasattr(p, name) else getattr(p.usual, name) for p in mine]
    return np.array(values, dtype=float)


def new_york() -> pd.DataFrame:
    """Return the year 2013 as observed at Newark."""
    return years.new_york("EWR")
