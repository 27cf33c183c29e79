"""Scripted passes under a virtual clock: what each sees ahead, and what is decided and said."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, time, timedelta

from pydantic import SecretStr
from tests.messages.outlooks import BURLAP, LATE, NOW, R7, ZONE, outlook, trial

from drywind.alerts.decide import decide, recall
from drywind.alerts.records import Decision, Reason
from drywind.climate.stack_air import Board
from drywind.clock import floor_hour
from drywind.config import Channel, Contact, Policy, Topic
from drywind.judge.findings import Finding, Hazard, Sign
from drywind.judge.hazards import Window
from drywind.judge.outlook import Outlook, Spell
from drywind.units import Units

FIRST, WORSE, REPEAT, ALL_CLEAR = Reason.FIRST, Reason.WORSE, Reason.REPEAT, Reason.ALL_CLEAR
HELD, SILENT = Reason.HELD_QUIET, Reason.NOTHING_NEW
NOT_YET, ACKED, SNOOZED, LAPSED = Reason.NOT_YET, Reason.ACKED, Reason.SNOOZED, Reason.LAPSED

AWAKE = Contact("Ada", Channel.TEXT, SecretStr("json://127.0.0.1"), frozenset(Topic), Units.US)
SLEEPER = replace(AWAKE, quiet=(time(21), time(5, 30)))
WARNINGS_ONLY = replace(AWAKE, hear=frozenset({Topic.WARNINGS}))
HOUR = timedelta(hours=1)


@dataclass(frozen=True)
class Sight:
    """What a pass sees ahead.

    `harm_at` is when harm begins; None is twelve hours after the pass, whatever the severity. It
    lasts for so many hours. `helps` is whether there is something to do about it, `rain` how bad
    rain in the same hours is.
    """

    severity: float
    complete: bool = True
    harm_at: datetime | None = None
    helps: bool = True
    lasts_h: int = 8
    hazard: Hazard = Hazard.TOO_FAST
    chance: float | None = None
    lead_h: float = 0.0
    name: str = "R7"
    site: str = "gravel"
    rain: float | None = None

    def finding(self, now: datetime) -> Finding:
        """Return it as the finding of a pass."""
        seen = self.outlook(now).too_fast
        return replace(seen, hazard=self.hazard, chance=self.chance, lead_h=self.lead_h)

    def outlook(self, now: datetime) -> Outlook:
        """Return it as the outlook of a pass."""
        harm = self.harm_at or now + 12 * HOUR
        setup = replace(R7.setup, site=self.site)
        stack = replace(R7, id=self.name, stacked_at=floor_hour(now) - 240 * HOUR, setup=setup)
        start = (harm - stack.stacked_at) // HOUR
        seen = outlook(
            [Window(Board.TYPICAL, start, 24, 4.0 * self.severity, 4.0, None)],
            trial(BURLAP, replace(LATE, loss_pct_per_day=1.0)) if self.helps else None,
            stack,
            spell=Spell(harm, harm, harm + self.lasts_h * HOUR, 35.0, 0.25, 5.0),
            now=now,
        )
        rain = () if self.rain is None else (self._wetting(seen.too_fast, self.rain),)
        return replace(seen, pace=replace(seen.pace, complete=self.complete), others=rain)

    def _wetting(self, dry: Finding, severity: float) -> Finding:
        """Return rain in the hours of the dry wind."""
        over = dry.start if severity >= 1.0 else None
        return replace(
            dry, hazard=Hazard.WETTING, sign=Sign.RAIN, severity=severity, value=6.0, first=over
        )


Script = Iterable[tuple[datetime, Sight]]
SAFE, OVER = Sight(0.5), Sight(1.2)
TOMORROW = NOW + 12 * HOUR
LONG_H = 220
"""Harm that begins tomorrow and lasts so long is not over when a warning of it is repeated."""


@dataclass(frozen=True)
class Answers:
    """What people do meanwhile: when they acknowledge, do something to the stack, and snooze."""

    acked_at: datetime | None = None
    acted_at: datetime | None = None
    snoozed_at: datetime | None = None
    snoozed_until: datetime | None = None


def lasting(severity: float) -> Sight:
    """Return harm from tomorrow 6 am on for days."""
    return Sight(severity, harm_at=TOMORROW, lasts_h=LONG_H)


def hourly(*sights: Sight, start: datetime = NOW) -> Script:
    """Return one pass an hour."""
    return ((start + i * HOUR, sight) for i, sight in enumerate(sights))


def severities(*values: float) -> Script:
    """Return one pass an hour that sees these severities."""
    return hourly(*map(Sight, values))


def decisions(
    script: Script,
    contact: Contact = AWAKE,
    policy: Policy | None = None,
    answers: Answers | None = None,
) -> list[Decision]:
    """Do the passes; what a pass keeps is remembered, what it does not is not."""
    made: list[Decision] = []
    kept: list[Decision] = []
    answers, is_acked = answers or Answers(), False
    for now, sight in script:
        if answers.acked_at is not None and answers.acked_at <= now and not is_acked:
            kept.append(replace(kept[-1], reason=ACKED, made_at=answers.acked_at))
            is_acked = True
        acted, snoozed = answers.acted_at, answers.snoozed_at
        before = recall(
            kept,
            acted if acted is not None and acted <= now else None,
            answers.snoozed_until if snoozed is not None and snoozed <= now else None,
        )
        made.append(decide(sight.finding(now), contact, before, policy or Policy(), now, ZONE))
        if made[-1].reason.stored:
            kept.append(made[-1])
    return made


def reasons(
    script: Script,
    contact: Contact = AWAKE,
    policy: Policy | None = None,
    answers: Answers | None = None,
) -> list[Reason]:
    """Return the reason of every pass, silence included."""
    return [d.reason for d in decisions(script, contact, policy, answers)]


def spoken(made: Sequence[Decision]) -> list[tuple[str, Reason]]:
    """Return when, on the wall clock, a warning began, went on or ended, and why."""
    return [(f"{d.made_at.astimezone(ZONE):%a %H:%M}", d.reason) for d in made if d.reason.speaks]
