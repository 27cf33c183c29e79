"""When the yard's stacks will be ready: wood as weighings have it, weather as it may come.

The forecast and what may come of it, then the same weeks of past years.
"""

import logging
from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta

import pandas as pd

from drywind.climate.stack_air import Drivers, stack_air
from drywind.clock import floor_hour
from drywind.config import Config
from drywind.cycle import HORIZON_HOURS, watched_cases
from drywind.judge.cases import Case, Grounds
from drywind.learn.ahead import STEP_H, Unsure, futures
from drywind.learn.priors import PRIORS
from drywind.learn.ready import DRIEST_GOAL_PCT, Readiness, readiness
from drywind.learn.site import SiteOffset, corrected
from drywind.learning import site_offsets
from drywind.planning import usual_of
from drywind.samples import sample_boards
from drywind.store import Store
from drywind.weather.usual import SOURCE, Usual, continued
from drywind.yard import Setup, Site

DRAWS = 16
AT_ONCE = 8
"""Of stacks dried side by side: thirty at once took 200 MB more, for a third less time."""
LONGEST_DAYS = 300
"""How far ahead is looked: 4/4 of any wood is air-dry by then, 8/4 oak may not be."""

_log = logging.getLogger(__name__)


def yard_readiness(
    config: Config, store: Store, now: datetime, only: str | None = None
) -> list[Readiness]:
    """Return how ready each stack is that stands and of which enough is known."""
    grounds, cases, _ = watched_cases(config, store, now, only)
    known = [c for c in cases if not c.is_lost(max(c.hour_of(now), 0))]
    if not known:
        return []
    usual = {name: usual_of(config, store, config.sites[name], now) for name in _sites(known, now)}
    offsets = site_offsets(store)
    found: dict[str, Readiness] = {}
    for setup in dict.fromkeys(case.stack.setup_at(now) for case in known):
        # A setup at a time, and of it a few stacks: their air for most of a year, in all its draws,
        # is tens of MB.
        airs = _Airs(grounds, usual, offsets, now)
        alike = [case for case in known if case.stack.setup_at(now) == setup]
        for first in range(0, len(alike), AT_ONCE):
            some = alike[first : first + AT_ONCE]
            asked = [_unsure(case, airs, now) for case in some]
            ahead = futures(asked, PRIORS, DRAWS, until_pct=DRIEST_GOAL_PCT)
            for case, seen in zip(some, ahead, strict=True):
                read_at = last_reading(case, now)
                found[case.stack.id] = readiness(case, seen, case.hour_of(now), read_at, PRIORS)
    return [found[case.stack.id] for case in known]


def past_years_words(
    config: Config, store: Store, found: Sequence[Readiness], now: datetime
) -> str:
    """Say which past years stand for the weeks after the forecast."""
    sites = _sites([one.case for one in found], now)
    return "; ".join(
        dict.fromkeys(usual_of(config, store, config.sites[name], now).words for name in sites)
    )


def last_reading(case: Case, now: datetime) -> int | None:
    """Return the hour of a stack's last reading since stacking; None where it has none."""
    boards = sample_boards(case.stack.events, now)
    times = [reading.time for board in boards for reading in board.readings]
    return max(case.hour_of(max(times)), 0) if times else None


def _sites(cases: Sequence[Case], now: datetime) -> list[str]:
    return list(dict.fromkeys(case.stack.setup_at(now).site for case in cases))


def _unsure(case: Case, airs: "_Airs", now: datetime) -> Unsure:
    ahead = airs.of(case.stack.setup_at(now))
    near = tuple(air.hours(slice(HORIZON_HOURS)) for air in ahead)
    beyond = tuple(air.hours(slice(HORIZON_HOURS, None)).coarse(STEP_H) for air in ahead)
    start = max(case.hour_of(now), case.begin_hour)
    return Unsure(case, last_reading(case, now) or 0, start, near, beyond)


class _Airs:
    """The air of every draw from now on at a stack that is set up some way, made once."""

    def __init__(
        self,
        grounds: Grounds,
        usual: Mapping[str, Usual],
        offsets: Mapping[str, SiteOffset],
        now: datetime,
    ) -> None:
        self._grounds, self._usual, self._offsets = grounds, usual, offsets
        self._now = floor_hour(now)
        self._made: dict[Setup, list[Drivers]] = {}

    def of(self, setup: Setup) -> list[Drivers]:
        """Return the air of each draw."""
        if setup not in self._made:
            site = self._grounds.sites[setup.site]
            tables = self._tables(site)
            together = stack_air(pd.concat(tables), site, setup)
            hours = len(tables[0])
            self._made[setup] = [
                together.hours(slice(i * hours, (i + 1) * hours)) for i in range(len(tables))
            ]
        return self._made[setup]

    def _tables(self, site: Site) -> list[pd.DataFrame]:
        members = self._grounds.could_come[:DRAWS] or [self._grounds.tables]
        usual, end = self._usual[site.name], self._now + timedelta(days=LONGEST_DAYS)
        draws = usual.known(self._now, 24 * LONGEST_DAYS) or usual.draws
        return [
            self._as_at(
                site,
                continued(
                    members[i % len(members)][site.name].loc[self._now :],
                    usual,
                    draws[i % len(draws)],
                    end,
                ),
            )
            for i in range(DRAWS)
        ]

    def _as_at(self, site: Site, table: pd.DataFrame) -> pd.DataFrame:
        """Return a table whose past years are as the site's logger has it, like its forecast."""
        if site.name not in self._offsets:
            return table
        past = table["source"] == SOURCE
        return pd.concat([table[~past], corrected(table[past], self._offsets[site.name])])
