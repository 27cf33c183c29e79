"""What comes by the calendar: each morning how the stacks stand, each week the weather ahead.

Neither is a warning. The digest is not sent on a morning on which all is well.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from itertools import groupby
from operator import attrgetter
from zoneinfo import ZoneInfo

from drywind.alerts.decide import Before
from drywind.alerts.gsm7 import first_that_fits
from drywind.alerts.page import page
from drywind.alerts.parts import Lines, Paragraph, Part, Row, plain
from drywind.alerts.records import EVERY, Decision, Message, Reason
from drywind.alerts.wording import DRY_RH, HOT_C, Reader
from drywind.config import Contact, Policy, Topic, Weekday
from drywind.units import temperature_text, wind_text

LATE = {Topic.DIGEST: timedelta(hours=6), Topic.OUTLOOK: timedelta(hours=24)}
"""How long after its time each is still worth making and sending (assumption)."""

DAMP_EMC_PCT = 16.0
"""From this mean EMC a day is called damp: boards hardly dry then (assumption, for words only)."""

OUTLOOK_DAYS = 7


@dataclass(frozen=True)
class StackLine:
    """How a stack stands, for one line.

    Attributes
    ----------
    name, site
        As in a text: the stack alone, and where it stands.
    mc_pct
        Of a typical board; None where unknown.
    pace
        The worst ahead as a share of the limit; None where unknown.
    warnings
        What it has been warned of, and nobody said that it is over.
    held
        What was found but not said, and why.
    hints
        What else is worth knowing.
    """

    name: str
    site: str
    wood: str
    mc_pct: float | None
    pace: float | None
    warnings: tuple[str, ...] = ()
    held: tuple[str, ...] = ()
    hints: tuple[str, ...] = ()

    @property
    def is_unknown(self) -> bool:
        """Whether too little is known to judge it."""
        return self.mc_pct is None or self.pace is None

    @property
    def is_well(self) -> bool:
        """Whether there is nothing to tell of it."""
        return not (self.is_unknown or self.warnings or self.held or self.hints)


@dataclass(frozen=True)
class SiteDay:
    """The weather of a local day at sites that share a forecast; None is unknown.

    Attributes
    ----------
    high_c, low_rh, wind_ms
        The highest temperature, the lowest humidity as a fraction, the strongest wind.
    emc_pct
        The mean equilibrium moisture content of the outdoor air.
    """

    site: str
    day: date
    high_c: float | None
    low_rh: float | None
    wind_ms: float | None
    emc_pct: float | None

    @property
    def word(self) -> str:
        """What kind of day it is."""
        if self.high_c is None or self.low_rh is None or self.emc_pct is None:
            return "unknown"
        if self.high_c >= HOT_C and self.low_rh < DRY_RH:
            return "hot & dry"
        return "damp" if self.emc_pct >= DAMP_EMC_PCT else "fair"


def decide_digest(
    contact: Contact, before: Before, now: datetime, policy: Policy, zone: ZoneInfo
) -> Decision | None:
    """Decide whether the digest of this morning is due; None if it is not, or was made."""
    return _decide(Topic.DIGEST, contact, before, now, last_due(Topic.DIGEST, now, policy, zone))


def decide_outlook(
    contact: Contact, before: Before, now: datetime, policy: Policy, zone: ZoneInfo
) -> Decision | None:
    """Decide whether the outlook of this week is due; None if it is not, or was made."""
    return _decide(Topic.OUTLOOK, contact, before, now, last_due(Topic.OUTLOOK, now, policy, zone))


def last_due(topic: Topic, now: datetime, policy: Policy, zone: ZoneInfo) -> datetime:
    """Return the last instant up to `now` at which such a message fell due."""
    day = now.astimezone(zone).date()
    while True:
        due = datetime.combine(day, policy.digest_at, zone).astimezone(UTC)
        is_day = topic is Topic.DIGEST or list(Weekday)[day.weekday()] is policy.outlook_day
        if is_day and due <= now:
            return due
        day -= timedelta(days=1)


def calendar_key(decision: Decision, policy: Policy, zone: ZoneInfo) -> str:
    """Return the key of such a message: the local day it fell due, whatever the clocks did."""
    due = last_due(Topic(decision.hazard), decision.made_at, policy, zone)
    day = due.astimezone(zone).date().isoformat()
    return f"{decision.contact}|{decision.stack}|{decision.hazard}|{day}"


def _decide(
    topic: Topic, contact: Contact, before: Before, now: datetime, due: datetime
) -> Decision | None:
    made = before.decision is not None and due <= before.decision.made_at <= now
    if made or topic not in contact.hear or now - due >= LATE[topic]:
        return None
    return Decision(
        contact=contact.name,
        stack=EVERY,
        hazard=topic,
        reason=Reason.FIRST,
        made_at=now,
        severity=0.0,
        onset=None,
        useful_until=due + LATE[topic],
    )


def digest_message(lines: Sequence[StackLine], reader: Reader) -> Message | None:
    """Return how the stacks stand this morning; None where all is well."""
    if all(line.is_well for line in lines):
        return None
    kinds = {
        "warned": [line for line in lines if line.warnings],
        "kept back": [line for line in lines if line.held],
        "unknown": [line for line in lines if line.is_unknown],
        "hints": [line for line in lines if line.hints],
    }
    stand = "1 stack stands" if len(lines) == 1 else f"{len(lines)} stacks stand"
    head = f"drywind {reader.now.astimezone(reader.zone):%a}: {stand}. "
    text = first_that_fits(
        [
            head + _kinds(kinds, lambda found: ", ".join(line.name for line in found)),
            head + _kinds(kinds, lambda found: str(len(found))),
        ]
    )
    busy = sum(not line.is_well for line in lines)
    subject = f"drywind: this morning {busy} of {len(lines)} stacks to look at"
    parts = (Paragraph(text), stack_lines(lines), Paragraph("Warnings come by themselves."))
    return Message(subject, text, plain(parts), page(subject, parts))


def outlook_message(
    days: Sequence[SiteDay],
    lines: Sequence[StackLine],
    reader: Reader,
    sawing: Sequence[str] = (),
) -> Message:
    """Return the weather of the week ahead at each site, when to saw, and how the stacks stand.

    Parameters
    ----------
    sawing
        What to do with each lot that waits for the saw, a sentence each.
    """
    by_site = {site: list(ahead) for site, ahead in groupby(days, key=attrgetter("site"))}
    told = "; ".join(f"{site} {_week(ahead)}" for site, ahead in by_site.items())
    text = first_that_fits([f"drywind week ahead: {told}.", f"drywind week ahead: {_week(days)}."])
    tables = [
        Lines(f"The week ahead at {site}:", tuple(_day_row(day, reader) for day in ahead))
        for site, ahead in by_site.items()
    ]
    words = (
        f"Hot & dry days are those that open checks. On damp days, of {DAMP_EMC_PCT:.0f} % EMC and"
        " more in the mean, boards hardly dry, and stain and mold grow. The later days of a"
        " forecast are the less sure ones."
    )
    subject = f"drywind: the week ahead, from {min(day.day for day in days):%a %b %d} on"
    parts: list[Part] = [*tables, Paragraph(words)]
    if sawing:
        rows = tuple(Row(name, told) for name, _, told in (s.partition(": ") for s in sawing))
        parts.append(Lines("Lots, and the best of the next ten days to saw each:", rows))
    if lines:
        parts.append(stack_lines(lines))
    return Message(subject, text, plain(parts), page(subject, parts))


def stack_lines(lines: Sequence[StackLine]) -> Lines:
    """Return how each stack stands, a line each."""
    return Lines("The stacks, and the worst ahead of each:", tuple(map(_stack_row, lines)))


def _stack_row(line: StackLine) -> Row:
    told = []
    if line.mc_pct is None:
        told.append(f"unknown; measure it: drywind stack event {line.name} weighed 35")
    else:
        told.append(f"{line.mc_pct:.0f} % MC")
        told.append("ahead unknown" if line.pace is None else f"{line.pace:.0%} of its limit")
    told += [f"warned of {', '.join(line.warnings)}"] if line.warnings else []
    told += [f"kept back: {', '.join(line.held)}"] if line.held else []
    return Row(f"{line.name} {line.wood}, {line.site}", "; ".join([*told, *line.hints]))


def _kinds(kinds: dict[str, list[StackLine]], tell: Callable[[Sequence[StackLine]], str]) -> str:
    told = "; ".join(f"{what}: {tell(found)}" for what, found in kinds.items() if found)
    return f"{told[:1].upper()}{told[1:]}."


def _week(days: Sequence[SiteDay]) -> str:
    """Write which days are not fair: hot & dry Sun, Mon; damp Fri."""
    by_word: dict[str, list[str]] = {}
    for day in sorted(days, key=attrgetter("day")):
        name = f"{day.day:%a}"
        if day.word != "fair" and name not in by_word.setdefault(day.word, []):
            by_word[day.word].append(name)
    return ", ".join(f"{word} {' '.join(names)}" for word, names in by_word.items()) or "fair"


def _day_row(day: SiteDay, reader: Reader) -> Row:
    name = f"{day.day:%a %b %d}"
    if day.high_c is None or day.low_rh is None or day.wind_ms is None or day.emc_pct is None:
        return Row(name, "unknown")
    hot, wind = temperature_text(day.high_c, reader.units), wind_text(day.wind_ms, reader.units)
    return Row(
        name,
        f"{day.word}; up to {hot}, RH down to {100 * day.low_rh:.0f} %, wind up to {wind},"
        f" EMC {day.emc_pct:.1f} %",
    )
