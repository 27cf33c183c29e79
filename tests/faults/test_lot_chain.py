"""Log lots from the saw yard to the phone: real HTTP, a real database, a real push endpoint."""

from datetime import UTC, datetime, timedelta

import pytest
from tests.conftest import WEEK, Command, Hour, Phone, WeatherService

NOW = datetime(2026, 6, 12, 18, 0, tzinfo=UTC)
DAY = timedelta(days=1)
WARM: Hour = (30.0, 70.0, 1.0)
COLD: Hour = (4.0, 70.0, 1.0)


def one_pass(quick: Command, now: datetime = NOW) -> list[tuple[str, str]]:
    """Do a pass; return what was decided of lots."""
    done = quick("watch", "--once", "--json", "--now", now.isoformat())
    assert done.code == 0, done.stderr
    found = [d for d in done.json["decisions"] if d["hazard"] == "waiting"]
    return [(d["stack"], d["reason"]) for d in found if d["contact"] == "Ada phone"]


@pytest.fixture
def lot(quick: Command) -> None:
    felled = (NOW - DAY).isoformat()
    wood = ("--species", "hard_maple", "--felled", felled, "--site", "gravel")
    assert quick("lot", "add", "L4", *wood).code == 0


@pytest.mark.usefixtures("lot")
def test_maple_logs_in_warm_weather_are_told_of_once(
    quick: Command, weather_service: WeatherService, phone: Phone
) -> None:
    weather_service.issue(NOW, [WARM] * WEEK)

    assert one_pass(quick) == [("L4", "first")]
    assert one_pass(quick, NOW + 6 * timedelta(hours=1)) == [("L4", "nothing_new")]
    [text] = phone.texts
    assert text.startswith("drywind lot L4 hard maple logs, gravel: saw and put on stickers ")
    assert "Sugar stain likely from " in text


@pytest.mark.usefixtures("lot")
def test_logs_in_the_cold_and_lots_that_are_ended_are_silence(
    quick: Command, weather_service: WeatherService, phone: Phone
) -> None:
    weather_service.issue(NOW, [COLD] * WEEK)
    assert one_pass(quick) == [("L4", "nothing_new")]

    assert quick("lot", "end", "L4", "--at", NOW.isoformat()).code == 0
    weather_service.issue(NOW + timedelta(hours=2), [WARM] * WEEK)
    assert one_pass(quick, NOW + timedelta(hours=3)) == []
    assert phone.texts == []


@pytest.mark.usefixtures("lot")
def test_a_lot_that_was_told_of_can_be_acknowledged_and_asks_for_action(
    quick: Command, weather_service: WeatherService
) -> None:
    weather_service.issue(NOW, [WARM] * WEEK)
    one_pass(quick)
    later = ("--now", (NOW + timedelta(hours=1)).isoformat())

    assert quick("watch", "--once", "--exit-code", "--json", *later).code == 1
    told = quick("ack", "L4", *later)
    assert told.code == 0
    assert "L4, waiting: acknowledged" in told.stdout
