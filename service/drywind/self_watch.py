"""What drywind says of itself, once a spell each, by the channels that work.

It is blind, reaches somebody no more, runs out of disk, had to restore its data; and there is what
it could not say in time.
"""

import shutil
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from types import MappingProxyType

from drywind.alerts.blind import blindness
from drywind.alerts.decide import key_of, recall
from drywind.alerts.groups import Entry
from drywind.alerts.late import LATE, decide_late, late_key, late_message
from drywind.alerts.records import EVERY, Message, Reason
from drywind.alerts.troubles import (
    DISK,
    RESTORED,
    UNREACHABLE,
    UNWRITABLE,
    Trouble,
    decide_trouble,
    disk_message,
    restored_message,
    unreachable_message,
    unwritable_message,
)
from drywind.alerts.wording import Reader
from drywind.config import Config, Contact, Topic
from drywind.db.recovery import Kind, Recovery
from drywind.speaking import Memory, Said, commit, messages_left
from drywind.store import Fruitless, Store
from drywind.weather.seen import SiteWeather

FAILING_AFTER = timedelta(hours=1)
"""Attempts put off for so long, three at least, mean that a contact is not reached (assumption)."""

FEWEST_ATTEMPTS = 3

RESTORED_IS_NEWS = timedelta(days=7)
"""For how long it is told that the store was damaged (assumption)."""

LOW_MB, ENOUGH_MB = 200.0, 400.0
"""Free disk below which it is told, and above which the spell is over: twice what a year's data
take (assumption)."""


def unreached(store: Store, config: Config) -> dict[str, Fruitless]:
    """Return the contacts that cannot be reached at present, and since when."""
    return {
        name: tries
        for name, tries in store.fruitless().items()
        if name in config.contacts
        and (
            tries.for_good
            or (tries.attempts >= FEWEST_ATTEMPTS and tries.until - tries.since >= FAILING_AFTER)
        )
    }


def with_stand_ins(config: Config, lost: Mapping[str, Fruitless]) -> Config:
    """Return the configuration in which others hear warnings if all who want to are unreached."""
    hearing = {c.name for c in config.contacts.values() if Topic.WARNINGS in c.hear}
    if not hearing or not hearing <= set(lost):
        return config

    def standing_in(contact: Contact) -> Contact:
        return replace(contact, hear=contact.hear | {Topic.WARNINGS, Topic.ALL_CLEAR})

    contacts = {name: standing_in(contact) for name, contact in config.contacts.items()}
    return replace(config, contacts=MappingProxyType(contacts))


@dataclass(frozen=True)
class Seen:
    """What a pass saw of its own state.

    Attributes
    ----------
    weather
        How each site stands for weather; empty where nothing has to be watched.
    lost
        The contacts that cannot be reached.
    free_mb
        The room left where the data are.
    in_memory
        Whether the disk cannot be written, and a copy in memory stands in for the store.
    recovery
        What was last done about a damaged store.
    """

    weather: Sequence[SiteWeather]
    lost: Mapping[str, Fruitless]
    free_mb: float
    in_memory: bool = False
    recovery: Recovery | None = None


def look_at_self(
    config: Config, store: Store, weather: Sequence[SiteWeather], lost: Mapping[str, Fruitless]
) -> Seen:
    """Look how drywind itself is."""
    return Seen(
        weather,
        lost,
        shutil.disk_usage(config.data_dir).free / 1e6,
        in_memory=store.path.parent != config.data_dir,
        recovery=store.last_recovery(),
    )


def troubles(config: Config, seen: Seen, now: datetime) -> list[Trouble]:
    """Return all that may be wrong with drywind itself, each with whether it is so."""
    found = [blindness(seen.weather, now)] if seen.weather else []
    for name in config.contacts:
        tries = seen.lost.get(name)

        def words(reader: Reader, name: str = name, tries: Fruitless | None = tries) -> Message:
            assert tries is not None
            return unreachable_message(name, tries.since, tries.detail, reader)

        found.append(Trouble(f"{UNREACHABLE} {name}", tries is not None, words, about=name))
    folder, low = str(config.data_dir), seen.free_mb < LOW_MB
    found.append(
        Trouble(
            DISK,
            None if not low and seen.free_mb < ENOUGH_MB else low,
            lambda reader: disk_message(seen.free_mb, folder, reader),
        )
    )
    found.append(
        Trouble(UNWRITABLE, seen.in_memory, lambda reader: unwritable_message(folder, reader))
    )
    done = seen.recovery
    if done is not None and now - done.at < RESTORED_IS_NEWS:

        def restored(reader: Reader, done: Recovery = done) -> Message:
            return restored_message(_done_words(done, reader), done.at, reader)

        found.append(Trouble(f"{RESTORED} {done.at.isoformat()}", stands=True, message=restored))
    return found


def _done_words(done: Recovery, reader: Reader) -> str:
    """Say what stands in the place of what was damaged."""
    if done.kind is Kind.RESTORED and done.backup_at is not None:
        return f"it is back as of {reader.when(done.backup_at)}"
    return "it begins anew, empty" if done.kind is Kind.BEGUN_ANEW else "some of it is lost"


def speak_of_self(
    config: Config, store: Store, found: Sequence[Trouble], now: datetime, *, dry_run: bool = False
) -> list[Said]:
    """Tell each contact once a spell what is wrong with drywind itself."""
    memory = Memory(store.last_decisions())
    entries: list[Entry] = []
    for contact in config.contacts.values():
        reader = Reader(contact.units, config.zone, now)
        for trouble in found:
            last = recall(memory.of(contact.name, EVERY, trouble.hazard))
            decision = decide_trouble(trouble, contact, last, now, config.zone)
            if decision is None:
                continue
            words = None
            if decision.reason is Reason.FIRST:
                words = trouble.message(reader)
                if messages_left(config, store, contact, now) == 0:
                    decision, words = replace(decision, reason=Reason.OVER_CAP), None
            entries.append((decision, words, key_of(decision, last)))
    return commit(store, entries, dry_run=dry_run)


def speak_of_the_missed(config: Config, store: Store, now: datetime) -> list[Said]:
    """Give up what is of no use any more; tell each contact of the harm it was not warned of.

    The word waits in the outbox until the contact is reached, and is replaced where it grows.
    """
    store.expire(now)
    said = []
    for name, missed in store.missed().items():
        contact = config.contacts.get(name)
        decision = decide_late(missed, contact, now) if contact else None
        if contact is None or decision is None:
            continue
        words = late_message(missed, now, Reader(contact.units, config.zone, now))
        new = commit(store, [(decision, words, late_key(decision, missed))], dry_run=False)
        if new[0].is_new:
            store.withdraw(name, LATE, but=late_key(decision, missed))
        said += new
    return said
