"""Made seasons: days alike, and a spell among them."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pandas as pd

from drywind.judge.made_weather import Afternoon, made_days
from drywind.season.past import Past
from drywind.season.replay import Watched, watch
from drywind.units import Thickness
from drywind.weather.sun import with_sun
from drywind.yard import Measure, Setup, Site, Stack

ZONE = ZoneInfo("Etc/GMT+5")
LOT = Site("gravel lot", 41.98, -75.0, 205.0)
ROOFED = Setup(LOT.name, measures=frozenset({Measure.PILE_ROOF}))
R7 = Stack(
    "R7",
    "red_oak",
    Thickness.parse("4/4"),
    datetime(2026, 6, 1, 8, tzinfo=ZONE).astimezone(UTC),
    ROOFED,
)
COOL = Afternoon(15.0, 0.60, 2.0, 8.0, 0.30)
HOT = Afternoon(34.0, 0.20, 7.0, 12.0, 0.25)
HOTTER = Afternoon(42.0, 0.10, 11.0, 8.0, 0.10)


def days(count: int, usual: Afternoon, spells: Mapping[int, Afternoon] | None = None) -> Past:
    """Return a yard in June from the 1st on, and the spells by the day they come on, from 0."""
    table = made_days(usual, 6, count)
    for day, afternoon in (spells or {}).items():
        part = table.index[24 * day : 24 * (day + 1)]
        table.loc[part] = made_days(afternoon, 6, count).loc[part]
    table = table.assign(source="CSV", issued_at=table.index, filled=False)
    return Past({LOT.name: LOT}, {LOT.name: with_sun(table, LOT.lat, LOT.lon)}, ZONE, seed=None)


def lost(past: Past, hours: slice) -> Past:
    """Return the yard with some hours that nobody knows."""
    table = past.tables[LOT.name].copy()
    table.iloc[hours, :8] = float("nan")
    return replace(past, tables={LOT.name: table})


def watched(past: Past, length: int, stack: Stack = R7) -> Watched:
    """Return the stack, watched for so many days."""
    (one,) = watch([stack], past, length)
    return one


def told(one: Watched) -> list[tuple[str, str]]:
    """Return when, on the wall clock, what was said."""
    return [(f"{t.decision.made_at.astimezone(ZONE):%a %H:%M}", t.words.text) for t in one.texts]


def hours(past: Past) -> pd.DatetimeIndex:
    """Return the hours of a yard."""
    return pd.DatetimeIndex(past.tables[LOT.name].index)
