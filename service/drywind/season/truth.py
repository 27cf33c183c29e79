"""The harm that came: a stack judged in the weather it had, by the same rules as in a forecast."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from drywind.judge.assess import assess_views
from drywind.judge.findings import Finding, Hazard
from drywind.judge.hazards import SHELL_HOURS
from drywind.judge.runs import View, advance
from drywind.season.past import Past
from drywind.season.replay import VIEWS_AT_ONCE, Watched

Floats = NDArray[np.float64]

SAME_EVENT_H = 24
"""Harm that comes again sooner is the same event."""

ACT_H = 2
"""A warning comes in time so long before harm begins."""

NEAR = 0.95
"""Harm so near the limit is noted too: a warning of it is no false alarm."""

_HOUR = timedelta(hours=1)


@dataclass(frozen=True)
class Event:
    """Harm that came: its first hour, the end of its last, and how bad it was."""

    first: datetime
    end: datetime
    severity: float


@dataclass(frozen=True)
class Truth:
    """How bad it was for a stack by one hazard, hour by hour, while it was watched.

    Attributes
    ----------
    severity
        Shape (hours since `start`,): that of the worst window in which the hour does harm; 0 for
        none near the limit.
    begin, end
        The first pass, and the last.
    can_tell_from
        The first pass outside quiet hours.
    """

    start: datetime
    severity: Floats
    begin: datetime
    end: datetime
    can_tell_from: datetime

    @property
    def weeks(self) -> float:
        """How long it was watched."""
        return (self.end - self.begin) / timedelta(weeks=1)

    def worst(self, since: datetime, until: datetime) -> float:
        """Return how bad it came in [since, until)."""
        first, end = (max(0, (t - self.start) // _HOUR) for t in (since, until))
        return float(self.severity[first:end].max(initial=0.0))

    def events(self) -> list[Event]:
        """Return the harm over the limit."""
        hours = np.flatnonzero(self.severity >= 1.0)
        if not len(hours):
            return []
        parts = np.split(hours, np.flatnonzero(np.diff(hours) > SAME_EVENT_H) + 1)
        return [
            Event(
                self.start + int(part[0]) * _HOUR,
                self.start + int(part[-1] + 1) * _HOUR,
                float(self.severity[part].max()),
            )
            for part in parts
        ]

    def in_time(self, harm: datetime) -> datetime:
        """Return by when a warning must be out; a fresh stack's, as soon as it can be told."""
        return max(harm - ACT_H * _HOUR, self.can_tell_from)

    def days(self, zone: ZoneInfo) -> dict[date, datetime | None]:
        """Return the first harmful hour of each local day it was watched; None for none."""
        count = (self.end.astimezone(zone).date() - self.begin.astimezone(zone).date()).days + 1
        first = self.begin.astimezone(zone).date()
        found: dict[date, datetime | None] = {first + timedelta(days=i): None for i in range(count)}
        for hour in np.flatnonzero(self.severity >= 1.0):
            instant = self.start + int(hour) * _HOUR
            day = instant.astimezone(zone).date()
            if day in found and found[day] is None:
                found[day] = instant
        return found


def truths(one: Watched, past: Past) -> dict[Hazard, Truth]:
    """Return the harm of each hazard that came to a stack; empty if it was never watched."""
    if not one.passes:
        return {}
    case = one.run.case
    last = min(case.hour_of(one.passes[-1]) + SHELL_HOURS, case.hours)
    (run,) = advance([one.run.within(last)], [last])
    severity: dict[Hazard, Floats] = {}
    for i in range(0, len(one.passes), VIEWS_AT_ONCE):
        passes = one.passes[i : i + VIEWS_AT_ONCE]
        # The run has gone to the end already: all that is asked is how it fares as it stands.
        views = [View(run, one.limit, past.truth, now) for now in passes]
        for outlook in assess_views(views, past.every_h, advise=False):
            for finding in outlook.findings:
                hours = severity.setdefault(finding.hazard, np.zeros(last))
                _mark(hours, finding, case.start)
    awake = [
        p for p in one.passes if not past.contact.is_quiet(p.astimezone(past.zone).time())
    ] or one.passes
    return {
        hazard: Truth(case.start, hours, one.passes[0], one.passes[-1], awake[0])
        for hazard, hours in severity.items()
    }


def _mark(severity: Floats, finding: Finding, start: datetime) -> None:
    """Note the hours of a finding at or near its limit."""
    first = finding.first or finding.start
    if finding.severity < NEAR or first is None or finding.end is None:
        return
    end = max(finding.end, first + _HOUR)
    hours = slice((first - start) // _HOUR, (end - start) // _HOUR)
    severity[hours] = np.maximum(severity[hours], finding.severity)
