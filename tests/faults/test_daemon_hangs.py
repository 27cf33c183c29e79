"""A daemon whose jobs hang: they are ended, and the service manager hears only of what works."""

import os
import socket
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from pytest_httpserver import HTTPServer
from tests.conftest import Mailbox, WeatherService, Yard
from tests.faults.daemons import noted_as_sent, wait_for, watching

QUICK_TO_GIVE_UP = """\
from drywind.cli import main
from drywind.daemon import loop

loop.PASS_DEADLINE_S, loop.RETRY_PASS_S = 15.0, 1
main(["watch"])
"""

NEVER_ENDS = """\
from drywind.cli import main
from drywind.daemon import loop, vitals, work

work.WORKER = ("-c", "import time; time.sleep(600)")
loop.Vitals = lambda limits: vitals.Vitals({**limits, "pass": 3.0})
main(["watch"])
"""


class Manager:
    """A service manager's socket."""

    def __init__(self, listener: socket.socket) -> None:
        self._listener = listener
        self.heard: list[str] = []

    def listen(self) -> list[str]:
        """Take in what was said since, and return all of it."""
        while True:
            try:
                self.heard += self._listener.recv(4096, socket.MSG_DONTWAIT).decode().split("\n")
            except BlockingIOError:
                return self.heard


@contextmanager
def manager(folder: Path, monkeypatch: pytest.MonkeyPatch, watchdog_s: float) -> Iterator[Manager]:
    """Have daemons started from here notify a service manager."""
    address = f"@drywind-{os.getpid()}-{folder.name}"
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as listener:
        listener.bind(f"\0{address[1:]}")
        monkeypatch.setenv("NOTIFY_SOCKET", address)
        monkeypatch.setenv("WATCHDOG_USEC", str(int(watchdog_s * 1e6)))
        monkeypatch.delenv("WATCHDOG_PID", raising=False)
        yield Manager(listener)


@pytest.mark.usefixtures("oak")
def test_the_manager_hears_that_it_is_ready_that_it_lives_and_that_it_stops(
    yard: Yard, monkeypatch: pytest.MonkeyPatch
) -> None:
    with manager(yard.folder, monkeypatch, watchdog_s=3.0) as heard, watching(yard) as daemon:
        wait_for(lambda: any("1 stacks" in line for line in heard.listen()))
        assert heard.heard.index("READY=1") == 0
        before = heard.listen().count("WATCHDOG=1")
        wait_for(lambda: heard.listen().count("WATCHDOG=1") >= before + 2)

        daemon.stop()

        assert heard.listen()[-1] == "STOPPING=1"


@pytest.mark.usefixtures("oak")
def test_a_pass_that_never_ends_is_not_reported_as_life(
    yard: Yard, monkeypatch: pytest.MonkeyPatch
) -> None:
    with (
        manager(yard.folder, monkeypatch, watchdog_s=3.0) as heard,
        watching(yard, "-c", NEVER_ENDS) as daemon,
    ):
        wait_for(lambda: "WATCHDOG=1" in heard.listen())
        wait_for(lambda: daemon.said("ERROR drywind: pass came to no end in time"))
        before = heard.listen().count("WATCHDOG=1")
        time.sleep(3.5)  # the manager would restart it by now

        assert heard.listen().count("WATCHDOG=1") == before


@pytest.mark.usefixtures("oak")
def test_a_pass_that_hangs_is_ended_with_all_it_started_and_tried_again(
    yard: Yard, weather_service: WeatherService, mailbox: Mailbox
) -> None:
    weather_service.mode = "hangs"
    with watching(yard, "-c", QUICK_TO_GIVE_UP) as daemon:
        wait_for(lambda: daemon.said("pass did not end within 15 s and was ended"))
        assert not workers_of(yard)

        weather_service.mode = "up"
        weather_service.over.set()

        wait_for(lambda: mailbox.mails)


def workers_of(yard: Yard) -> list[str]:
    """Return the command lines of workers for a yard that still run."""
    lines = []
    for process in Path("/proc").glob("[0-9]*/cmdline"):
        try:
            line = process.read_bytes().replace(b"\0", b" ").decode()
        except OSError:
            continue
        if "drywind.daemon.worker" in line and str(yard.folder) in line:
            lines.append(line)
    return lines


@pytest.mark.usefixtures("oak")
def test_a_heartbeat_tells_good_passes_from_passes_without_weather(
    yard: Yard, loopback: HTTPServer, weather_service: WeatherService
) -> None:
    loopback.expect_request("/beat/well").respond_with_data("thanks")
    loopback.expect_request("/beat/failed").respond_with_data("thanks")
    yard.configure(
        "[weather]",
        f'[heartbeat]\nurl = "{loopback.url_for("/beat/well")}"\n'
        f'failure_url = "{loopback.url_for("/beat/failed")}"\n\n[weather]',
    )

    def beats() -> list[str]:
        return [r.path for r, _ in loopback.log if r.path.startswith("/beat")]

    with watching(yard):
        wait_for(beats)
    assert beats() == ["/beat/well"]

    yard.sql("DELETE FROM weather_hour")
    weather_service.mode = "down"
    with watching(yard):
        wait_for(lambda: len(beats()) > 1)
    assert beats() == ["/beat/well", "/beat/failed"]


@pytest.mark.usefixtures("oak")
def test_a_heartbeat_nobody_answers_harms_nothing(yard: Yard, dead_port: int) -> None:
    yard.configure("[weather]", f'[heartbeat]\nurl = "http://127.0.0.1:{dead_port}/x"\n[weather]')

    with watching(yard) as daemon:
        wait_for(lambda: noted_as_sent(yard) and daemon.said("heartbeat not accepted"))

        assert str(dead_port) not in daemon.log
