"""The daemon under clocks that jump, begin in 1970 or change to summer time and back.

The scheduler, the workers and the store are real; only the wall clock of the daemon is moved.
"""

import socket
from collections import Counter
from datetime import UTC, date, datetime, timedelta
from email.utils import format_datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from tests.conftest import DAMP, DRY, HOT_DRY, WEEK, Command, Mailbox, Phone, WeatherService, Yard
from tests.faults.daemons import STEERED, Daemon, Wheel, noted_as_sent, wait_for, watching
from tests.faults.serving import raw_server

from drywind.store import Store
from drywind.units import Thickness
from drywind.yard import Setup, Stack

ZONE = ZoneInfo("America/Chicago")
HOUR = timedelta(hours=1)

PATIENT_FOR_A_SECOND = "loop.PATIENCE_S, loop.RETRY_CLOCK_S = 1.0, 1"


def passes(daemon: Daemon) -> int:
    return daemon.count("INFO drywind: pass: ")


@pytest.mark.usefixtures("oak")
@pytest.mark.parametrize("hours", [2, -2], ids=["ahead", "back"])
def test_a_clock_that_jumps_brings_a_pass_at_once_and_says_nothing_twice(
    yard: Yard, mailbox: Mailbox, phone: Phone, hours: int
) -> None:
    wheel = Wheel(yard.folder / "steps", datetime.now(UTC))
    with watching(yard, "-c", STEERED, wheel.file, "") as daemon:
        wait_for(lambda: noted_as_sent(yard))
        before = passes(daemon)

        wheel.step(hours * HOUR)

        wait_for(lambda: passes(daemon) > before)
        assert daemon.said(f"the clock stepped by {3600 * hours:.0f} s")
    assert len(mailbox.mails) == len(phone.texts) == 1


@pytest.mark.usefixtures("oak")
def test_a_clock_that_begins_in_1970_is_waited_for_and_then_the_warning_comes(
    yard: Yard, mailbox: Mailbox, phone: Phone
) -> None:
    start = datetime(1970, 1, 1, tzinfo=UTC)
    wheel = Wheel(yard.folder / "steps", start)
    with watching(yard, "-c", STEERED, wheel.file, "") as daemon:
        wait_for(lambda: daemon.said("the clock of this computer says 1970-01-01T00:00"))
        assert not mailbox.mails
        assert not phone.texts

        wheel.step(datetime.now(UTC) - start)

        wait_for(lambda: mailbox.mails and phone.texts)
    assert yard.sql("SELECT count(*) FROM decision WHERE made_at < 1e9") == [(0,)]


@pytest.mark.usefixtures("oak")
def test_a_clock_that_stays_in_1970_is_told_once_even_over_a_restart(
    yard: Yard, mailbox: Mailbox, phone: Phone
) -> None:
    for _ in range(2):
        wheel = Wheel(yard.folder / "steps", datetime(1970, 1, 1, tzinfo=UTC))
        with watching(yard, "-c", STEERED, wheel.file, PATIENT_FOR_A_SECOND) as daemon:
            wait_for(lambda: daemon.count("ERROR drywind: pass: the clock") > 3)

    [text] = phone.texts
    assert text == (
        "drywind at Loopback Yard: its computer's clock seems wrong. Look at the stacks "
        "yourself. Check its internet, set its clock, start it again."
    )
    assert len(mailbox.mails) == 1


@pytest.mark.usefixtures("oak")
@pytest.mark.parametrize("off_by", [timedelta(hours=2), timedelta(days=-8)], ids=["slow", "fast"])
def test_a_clock_no_server_agrees_with_decides_nothing(
    yard: Yard, quick: Command, off_by: timedelta
) -> None:
    """A computer that was off for weeks may begin with the hour at which it was turned off."""
    told = format_datetime(datetime.now(UTC) + off_by, usegmt=True)

    def talk(connection: socket.socket) -> None:
        connection.sendall(f"HTTP/1.1 404 Not Found\r\nDate: {told}\r\n\r\n".encode())

    with raw_server(talk) as url:
        yard.configure(weather_url(yard), url)

        ended = quick("watch", "--once")

    assert ended.code == 3
    assert ended.stderr.startswith("the clock of this computer says ")
    assert yard.sql("SELECT count(*) FROM decision") == [(0,)]


def weather_url(yard: Yard) -> str:
    return next(line for line in yard.config.read_text().splitlines() if "nws_url" in line).split(
        '"'
    )[1]


@pytest.mark.parametrize(
    "start",
    [datetime(2027, 3, 13, 23, 30, tzinfo=ZONE), datetime(2027, 11, 6, 23, 30, tzinfo=ZONE)],
    ids=["spring", "fall"],
)
def test_on_a_day_the_clocks_change_chores_and_digest_come_once(
    yard: Yard, weather_service: WeatherService, start: datetime
) -> None:
    """From before that day to after it, three hours at each pass."""
    stacked_at = start.astimezone(UTC) - 30 * HOUR
    with Store(yard.data / "drywind.db") as store:
        store.add_stack(Stack("R7", "red_oak", Thickness.parse("4/4"), stacked_at, Setup("gravel")))
    yard.configure('hear = ["warnings", "all_clear"]', 'hear = ["warnings", "digest"]')
    weather_service.issue(start, [*[DAMP] * 10, *[HOT_DRY] * 30, *[DRY] * (WEEK - 40)])
    wheel = Wheel(yard.folder / "steps", start)
    with watching(yard, "-c", STEERED, wheel.file, "") as daemon:
        for done in range(9):
            wait_for(lambda: passes(daemon) > done)  # noqa: B023
            wheel.step(3 * HOUR)

    day = start.date() + timedelta(days=1)
    assert digests(yard) == {day: 1}
    assert daemon.count("INFO drywind: chores: done") == 2
    assert yard.sql("SELECT count(*) FROM decision GROUP BY key HAVING count(*) > 1") == []


def digests(yard: Yard) -> dict[date, int]:
    """Return how many digests were decided on each local day."""
    rows = yard.sql("SELECT made_at FROM decision WHERE hazard = 'digest'")
    return dict(Counter(datetime.fromtimestamp(at, ZONE).date() for (at,) in rows))


def test_a_wheel_moves_the_clock_that_the_scheduler_reads(tmp_path: Path) -> None:
    """The tests above would pass on a clock that stands."""
    wheel = Wheel(tmp_path / "steps", datetime(2030, 1, 1, tzinfo=UTC))

    wheel.step(HOUR)

    assert float(wheel.file.read_text()) == 3600
