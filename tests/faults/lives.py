"""A watch that is killed again and again: ``python -m tests.faults.lives scripted|whole ...``.

Each life is a process that passes over a yard and delivers, with everything real but the forecast
(scripted) or with that too (whole), until it is killed at a random instant; the next takes up what
it left. The last one is let live. Time goes on by an hour a pass, whatever is killed.
"""

import json
import os
import random
import signal
import sys
import time
from datetime import UTC, datetime
from pathlib import Path
from tempfile import TemporaryDirectory

from tests.timelines.scripts import HOUR, Sight

from drywind.config import Config, load
from drywind.cycle import run_pass
from drywind.delivery import deliver_due, destinations, usable
from drywind.speaking import speak, stack_matters
from drywind.store import Store
from drywind.weather.http import Getter

START = datetime(2026, 6, 1, 12, tzinfo=UTC)
STACKS = 5
EVERY_H, LASTS_H = 36, 8
"""Harm comes to each stack every so many hours, and lasts for some."""


def harms(stack: int, until: datetime) -> list[datetime]:
    """Return when harm begins for a stack, up to an instant."""
    first = START + (24 + 11 * stack) * HOUR
    count = max(0, (until - first) // (EVERY_H * HOUR) + 1)
    return [first + i * EVERY_H * HOUR for i in range(count)]


def sight_of(stack: int, now: datetime) -> Sight:
    """Return what a pass sees of a stack."""
    ahead = [at for at in harms(stack, now + 24 * HOUR) if now < at + LASTS_H * HOUR]
    name = f"R{stack}"
    if not ahead:
        return Sight(0.5, name=name, site=f"lot {stack}")
    onset = max(ahead[0], now + HOUR)
    return Sight(1.6, harm_at=onset, lasts_h=LASTS_H, name=name, site=f"lot {stack}")


def scripted_pass(config: Config, store: Store, now: datetime) -> None:
    """Decide and record what the script sees, as a pass does."""
    outlooks = [sight_of(i, now).outlook(now) for i in range(STACKS)]
    speak(config, store, [m for o in outlooks for m in stack_matters(o, now)], now)


def live(kind: str, config: Config, clock: Path, passes: int) -> None:
    """Live until killed, or for so many passes."""
    path, ways = config.data_dir / "drywind.db", destinations(config)
    for _ in range(passes):
        now = datetime.fromisoformat(clock.read_text())
        with Store(path) as store:
            if kind == "scripted":
                scripted_pass(config, store, now)
            else:
                run_pass(config, store, Getter(config.weather.contact, attempts=1), now)
            deliver_due(store, ways, now)
        following = clock.with_suffix(".new")
        following.write_text((now + HOUR).isoformat())
        following.replace(clock)


def warm_up(config: Config) -> None:
    """Import all that a life needs, so that it is killed at its work and not at its start."""
    usable(next(iter(destinations(config).values())))
    with TemporaryDirectory() as folder, Store(Path(folder, "drywind.db")) as store:
        scripted_pass(config, store, START + 23 * HOUR)  # one that speaks, with a picture


def main() -> None:
    """Kill so many lives, the first within so many seconds, and let the last one live."""
    kind, config_path, kills, longest_s, seed = sys.argv[1:]
    config = load(Path(config_path), os.environ)
    clock = config.data_dir / "clock"
    clock.write_text((START if kind == "scripted" else datetime.now(UTC)).isoformat())
    warm_up(config)
    chance, killed, within_s = random.Random(int(seed)), 0, float(longest_s)
    while killed < int(kills):
        began = clock.read_text()
        pid = os.fork()
        if pid == 0:
            live(kind, config, clock, passes=10**6)
        time.sleep(chance.uniform(0.0, within_s))
        os.kill(pid, signal.SIGKILL)
        _, status = os.waitpid(pid, 0)
        assert os.WIFSIGNALED(status), "it died by itself"
        killed += 1
        # However busy the machine is, about every third life gets through a pass.
        within_s *= 1.04 if clock.read_text() == began else 0.92
    until = datetime.fromisoformat(clock.read_text())
    live(kind, config, clock, passes=3)
    sys.stdout.write(json.dumps({"killed": killed, "until": until.isoformat()}))


if __name__ == "__main__":
    main()
