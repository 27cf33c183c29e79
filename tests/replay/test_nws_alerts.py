"""Warnings, read from a small sample written for these tests in the service's format."""

import json
import logging
from copy import deepcopy
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from itertools import permutations
from pathlib import Path
from typing import Any

import pytest
from pytest_httpserver import HTTPServer

from drywind.errors import WeatherError
from drywind.weather.http import Getter
from drywind.weather.nws_alerts import Concern, Notice, fetch, matters, parse, standing

SAMPLE = Path(__file__).parent / "data" / "nws_alerts.json"
NOON = datetime(2026, 4, 11, 15, 30, tzinfo=UTC)


def sample() -> dict[str, Any]:
    body: dict[str, Any] = json.loads(SAMPLE.read_text())
    return body


def urn(number: int) -> str:
    return f"urn:oid:2.49.0.1.840.0.{number:04d}.001.1"


def numbers(notices: list[Notice]) -> list[int]:
    return [int(notice.id.split(".")[-3]) for notice in notices]


@pytest.fixture
def notices() -> list[Notice]:
    return parse(sample())


@pytest.fixture
def flag(notices: list[Notice]) -> Notice:
    return notices[0]


def test_a_message_is_read_with_its_times_in_utc(flag: Notice) -> None:
    assert flag == Notice(
        id=urn(3),
        event="Red Flag Warning",
        sent=datetime(2026, 4, 11, 12, tzinfo=UTC),
        onset=datetime(2026, 4, 11, 15, tzinfo=UTC),
        ends=datetime(2026, 4, 12, 0, tzinfo=UTC),
        expires=datetime(2026, 4, 11, 18, tzinfo=UTC),
        severity="Severe",
        headline="Red Flag Warning issued by NWS Blacksburg VA",
        references=frozenset({urn(2)}),
        vtec="KRNK.FW.W.0004",
        over=False,
    )


def test_the_last_word_on_each_event_stands(notices: list[Notice]) -> None:
    """An updated warning, a canceled watch and an advisory; a test never counts."""
    assert numbers(standing(notices, NOON)) == [4, 5, 3]
    assert 8 not in numbers(notices)


def test_the_order_in_which_messages_are_served_does_not_matter(notices: list[Notice]) -> None:
    for served in permutations(notices[:4]):
        assert numbers(standing(served, NOON)) == [4, 5, 3]


def test_a_message_another_one_replaces_falls_even_without_an_event_code(flag: Notice) -> None:
    old = replace(flag, id=urn(2), vtec="", references=frozenset(), sent=flag.sent - timedelta(1))

    assert standing([replace(flag, vtec=""), old], NOON) == [replace(flag, vtec="")]


def test_of_two_messages_about_one_event_the_later_stands_though_it_names_no_other(
    flag: Notice,
) -> None:
    later = replace(flag, id=urn(9), references=frozenset(), sent=flag.sent + timedelta(minutes=1))

    assert standing([later, flag], NOON) == [later]


def test_a_cancellation_for_a_neighbor_sent_at_the_same_time_does_not_end_ours(
    flag: Notice,
) -> None:
    neighbor = replace(flag, id=urn(9), over=True)

    assert standing([flag, neighbor], NOON) == [flag]
    assert standing([neighbor, flag], NOON) == [flag]


def test_a_warning_stands_to_its_end_though_its_message_expires_before(flag: Notice) -> None:
    """The message expired at 18:00, the weather lasts until midnight UTC."""
    assert flag.ends is not None
    assert standing([flag], flag.ends - timedelta(seconds=1)) == [flag]
    assert standing([flag], flag.ends) == []


def test_a_message_without_an_end_stands_until_it_is_to_be_replaced(flag: Notice) -> None:
    endless = replace(flag, ends=None)

    assert endless.expires is not None
    assert standing([endless], endless.expires - timedelta(seconds=1)) == [endless]
    assert standing([endless], endless.expires) == []


def test_a_message_that_gives_no_time_at_all_stands_while_it_is_served(flag: Notice) -> None:
    timeless = replace(flag, ends=None, expires=None)

    assert standing([timeless], NOON + timedelta(days=365)) == [timeless]


def test_a_warning_stands_before_it_begins(flag: Notice) -> None:
    assert standing([flag], datetime(2026, 4, 11, 12, 30, tzinfo=UTC)) == [flag]


@pytest.mark.parametrize("action", ["CAN", "EXP", "UPG"])
def test_an_event_code_that_ends_the_event_ends_it_whatever_the_message_is_called(
    action: str,
) -> None:
    body = sample()
    flag = body["features"][0]["properties"]
    flag["parameters"]["VTEC"] = [flag["parameters"]["VTEC"][0].replace("CON", action)]

    assert numbers(standing(parse(body), NOON)) == [4, 5]


def test_a_cancellation_ends_the_event_without_a_code_for_that() -> None:
    body = sample()
    body["features"][0]["properties"]["messageType"] = "Cancel"

    assert numbers(standing(parse(body), NOON)) == [4, 5]


@pytest.mark.parametrize("codes", [None, [], "no list", ["no code"], [7]])
def test_a_message_whose_event_code_cannot_be_read_is_kept(codes: object) -> None:
    body = sample()
    body["features"][0]["properties"]["parameters"]["VTEC"] = codes

    assert parse(body)[0].vtec == ""
    assert numbers(standing(parse(body), NOON)) == [4, 5, 3]


@pytest.mark.parametrize("name", ["onset", "ends", "expires"])
@pytest.mark.parametrize("time", ["soon", "2026-04-11T20:00:00", 7, None])
def test_a_time_that_cannot_be_read_is_unknown_and_loses_no_warning(
    name: str, time: object
) -> None:
    body = sample()
    body["features"][0]["properties"][name] = time

    assert getattr(parse(body)[0], name) is None


@pytest.mark.parametrize("references", [None, {}, "urn", [None], [{}], [{"identifier": 7}]])
def test_references_that_cannot_be_read_lose_no_warning(references: object) -> None:
    body = sample()
    body["features"][0]["properties"]["references"] = references

    assert parse(body)[0].references == frozenset()


@pytest.mark.parametrize("lost", ["id", "event", "sent", "status"])
def test_a_broken_message_is_logged_and_hides_no_other(
    lost: str, caplog: pytest.LogCaptureFixture
) -> None:
    body = sample()
    body["features"][2]["properties"][lost] = 7
    del body["features"][3]["properties"][lost]

    with caplog.at_level(logging.WARNING):
        notices = parse(body)

    assert numbers(notices) == [3, 2, 6, 7]
    assert "of the weather service's warnings cannot be read" in caplog.text


def test_an_answer_of_which_nothing_can_be_read_is_not_a_quiet_day() -> None:
    with pytest.raises(WeatherError, match="none of the weather service's warnings"):
        parse({"features": [{"properties": {}}, 7]})


@pytest.mark.parametrize("body", [{}, {"features": None}, {"features": {}}])
def test_an_answer_that_is_no_list_is_not_a_quiet_day(body: dict[str, Any]) -> None:
    with pytest.raises(WeatherError, match="is no list"):
        parse(body)


def test_an_empty_list_is_a_quiet_day() -> None:
    assert parse({"features": []}) == []


def test_reading_does_not_change_the_answer() -> None:
    body = sample()
    before = deepcopy(body)

    parse(body)

    assert body == before


@pytest.mark.parametrize(
    ("event", "concern"),
    [
        ("Red Flag Warning", Concern.DRY_WIND),
        ("Fire Weather Watch", Concern.DRY_WIND),
        ("Wind Advisory", Concern.WIND),
        ("High Wind Warning", Concern.WIND),
        ("Dust Storm Warning", Concern.WIND),
        ("Heat Advisory", Concern.HEAT),
        ("Excessive Heat Warning", Concern.HEAT),
        ("Extreme Heat Warning", Concern.HEAT),
        ("Severe Thunderstorm Warning", Concern.RAIN),
        ("Freeze Warning", Concern.FROST),
        ("Hard Freeze Watch", Concern.FROST),
        ("RED FLAG  warning ", Concern.DRY_WIND),
        ("Dense Smoke Advisory", None),
        ("Beach Hazards Statement", None),
        ("Lake Wind Advisory", None),
    ],
)
def test_an_event_matters_by_its_name_however_it_is_spelled(
    flag: Notice, event: str, concern: Concern | None
) -> None:
    assert matters(replace(flag, event=event)) is concern


def test_warnings_are_asked_for_at_the_place(httpserver: HTTPServer) -> None:
    httpserver.expect_request(
        "/alerts/active", query_string={"point": "37.25,-80.5"}
    ).respond_with_json(sample())

    notices = fetch(Getter("yard@mill.example"), httpserver.url_for("/"), 37.25000001, -80.5)

    assert numbers(notices) == [3, 2, 4, 5, 6, 7]
