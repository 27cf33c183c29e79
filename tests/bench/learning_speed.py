"""How long thirty weighed stacks take: `.venv/bin/python -m tests.bench.learning_speed`.

CPU seconds of one core: what a pass needs after new weighings, what it needs without any, and the
ready dates of all stacks, which are worked out when somebody asks.
"""

import os
import sys
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory
from time import process_time

from tests.conftest import CONFIG
from tests.published.years import ohare

from drywind.config import Config, load
from drywind.cycle import watched_cases
from drywind.readiness import yard_readiness
from drywind.samples import Entry, Position
from drywind.store import Store
from drywind.units import Thickness
from drywind.weather.table import to_hours
from drywind.yard import Event, EventKind, Measure, Setup, Stack

STACKS, DAYS = 30, 30
START = datetime(2013, 5, 1, tzinfo=UTC)
NOW = START + timedelta(days=DAYS)
WOODS = ("red_oak", "white_oak", "hard_maple")


def main() -> None:
    """Print the times."""
    with TemporaryDirectory() as name:
        config = _config(Path(name))
        with Store(Path(name) / "drywind.db") as store:
            _fill(config, store)
            _time("cases made and learned of, all new", lambda: watched_cases(config, store, NOW))
            _time("cases made, nothing new", lambda: watched_cases(config, store, NOW))
            _time("ready dates", lambda: yard_readiness(config, store, NOW))


def _time(what: str, work: Callable[[], object]) -> None:
    began = process_time()
    work()
    sys.stdout.write(f"{what}: {process_time() - began:.1f} s\n")


def _config(folder: Path) -> Config:
    file = folder / "yard.toml"
    file.write_text(CONFIG.format(weather="http://127.0.0.1:1"))
    addresses = dict.fromkeys(("DRYWIND_URL_ADA", "DRYWIND_URL_OFFICE"), "json://127.0.0.1")
    return load(file, {**os.environ, **addresses})


def _fill(config: Config, store: Store) -> None:
    """Put up stacks of two boards weighed three times, in every fifth of them one at the edge."""
    table = ohare(2013).loc[START : NOW + timedelta(days=7)].assign(source="nws")
    table["issued_at"] = table.index.where(table.index < NOW, NOW)
    store.save_hours(config.sites["gravel"].place, to_hours(table))
    setup = Setup("gravel", measures=frozenset({Measure.PILE_ROOF}))
    for i in range(STACKS):
        start, events = START + timedelta(hours=i), list[Event]()
        for board in "AB":
            at = Position.EDGE if board == "B" and i % 5 == 0 else Position.MIDDLE
            for day, kg in ((0, 1.80), (3, 1.69), (7, 1.60), (14, 1.50)):
                entry = Entry(board, at, kg=kg + 0.002 * i * (day > 0), dry_kg=1.0)
                events.append(
                    Event(f"S{i}", start + timedelta(days=day), EventKind.WEIGHED, entry.detail)
                )
        size, wood = Thickness.parse("4/4"), WOODS[i % len(WOODS)]
        store.add_stack(Stack(f"S{i}", wood, size, start, setup, events=tuple(events)))


if __name__ == "__main__":
    main()
