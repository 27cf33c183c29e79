"""The daemon as a process of its own: killed, hung, started twice, and failing in mid-pass."""

import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

import pytest
from tests.conftest import HOT_DRY, WEEK, Command, Mailbox, Phone, WeatherService, Yard

PATIENCE_S = 20.0
"""How long a daemon on a busy machine may take to start and do a pass."""

STOPS_WITHIN_S = 25.0
"""A service manager kills what does not stop by itself; ours is told to wait a little longer."""

FIRST_PASS_RAISES = """\
import sys, time, types
from pathlib import Path
from drywind import daemon
from drywind.cli import main

stepped = Path(sys.argv[1])
real_pass = daemon.run_pass

def run_pass(*arguments):
    if not stepped.exists():
        raise ZeroDivisionError("nobody foresaw this")
    return real_pass(*arguments)

daemon.run_pass = run_pass
daemon.time = types.SimpleNamespace(
    time=lambda: time.time() + 3600 * stepped.exists(), monotonic=time.monotonic
)
main(["watch"])
"""
"""`drywind watch`, whose passes raise and whose wall clock is right until a file is there; from
then on the passes are in order and the clock is an hour ahead."""


class Daemon:
    """A daemon that is watching, and what it has logged so far."""

    def __init__(self, process: subprocess.Popen[bytes], log: Path) -> None:
        self.process = process
        self._log = log

    def said(self, words: str) -> bool:
        """Return whether it has logged these words."""
        return words in self._log.read_text()

    def stop(self) -> float:
        """Stop it like a service manager, see it end well; return how long that took, seconds."""
        asked = time.monotonic()
        self.process.send_signal(signal.SIGTERM)
        assert self.process.wait(STOPS_WITHIN_S) == 0
        return time.monotonic() - asked


@contextmanager
def watching(yard: Yard, *command: str) -> Iterator[Daemon]:
    """Start the daemon, and see to it that it is gone in the end."""
    log = yard.folder / "daemon.log"
    with (
        log.open("wb") as output,
        subprocess.Popen(
            [sys.executable, *(command or ("-m", "drywind", "watch"))], stderr=output
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


@pytest.fixture
def oak(quick: Command, weather_service: WeatherService) -> None:
    """Fresh red oak stacked now, and a hot dry wind from now on."""
    wood = ("--species", "red oak", "--thickness", "4/4", "--site", "shed")
    assert quick("stack", "add", "R7", *wood).code == 0
    weather_service.issue(datetime.now(UTC), [HOT_DRY] * WEEK)


@pytest.mark.usefixtures("oak")
def test_the_first_pass_comes_at_once_and_sigterm_ends_the_daemon_well(
    yard: Yard, mailbox: Mailbox, phone: Phone
) -> None:
    with watching(yard) as daemon:
        wait_for(lambda: mailbox.mails and phone.texts)
        daemon.stop()

        assert daemon.said("INFO drywind: stopped")
    assert "drying too fast" in mailbox.mails[0]["Subject"]


@pytest.mark.usefixtures("oak")
def test_sigterm_ends_the_daemon_in_time_though_the_weather_service_hangs(
    yard: Yard, weather_service: WeatherService
) -> None:
    weather_service.mode = "hangs"
    with watching(yard) as daemon:
        wait_for(lambda: weather_service.requests)

        assert daemon.stop() < STOPS_WITHIN_S


@pytest.mark.usefixtures("oak")
def test_a_second_daemon_on_the_same_data_says_so_and_leaves_the_first_alone(
    yard: Yard, run: Command
) -> None:
    with watching(yard) as first:
        wait_for(lambda: first.said("watching Loopback Yard"))

        second = run("watch")

        assert second.code == 2
        assert second.stderr == f"another drywind watches {yard.data} already; stop it first\n"
        assert first.process.poll() is None


@pytest.mark.usefixtures("oak")
def test_kill_nine_after_the_mail_and_a_new_start_send_nothing_twice(
    yard: Yard, mailbox: Mailbox, phone: Phone
) -> None:
    with watching(yard) as daemon:
        wait_for(lambda: mailbox.mails and noted_as_sent(yard))
        daemon.process.kill()

    with watching(yard) as daemon:
        wait_for(lambda: daemon.said("pass: 1 stacks, 0 new decisions"))
        daemon.stop()

    assert len(mailbox.mails) == len(phone.texts) == 1


@pytest.mark.usefixtures("oak")
def test_a_pass_that_raises_does_not_end_the_daemon_and_a_clock_that_steps_brings_the_next(
    yard: Yard, mailbox: Mailbox, phone: Phone
) -> None:
    stepped = yard.folder / "stepped"
    with watching(yard, "-c", FIRST_PASS_RAISES, str(stepped)) as daemon:
        wait_for(lambda: daemon.said("nobody foresaw this"))

        stepped.touch()

        wait_for(lambda: mailbox.mails and phone.texts)
        assert daemon.process.poll() is None
