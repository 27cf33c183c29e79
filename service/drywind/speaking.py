"""What a pass has to say: every finding decided for every contact, and put in the outbox."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, time, timedelta
from types import MappingProxyType

from drywind.alerts.blind import BLIND, blind_message, decide_blind
from drywind.alerts.decide import Before, decide, key_of, recall, topic_of
from drywind.alerts.groups import WARNINGS, Entry, Saying, plan, supersede, with_others
from drywind.alerts.records import EVERY, Decision, Message, Reason
from drywind.alerts.story import Told, message
from drywind.alerts.wording import Reader, in_short
from drywind.config import Channel, Config, Contact
from drywind.judge.findings import Finding
from drywind.judge.outlook import Outlook
from drywind.store import Store
from drywind.weather.nws_alerts import Notice
from drywind.weather.seen import SiteWeather


@dataclass(frozen=True)
class Said:
    """A decision, and the words that go with it if it speaks."""

    decision: Decision
    message: Message | None
    is_new: bool


def findings_of(outlook: Outlook) -> list[Finding]:
    """Return what lies ahead of a stack, one finding for each hazard."""
    return [outlook.too_fast]


class Memory:
    """What was kept of what was said to everybody."""

    def __init__(self, kept: Sequence[Decision]) -> None:
        self._kept: dict[tuple[str, str, str], list[Decision]] = defaultdict(list)
        for decision in kept:
            self._kept[decision.contact, decision.stack, decision.hazard].append(decision)

    def open_warnings(self) -> list[tuple[Decision, bool]]:
        """Return every warning that stands, and whether it was acknowledged already."""
        found = [recall(kept) for kept in self._kept.values()]
        return [
            (before.decision, before.answered)
            for before in found
            if before.decision is not None and before.is_open and not before.lapsed
        ]

    def snoozed_until(self, contact: str, stack: str, hazard: str) -> datetime | None:
        """Return until when a contact wants to hear nothing of it, of its stack, or at all."""
        found = [
            decision.useful_until
            for subject in (stack, EVERY)
            for what in (hazard, EVERY)
            for decision in self.of(contact, subject, what)
            if decision.reason is Reason.SNOOZED
        ]
        return max(found, default=None)

    def of(self, contact: str, stack: str, hazard: str) -> list[Decision]:
        """Return what was kept of a hazard of a stack for a contact, as it was written."""
        return self._kept.get((contact, stack, hazard), [])


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
    memory = Memory(store.last_decisions())
    said = []
    for contact in config.contacts.values():
        reader = Reader(contact.units, config.zone, now)
        seen = _decided(config, contact, outlooks, memory, now)
        told = [one for one in seen if _is_told(one, seen, contact)]
        sayings = [_saying(one, seen, reader, notices) for one in told]
        entries: list[Entry] = [
            (one.decision, None, key_of(one.decision, one.before))
            for one in seen
            if one not in told
        ]
        entries += plan(sayings, messages_left(config, store, contact, now), reader)
        said += commit(store, entries, dry_run=dry_run)
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
    memory = Memory(store.last_decisions())
    entries: list[Entry] = []
    for contact in config.contacts.values():
        last = recall(memory.of(contact.name, EVERY, BLIND))
        decision = decide_blind(weather, contact, last, now, config.zone)
        if decision is None:
            continue
        words = None
        if decision.reason is Reason.FIRST:
            words = blind_message(weather, Reader(contact.units, config.zone, now))
            if messages_left(config, store, contact, now) == 0:
                decision, words = replace(decision, reason=Reason.OVER_CAP), None
        entries.append((decision, words, key_of(decision, last)))
    return commit(store, entries, dry_run=dry_run)


def messages_left(config: Config, store: Store, contact: Contact, now: datetime) -> int | None:
    """Return how many messages a contact may still get on this local day; None is any number."""
    if contact.kind is not Channel.TEXT:
        return None
    today = now.astimezone(config.zone).date()
    start, end = (
        datetime.combine(day, time(), config.zone).astimezone(UTC)
        for day in (today, today + timedelta(days=1))
    )
    return max(0, config.policy.daily_texts - store.count_messages(contact.name, start, end))


def commit(store: Store, entries: Sequence[Entry], *, dry_run: bool) -> list[Said]:
    """Record the decisions that are kept, in one transaction, and tell which are new."""
    kept = [entry for entry in entries if entry[0].reason.stored and not dry_run]
    new = {entry[2] for entry, is_new in zip(kept, store.record_all(kept), strict=True) if is_new}
    return [Said(decision, words, key in new) for decision, words, key in entries]


@dataclass(frozen=True, eq=False)
class _Seen:
    """A finding, and what was decided of it."""

    outlook: Outlook
    finding: Finding
    before: Before
    decision: Decision


def _decided(
    config: Config,
    contact: Contact,
    outlooks: Sequence[Outlook],
    memory: Memory,
    now: datetime,
) -> list[_Seen]:
    """Decide every finding for a contact."""
    found = [(outlook, finding) for outlook in outlooks for finding in findings_of(outlook)]
    befores = [
        recall(
            memory.of(contact.name, finding.subject, finding.hazard),
            outlook.case.stack.changed_at(now),
            memory.snoozed_until(contact.name, finding.subject, finding.hazard),
        )
        for outlook, finding in found
    ]
    decisions = supersede(
        [
            (finding, decide(finding, contact, before, config.policy, now, config.zone))
            for (_, finding), before in zip(found, befores, strict=True)
        ]
    )
    return [
        _Seen(outlook, finding, before, decision)
        for (outlook, finding), before, decision in zip(found, befores, decisions, strict=True)
    ]


def _is_told(one: _Seen, seen: Sequence[_Seen], contact: Contact) -> bool:
    """Return whether a decision is put in words: no all clear of a stack that is warned of."""
    reason = one.decision.reason
    if not reason.speaks or topic_of(reason) not in contact.hear:
        return False
    warned = {s.finding.subject for s in seen if s.decision.reason in WARNINGS}
    return reason in WARNINGS or one.finding.subject not in warned


def _saying(
    one: _Seen, seen: Sequence[_Seen], reader: Reader, notices: Mapping[str, Sequence[Notice]]
) -> Saying:
    """Return a decision with its words."""
    outlook, reason = one.outlook, one.decision.reason
    told = Told(*_issue(outlook, reader.now), notices.get(outlook.site_now, ()))
    others = [
        s.finding
        for s in seen
        if s.finding.subject == one.finding.subject and s.decision.reason is Reason.SUPERSEDED
    ]
    words = message(outlook, reason, reader, told)
    if reason in WARNINGS:
        words = with_others(words, others)
    do, cause = in_short(outlook, reason, reader)
    return Saying(one.finding, one.decision, one.before, do, cause, words)


def _issue(outlook: Outlook, now: datetime) -> tuple[datetime, str]:
    """Return when, and by which service, the forecast of the hours ahead was issued."""
    ahead = outlook.case.weather[["issued_at", "source"]].iloc[max(outlook.now, 0) :].dropna()
    if ahead.empty:
        return now, "nobody"
    return ahead["issued_at"].iloc[0].to_pydatetime(), str(ahead["source"].iloc[0])
