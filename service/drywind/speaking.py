"""What a pass has to say: every finding decided for every contact, and put in the outbox."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from types import MappingProxyType

from drywind.alerts.blind import BLIND, blind_message, decide_blind
from drywind.alerts.decide import decide, key_of, recall, topic_of
from drywind.alerts.records import EVERY, Decision, Message, Reason
from drywind.alerts.story import Told, message
from drywind.alerts.wording import Reader
from drywind.config import Config
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
        for outlook in outlooks:
            for finding in findings_of(outlook):
                kept = memory.of(contact.name, finding.subject, finding.hazard)
                last = recall(
                    kept,
                    outlook.case.stack.changed_at(now),
                    memory.snoozed_until(contact.name, finding.subject, finding.hazard),
                )
                decision = decide(finding, contact, last, config.policy, now, config.zone)
                words = None
                if decision.reason.speaks and topic_of(decision.reason) in contact.hear:
                    told = Told(*_issue(outlook, now), notices.get(outlook.site_now, ()))
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
    memory = Memory(store.last_decisions())
    said = []
    for contact in config.contacts.values():
        last = recall(memory.of(contact.name, EVERY, BLIND))
        decision = decide_blind(weather, contact, last, now, config.zone)
        if decision is None:
            continue
        words = None
        if decision.reason is Reason.FIRST:
            words = blind_message(weather, Reader(contact.units, config.zone, now))
        is_new = not dry_run and store.record(decision, words, key_of(decision, last))
        said.append(Said(decision, words, is_new))
    return said


def _issue(outlook: Outlook, now: datetime) -> tuple[datetime, str]:
    """Return when, and by which service, the forecast of the hours ahead was issued."""
    ahead = outlook.case.weather[["issued_at", "source"]].iloc[max(outlook.now, 0) :].dropna()
    if ahead.empty:
        return now, "nobody"
    return ahead["issued_at"].iloc[0].to_pydatetime(), str(ahead["source"].iloc[0])
