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
from types import MappingProxyType

import numpy as np
import pandas as pd

from drywind.alerts.blind import BLIND, blind_message, decide_blind
from drywind.alerts.decide import Before, decide, key_of, topic_of
from drywind.alerts.records import Decision, Message, Reason
from drywind.alerts.story import Told, message
from drywind.alerts.wording import Reader
from drywind.clock import floor_hour
from drywind.config import Config
from drywind.errors import UsageError
from drywind.gather import (
    LONGEST_WAIT,
    fetch_weather,
    first_needed,
    fresh_ensemble,
    place_of,
)
from drywind.judge.assess import assess
from drywind.judge.cases import Case, Grounds, make_case
from drywind.judge.chance import MEMBERS
from drywind.judge.hazards import DAY
from drywind.judge.outlook import Outlook
from drywind.judge.runs import Run, advance
from drywind.learned import error_model, score
from drywind.store import Store
from drywind.weather.choice import best_hours
from drywind.weather.http import Getter
from drywind.weather.members import OWN, weathers
from drywind.weather.nws_alerts import Notice
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
class Said:
    """A decision, and the words that go with it if it speaks."""

    decision: Decision
    message: Message | None
    is_new: bool


@dataclass(frozen=True)
class Pass:
    """What one pass found and decided."""

    now: datetime
    weather: tuple[SiteWeather, ...]
    outlooks: tuple[Outlook, ...]
    said: tuple[Said, ...]

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
    standing = [s for s in store.stacks(include_ended=True) if s.stands_at(now)]
    since = first_needed(standing, store.lots(include_ended=True), now)
    weather = fetch_weather(config, store, getter, now, since)
    outlooks = look_ahead(config, store, now)
    notices = {w.site: w.notices for w in weather}
    said = speak(config, store, outlooks, now, notices, dry_run=dry_run)
    if standing:
        said += speak_of_sight(config, store, weather, now, dry_run=dry_run)
    return Pass(now, weather, tuple(outlooks), tuple(said))


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


def speak(
    config: Config,
    store: Store,
    outlooks: Sequence[Outlook],
    now: datetime,
    notices: Mapping[str, Sequence[Notice]] = MappingProxyType({}),
    *,
    dry_run: bool = False,
) -> list[Said]:
    """Decide for each contact and stack, and commit what is to be said to the outbox.

    Parameters
    ----------
    notices
        What the US service warns of, by site.
    """
    before = {(d.contact, d.stack, d.hazard): d for d in store.last_decisions()}
    said = []
    for contact in config.contacts.values():
        reader = Reader(contact.units, config.zone, now)
        for outlook in outlooks:
            finding = outlook.too_fast
            last = Before(before.get((contact.name, finding.subject, finding.hazard)))
            decision = decide(finding, contact, last, config.policy, now, config.zone)
            words = None
            if decision.reason.speaks and topic_of(decision.reason) in contact.hear:
                told = Told(*issue_of(outlook, now), notices.get(outlook.site_now, ()))
                words = message(outlook, decision.reason, reader, told)
            is_new = (
                decision.reason.stored
                and not dry_run
                and store.record(decision, words, key_of(decision, last))
            )
            said.append(Said(decision, words, is_new))
    return said


def speak_of_sight(
    config: Config,
    store: Store,
    weather: Sequence[SiteWeather],
    now: datetime,
    *,
    dry_run: bool = False,
) -> list[Said]:
    """Tell each contact once when no service has had a new forecast for long."""
    before = {d.contact: d for d in store.last_decisions() if d.hazard == BLIND}
    said = []
    for contact in config.contacts.values():
        last = Before(before.get(contact.name))
        decision = decide_blind(weather, contact, last, now, config.zone)
        if decision is None:
            continue
        words = None
        if decision.reason is Reason.FIRST:
            words = blind_message(weather, Reader(contact.units, config.zone, now))
        is_new = not dry_run and store.record(decision, words, key_of(decision, last))
        said.append(Said(decision, words, is_new))
    return said


def issue_of(outlook: Outlook, now: datetime) -> tuple[datetime, str]:
    """Return when, and by which service, the forecast of the hours ahead was issued."""
    ahead = outlook.case.weather[["issued_at", "source"]].iloc[max(outlook.now, 0) :].dropna()
    if ahead.empty:
        return now, "nobody"
    return ahead["issued_at"].iloc[0].to_pydatetime(), str(ahead["source"].iloc[0])


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
