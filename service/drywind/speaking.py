"""What a pass has to say: every finding decided for every contact, and put in the outbox."""

import logging
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, time, timedelta
from typing import Protocol

import pandas as pd

from drywind.alerts.decide import Before, decide, key_of, recall, topic_of
from drywind.alerts.groups import WARNINGS, Entry, Saying, plan, supersede
from drywind.alerts.lot_words import lot_message, lot_to_do
from drywind.alerts.records import EVERY, Decision, Message, Reason
from drywind.alerts.story import Told, illustrated, in_short, message
from drywind.alerts.wording import Reader
from drywind.clock import floor_hour
from drywind.config import Channel, Config, Contact
from drywind.judge.findings import Finding, Hazard
from drywind.judge.outlook import Outlook
from drywind.sheets.curves import outlook_picture
from drywind.store import Store
from drywind.weather.nws_alerts import Notice
from drywind.yard import LogLot

_log = logging.getLogger(__name__)

Also = Sequence[Hazard]
"""Hazards that are named beside the one a message is on."""


@dataclass(frozen=True)
class Said:
    """A decision, and the words that go with it if it speaks."""

    decision: Decision
    message: Message | None
    is_new: bool


class Words(Protocol):
    """What writes the words on a finding."""

    def message(self, finding: Finding, reason: Reason, reader: Reader, also: Also) -> Message:
        """Return the words of a decision that speaks, which names other hazards as well."""
        ...

    def in_short(self, finding: Finding, reason: Reason, reader: Reader) -> tuple[str, str]:
        """Return what to do, and what is behind it, for a text about several."""
        ...

    def illustrated(self, message: Message, reader: Reader) -> Message:
        """Return a message with a picture for a mailbox, if there is one to show."""
        ...


@dataclass(frozen=True, eq=False)
class StackWords:
    """The words on a stack."""

    outlook: Outlook
    told: Told

    def message(self, finding: Finding, reason: Reason, reader: Reader, also: Also) -> Message:
        """See `Words`."""
        return message(self.outlook, reason, reader, self.told, finding.hazard, also)

    def in_short(self, finding: Finding, reason: Reason, reader: Reader) -> tuple[str, str]:
        """See `Words`."""
        return in_short(self.outlook, reason, reader, finding.hazard)

    def illustrated(self, message: Message, reader: Reader) -> Message:
        """See `Words`; of the days before the saved state nothing is shown."""
        try:
            picture = outlook_picture(self.outlook, reader)
        except Exception:  # noqa: BLE001 - a picture must not silence a warning
            _log.exception("stack %s cannot be drawn", self.outlook.case.stack.id)
            return message
        return message if picture is None else illustrated(message, picture)


@dataclass(frozen=True, eq=False)
class LotWords:
    """The words on a log lot."""

    lot: LogLot
    told: Told

    def message(self, finding: Finding, _reason: Reason, reader: Reader, _also: Also) -> Message:
        """See `Words`; of a lot only a first warning is told."""
        return lot_message(self.lot, finding, reader, self.told)

    def in_short(self, finding: Finding, _reason: Reason, reader: Reader) -> tuple[str, str]:
        """See `Words`."""
        return lot_to_do(self.lot, finding, reader)

    def illustrated(self, message: Message, _reader: Reader) -> Message:
        """See `Words`; of a lot there is none."""
        return message


@dataclass(frozen=True, eq=False)
class Matter:
    """A finding to decide on, the words for it, and when somebody last saw to its subject."""

    finding: Finding
    words: Words
    changed_at: datetime | None = None


def stack_matters(outlook: Outlook, now: datetime, notices: Sequence[Notice] = ()) -> list[Matter]:
    """Return what there is to decide of a stack, one matter for each hazard."""
    words = StackWords(outlook, Told(*issue_of(outlook.case.weather, now), notices))
    changed_at = outlook.case.stack.changed_at(now)
    return [Matter(finding, words, changed_at) for finding in outlook.findings]


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
    matters: Sequence[Matter],
    now: datetime,
    *,
    dry_run: bool = False,
) -> list[Said]:
    """Decide each matter for each contact, and commit what is to be said to the outbox."""
    memory = Memory(store.last_decisions())
    said = []
    for contact in config.contacts.values():
        reader = Reader(contact.units, config.zone, now)
        seen = _decided(config, contact, matters, memory, now)
        told = [one for one in seen if _is_told(one, seen, contact)]
        sayings = [_saying(one, seen, reader) for one in told]
        if contact.kind is Channel.EMAIL:
            sayings = [
                replace(saying, message=one.matter.words.illustrated(saying.message, reader))
                for saying, one in zip(sayings, told, strict=True)
            ]
        entries: list[Entry] = [
            (one.decision, None, key_of(one.decision, one.before))
            for one in seen
            if one not in told
        ]
        entries += plan(sayings, messages_left(config, store, contact, now), reader)
        said += commit(store, entries, dry_run=dry_run)
    return said


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
    """A matter, and what was decided of it."""

    matter: Matter
    before: Before
    decision: Decision

    @property
    def finding(self) -> Finding:
        """What was found."""
        return self.matter.finding


def _decided(
    config: Config, contact: Contact, matters: Sequence[Matter], memory: Memory, now: datetime
) -> list[_Seen]:
    """Decide every matter for a contact."""
    found = [matter.finding for matter in matters]
    befores = [
        recall(
            memory.of(contact.name, finding.subject, finding.hazard),
            matter.changed_at,
            memory.snoozed_until(contact.name, finding.subject, finding.hazard),
        )
        for matter, finding in zip(matters, found, strict=True)
    ]
    decisions = supersede(
        [
            (finding, decide(finding, contact, before, config.policy, now, config.zone))
            for finding, before in zip(found, befores, strict=True)
        ]
    )
    return [_Seen(*one) for one in zip(matters, befores, decisions, strict=True)]


def _is_told(one: _Seen, seen: Sequence[_Seen], contact: Contact) -> bool:
    """Return whether a decision is put in words: no all clear of a stack that is warned of."""
    reason = one.decision.reason
    if not reason.speaks or topic_of(reason) not in contact.hear:
        return False
    warned = {s.finding.subject for s in seen if s.decision.reason in WARNINGS}
    return reason in WARNINGS or one.finding.subject not in warned


def _saying(one: _Seen, seen: Sequence[_Seen], reader: Reader) -> Saying:
    """Return a decision with its words."""
    words, finding, reason = one.matter.words, one.finding, one.decision.reason
    also = [
        s.finding.hazard
        for s in seen
        if s.finding.subject == finding.subject and s.decision.reason is Reason.SUPERSEDED
    ]
    told = words.message(finding, reason, reader, also if reason in WARNINGS else ())
    return Saying(finding, one.decision, one.before, *words.in_short(finding, reason, reader), told)


def issue_of(weather: pd.DataFrame, now: datetime) -> tuple[datetime, str]:
    """Return when, and by which service, the forecast of the hours ahead was issued."""
    ahead = weather.loc[pd.Timestamp(floor_hour(now)) :, ["issued_at", "source"]].dropna()
    if ahead.empty:
        return now, "nobody"
    return ahead["issued_at"].iloc[0].to_pydatetime(), str(ahead["source"].iloc[0])
