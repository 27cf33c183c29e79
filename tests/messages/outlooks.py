"""Outlooks put together by hand, so that decisions and words are tested without the drying model.

It is Friday, June 12, 2026, 6 pm in Chicago; stack R7 of 4/4 red oak has stood on the gravel for
ten days, R8 since noon.
"""

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd

from drywind.alerts.gsm7 import septets
from drywind.alerts.records import Reason
from drywind.alerts.wording import Reader, text
from drywind.climate.stack_air import Board
from drywind.clock import floor_hour
from drywind.judge.cases import Case, Grounds, make_case
from drywind.judge.chance import Odds
from drywind.judge.findings import Hazard
from drywind.judge.hazards import Pace, Window
from drywind.judge.measures import Remedy, Trial
from drywind.judge.outlook import Outlook, Spell
from drywind.judge.runs import Run
from drywind.units import Thickness, Units
from drywind.wood.limits import Basis, Limit
from drywind.yard import Measure, Setup, Site, Stack

ZONE = ZoneInfo("America/Chicago")
NOW = datetime(2026, 6, 12, 23, 0, tzinfo=UTC)
AGE_H = 240
R7 = Stack("R7", "red_oak", Thickness.parse("4/4"), NOW - timedelta(hours=AGE_H), Setup("gravel"))
US, METRIC = Reader(Units.US, ZONE, NOW), Reader(Units.METRIC, ZONE, NOW)
R8 = replace(R7, id="R8", stacked_at=NOW - timedelta(hours=6))
RED_OAK_LIMIT = Limit(3.8, Basis.PUBLISHED)

FAIR = {
    "temp_c": 25.0,
    "rh": 0.6,
    "wind_ms": 2.0,
    "wind_dir_deg": 270.0,
    "ghi_wm2": 0.0,
    "cloud": 0.0,
    "rain_mm": 0.0,
    "source": "nws",
    "issued_at": NOW - timedelta(hours=3),
}
"""The weather of every hour, as far as a case needs it."""

LATE = Window(Board.EDGE, AGE_H + 4, 24, 5.9, 3.8, None)
"""From 10 pm on, of R7."""
EARLY = Window(Board.EDGE, 0, 48, 7.9, 3.8, 18.0)
"""The first two days, of R8."""

CLOTH = Remedy((Measure.SHADE_CLOTH,))
BURLAP = Remedy((Measure.BURLAP,))
BURLAP_AND_CLOSED = Remedy((Measure.BURLAP, Measure.PACKS_CLOSED))
TO_SHED = Remedy((), "long shed")


def local(day: int, hour: int, minute: int = 0) -> datetime:
    """Return a time of June 2026 in Chicago as an instant."""
    return datetime(2026, 6, day, hour, minute, tzinfo=ZONE).astimezone(UTC)


HOT_SATURDAY = Spell(local(13, 10), local(13, 11), local(13, 19), 35.0, 0.25, 5.0)


def _pace(windows: Sequence[Window], *, complete: bool) -> Pace:
    over = [w for w in windows if w.severity >= 1.0]
    first = min(over, key=lambda w: w.start, default=None)
    judged = frozenset((w.start, w.hours) for w in windows)
    return Pace({w.board: w for w in windows}, first, complete, judged)


def trial(remedy: Remedy, window: Window, *, complete: bool = True, known: bool = True) -> Trial:
    """Return a trial whose worst window is this one."""
    return Trial(remedy, _pace([window], complete=complete), known)


CLOTH_HELPS = trial(CLOTH, replace(LATE, loss_pct_per_day=3.5))
BURLAP_HELPS = trial(BURLAP, replace(EARLY, shell_pct=25.0))


def outlook(
    windows: Sequence[Window],
    chosen: Trial | None = None,
    stack: Stack = R7,
    spell: Spell | None = HOT_SATURDAY,
    now: datetime = NOW,
) -> Outlook:
    """Return the outlook of a stack whose boards' worst windows, and all judged, are these.

    Its weather is known, its boards are at 80 % MC, and only what is chosen was tried.
    """
    run = Run.fresh(_case(stack, now))
    wet = np.full_like(run.mc_pct, 80.0)
    trials = () if chosen is None else (chosen,)
    return Outlook(
        replace(run, mc_pct=wet, shell_pct=wet),
        run.case.hour_of(now),
        RED_OAK_LIMIT,
        _pace(windows, complete=True),
        spell,
        trials,
        chosen,
    )


def unknown(case: Case, hours: slice) -> Case:
    """Return a case of which nobody knows some hours."""
    weather, air = case.weather.copy(), case.drivers.air_temp_c.copy()
    weather.iloc[hours, :] = float("nan")
    air[hours] = float("nan")
    return replace(case, weather=weather, drivers=replace(case.drivers, air_temp_c=air))


def likely(seen: Outlook, share: float) -> Outlook:
    """Return an outlook in which so many of the weathers tried bring it over its limit."""
    return replace(seen, odds=Odds({Hazard.TOO_FAST: share}, 1.0 - share))


def _case(stack: Stack, now: datetime) -> Case:
    end = now + timedelta(hours=96)
    hours = pd.date_range(floor_hour(stack.stacked_at), end, freq="h", inclusive="left")
    table = pd.DataFrame(FAIR, index=hours)
    names = {setup.site for _, setup in stack.setup_spans()}
    sites = {name: Site(name, 41.98, -87.9, 205.0) for name in names}
    return make_case(stack, Grounds(sites, dict.fromkeys(names, table)), end, now)


def read(seen: Outlook, reason: Reason = Reason.FIRST, reader: Reader = US) -> str:
    """Return the text, which must fit one message."""
    words = text(seen, reason, reader)
    assert septets(words) <= 160
    return words
