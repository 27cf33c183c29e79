"""One message a blackout, and silence before, during and after it."""

from dataclasses import replace
from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from pydantic import SecretStr

from drywind.alerts.blind import blind_message, blindness
from drywind.alerts.decide import Before
from drywind.alerts.gsm7 import septets
from drywind.alerts.records import Decision, Reason
from drywind.alerts.troubles import decide_trouble
from drywind.alerts.wording import Reader
from drywind.config import Channel, Contact, Topic
from drywind.units import Units
from drywind.weather.seen import SiteWeather

START = datetime(2026, 6, 12, 18, tzinfo=UTC)
ZONE = ZoneInfo("America/Chicago")
ADA = Contact("Ada", Channel.TEXT, SecretStr("json://x"), frozenset(Topic), Units.US)


def told(
    issued_h: list[float | None], contact: Contact = ADA, hours: int = 96
) -> list[tuple[int, Reason]]:
    """Return at which hours what is decided, where the newest forecast at each hour is so old.

    `issued_h` is when, in hours from `START`, forecasts came; None is that none ever did.
    """
    before, found = Before(None), list[tuple[int, Reason]]()
    for hour in range(hours):
        now = START + timedelta(hours=hour)
        come = [at for at in issued_h if at is not None and at <= hour]
        issued = START + timedelta(hours=max(come)) if come else None
        weather = [SiteWeather("lot", issued, "nws: down", asked_since=START)]
        decision = decide_trouble(blindness(weather, now), contact, before, now, ZONE)
        if decision is not None:
            before = Before(decision)
            found.append((hour, decision.reason))
    return found


def test_a_blackout_is_told_once_a_day_after_the_last_forecast_and_its_end_only_noted() -> None:
    assert told([0.0, 60.0, 66.0, 72.0, 78.0, 84.0, 90.0]) == [
        (24, Reason.FIRST),
        (60, Reason.ALL_CLEAR),
    ]


def test_each_blackout_is_told() -> None:
    found = told([0.0, 30.0, 36.0], hours=90)

    assert found == [(24, Reason.FIRST), (30, Reason.ALL_CLEAR), (60, Reason.FIRST)]


def test_forecasts_that_are_late_by_hours_are_no_blackout() -> None:
    assert told([float(h) for h in range(0, 96, 23)]) == []


def test_a_network_that_is_not_up_yet_is_no_blackout_but_one_that_never_comes_is() -> None:
    assert told([None], hours=24) == []
    assert told([None], hours=72) == [(24, Reason.FIRST)]


def test_nobody_is_woken_for_it() -> None:
    asleep = replace(ADA, quiet=(time(10, 0), time(16, 0)))

    assert told([0.0], asleep, 48) == [(27, Reason.FIRST)]


def test_who_wants_no_warnings_is_not_told() -> None:
    deaf = Contact(
        "Ada", Channel.TEXT, SecretStr("json://x"), frozenset({Topic.ALL_CLEAR}), Units.US
    )

    assert told([0.0], deaf) == []


def test_one_site_without_weather_is_enough() -> None:
    weather = [SiteWeather("lot", START), SiteWeather("far lot", START - timedelta(hours=30))]

    decision = decide_trouble(blindness(weather, START), ADA, Before(None), START, ZONE)

    assert isinstance(decision, Decision)
    assert decision.reason is Reason.FIRST


CARE = "Look at the sky and cover what is fresh; check the internet of the drywind computer."


@pytest.mark.parametrize(
    ("issued", "last"),
    [
        (START - timedelta(hours=25), "last forecast Thu noon, 25 h old"),
        (None, "no forecast ever came"),
    ],
)
def test_the_words(issued: datetime | None, last: str) -> None:
    weather, reader = [SiteWeather("lot", issued, "nws: down")], Reader(Units.US, ZONE, START)

    message = blind_message(weather, reader)

    assert message.text == f"drywind is blind: {last}. {CARE}"
    assert septets(message.text) <= 160
    assert "lot: nws: down" in message.story
