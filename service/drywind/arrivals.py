"""Telling people once that a stack has reached 30, 25 or 20 % moisture content."""

from collections.abc import Sequence
from datetime import datetime, timedelta

import numpy as np

from drywind.alerts.groups import Entry
from drywind.alerts.ready_words import Arrival, decide_ready, ready_message
from drywind.config import Config, Topic
from drywind.judge.outlook import Outlook
from drywind.learn.ready import GOALS_PCT, Goal
from drywind.samples import KINDS
from drywind.speaking import Said, commit, messages_left
from drywind.store import Store
from drywind.wood.species import find_species

LATELY = timedelta(hours=48)
"""A reading this young may tell that a goal was reached long ago (assumption)."""


def speak_of_arrivals(
    config: Config,
    store: Store,
    outlooks: Sequence[Outlook],
    now: datetime,
    *,
    dry_run: bool = False,
) -> list[Said]:
    """Tell each contact that hears of good news, once a goal, outside quiet hours."""
    found = [arrival for outlook in outlooks if (arrival := arrival_of(outlook, now)) is not None]
    told = {(d.contact, d.stack, d.hazard) for d in store.last_decisions()}
    entries: list[Entry] = []
    for contact in config.contacts.values():
        if Topic.ALL_CLEAR not in contact.hear or contact.quiet_ends(now, config.zone) > now:
            continue
        left = messages_left(config, store, contact, now)
        for arrival in found:
            decision = decide_ready(arrival, contact, now)
            key = (decision.contact, decision.stack, decision.hazard)
            if key in told or left == 0:
                continue
            left = None if left is None else left - 1
            entries.append((decision, ready_message(arrival), "|".join(key)))
    return commit(store, entries, dry_run=dry_run)


def arrival_of(outlook: Outlook, now: datetime) -> Arrival | None:
    """Return the driest goal a stack has just reached; None if none."""
    case, hour = outlook.case, max(outlook.now, 0)
    mc_pct = outlook.run.mc_pct[: hour + 1, 0]
    known = np.flatnonzero(np.isfinite(mc_pct))
    if case.is_lost(outlook.now) or not len(known) or known[-1] != hour:
        return None
    before, present = float(mc_pct[known[0]]), float(mc_pct[hour])
    read = any(e.kind in KINDS and now - LATELY <= e.time <= now for e in case.stack.events)
    start = 100.0 * case.green_mc if read else before
    reached = [goal for goal in Goal if start > GOALS_PCT[goal] >= present]
    if not reached:
        return None
    wood = f"{find_species(case.stack.species).key.replace('_', ' ')} {case.stack.thickness.label}"
    name, site = case.stack.id, outlook.site_now
    return Arrival(name, wood, site, reached[-1], present, case.wood.readings)
