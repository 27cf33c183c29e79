"""A daemon as a process of its own, under whatever clock and limits a test wants."""

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime, timedelta
from pathlib import Path

from tests.conftest import Yard

PATIENCE_S = 90.0
"""How long a daemon on a busy machine may take to start and do a pass."""

STOPS_WITHIN_S = 25.0
"""A service manager kills what does not stop by itself; ours is told to wait a little longer."""

STEERED = """\
import sys, threading, time
from datetime import datetime, timedelta
from pathlib import Path

import time_machine
from drywind.cli import main
from drywind.daemon import loop, work

steps, changes = Path(sys.argv[1]), sys.argv[2]
clock = time_machine.travel(datetime.fromisoformat(steps.read_text()), tick=True).start()

def steer():
    read = steps.read_text()
    while True:
        time.sleep(0.1)
        if steps.read_text() != read:
            read = steps.read_text()
            clock.shift(timedelta(seconds=float(read)))

threading.Thread(target=steer, daemon=True).start()
exec(changes)
main(["watch"])
"""
"""`drywind watch` by a clock that a file sets at first, and steps by so many seconds at each change
of it; its steady clock is left alone. What is to be changed in the daemon comes as Python."""


class Daemon:
    """A daemon that is watching, and what it has logged so far."""

    def __init__(self, process: subprocess.Popen[bytes], log: Path) -> None:
        self.process = process
        self._log = log

    @property
    def log(self) -> str:
        """All it has logged."""
        return self._log.read_text()

    def said(self, words: str) -> bool:
        """Return whether it has logged these words."""
        return words in self.log

    def count(self, words: str) -> int:
        """Return how often it has logged these words."""
        return self.log.count(words)

    def stop(self) -> float:
        """Stop it like a service manager, see it end well; return how long that took, seconds."""
        asked = time.monotonic()
        self.process.send_signal(signal.SIGTERM)
        assert self.process.wait(STOPS_WITHIN_S) == 0
        return time.monotonic() - asked


@contextmanager
def watching(yard: Yard, *command: str | Path) -> Iterator[Daemon]:
    """Start the daemon, and see to it that it is gone in the end."""
    log, runtime = yard.folder / "daemon.log", yard.folder / "run"
    runtime.mkdir(exist_ok=True)  # what a daemon keeps there outlives it, but not the test
    with (
        log.open("wb") as output,
        subprocess.Popen(
            [sys.executable, *(command or ("-m", "drywind", "watch"))],
            stderr=output,
            env={**os.environ, "RUNTIME_DIRECTORY": str(runtime)},
        ) as process,
    ):
        try:
            yield Daemon(process, log)
        finally:
            process.kill()


def wait_for(happens: Callable[[], object]) -> None:
    give_up = time.monotonic() + PATIENCE_S
    while not happens():
        assert time.monotonic() < give_up, "it did not happen"
        time.sleep(0.05)


def noted_as_sent(yard: Yard) -> bool:
    """Return whether both messages are down in the store as sent."""
    return yard.sql("SELECT count(*) FROM outbox WHERE state = 'sent'") == [(2,)]


class Wheel:
    """Steers the wall clock of a daemon."""

    def __init__(self, file: Path, start: datetime) -> None:
        self.file, self._count = file, 0
        file.write_text(start.isoformat())

    def step(self, by: timedelta) -> None:
        """Let the daemon's clock jump."""
        self._count += 1  # the same step twice is two changes of the file
        new = self.file.with_suffix(".new")
        new.write_text(f"{by.total_seconds()}{' ' * self._count}")
        new.replace(self.file)
