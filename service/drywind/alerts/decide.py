"""Whether to speak: what lies ahead of a stack against what was said before, and the hour.

Pure: every answer follows from the arguments, and carries its reason by name.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from drywind.alerts.manner import MANNERS, release, repeat_after
from drywind.alerts.records import Decision, Reason
from drywind.config import Contact, Policy, Topic
from drywind.judge.findings import Finding, Sign

CALM_HOURS = 6
"""A warning stays of use, and unrevoked, for at least so long (assumption)."""

SPEAK_FROM = 1.0
"""Severity from which to speak. So near the limit the model cannot tell one side from the other;
but waiting for 1.05 missed more harm in replayed years than it spared false alarms (O'Hare 2012 and
2013)."""

SOONER_HOURS = 12
"""Harm that begins so much sooner than was told is news (assumption)."""

DAY = timedelta(hours=24)
"""A day without harm parts one danger from the next; and for a day after the last words no danger
is told as a new one, and no harm to come as over (assumption)."""

SNOOZE_STEP = 0.5
"""What is worse by so much than was told breaks a snooze if it is now or never (assumption)."""


@dataclass(frozen=True)
class Before:
    """What a contact was told before about a hazard of a stack, and what became of it.

    Attributes
    ----------
    decision
        The last thing said, if anything was.
    worse_at
        When it was last said to be worse.
    answered
        Whether it was acknowledged, or something was done to the stack, since it was said.
    lapsed
        Whether its hours have gone by since, and a day without harm followed.
    snoozed_until
        Until when nothing is to be said.
    """

    decision: Decision | None
    worse_at: datetime | None = None
    answered: bool = False
    lapsed: bool = False
    snoozed_until: datetime | None = None

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

    def is_past(self, now: datetime) -> bool:
        """Whether the hours warned of are over, or the warning is a day ago.

        An all clear waits for that, lest a forecast that wavers make the phone ring twice a day.
        """
        return self.is_over(now) or (self.decision is not None and self.age(now) >= DAY)

    def age(self, now: datetime) -> timedelta:
        """How long ago it was said."""
        return now - self.decision.made_at if self.decision else timedelta.max

    def was_worse_on(self, now: datetime, zone: ZoneInfo) -> bool:
        """Whether it was said to be worse on the local day of `now`."""
        at = self.worse_at
        return at is not None and at.astimezone(zone).date() == now.astimezone(zone).date()


def recall(
    kept: Sequence[Decision],
    acted_at: datetime | None = None,
    snoozed_until: datetime | None = None,
) -> Before:
    """Return what was told before from what was kept of it.

    Parameters
    ----------
    kept
        At least the last decision for each reason, of one contact, stack and hazard, in the order
        they were written: a clock set back does not upset that.
    acted_at
        When somebody last did something to the stack.
    """
    before = Before(None, snoozed_until=snoozed_until)
    for decision in kept:
        if decision.reason.is_said:
            before = replace(before, decision=decision, answered=False, lapsed=False)
        if decision.reason is Reason.WORSE:
            before = replace(before, worse_at=decision.made_at)
        elif decision.reason is Reason.ACKED:
            before = replace(before, answered=True)
        elif decision.reason is Reason.LAPSED:
            before = replace(before, lapsed=True)
    said = before.decision
    if said is not None and acted_at is not None and acted_at > said.made_at:
        before = replace(before, answered=True)
    return before


def decide(
    finding: Finding,
    contact: Contact,
    before: Before,
    policy: Policy,
    now: datetime,
    zone: ZoneInfo,
) -> Decision:
    """Decide whether to tell a contact about a finding now.

    A warning is worth a text when there is something new (`FIRST`, `WORSE`), when days have gone
    by, it still holds and nobody has answered (`REPEAT`), or when it is over (`ALL_CLEAR`). A
    first one waits for the evening before harm begins (`NOT_YET`). What somebody snoozed waits
    until then (`SNOOZED`), and in the contact's quiet hours all is held (`HELD_QUIET`), unless
    waiting would be too late to act. Weather nobody knows never clears a warning.
    """
    reason = _wanted(finding, before, policy, now, zone)
    if topic_of(reason) not in contact.hear:
        # An end that is not told still ends the warning, so that the next one is a first.
        ends = reason in {Reason.ALL_CLEAR, Reason.LAPSED}
        reason = reason if ends else Reason.NOTHING_NEW
    elif reason.speaks:
        reason = _held_back(reason, finding, contact, before, now, zone) or reason
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


def _wanted(
    finding: Finding, before: Before, policy: Policy, now: datetime, zone: ZoneInfo
) -> Reason:
    """Return what there is to say, whatever the hour."""
    if not _is_danger(finding, policy):
        return _ending(finding, before, policy, now)
    if not before.is_open or before.lapsed:
        apart = MANNERS[finding.hazard].apart
        return Reason.FIRST if before.age(now) >= apart else Reason.NOTHING_NEW
    worse = finding.severity >= before.severity + policy.worse_step or _sooner(finding, before)
    if worse and MANNERS[finding.hazard].worse and not before.was_worse_on(now, zone):
        return Reason.WORSE
    repeat = repeat_after(finding.hazard, policy)
    if repeat is not None and before.age(now) >= repeat:
        if before.is_over(now):
            return Reason.FIRST
        return Reason.ACKED if before.answered else Reason.REPEAT
    return _ending(finding, before, policy, now)


def _is_danger(finding: Finding, policy: Policy) -> bool:
    """Return whether it is so far over the limit, and so likely, that it is worth saying."""
    likely = finding.chance is None or finding.chance >= policy.least_chance
    # In a damp summer mold grows whatever is done: it is told only where something helps.
    idle = finding.sign is Sign.MOLD and not finding.helps
    return finding.over and finding.severity >= SPEAK_FROM and likely and not idle


def _ending(finding: Finding, before: Before, policy: Policy, now: datetime) -> Reason:
    """Return whether a warning that stands has come to its end."""
    if not (before.is_open and finding.complete):
        return Reason.NOTHING_NEW
    manner = MANNERS[finding.hazard]
    over = before.is_past(now) and finding.severity < policy.all_clear_below
    if over and manner.all_clear:
        return Reason.ALL_CLEAR
    next_day_is_calm = finding.first is None or finding.first >= now + DAY
    lull = before.is_over(now) and before.age(now) >= DAY and next_day_is_calm
    if not before.lapsed and (over or (lull and manner.evening_before)):
        return Reason.LAPSED
    return Reason.NOTHING_NEW


def _sooner(finding: Finding, before: Before) -> bool:
    """Return whether harm begins so much sooner than was told that it is news."""
    told = before.decision.onset if before.decision else None
    if told is None or finding.first is None:
        return False
    return finding.first <= told - timedelta(hours=SOONER_HOURS)


def _held_back(
    reason: Reason,
    finding: Finding,
    contact: Contact,
    before: Before,
    now: datetime,
    zone: ZoneInfo,
) -> Reason | None:
    """Return why what there is to say is not said now, if so."""
    if reason is Reason.FIRST and MANNERS[finding.hazard].evening_before:
        begins = release(finding, contact, zone)
        if begins is not None and now < begins:
            return Reason.NOT_YET
    snoozed, morning = before.snoozed_until, contact.quiet_ends(now, zone)
    if snoozed is not None and snoozed > now:
        much_worse = finding.severity >= before.severity + SNOOZE_STEP
        if not (much_worse and _now_or_never(reason, finding, before, snoozed)):
            return Reason.SNOOZED
    if morning > now and not _now_or_never(reason, finding, before, morning):
        return Reason.HELD_QUIET
    return None


def _now_or_never(reason: Reason, finding: Finding, before: Before, later: datetime) -> bool:
    """Return whether news is such that something can be done, and later no more."""
    news = reason is Reason.WORSE or (
        reason is Reason.FIRST and (before.lapsed or not before.is_open)
    )
    return (
        news
        and MANNERS[finding.hazard].evening_before
        and finding.helps
        and finding.start is not None
        and finding.start < later + timedelta(hours=1)
    )
