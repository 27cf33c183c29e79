"""One whole pass: fetch the weather, dry every stack, judge, decide, and put words in the outbox.

Everything that touches the world is handed in: the store, the HTTP getter, the present instant.
A pass run again at the same instant changes nothing and says nothing.
"""

import io
import logging
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields, replace
from datetime import datetime, timedelta

import numpy as np
import pandas as pd

from drywind.alerts.story import Told
from drywind.clock import floor_hour
from drywind.config import Config
from drywind.errors import UsageError
from drywind.gather import (
    LONGEST_FILL,
    LONGEST_WAIT,
    fetch_weather,
    first_needed,
    fresh_ensemble,
    place_of,
)
from drywind.judge.assess import assess
from drywind.judge.cases import Case, Grounds, make_case
from drywind.judge.chance import MEMBERS
from drywind.judge.findings import Finding
from drywind.judge.hazards import DAY
from drywind.judge.outlook import Outlook
from drywind.judge.runs import Run, advance
from drywind.judge.use import Hint, hints
from drywind.judge.waiting import waiting
from drywind.learned import error_model, score
from drywind.reports import Morning, report
from drywind.self_watch import (
    look_at_self,
    speak_of_self,
    speak_of_the_missed,
    troubles,
    unreached,
    with_stand_ins,
)
from drywind.speaking import (
    LotWords,
    Matter,
    Said,
    issue_of,
    speak,
    stack_matters,
)
from drywind.store import Store
from drywind.weather.choice import best_hours
from drywind.weather.http import Getter
from drywind.weather.members import OWN, weathers
from drywind.weather.seen import SiteWeather
from drywind.weather.services import order
from drywind.weather.sun import with_sun
from drywind.weather.table import from_hours, hourly
from drywind.wood.clocks import Clocks
from drywind.wood.drying import State
from drywind.wood.limits import stack_limit
from drywind.yard import Stack

HORIZON_HOURS = 168
"""The services forecast seven to ten days."""

LONGEST_WATCH = timedelta(days=3 * 365)
"""A stack that stands longer is a mistake in its date, and would cost hours to simulate."""

CHECKPOINT_AGE = timedelta(hours=48)
"""How far back the saved state of a stack lies: past hours younger than this may still change."""

_log = logging.getLogger(__name__)


@dataclass(frozen=True)
class Pass:
    """What one pass found and decided."""

    now: datetime
    weather: tuple[SiteWeather, ...]
    outlooks: tuple[Outlook, ...]
    said: tuple[Said, ...]
    findings: tuple[Finding, ...] = ()

    @property
    def needs_action(self) -> bool:
        """Whether anything goes over a limit, of a stack or of a lot."""
        return any(finding.over for finding in self.findings)

    @property
    def blind(self) -> bool:
        """Whether nothing is known of the hours ahead of any stack."""
        return bool(self.outlooks) and all(not o.pace.by_board for o in self.outlooks)


def run_pass(
    config: Config, store: Store, getter: Getter, now: datetime, *, dry_run: bool = False
) -> Pass:
    """Do one pass; messages are in the outbox when it returns, none is sent yet.

    A dry run fetches and stores weather, but notes no decision and puts nothing in the outbox.
    """
    late = [] if dry_run else speak_of_the_missed(config, store, now)
    lost = unreached(store, config)
    config = with_stand_ins(config, lost)
    standing = [s for s in store.stacks(include_ended=True) if s.stands_at(now)]
    since = first_needed(standing, store.lots(include_ended=True), now)
    weather = fetch_weather(config, store, getter, now, since)
    outlooks = look_ahead(config, store, now)
    notices = {w.site: w.notices for w in weather}
    matters = [
        matter
        for outlook in outlooks
        for matter in stack_matters(outlook, now, notices.get(outlook.site_now, ()))
    ]
    matters += look_at_lots(config, store, now)
    said = [*late, *speak(config, store, matters, now, dry_run=dry_run)]
    state = look_at_self(config, store, () if since is None else weather, lost)
    said += speak_of_self(config, store, troubles(config, state, now), now, dry_run=dry_run)
    if since is not None:

        def week_ahead() -> Mapping[str, pd.DataFrame]:
            start = floor_hour(now)
            end = start + timedelta(hours=HORIZON_HOURS)
            return make_grounds(config, store, start, end, now).tables

        def idle() -> Mapping[str, Hint]:
            return look_for_idle(config, store, outlooks, now)

        seen = Morning(outlooks, said, week_ahead, idle, now)
        said += report(config, store, seen, dry_run=dry_run)
    found = tuple(matter.finding for matter in matters)
    return Pass(now, weather, tuple(outlooks), tuple(said), found)


def make_grounds(
    config: Config, store: Store, start: datetime, end: datetime, now: datetime
) -> Grounds:
    """Return sites and weather tables over [start, end), as they are known at `now`."""
    tables = {}
    for site in config.sites.values():
        place = site.place
        if place not in tables:
            told = store.hours(place, start - timedelta(hours=6), end)
            rows = best_hours(told, now, order(config.weather, place_of(site)))
            tables[place] = hourly(with_sun(from_hours(rows), site.lat, site.lon), start, end)
    return Grounds(
        config.sites,
        {n: tables[s.place] for n, s in config.sites.items()},
        members=lambda: _members(config, store, tables, now),
    )


def _members(
    config: Config, store: Store, tables: Mapping[str, pd.DataFrame], now: datetime
) -> list[dict[str, pd.DataFrame]]:
    """Return weathers that could well come at every site, one mapping a member."""
    by_place: dict[str, list[pd.DataFrame]] = {}
    for site in config.sites.values():
        place = site.place
        if place not in by_place:
            ahead = tables[place].loc[floor_hour(now) :]
            source = str(ahead["source"].dropna().iloc[0]) if ahead["source"].any() else ""
            model = error_model(score(store, place, source, now))
            real = fresh_ensemble(store, place, now) if source == OWN else []
            by_place[place] = weathers(ahead, real, site, now, MEMBERS, model)
    return [
        {name: by_place[site.place][i] for name, site in config.sites.items()}
        for i in range(MEMBERS)
    ]


def look_ahead(
    config: Config, store: Store, now: datetime, only: str | None = None
) -> list[Outlook]:
    """Return the outlook of the stacks that stand now, from the weather in the store.

    A stack that cannot be judged is left out, and logged: it must not silence the others.

    Parameters
    ----------
    only
        The name of one stack, to have its whole course from stacking to the end of the forecast.
        Without, stacks are taken up at their saved states and dried as far ahead as is judged.
    """
    ahead = config.policy.warn_hours_ahead
    standing = [s for s in store.stacks(include_ended=True) if s.stands_at(now)]
    chosen = [s for s in standing if only in {None, s.id} and _is_watched(s, now)]
    if not chosen:
        return []
    end = floor_hour(now) + timedelta(hours=HORIZON_HOURS)
    start = floor_hour(min(max(s.felled_at, s.stacked_at - LONGEST_WAIT) for s in chosen))
    grounds = replace(
        make_grounds(config, store, start, end, now), full=_full_sites(config, standing, now)
    )
    cases, limits = [], {}
    for stack in chosen:
        try:
            limits[stack.id] = stack_limit(stack, config.policy.safe_loss)
            cases.append(make_case(stack, grounds, end, now))
        except UsageError as error:
            _log.error("stack %s cannot be judged: %s", stack.id, error)
        except Exception:  # noqa: BLE001 - whatever one record does, the others are watched
            _log.exception("stack %s cannot be judged", stack.id)
    runs = _take_up(cases, store, now) if only is None else [Run.fresh(c) for c in cases]
    return assess(runs, limits, grounds, now, ahead)


def look_for_idle(
    config: Config, store: Store, outlooks: Sequence[Outlook], now: datetime
) -> Mapping[str, Hint]:
    """Return what would let stacks dry faster that use little of their safe pace, by stack."""
    if not outlooks:
        return {}
    start = min(o.case.start for o in outlooks)
    end = floor_hour(now) + timedelta(hours=HORIZON_HOURS)
    standing = [s for s in store.stacks(include_ended=True) if s.stands_at(now)]
    grounds = replace(
        make_grounds(config, store, start, end, now), full=_full_sites(config, standing, now)
    )
    runs = {o.case.stack.id: _resume(o.case, store, now) for o in outlooks}
    return hints(outlooks, runs, grounds, config.policy.warn_hours_ahead)


def look_at_lots(config: Config, store: Store, now: datetime) -> list[Matter]:
    """Return what there is to decide of the lots that wait, from the weather in the store."""
    lots = [lot for lot in store.lots(include_ended=True) if lot.waits_at(now)]
    lots = [lot for lot in lots if lot.site in config.sites]
    if not lots:
        return []
    start = floor_hour(max(min(lot.felled_at for lot in lots), now - LONGEST_FILL))
    ahead = config.policy.warn_hours_ahead
    end = floor_hour(now) + timedelta(hours=ahead)
    tables = make_grounds(config, store, start, end, now).tables
    matters = []
    for lot in lots:
        table = tables[lot.site]
        try:
            finding = waiting(lot, table, now, ahead)
        except Exception:  # noqa: BLE001 - whatever one record does, the others are watched
            _log.exception("lot %s cannot be judged", lot.id)
            continue
        matters.append(Matter(finding, LotWords(lot, Told(*issue_of(table, now))), lot.sawn_at))
    return matters


def _is_watched(stack: Stack, now: datetime) -> bool:
    if now - stack.stacked_at <= LONGEST_WATCH:
        return True
    _log.error("stack %s is too old to be judged; enter its end", stack.id)
    return False


def _full_sites(config: Config, standing: Sequence[Stack], now: datetime) -> frozenset[str]:
    """Return the sites that have no room left."""
    taken = Counter(s.setup_at(now).site for s in standing)
    return frozenset(
        name
        for name, site in config.sites.items()
        if site.room is not None and taken[name] >= site.room
    )


def _take_up(cases: Sequence[Case], store: Store, now: datetime) -> list[Run]:
    """Return each case at its saved state if that still holds; save a newer one where due."""
    runs = [_resume(case, store, now) for case in cases]
    until = [c.hour_of(floor_hour(now) - CHECKPOINT_AGE) for c in cases]
    due = [i for i, (run, to) in enumerate(zip(runs, until, strict=True)) if to - run.hour >= DAY]
    for i in due:
        try:
            (runs[i],) = advance([runs[i]], [until[i]])
        except Exception:  # noqa: BLE001 - one stack must not silence the others
            _log.exception("no state saved of stack %s", cases[i].stack.id)
            continue
        case, run = cases[i], runs[i]
        store.save_checkpoint(
            case.stack.id, case.time_of(run.hour), case.fingerprint(run.hour), _pack(run)
        )
    return runs


def _resume(case: Case, store: Store, now: datetime) -> Run:
    saved = store.checkpoint(case.stack.id)
    if saved is not None:
        at, fingerprint, blob = saved
        hour = case.hour_of(at)
        if hour > 0 and at <= now - CHECKPOINT_AGE and case.fingerprint(hour) == fingerprint:
            return Run.resumed(case, hour, *_unpack(blob))
    return Run.fresh(case)


def _pack(run: Run) -> bytes:
    buffer = io.BytesIO()
    np.savez(buffer, **vars(run.state), **vars(run.clocks.at(run.hour)))
    return buffer.getvalue()


def _unpack(blob: bytes) -> tuple[State, Clocks]:
    with np.load(io.BytesIO(blob), allow_pickle=False) as arrays:
        return (
            State(*(arrays[f.name] for f in fields(State))),
            Clocks(*(arrays[f.name] for f in fields(Clocks))),
        )
