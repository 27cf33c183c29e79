"""The morning's digest and the week's outlook: what a pass found, as lines for `alerts.digest`."""

from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from functools import cached_property
from math import isfinite
from zoneinfo import ZoneInfo

import pandas as pd

from drywind.alerts.decide import recall
from drywind.alerts.digest import (
    OUTLOOK_DAYS,
    SiteDay,
    StackLine,
    calendar_key,
    decide_digest,
    decide_outlook,
    digest_message,
    outlook_message,
)
from drywind.alerts.groups import Entry
from drywind.alerts.manner import MANNERS
from drywind.alerts.records import EVERY, Decision, Message, Reason
from drywind.alerts.saw_words import lot_words
from drywind.alerts.wording import Reader, doing
from drywind.clock import floor_hour
from drywind.config import Config, Contact, Topic
from drywind.judge.findings import Hazard
from drywind.judge.outlook import Outlook
from drywind.judge.sawing import SawBoard
from drywind.judge.use import Hint
from drywind.speaking import Memory, Said, messages_left
from drywind.store import Store
from drywind.wood.emc import emc_pct
from drywind.wood.species import find_species

KNOWN_SHARE = 0.75
"""A day of which less is known is unknown (assumption)."""

WHY_HELD = {
    Reason.NOT_YET: "not due yet",
    Reason.HELD_QUIET: "quiet hours",
    Reason.SNOOZED: "snoozed",
    Reason.OVER_CAP: "no text left today",
}


@dataclass(frozen=True)
class Morning:
    """What a pass found and said, and where the weather of the week ahead is to be had.

    `week_ahead` makes the table of each site, `idle` finds stacks that could dry faster, and `saw`
    ranks the coming days to saw the lots that wait; each is called only where it is needed.
    """

    outlooks: Sequence[Outlook]
    said: Sequence[Said]
    week_ahead: Callable[[], Mapping[str, pd.DataFrame]]
    idle: Callable[[], Mapping[str, Hint]]
    now: datetime
    saw: Callable[[], SawBoard | None] = lambda: None

    @cached_property
    def hints(self) -> Mapping[str, Hint]:
        """What would let stacks dry faster, by stack; found once."""
        return self.idle()

    @cached_property
    def saw_days(self) -> SawBoard | None:
        """The saw days of the lots that wait; found once."""
        return self.saw()


def report(config: Config, store: Store, seen: Morning, *, dry_run: bool = False) -> list[Said]:
    """Put the digests and outlooks that are due into the outbox."""
    memory = Memory(store.last_decisions())
    entries: list[Entry] = []
    for contact in config.contacts.values():
        for topic, decide in ((Topic.DIGEST, decide_digest), (Topic.OUTLOOK, decide_outlook)):
            before = recall(memory.of(contact.name, EVERY, topic))
            decision = decide(contact, before, seen.now, config.policy, config.zone)
            if decision is None or contact.quiet_ends(seen.now, config.zone) > seen.now:
                continue
            words = _words(config, memory, contact, topic, seen)
            used = sum(m is not None and d.contact == contact.name for d, m, _ in entries)
            left = messages_left(config, store, contact, seen.now)
            if words is not None and left is not None and used >= left:
                decision, words = replace(decision, reason=Reason.OVER_CAP), None
            elif words is None:
                decision = replace(decision, reason=Reason.NOTHING_NEW)
            entries.append((decision, words, calendar_key(decision, config.policy, config.zone)))
    if dry_run:
        return [Said(decision, words, is_new=False) for decision, words, _ in entries]
    # A morning without anything to tell is noted too, so that noon does not make up for it.
    are_new = store.record_all(entries)
    return [
        Said(decision, words, is_new)
        for (decision, words, _), is_new in zip(entries, are_new, strict=True)
    ]


def _words(
    config: Config, memory: Memory, contact: Contact, topic: Topic, seen: Morning
) -> Message | None:
    reader = Reader(contact.units, config.zone, seen.now)
    lines = []
    for outlook in seen.outlooks:
        mine = (contact.name, outlook.case.stack.id)
        line = replace(
            stack_line(outlook),
            warnings=_warnings(memory, mine, reader),
            held=_held([s.decision for s in seen.said], mine),
            hints=_hints(outlook, topic, seen),
        )
        lines.append(line)
    if topic is Topic.DIGEST:
        return digest_message(lines, reader)
    board = seen.saw_days
    sawing = [lot_words(lot, reader) for lot in board.lots] if board else []
    if not lines and not sawing:
        return None
    tables, by_place = seen.week_ahead(), defaultdict(list)
    for site in config.sites.values():
        by_place[site.place].append(site.name)
    days = [
        day
        for names in by_place.values()
        for day in site_days(", ".join(names), tables[names[0]], seen.now, config.zone)
    ]
    return outlook_message(days, lines, reader, sawing)


def _warnings(memory: Memory, mine: tuple[str, str], reader: Reader) -> tuple[str, ...]:
    """Return which warnings stand to a contact of a stack, and since when."""
    found = []
    for hazard in Hazard:
        before = recall(memory.of(*mine, hazard))
        if before.decision is not None and before.is_open and not before.lapsed:
            told = reader.when(before.decision.made_at)
            found.append(f"{MANNERS[hazard].name} (told {told})")
    return tuple(found)


def _held(decisions: Sequence[Decision], mine: tuple[str, str]) -> tuple[str, ...]:
    """Return what was found of a stack but not said to a contact, and why."""
    return tuple(
        f"{MANNERS[Hazard(d.hazard)].name} ({WHY_HELD[d.reason]})"
        for d in decisions
        if (d.contact, d.stack) == mine and d.reason in WHY_HELD
    )


def _hints(outlook: Outlook, topic: Topic, seen: Morning) -> tuple[str, ...]:
    """Return what would let a stack dry faster; to move it is a matter for the week."""
    if outlook.lift is not None:
        return (f"it can do without: {doing(outlook.lift.remedy)}",)
    if topic is Topic.DIGEST:  # before the hints are asked for, which are simulated
        return ()
    hint = seen.hints.get(outlook.case.stack.id)
    if hint is None:
        return ()
    return (f"uses {hint.share:.0%} of its safe pace: {doing(hint.trial.remedy)}",)


def stack_line(outlook: Outlook) -> StackLine:
    """Return how a stack stands by itself, whoever is told."""
    stack = outlook.case.stack
    mc_pct = float(outlook.run.mc_pct[max(outlook.now, 0), 0])
    is_known = not outlook.case.is_lost(outlook.now) and isfinite(mc_pct)
    return StackLine(
        name=stack.id,
        site=outlook.site_now,
        wood=f"{find_species(stack.species).key.replace('_', ' ')} {stack.thickness.label}",
        mc_pct=mc_pct if is_known else None,
        pace=None if outlook.pace.worst is None else outlook.severity,
    )


def site_days(
    site: str, table: pd.DataFrame, now: datetime, zone: ZoneInfo, count: int = OUTLOOK_DAYS
) -> list[SiteDay]:
    """Return so many local days ahead at a site, today being what is left of it."""
    ahead = table.loc[floor_hour(now) :]
    dates = ahead.index.tz_convert(zone).date  # type: ignore[attr-defined]
    today = now.astimezone(zone).date()
    days = []
    for day in (today + timedelta(days=i) for i in range(count)):
        hours = ahead.loc[dates == day, ["temp_c", "rh", "wind_ms"]]
        known = hours.dropna()
        if hours.empty or len(known) < KNOWN_SHARE * len(hours):
            days.append(SiteDay(site, day, None, None, None, None))
            continue
        temp_c, rh, wind_ms = (known[name] for name in hours)
        mean_emc = float(emc_pct(temp_c, rh).mean())
        days.append(
            SiteDay(site, day, float(temp_c.max()), float(rh.min()), float(wind_ms.max()), mean_emc)
        )
    return days
