"""A yard, the weather it had, and the weather that could have been foretold of it."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime, time, timedelta
from functools import cached_property
from zoneinfo import ZoneInfo

import pandas as pd
from pydantic import SecretStr

from drywind.config import Channel, Contact, Policy, Topic
from drywind.cycle import HORIZON_HOURS
from drywind.judge.cases import Grounds
from drywind.judge.chance import MEMBERS
from drywind.units import Units
from drywind.weather.made_forecast import forecast
from drywind.weather.spread import members
from drywind.yard import Site

EVERY_H = 3
"""The daemon's passes are one hour apart."""

SAWYER = Contact(
    "sawyer",
    Channel.TEXT,
    SecretStr(""),
    frozenset(Topic),
    Units.US,
    quiet=(time(21), time(5, 30)),
)
"""Hears everything, and sleeps at night."""


@dataclass(frozen=True)
class Past:
    """A yard, and the weather it had.

    Attributes
    ----------
    tables
        The canonical hourly table of each site, regular, its sun filled in.
    seed
        Of the errors of the forecasts, from 1 up; None lets every forecast come true.
    every_h
        From pass to pass, on the local clock.
    """

    sites: Mapping[str, Site]
    tables: Mapping[str, pd.DataFrame]
    zone: ZoneInfo
    policy: Policy = field(default_factory=Policy)
    contact: Contact = SAWYER
    seed: int | None = 1
    every_h: int = EVERY_H

    @property
    def horizon_hours(self) -> int:
        """How far ahead a pass looks."""
        return HORIZON_HOURS

    @property
    def end(self) -> datetime:
        """The end of the last hour known."""
        last = min(table.index[-1] for table in self.tables.values())
        end: datetime = last.to_pydatetime() + timedelta(hours=1)
        return end

    @cached_property
    def truth(self) -> Grounds:
        """The yard in the weather it had."""
        return Grounds(self.sites, self.tables)

    def foreseen(self, now: datetime) -> Grounds:
        """Return the yard in the weather that could have been foretold at `now`."""
        by_place: dict[str, pd.DataFrame] = {}
        for name, site in self.sites.items():
            if site.place not in by_place:
                truth, hours = self.tables[name], self.horizon_hours
                by_place[site.place] = forecast(truth, site, now, hours, self.seed)
        tables = {name: by_place[site.place] for name, site in self.sites.items()}
        return Grounds(self.sites, tables, members=lambda: self._members(tables, now))

    def _members(
        self, tables: Mapping[str, pd.DataFrame], now: datetime
    ) -> list[dict[str, pd.DataFrame]]:
        found: dict[str, list[pd.DataFrame]] = {}
        for name, site in self.sites.items():
            if site.place not in found:
                found[site.place] = members(tables[name], site, now, MEMBERS)
        return [
            {name: found[site.place][i] for name, site in self.sites.items()}
            for i in range(MEMBERS)
        ]

    def passes(self, start: datetime, end: datetime) -> list[datetime]:
        """Return the instants of [start, end) at which a pass is made."""
        hours = pd.date_range(pd.Timestamp(start).ceil("h"), end, freq="h", inclusive="left")
        due = hours[hours.tz_convert(self.zone).hour % self.every_h == 0]
        return [hour.to_pydatetime() for hour in due]
