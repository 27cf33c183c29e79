"""The daemon as a process of its own: killed, hung, started twice, and failing in mid-pass."""

import pytest
from tests.conftest import Command, Mailbox, Phone, WeatherService, Yard
from tests.faults.daemons import STOPS_WITHIN_S, noted_as_sent, wait_for, watching

PASSES_RAISE = """\
import sys
from drywind.cli import main
from drywind.daemon import work

work.WORKER = ("-c", "raise ZeroDivisionError('nobody foresaw this')")
main(["watch"])
"""


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
def test_a_pass_that_raises_does_not_end_the_daemon(yard: Yard) -> None:
    with watching(yard, "-c", PASSES_RAISE) as daemon:
        wait_for(lambda: daemon.said("nobody foresaw this"))
        wait_for(lambda: daemon.said("pass was not done: it ended with 1 and without a word"))

        daemon.stop()
