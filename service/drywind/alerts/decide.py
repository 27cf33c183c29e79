"""Whether to speak: what lies ahead of a stack against what was said before, and the hour.

Pure: every answer follows from the arguments, and carries its reason by name.
"""

from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from drywind.alerts.records import Decision, Reason
from drywind.config import Contact, Policy, Topic
from drywind.judge.findings import Finding

CALM_HOURS = 6
"""A warning stays of use, and unrevoked, for at least so long (assumption)."""

SPEAK_FROM = 1.05
"""Severity from which to speak: nearer the limit the model cannot tell one side from the other
(assumption)."""

SOONER_HOURS = 12
"""Harm that begins so much sooner than was told is news (assumption)."""


@dataclass(frozen=True)
class Before:
    """The last thing said to a contact about a hazard of a stack, if anything was."""

    decision: Decision | None

    @property
    def is_open(self) -> bool:
        """Whether a warning stands."""
        return self.decision is not None and self.decision.reason is not Reason.ALL_CLEAR

    @property
    def severity(self) -> float:
        """The severity told last."""
        return self.decision.severity if self.decision else 0.0

    def is_over(self, now: datetime) -> bool:
        """Whether the hours warned of are over."""
        return self.decision is not None and now >= self.decision.useful_until

    def is_past(self, now: datetime, long: timedelta) -> bool:
        """Whether the hours warned of are over, or the warning is `long` ago.

        An all clear waits for that, lest a forecast that wavers make the phone ring twice a day.
        """
        return self.is_over(now) or (self.decision is not None and self.age(now) >= long)

    def age(self, now: datetime) -> timedelta:
        """How long ago it was said."""
        return now - self.decision.made_at if self.decision else timedelta.max


def decide(
    finding: Finding,
    contact: Contact,
    before: Before,
    policy: Policy,
    now: datetime,
    zone: ZoneInfo,
) -> Decision:
    """Decide whether to tell a contact about a finding now.

    A warning is worth a text when there is something new (`FIRST`, `WORSE`), when a day has gone
    by and it still holds (`REPEAT`), or when it is over (`ALL_CLEAR`). In the contact's quiet
    hours it is held, unless waiting until morning would be too late to act. Weather nobody knows
    never clears a warning.
    """
    reason = _wanted(finding, before, policy, now)
    morning = contact.quiet_ends(now, zone)
    if topic_of(reason) not in contact.hear:
        # An end that is not told still ends the warning, so that the next one is a first.
        reason = reason if reason is Reason.ALL_CLEAR else Reason.NOTHING_NEW
    elif reason.speaks and morning > now and not _now_or_never(reason, finding, before, morning):
        reason = Reason.HELD_QUIET
    calm = now + timedelta(hours=CALM_HOURS)
    plain = Decision(
        contact=contact.name,
        stack=finding.subject,
        hazard=finding.hazard,
        reason=reason,
        made_at=now,
        severity=0.0,
        onset=None,
        useful_until=calm,
    )
    if finding.first is None or finding.end is None:
        return plain
    severity, onset = finding.severity, finding.first
    if reason is Reason.WORSE and before.decision is not None and before.decision.onset is not None:
        # Worse is measured from the worst told, or a forecast that wavers would be news each hour.
        severity, onset = max(severity, before.severity), min(onset, before.decision.onset)
    return replace(plain, severity=severity, onset=onset, useful_until=max(calm, finding.end))


def topic_of(reason: Reason) -> Topic:
    """Return what a reason is about, as contacts choose it."""
    return Topic.ALL_CLEAR if reason is Reason.ALL_CLEAR else Topic.WARNINGS


def key_of(decision: Decision, before: Before) -> str:
    """Return the key under which a decision is taken once: what it says, after what was said.

    A pass that is run again comes to the same key; the next one of its kind follows another.
    """
    since = before.decision.made_at.isoformat() if before.decision else "never"
    return f"{decision.contact}|{decision.stack}|{decision.hazard}|{decision.reason}|{since}"


def _wanted(finding: Finding, before: Before, policy: Policy, now: datetime) -> Reason:
    """Return what there is to say, whatever the hour."""
    if finding.over and finding.severity >= SPEAK_FROM:
        if not before.is_open:
            return Reason.FIRST
        if finding.severity >= before.severity + policy.worse_step or _sooner(finding, before):
            return Reason.WORSE
        if before.age(now) >= timedelta(hours=policy.repeat_hours):
            return Reason.FIRST if before.is_over(now) else Reason.REPEAT
        return Reason.NOTHING_NEW
    over = (
        before.is_open
        and finding.complete
        and finding.severity < policy.all_clear_below
        and before.is_past(now, timedelta(hours=policy.repeat_hours))
    )
    return Reason.ALL_CLEAR if over else Reason.NOTHING_NEW


def _sooner(finding: Finding, before: Before) -> bool:
    """Return whether harm begins so much sooner than was told that it is news."""
    told = before.decision.onset if before.decision else None
    if told is None or finding.first is None:
        return False
    return finding.first <= told - timedelta(hours=SOONER_HOURS)


def _now_or_never(reason: Reason, finding: Finding, before: Before, morning: datetime) -> bool:
    """Return whether news is such that something can be done, and in the morning no more."""
    news = reason is Reason.WORSE or (reason is Reason.FIRST and not before.is_open)
    return (
        news
        and finding.helps
        and finding.start is not None
        and finding.start < morning + timedelta(hours=1)
    )
