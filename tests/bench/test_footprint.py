"""What the daemon and a pass take of a small computer: memory, a core's seconds, bytes written.

Prints one table: `pytest tests/bench`. Bytes and memory are held to what a Raspberry Pi with a
gigabyte and an SD card bears; seconds of a core are printed, as they say as much of the machine.
The pass is one on a bad day: every stack is in danger, so every remedy is tried, the best ones in
31 weathers.
"""

import re
import subprocess
import sys
from datetime import UTC, datetime, timedelta
from itertools import product
from pathlib import Path
from typing import NamedTuple

import pytest
from tests.conftest import HOT_DRY, WEEK, WeatherService, Yard
from tests.faults.daemons import wait_for, watching

from drywind.samples import Entry
from drywind.store import Store
from drywind.units import Thickness
from drywind.yard import Event, EventKind, Setup, Stack

STACKS = 20
IDLE_MB, PEAK_MB = 60.0, 220.0
UNIT = Path(__file__).parents[2] / "deploy/drywind.service"
UNIT_MB = float(re.findall(r"^MemoryMax=(\d+)M$", UNIT.read_text(), re.MULTILINE)[0])
"""What the daemon and its workers may take together."""
WOODS = ("red_oak", "white_oak", "hard_maple", "black_walnut", "yellow_poplar")


class Took(NamedTuple):
    """What a process took until its end."""

    code: int
    core_s: float
    peak_mb: float


MEASURE = """\
import os, subprocess, sys
process = subprocess.Popen(sys.argv[1:], stdout=subprocess.DEVNULL)
_, status, usage = os.wait4(process.pid, 0)
print(os.waitstatus_to_exitcode(status), usage.ru_utime + usage.ru_stime, usage.ru_maxrss / 1024)
os._exit(0)
"""
"""Runs a command in between: a process is counted as large as the one it was forked from."""


def took(command: list[str], folder: Path) -> Took:
    """Run a process to its end, and tell what it took."""
    ended = subprocess.run(
        [sys.executable, "-c", MEASURE, *command],
        cwd=folder,
        stdout=subprocess.PIPE,
        text=True,
        check=True,
    )
    code, core_s, peak_mb = ended.stdout.split()
    return Took(int(code), float(core_s), float(peak_mb))


def resident_mb(pid: int) -> float:
    """Return how much memory a process holds."""
    status = Path(f"/proc/{pid}/status").read_text()
    line = next(line for line in status.splitlines() if line.startswith("VmRSS:"))
    return int(line.split()[1]) / 1024


def fill(yard: Yard, now: datetime) -> None:
    """Register twenty stacks of several woods and ages at the three sites."""
    sites = ("gravel", "shed", "barn")
    with Store(yard.data / "drywind.db") as store:
        for i in range(STACKS):
            size = Thickness.parse("4/4" if i % 2 else "8/4")
            age, site = timedelta(days=1 + i), sites[i % len(sites)]
            store.add_stack(Stack(f"R{i}", WOODS[i % len(WOODS)], size, now - age, Setup(site)))


@pytest.fixture
def bad_day(yard: Yard, weather_service: WeatherService) -> datetime:
    """Return the hour a hot dry wind begins over twenty stacks, whose past is known."""
    now = datetime.now(UTC).replace(minute=0, second=0, microsecond=0)
    fill(yard, now)
    for days in range(24, 0, -6):
        weather_service.issue(now - timedelta(days=days), [(18.0, 70.0, 2.0)] * WEEK)
        assert a_pass(yard, now - timedelta(days=days)).code == 0
    weather_service.issue(now, [HOT_DRY] * WEEK)
    return now


def a_pass(yard: Yard, now: datetime) -> Took:
    """Do a pass as the daemon has it done."""
    return by_worker(yard, now, "pass", "--unsure-clock")


def by_worker(yard: Yard, now: datetime, *job: str) -> Took:
    """Have a job done by a worker."""
    worker = [sys.executable, "-m", "drywind.daemon.worker", *job]
    where = ["--config", str(yard.config), "--store", str(yard.data / "drywind.db")]
    return took([*worker, *where, "--now", now.isoformat()], yard.folder)


def weigh(yard: Yard, now: datetime) -> None:
    """Enter two boards of each stack, weighed three times or as often as it is old enough."""
    with Store(yard.data / "drywind.db") as store:
        for stack in store.stacks():
            for day, board in product((0, 3, 7), "AB"):
                at = stack.stacked_at + timedelta(days=day)
                entry = Entry(board, kg=1.8 - 0.03 * day, dry_kg=1.0)
                if at <= now:
                    store.add_event(Event(stack.id, at, EventKind.WEIGHED, entry.detail))


def test_a_pass_over_twenty_stacks_in_danger_fits_a_small_computer(
    yard: Yard, bad_day: datetime, capsys: pytest.CaptureFixture[str]
) -> None:
    first, second = a_pass(yard, bad_day), a_pass(yard, bad_day + timedelta(hours=1))

    assert first.code == second.code == 0
    assert yard.sql("SELECT count(*) FROM outbox") != [(0,)]
    with capsys.disabled():
        for name, one in (("first", first), ("next", second)):
            sys.stdout.write(
                f"\n{name} pass, {STACKS} stacks in danger: {one.core_s:.1f} s of one core,"
                f" at most {one.peak_mb:.0f} MB\n"
            )
    assert max(first.peak_mb, second.peak_mb) <= PEAK_MB


def test_learning_of_twenty_weighed_stacks_and_planning_for_them_fit_beside_the_daemon(
    yard: Yard, bad_day: datetime, capsys: pytest.CaptureFixture[str]
) -> None:
    """Nothing was learned of them before: all is simulated in one pass."""
    weigh(yard, bad_day)

    learning = a_pass(yard, bad_day)
    plans = by_worker(yard, bad_day, "plans")

    assert learning.code == plans.code == 0
    with capsys.disabled():
        for name, one in (("a pass that learns of", learning), ("plans for", plans)):
            sys.stdout.write(
                f"\n{name} {STACKS} weighed stacks: {one.core_s:.1f} s of one core,"
                f" at most {one.peak_mb:.0f} MB\n"
            )
    assert max(learning.peak_mb, plans.peak_mb) <= UNIT_MB - IDLE_MB


@pytest.mark.usefixtures("oak")
def test_the_daemon_idles_small(yard: Yard, capsys: pytest.CaptureFixture[str]) -> None:
    """After a pass and a delivery, with all in memory that these leave behind."""
    with watching(yard) as daemon:
        wait_for(lambda: daemon.count("accepted") == 2)
        held = resident_mb(daemon.process.pid)

    with capsys.disabled():
        sys.stdout.write(f"\nthe daemon idles at {held:.0f} MB\n")
    assert held <= IDLE_MB
