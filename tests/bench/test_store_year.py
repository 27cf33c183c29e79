"""How large a year makes the store, and how much a day writes to the card.

Prints one table: `pytest tests/bench/test_store_year.py`. Bytes do not depend on how busy the
machine is, so both are held to their limits. What a yard of 30 stacks at four places writes is
written by the store's own methods; how often, and how long the words are, stands below.
"""

import random
import shutil
import tempfile
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from drywind.alerts.records import Decision, Message, Reason
from drywind.db.backups import nightly_backup
from drywind.store import Outcome, Store
from drywind.units import Thickness
from drywind.weather.hour import WeatherHour
from drywind.weather.validators import Remembered, Validators
from drywind.yard import Event, EventKind, Setup, Stack

YEAR_MB, DAY_MB = 100, 20
START = datetime(2026, 1, 1, tzinfo=UTC)
DAYS = 365
HOUR = timedelta(hours=1)

STACKS = 30
CONTACTS = ("Ada phone", "Office mail", "Yard mail")
US_PLACES = ("41.98,-87.90", "41.70,-88.10")
"""Each has a forecast of 7 days every hour, and six days of observed hours every three hours."""
OTHER_PLACES = ("46.90,8.20", "47.10,8.60")
"""Each has a forecast of 10 days every hour, and an ensemble every three hours."""
ISSUES = (
    *((place, "nws", 168) for place in US_PLACES),
    *((place, "open_meteo", 240) for place in OTHER_PLACES),
)
ENSEMBLE_BYTES = 110_000
"""31 members of ten days, as random as can be: nothing to compress."""
STATE_BYTES, STORY_BYTES, PAGE_BYTES = 5_000, 3_000, 14_000
DECISIONS_A_DAY = 12
"""For each contact; one of them carries a message: an e-mail a day, and a text a day, all year."""

chance = random.Random(6)


VALUES = [
    (
        *(round(chance.uniform(-10, 30), 1), round(chance.random(), 2)),
        *(round(chance.uniform(0, 9), 1), float(chance.randrange(0, 360, 10)), 9.5),
        *(round(chance.uniform(0, 900), 1), round(chance.random(), 2), 0.0),
    )
    for _ in range(997)
]
"""Made values of an hour; the number is prime, lest they fall in step with anything."""


def hours(source: str, issued_at: datetime, start: datetime, count: int) -> list[WeatherHour]:
    """Return made hours; a forecast is new in every issue, which is the most there is to write.

    What was observed is told again as it was.
    """
    first = int(start.timestamp()) // 3600 * (1 if start < issued_at else 31)
    return [
        WeatherHour._make((start + n * HOUR, *VALUES[(first + n) % len(VALUES)], source, issued_at))
        for n in range(count)
    ]


def yard(store: Store) -> None:
    """Register the stacks."""
    for number in range(STACKS):
        oak = Thickness.parse("4/4")
        store.add_stack(Stack(f"R{number}", "red_oak", oak, START, Setup("creek flat")))


def weather(store: Store, now: datetime) -> None:
    """Write what a pass writes of weather."""
    known = Remembered(Validators('"abc"', "Sat, 13 Jun 2026 10:00:00 GMT", now), "x" * 60, now)
    for place, source, count in ISSUES:
        told = hours(source, now, now, count)
        store.save_hours(place, told)
        store.note_foretold(place, told)
        store.remember(place, source, known)
    if now.hour % 3:
        return
    for place in US_PLACES:
        store.save_hours(place, hours("nws_obs", now, now - 144 * HOUR, 144))
        store.remember(place, "nws_obs", known)
    for place in OTHER_PLACES:
        store.save_ensemble(place, now, chance.randbytes(ENSEMBLE_BYTES))


WORDS = " ".join(
    f"{chance.choice(('stack', 'board', 'wind', 'limit', 'shade', 'hang', 'roof'))} {number % 97}"
    for number in range(9000)
)


def prose(count: int) -> str:
    """Return so many letters that compress about as English does."""
    start = chance.randrange(len(WORDS) - count)
    return WORDS[start : start + count]


def once_a_day(store: Store, now: datetime) -> None:
    """Write what is decided, said and saved in a day."""
    for contact in CONTACTS:
        entries = []
        for number in range(DECISIONS_A_DAY):
            stack = f"R{number}"
            decided = Decision(
                contact, stack, "too_fast", Reason.FIRST, now, 1.5, now, now + 24 * HOUR
            )
            message = Message(prose(60), prose(150), prose(STORY_BYTES), prose(PAGE_BYTES))
            entries.append((decided, None if number else message, f"{contact}|{stack}|{now}"))
        store.record_all(entries)
    for row in store.outbox_due(now):
        store.start_attempt(row.id, now)
        store.finish_attempt(row.id, now, Outcome.SENT, "accepted", None)
    for number in range(STACKS):
        store.save_checkpoint(f"R{number}", now, "f" * 64, chance.randbytes(STATE_BYTES))
    if now.day % 15 == 0:
        for number in range(STACKS):
            store.add_event(Event(f"R{number}", now, EventKind.METERED, "35.0"))


def written() -> int:
    """Return the bytes this process has handed to the system to be written so far.

    Not ``write_bytes``, which newer kernels count in pieces of many pages, dirty or not.
    """
    lines = Path("/proc/self/io").read_text(encoding="ascii").splitlines()
    return int(dict(line.split(": ") for line in lines)["wchar"])


@pytest.fixture(scope="module")
def year() -> Iterator[Path]:
    """Yield a store a year old, kept in memory while it is made.

    Only one pass a day is whole: others would write the same hours again. Every sixth hour, as
    often as issues are kept, one is.
    """
    with tempfile.TemporaryDirectory(dir="/dev/shm") as folder:
        path = Path(folder, "drywind.db")
        with Store(path) as store:
            yard(store)
            for day in range(DAYS):
                now = START + day * 24 * HOUR
                weather(store, now)
                for hour in (6, 12, 18):
                    at = now + hour * HOUR
                    for place, source, count in ISSUES:
                        store.note_foretold(place, hours(source, at, at, count))
                once_a_day(store, now)
                store.prune(now)
        yield path


def test_a_years_store_of_30_stacks_stays_within_its_limit(
    year: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    size = year.stat().st_size
    copy = nightly_backup(year, START + DAYS * 24 * HOUR).stat().st_size

    with capsys.disabled():
        print(  # noqa: T201
            f"\na year of {STACKS} stacks at {len(US_PLACES) + len(OTHER_PLACES)} places:"
            f" {size / 1e6:.1f} MB (limit {YEAR_MB}), a copy {copy / 1e6:.1f} MB"
        )
    assert size < YEAR_MB * 1e6


def test_a_day_of_hourly_passes_writes_no_more_than_its_limit(
    year: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "drywind.db"
    shutil.copy(year, path)
    now = START + DAYS * 24 * HOUR
    parts = {}
    with Store(path):  # the daemon's own, open all day: what the passes close is not the last one
        before = written()
        for hour in range(24):
            with Store(path) as store:
                weather(store, now + hour * HOUR)
        parts["weather"] = written() - before
        with Store(path) as store:
            once_a_day(store, now)
            store.prune(now)
    parts["decisions"] = written() - before - parts["weather"]
    # Its temporary files are gone long before the system puts them on the disk.
    parts["copy"] = nightly_backup(path, now).stat().st_size

    with capsys.disabled():
        shares = ", ".join(f"{name} {count / 1e6:.1f}" for name, count in parts.items())
        total = sum(parts.values())
        print(f"\na day writes {total / 1e6:.1f} MB (limit {DAY_MB}): {shares}")  # noqa: T201
    assert 0 < total < DAY_MB * 1e6
