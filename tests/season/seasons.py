"""Seasons to replay: years of weather, the yard they are let loose on, and what is stacked."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from time import perf_counter
from types import MappingProxyType
from typing import NamedTuple
from zoneinfo import ZoneInfo

import pandas as pd
from tests.published import years

from drywind.judge.findings import Hazard
from drywind.season.past import Past
from drywind.season.replay import watch
from drywind.season.score import HAZARDS, Score, score
from drywind.units import Thickness
from drywind.yard import Exposure, Measure, Setup, Site, Stack

WOODS = ("red_oak", "white_oak", "hard_maple", "yellow_poplar")
GRAVEL, SHED = "gravel lot", "long shed"
STANDING = MappingProxyType(
    {
        "gravel": Setup(GRAVEL, measures=frozenset({Measure.PILE_ROOF})),
        "shed": Setup(SHED),
    }
)
STACKED_AT_HOUR, DAYS, EVERY_H = 8, 120, 6


class Weather(NamedTuple):
    """A year of weather, where it was, and its standard time."""

    table: Callable[[], pd.DataFrame]
    site: Site
    zone: ZoneInfo


class Kind(NamedTuple):
    """What a score is of."""

    place: str
    wood: str
    standing: str
    month: int


@dataclass(frozen=True)
class Result:
    """What came of a year."""

    name: str
    scores: Mapping[tuple[Kind, Hazard], Score]
    seconds: float

    @property
    def stacks(self) -> int:
        """How many were watched."""
        return len(self.scores) // len(HAZARDS)


def _ohare(year: int) -> Weather:
    return Weather(lambda: years.ohare(year), years.OHARE, ZoneInfo("Etc/GMT+6"))


PLACES: Mapping[str, Weather] = MappingProxyType(
    {
        **{str(year): _ohare(year) for year in (2011, 2012, 2013, 2015, 2016, 2017)},
        "greensboro": Weather(years.greensboro, years.GREENSBORO, ZoneInfo("Etc/GMT+5")),
        "tampa": Weather(lambda: years.epw("Tampa"), years.TAMPA, ZoneInfo("Etc/GMT+5")),
    }
)


def season(name: str) -> Result:
    """Replay a year: every wood, however it stands, stacked on the 1st of each month."""
    began = perf_counter()
    past = past_of(name)
    kinds = [
        Kind(name, wood, standing, month)
        for wood in WOODS
        for standing in STANDING
        for month in range(1, 13)
    ]
    year = past.tables[GRAVEL].index[len(past.tables[GRAVEL]) // 2].year
    watched = watch([_stack(kind, year, past.zone) for kind in kinds], past, DAYS)
    scores = {
        (kind, hazard): score([one], past, hazard)
        for kind, one in zip(kinds, watched, strict=True)
        for hazard in HAZARDS
    }
    return Result(name, scores, perf_counter() - began)


def past_of(name: str) -> Past:
    """Return the yard in a year's weather."""
    weather = PLACES[name]
    sites = {
        GRAVEL: replace(weather.site, name=GRAVEL),
        SHED: replace(weather.site, name=SHED, exposure=Exposure.SHED, roof=True),
    }
    tables = dict.fromkeys(sites, weather.table())
    return Past(sites, tables, weather.zone, every_h=EVERY_H)


def _stack(kind: Kind, year: int, zone: ZoneInfo) -> Stack:
    at = datetime(year, kind.month, 1, STACKED_AT_HOUR, tzinfo=zone).astimezone(UTC)
    return Stack("R7", kind.wood, Thickness.parse("4/4"), at, STANDING[kind.standing])
