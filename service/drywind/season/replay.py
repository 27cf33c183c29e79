"""What would have been said of stacks in past weather, pass by pass.

Every few hours a forecast is made of what was to come, each stack that stands is judged in it and
a contact is told or not, by the functions the daemon itself uses. Nobody acts on what is said, so
that every warning can be held against what came. Since no pass depends on what an earlier one
said, many are simulated side by side.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from itertools import groupby
from zoneinfo import ZoneInfo

from drywind.alerts.decide import Before, decide, recall
from drywind.alerts.groups import WARNINGS, supersede
from drywind.alerts.records import Decision, Message, Reason
from drywind.alerts.story import Told, message
from drywind.alerts.wording import Reader
from drywind.config import Contact, Policy
from drywind.judge.assess import assess_views, with_remedies
from drywind.judge.cases import Grounds, make_case
from drywind.judge.findings import Finding, Hazard
from drywind.judge.hazards import DAY
from drywind.judge.outlook import LOADER_LEAD_H, Outlook
from drywind.judge.runs import Run, View, advance, branch
from drywind.season.advice import is_kept
from drywind.season.past import Past
from drywind.speaking import issue_of
from drywind.wood.limits import Limit, stack_limit
from drywind.yard import Stack

DRY_PCT = 25.0
"""From here on a stack is watched no more: below, hardly anything can be damaged."""

VIEWS_AT_ONCE = 100
"""Simulated in one batch; more would be no faster, and take memory."""


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
    texts, kept
        What was said, and the decisions that are remembered.
    """

    run: Run
    limit: Limit
    until: datetime
    passes: list[datetime] = field(default_factory=list)
    seen: list[Seen] = field(default_factory=list)
    texts: list[Text] = field(default_factory=list)
    kept: list[Decision] = field(default_factory=list)

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

    def before(self, hazard: Hazard) -> Before:
        """Return what was said of a hazard before."""
        return recall([decision for decision in self.kept if decision.hazard == hazard])


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
        _note(sight, outlook, past)


def _note(sight: _Sight, outlook: Outlook, past: Past) -> None:
    """Decide on what was found of a stack, and note that and what was said.

    What would help is tried only where something could be said; until then it is taken that
    something does, and that it needs a loader.
    """
    one, view = sight.one, sight.view
    hoped = [
        replace(f, helps=f.over, lead_h=max(f.lead_h, LOADER_LEAD_H)) for f in outlook.findings
    ]
    made = _decided(hoped, one, past, view.now)
    if any(decision.reason.speaks for decision in made):
        (outlook,) = with_remedies([outlook], [view], past.policy.warn_hours_ahead)
        made = _decided(outlook.findings, one, past, view.now)
    one.seen += [Seen(view.now, finding) for finding in outlook.findings]
    one.kept += [decision for decision in made if decision.reason.stored]
    also = [Hazard(d.hazard) for d in made if d.reason is Reason.SUPERSEDED]
    for finding, decision in zip(outlook.findings, made, strict=True):
        if decision.reason.speaks:
            said = also if decision.reason in WARNINGS else ()
            reader = Reader(past.contact.units, past.zone, view.now)
            told = Told(*issue_of(outlook.case.weather, view.now))
            words = message(outlook, decision.reason, reader, told, finding.hazard, said)
            one.texts.append(Text(decision, words, _kept(sight, outlook, decision, past)))


def _decided(
    findings: Sequence[Finding], one: Watched, past: Past, now: datetime
) -> list[Decision]:
    """Return what is decided of each finding, as the daemon decides."""
    return supersede(
        [
            (f, decide(f, past.contact, one.before(f.hazard), past.policy, now, past.zone))
            for f in findings
        ]
    )


def _kept(sight: _Sight, outlook: Outlook, decision: Decision, past: Past) -> bool | None:
    """Return whether new advice that was called safe would have held in what came."""
    advice = outlook.chosen if decision.reason in {Reason.FIRST, Reason.WORSE} else None
    if advice is None or not advice.safe:
        return None
    in_truth = View(sight.run, sight.one.limit, past.truth, sight.view.now)
    return is_kept(advice, outlook.finding(Hazard(decision.hazard)), in_truth)


def decisions(
    seen: Sequence[Seen], contact: Contact, policy: Policy, zone: ZoneInfo
) -> Iterator[Decision]:
    """Return what would be said by another policy of what was found; advice is not tried anew."""
    kept: list[Decision] = []
    for now, findings in groupby(seen, lambda one: one.now):
        found = [one.finding for one in findings]
        befores = [recall([d for d in kept if d.hazard == f.hazard]) for f in found]
        made = supersede(
            [
                (f, decide(f, contact, before, policy, now, zone))
                for f, before in zip(found, befores, strict=True)
            ]
        )
        kept += [decision for decision in made if decision.reason.stored]
        yield from (decision for decision in made if decision.reason.speaks)
