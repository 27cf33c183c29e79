"""What would have been said of stacks in past weather, pass by pass.

Every few hours a forecast is made of what was to come, each stack that stands is judged in it and
a contact is told or not, by the functions the daemon itself uses. Nobody acts on what is said, so
that every warning can be held against what came. Since no pass depends on what an earlier one
said, many are simulated side by side.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, time, timedelta
from functools import cached_property
from itertools import groupby
from zoneinfo import ZoneInfo

import pandas as pd
from pydantic import SecretStr

from drywind.alerts.decide import Before, decide
from drywind.alerts.records import Decision, Message, Reason
from drywind.alerts.story import Told, message
from drywind.alerts.wording import Reader
from drywind.config import Channel, Contact, Policy, Topic
from drywind.cycle import HORIZON_HOURS, issue_of
from drywind.judge.assess import assess_views, with_remedies
from drywind.judge.cases import Grounds, make_case
from drywind.judge.chance import MEMBERS
from drywind.judge.findings import Finding, Hazard
from drywind.judge.hazards import DAY
from drywind.judge.outlook import Outlook
from drywind.judge.runs import Run, View, advance, branch
from drywind.season.advice import is_kept
from drywind.units import Units
from drywind.weather.made_forecast import forecast
from drywind.weather.spread import members
from drywind.wood.limits import Limit, stack_limit
from drywind.yard import Site, Stack

EVERY_H = 3
"""From pass to pass, on the local clock; the daemon's passes are one hour apart."""

DRY_PCT = 25.0
"""From here on a stack is watched no more: below, hardly anything can be damaged."""

VIEWS_AT_ONCE = 100
"""Simulated in one batch; more would be no faster, and take memory."""

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
    """

    sites: Mapping[str, Site]
    tables: Mapping[str, pd.DataFrame]
    zone: ZoneInfo
    policy: Policy = field(default_factory=Policy)
    contact: Contact = SAWYER
    seed: int | None = 1

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
        due = hours[hours.tz_convert(self.zone).hour % EVERY_H == 0]
        return [hour.to_pydatetime() for hour in due]


@dataclass(frozen=True)
class Seen:
    """What a pass found of a stack."""

    now: datetime
    finding: Finding


@dataclass(frozen=True)
class Text:
    """What was said: the decision, its words, and whether the advice would have held.

    `kept` is None where nothing new was advised that was called safe, or where it is unknown.
    """

    decision: Decision
    words: Message
    kept: bool | None


@dataclass
class Watched:
    """A stack as it is watched.

    Attributes
    ----------
    run
        In the weather it had.
    passes, seen
        The passes made, and all they found.
    """

    run: Run
    limit: Limit
    until: datetime
    passes: list[datetime] = field(default_factory=list)
    seen: list[Seen] = field(default_factory=list)
    texts: list[Text] = field(default_factory=list)

    @property
    def stack(self) -> Stack:
        """The stack."""
        return self.run.case.stack

    @property
    def is_dry(self) -> bool:
        """Whether it need not be watched any longer."""
        return bool(self.run.mc_pct[self.run.hour, 0] < DRY_PCT)

    def stands_at(self, now: datetime) -> bool:
        """Return whether it is to be watched at `now`, as far as it has dried."""
        return self.stack.stacked_at <= now < self.until and not self.is_dry

    def last_said(self, hazard: Hazard) -> Before:
        """Return what was last said of a hazard."""
        said = (t.decision for t in reversed(self.texts) if t.decision.hazard == hazard)
        return Before(next(said, None))


@dataclass(frozen=True)
class _Sight:
    """A stack at a pass: as it is watched, in the weather it had, and as it could be foreseen."""

    one: Watched
    run: Run
    view: View


def watch(
    stacks: Sequence[Stack],
    past: Past,
    days: int,
    progress: Callable[[int], None] = lambda _: None,
) -> list[Watched]:
    """Watch each stack for so many days, or until it is dry, or the weather ends.

    Parameters
    ----------
    progress
        Is told how many days more are done.
    """
    watched = [_begun(stack, past, days) for stack in stacks]
    sights: list[_Sight] = []
    start, end = min(s.stacked_at for s in stacks), max(w.until for w in watched)
    for _, passes in groupby(past.passes(start, end), lambda now: now.astimezone(past.zone).date()):
        for now in passes:
            sights += _look_up(watched, past, now)
            if len(sights) >= VIEWS_AT_ONCE:
                _judge(sights, past)
                sights.clear()
        progress(1)
    _judge(sights, past)
    return watched


def dried_to(run: Run, mc_pct: float) -> Run:
    """Return a run gone on until the inside of its stack is so dry, or the weather ends."""
    while run.hour < run.case.hours and run.mc_pct[run.hour, 0] > mc_pct:
        (run,) = advance([run], [min(run.hour + DAY, run.case.hours)])
    return run


def _begun(stack: Stack, past: Past, days: int) -> Watched:
    run = Run.fresh(make_case(stack, past.truth, past.end, stack.stacked_at))
    until = min(stack.stacked_at + timedelta(days=days), past.end)
    return Watched(run, stack_limit(stack, past.policy.safe_loss), until)


def _look_up(watched: Sequence[Watched], past: Past, now: datetime) -> list[_Sight]:
    """Let the stacks that are watched dry until `now`, and foresee what lies ahead of them."""
    up = [w for w in watched if w.stands_at(now)]
    runs = advance([w.run for w in up], [w.run.case.hour_of(now) for w in up])
    for one, run in zip(up, runs, strict=True):
        one.run = run
    up = [w for w in up if w.stands_at(now)]
    if not up:
        return []
    grounds = past.foreseen(now)
    sights = []
    for one in up:
        one.passes.append(now)
        foreseen = foresee(one.run, grounds, now, past.horizon_hours)
        sights.append(_Sight(one, one.run, View(foreseen, one.limit, grounds, now)))
    return sights


def foresee(run: Run, grounds: Grounds, now: datetime, hours: int) -> Run:
    """Return a run that has come to `now` with so many hours ahead, as the grounds tell them."""
    return branch(run.within(run.hour + hours), run.case.stack.setup_at(now), grounds)


def _judge(sights: Sequence[_Sight], past: Past) -> None:
    """Judge stacks, in the order of time, and note what is found and said of each."""
    views, ahead = [sight.view for sight in sights], past.policy.warn_hours_ahead
    outlooks = assess_views(views, ahead, advise=False)
    for sight, outlook in zip(sights, outlooks, strict=True):
        for finding in outlook.findings:
            _note(sight, outlook, finding, past)


def _note(sight: _Sight, outlook: Outlook, finding: Finding, past: Past) -> None:
    """Decide on a finding, and note what was found and what was said.

    What would help is tried only where something would be said; until then it is taken that
    something does.
    """
    one, view = sight.one, sight.view
    before = one.last_said(finding.hazard)

    def decided(on: Finding) -> Decision:
        return decide(on, past.contact, before, past.policy, view.now, past.zone)

    finding = replace(finding, helps=finding.over)
    decision = decided(finding)
    if decision.reason.speaks:
        (outlook,) = with_remedies([outlook], [view], past.policy.warn_hours_ahead)
        (finding,) = (f for f in outlook.findings if f.hazard is finding.hazard)
        decision = decided(finding)
    one.seen.append(Seen(view.now, finding))
    if decision.reason.speaks:
        reader = Reader(past.contact.units, past.zone, view.now)
        words = message(outlook, decision.reason, reader, Told(*issue_of(outlook, view.now)))
        advice = outlook.chosen if decision.reason in {Reason.FIRST, Reason.WORSE} else None
        kept = None
        if advice is not None and advice.safe:
            in_truth = View(sight.run, one.limit, past.truth, view.now)
            kept = is_kept(advice, finding, in_truth)
        one.texts.append(Text(decision, words, kept))


def decisions(
    seen: Sequence[Seen], contact: Contact, policy: Policy, zone: ZoneInfo
) -> Iterator[Decision]:
    """Return what would be said by another policy of what was found; advice is not tried anew."""
    last = dict[str, Decision]()
    for now, finding in ((s.now, s.finding) for s in seen):
        before = Before(last.get(finding.hazard))
        decision = decide(finding, contact, before, policy, now, zone)
        if decision.reason.speaks:
            last[finding.hazard] = decision
            yield decision
