"""Weather gathered into a real store from services that fail one by one, over loopback sockets."""

import logging
import socket
import threading
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from email.utils import format_datetime
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from pytest_httpserver import HTTPServer
from tests.faults.forecasters import (
    ARCHIVE_C,
    CHICAGO,
    HOUR,
    MET_C,
    OBSERVED_C,
    US_C,
    Forecasters,
    Hasty,
    Reply,
    fails,
    says,
    us_alert,
    us_grid,
)
from werkzeug import Request, Response

from drywind.clock import floor_hour, utc_now
from drywind.config import Config, Policy, Service, WeatherSettings
from drywind.gather import ARCHIVE, FILL_EVERY, fetch_weather, fresh_ensemble
from drywind.store import Store
from drywind.units import Units
from drywind.weather.choice import OBSERVED, best_hours
from drywind.weather.hour import WeatherHour
from drywind.weather.seen import SiteWeather
from drywind.weather.services import order
from drywind.yard import Site

NWS, MET, OPEN_METEO = Service.NWS, Service.MET_NORWAY, Service.OPEN_METEO
NOW = datetime(2026, 6, 12, 18, tzinfo=UTC)
DAY = timedelta(days=1)
LOT = Site("lot", CHICAGO.lat, CHICAGO.lon, CHICAGO.altitude_m)


@dataclass(frozen=True)
class Chain:
    """The lot's weather services and its store."""

    store: Store
    settings: WeatherSettings

    def gather(self, now: datetime, since: datetime | None = None) -> SiteWeather:
        """Do what a pass does for weather."""
        [found] = self.gather_for([LOT], now, since)
        return found

    def gather_for(
        self, sites: list[Site], now: datetime, since: datetime | None = None
    ) -> tuple[SiteWeather, ...]:
        """Do it for several sites."""
        named = {site.name: site for site in sites}
        zone = ZoneInfo("America/Chicago")
        config = Config(
            "Yard", zone, Units.US, Path(), self.settings, named, contacts={}, policy=Policy()
        )
        return fetch_weather(config, self.store, Hasty(), now, since)

    def told(self, hour: datetime) -> dict[str, float]:
        """Return the temperature each service told of an hour, °C."""
        hours = self.store.hours(LOT.place, hour, hour + HOUR)
        return {told.source: told.temp_c for told in hours}

    def believed(self, now: datetime, hour: datetime) -> float | None:
        """Return the temperature that is believed of an hour, °C."""
        told = self.store.hours(LOT.place, hour - DAY, hour + DAY)
        best = best_hours(told, now, order(self.settings, CHICAGO))
        return {known.time_utc: known.temp_c for known in best}.get(hour)


@pytest.fixture
def far(loopback: HTTPServer) -> Iterator[Forecasters]:
    yield Forecasters(loopback)
    loopback.clear()


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store(tmp_path / "drywind.db") as opened:
        yield opened


@pytest.fixture
def chain(far: Forecasters, store: Store) -> Chain:
    """Ask the US service first and MET Norway second, as in Chicago, and Open-Meteo not at all."""
    return Chain(store, far.settings())


@pytest.fixture
def wide(far: Forecasters, store: Store) -> Chain:
    """Ask all three, the third with a key."""
    return Chain(store, far.with_open_meteo(open_meteo_key="hunter2"))


@pytest.fixture(autouse=True)
def looked_up(monkeypatch: pytest.MonkeyPatch) -> Iterator[list[str]]:
    """Find that no name was looked up: every request goes to an address of loopback."""
    names: list[str] = []

    def look_up(host: str, *_: Any, **__: Any) -> Any:
        names.append(host)
        raise socket.gaierror(socket.EAI_NONAME, "no name is looked up here")

    monkeypatch.setattr(socket, "getaddrinfo", look_up)
    yield names
    assert names == []


def test_while_the_first_service_answers_no_other_is_asked(far: Forecasters, chain: Chain) -> None:
    far.us(NOW)
    far.met(NOW)

    found = chain.gather(NOW)

    assert found == SiteWeather("lot", NOW, None, NWS)
    assert far.asked == ["us points", "us grid", "us alerts"]
    assert chain.believed(NOW, NOW + 9 * HOUR) == US_C


def test_sites_at_one_place_share_one_forecast_and_other_places_have_their_own(
    far: Forecasters, chain: Chain
) -> None:
    far.us(NOW)
    sites = [LOT, replace(LOT, name="shed"), replace(LOT, name="far lot", lat=42.5)]

    found = chain.gather_for(sites, NOW)

    assert [(one.site, one.source) for one in found] == [(site.name, NWS) for site in sites]
    places = [request.path.removeprefix("/us/points/") for request in far.put("us points")]
    assert places == ["41.98,-87.9", "42.5,-87.9"]


def hangs(_: Request) -> Response:
    threading.Event().wait(0.8)
    return Response(status=200)


TROUBLES: dict[str, tuple[Reply, str]] = {
    "error": (fails(500), "answered 500"),
    "says no": (fails(403), "answered 403"),
    "hangs": (hangs, "gave no full answer within 0.5 s"),
    "web page": (lambda _: Response("<html>", mimetype="text/html"), "other than JSON"),
    "broken": (lambda _: Response("{", mimetype="application/json"), "broken JSON"),
    "empty": (says({}), "has no properties"),
    "unknown unit": (says(us_grid(NOW + 13 * HOUR, unit="degF")), "no hour with temperature"),
    "no time of issue": (says({"properties": {}}), "does not say when it was issued"),
    "moved": (lambda _: Response(status=302, headers={"Location": "http://w.test/"}), "host"),
}


@pytest.mark.parametrize("trouble", TROUBLES)
def test_a_first_service_in_trouble_is_believed_for_half_a_day_and_then_the_second(
    far: Forecasters, chain: Chain, trouble: str
) -> None:
    far.us(NOW)
    chain.gather(NOW)
    far.replies["us grid"], wrong = TROUBLES[trouble]
    far.requests.clear()

    soon = chain.gather(NOW + 12 * HOUR)
    asked_soon = far.asked.copy()
    later = NOW + 13 * HOUR
    far.met(later)
    late = chain.gather(later)

    assert (soon.source, soon.issued_at) == (NWS, NOW)
    assert asked_soon == ["us grid"]
    assert (late.source, late.issued_at) == (MET, later)
    for error in (soon.error, late.error):
        assert error is not None
        assert error.startswith("nws: ")
        assert wrong in error
    hour = later + 9 * HOUR
    assert chain.told(hour) == {NWS: US_C, MET: MET_C}
    assert chain.believed(later, hour) == MET_C


def test_a_service_nobody_listens_for_costs_no_other_its_word(
    far: Forecasters, store: Store
) -> None:
    with socket.create_server(("127.0.0.1", 0)) as nobody:
        port = nobody.getsockname()[1]
    far.met(NOW)

    found = Chain(store, far.settings(nws_url=f"http://127.0.0.1:{port}")).gather(NOW)

    assert found.source == MET
    assert found.error is not None
    assert f"nws: 127.0.0.1:{port}/points/41.98,-87.9 could not be reached" in found.error


def test_the_first_service_is_believed_again_once_it_is_back(
    far: Forecasters, chain: Chain
) -> None:
    far.replies["us points"] = fails(503)
    far.met(NOW)
    chain.gather(NOW)
    far.us(NOW + HOUR)

    found = chain.gather(NOW + HOUR)

    assert found == SiteWeather("lot", NOW + HOUR, None, NWS)
    assert chain.believed(NOW + HOUR, NOW + 9 * HOUR) == US_C


def test_where_every_service_fails_one_line_says_what_each_answered(
    far: Forecasters, chain: Chain
) -> None:
    far.replies |= {"us points": fails(500), "met": fails(503)}

    found = chain.gather(NOW)

    assert (found.source, found.issued_at) == (None, None)
    assert found.error is not None
    first, second = found.error.split("; ")
    assert first.startswith("nws: 127.0.0.1:")
    assert first.endswith("/us/points/41.98,-87.9 answered 500")
    assert second.startswith("met_norway: 127.0.0.1:")
    assert second.endswith("/met/locationforecast/2.0/complete answered 503")
    assert "\n" not in found.error


def test_while_every_service_fails_the_newest_forecast_is_believed_for_two_days(
    far: Forecasters, chain: Chain
) -> None:
    far.us(NOW)
    chain.gather(NOW)
    far.replies = {"us grid": fails(500), "met": fails(500)}

    two_days, more = (chain.gather(NOW + age) for age in (48 * HOUR, 48 * HOUR + HOUR / 60))

    assert (two_days.source, two_days.issued_at) == (NWS, NOW)
    assert (more.source, more.issued_at) == (None, NOW)
    assert chain.believed(NOW + 48 * HOUR, NOW + 50 * HOUR) == US_C
    assert chain.believed(NOW + 49 * HOUR, NOW + 50 * HOUR) is None


def test_an_old_error_of_a_service_that_is_no_longer_needed_is_not_told(
    far: Forecasters, chain: Chain
) -> None:
    far.replies |= {"us points": fails(500), "met": fails(500)}
    chain.gather(NOW)
    far.us(NOW + HOUR)

    found = chain.gather(NOW + HOUR)

    assert (found.source, found.error) == (NWS, None)


def test_a_fresh_forecast_that_is_over_already_sends_on_to_the_next_service(
    far: Forecasters, chain: Chain
) -> None:
    """The US service has put out grids that end after some hours."""
    far.us(NOW)
    far.replies["us grid"] = says(us_grid(NOW, hours=2))
    far.met(NOW + 3 * HOUR)
    chain.gather(NOW)

    found = chain.gather(NOW + 3 * HOUR)

    assert found.source == MET


def test_met_norway_is_asked_only_after_its_answer_expires_and_no_news_keep_the_forecast(
    far: Forecasters, store: Store
) -> None:
    """Expiry is told by the machine's own clock, so the passes are of today."""
    now = utc_now().replace(microsecond=0)
    issued, good_until = (format_datetime(t, usegmt=True) for t in (now, now + HOUR / 2))
    far.met(now, Last_Modified=issued, Expires=good_until, Date=issued)
    chain = Chain(store, far.settings(services=(MET,)))

    chain.gather(now)
    far.replies["met"] = fails(304)
    early, late = chain.gather(now + HOUR / 3), chain.gather(now + HOUR)

    assert far.asked == ["met", "met"]
    assert far.requests[1].headers["If-Modified-Since"] == issued
    assert early == late == SiteWeather("lot", now, None, MET)
    assert chain.believed(now + HOUR, floor_hour(now) + 9 * HOUR) == MET_C


def test_a_service_that_said_no_is_not_asked_again_that_day_though_the_program_restarts(
    far: Forecasters, tmp_path: Path
) -> None:
    far.replies["us points"] = fails(403)
    for hours in (0, 1, 23, 24):
        far.met(NOW + hours * HOUR)
        with Store(tmp_path / "again.db") as store:
            found = Chain(store, far.settings()).gather(NOW + hours * HOUR)
        assert found.source == MET

    assert far.asked == ["us points", "met", "met", "met", "us points", "met"]


def test_what_was_observed_fills_the_hours_since_stacking_and_is_preferred(
    far: Forecasters, chain: Chain
) -> None:
    far.us(NOW - 9 * HOUR)
    far.us_reports(NOW - 6 * HOUR, count=6)

    found = chain.gather(NOW, since=NOW - 6 * HOUR + HOUR / 2)

    assert found.error is None
    [reports] = far.put("us reports")
    assert reports.args["start"] == "2026-06-12T11:30:00Z"
    assert reports.args["end"] == "2026-06-12T18:00:00Z"
    assert chain.told(NOW - HOUR) == {NWS: US_C, OBSERVED: OBSERVED_C}
    assert chain.believed(NOW, NOW - HOUR) == OBSERVED_C
    assert chain.believed(NOW, NOW - 7 * HOUR) == US_C
    assert chain.believed(NOW, NOW) == US_C


def test_a_forecast_issued_later_does_not_undo_what_was_observed(
    far: Forecasters, chain: Chain
) -> None:
    far.us(NOW)
    far.us_reports(NOW - 6 * HOUR, count=6)
    chain.gather(NOW, since=NOW - 6 * HOUR)
    far.us(NOW - 3 * HOUR)
    far.replies["us reports"] = fails(500)

    chain.gather(NOW + 9 * HOUR, since=NOW - 6 * HOUR)

    assert chain.believed(NOW + 9 * HOUR, NOW - HOUR) == OBSERVED_C


@pytest.mark.parametrize("trouble", [404, 403, 500])
def test_observations_that_cannot_be_had_cost_no_forecast_and_are_no_error_of_the_site(
    far: Forecasters, chain: Chain, trouble: int
) -> None:
    far.us(NOW)
    far.us_reports(NOW - 6 * HOUR, count=6)
    far.replies["us reports"] = fails(trouble)

    found = chain.gather(NOW, since=NOW - 6 * HOUR)

    assert far.put("us reports")
    assert found == SiteWeather("lot", NOW, None, NWS)
    assert chain.told(NOW - HOUR) == {}


@pytest.mark.parametrize(("status", "asked_at"), [(200, [0, 3, 6]), (500, [0, 3, 6]), (403, [0])])
def test_past_hours_are_asked_for_at_most_every_three_hours_and_not_that_day_after_a_no(
    far: Forecasters, chain: Chain, status: int, asked_at: list[int]
) -> None:
    asked = []
    for hours in range(8):
        now = NOW + hours * HOUR
        far.us(now)
        far.us_reports(NOW - 6 * HOUR, count=6 + hours)
        if status != 200:
            far.replies["us stations"] = fails(status)
        far.requests.clear()
        chain.gather(now, since=NOW - 6 * HOUR)
        if "us stations" in far.asked:
            asked.append(hours)

    assert timedelta(hours=3) == FILL_EVERY
    assert asked == asked_at


def test_without_a_stack_no_past_hours_are_asked_for(far: Forecasters, wide: Chain) -> None:
    far.us(NOW)
    far.us_reports(NOW - 6 * HOUR, count=6)

    wide.gather(NOW)
    wide.gather(NOW, since=NOW)

    assert set(far.asked) == {"us points", "us grid", "us alerts"}


@pytest.mark.parametrize("down", ["us points", "us grid"])
def test_a_service_whose_forecast_just_failed_is_asked_for_nothing_else_in_that_pass(
    far: Forecasters, chain: Chain, down: str
) -> None:
    far.us(NOW)
    far.us_reports(NOW - 6 * HOUR, count=6)
    far.met(NOW)
    far.replies[down] = fails(500)

    found = chain.gather(NOW, since=NOW - 6 * HOUR)

    assert found.source == MET
    assert far.asked == ["us points", *["us grid"] * (down == "us grid"), "met"]


def test_a_warning_of_the_us_service_that_matters_to_stacks_is_told_of_the_site(
    far: Forecasters, chain: Chain
) -> None:
    far.us(NOW)
    told = {"Red Flag Warning": 3, "Tornado Warning": 3, "Wind Advisory": -1}
    alerts = [us_alert(event, NOW + hours * HOUR) for event, hours in told.items()]
    far.replies["us alerts"] = says({"features": alerts})

    found = chain.gather(NOW)

    assert [notice.event for notice in found.notices] == ["Red Flag Warning"]
    assert far.put("us alerts")[0].args["point"] == "41.98,-87.9"


@pytest.mark.parametrize("reply", [fails(500), fails(403), says({}), hangs])
def test_warnings_that_cannot_be_had_cost_no_forecast(
    far: Forecasters, chain: Chain, reply: Reply
) -> None:
    far.us(NOW)
    far.replies["us alerts"] = reply

    assert chain.gather(NOW) == SiteWeather("lot", NOW, None, NWS)
    assert far.put("us alerts")


def test_where_the_us_service_is_not_asked_nor_are_its_stations_or_warnings(
    far: Forecasters, store: Store
) -> None:
    far.us(NOW)
    far.us_reports(NOW - 6 * HOUR, count=6)
    far.met(NOW)

    Chain(store, far.settings(services=(MET,))).gather(NOW, since=NOW - 6 * HOUR)

    assert far.asked == ["met"]


def test_a_pass_between_two_seconds_asks_for_observations_and_warnings_too(
    far: Forecasters, chain: Chain
) -> None:
    """The daemon's passes begin at any microsecond."""
    far.us(NOW)
    far.us_reports(NOW - 6 * HOUR, count=6)

    chain.gather(NOW + timedelta(microseconds=1), since=NOW - 6 * HOUR)

    assert {"us reports", "us alerts"} <= set(far.asked)


def test_old_gaps_are_filled_from_the_archive_up_to_where_it_ends(
    far: Forecasters, wide: Chain
) -> None:
    far.us(NOW)
    far.open_meteo_archive()

    wide.gather(NOW, since=NOW - 20 * DAY)

    [asked] = far.put("om archive")
    assert (asked.args["start_date"], asked.args["end_date"]) == ("2026-05-23", "2026-06-06")
    assert wide.told(NOW - 20 * DAY) == wide.told(NOW - 7 * DAY) == {ARCHIVE: ARCHIVE_C}
    assert wide.believed(NOW, NOW - 7 * DAY) == ARCHIVE_C
    assert wide.told(NOW - 5 * DAY) == {}


def test_the_archive_is_not_asked_for_what_is_known_or_too_young_for_it(
    far: Forecasters, wide: Chain
) -> None:
    far.us(NOW)
    far.open_meteo_archive()

    wide.gather(NOW, since=NOW - 20 * DAY)
    wide.gather(NOW + 3 * HOUR, since=NOW - 20 * DAY)
    wide.gather(NOW + 6 * HOUR, since=NOW - 5 * DAY)

    assert far.asked.count("om archive") == 1


def test_the_archive_is_never_asked_where_open_meteo_may_not_be(
    far: Forecasters, chain: Chain
) -> None:
    far.us(NOW)
    far.open_meteo_archive()

    chain.gather(NOW, since=NOW - 20 * DAY)

    assert not [name for name in far.asked if name.startswith("om")]


@pytest.mark.parametrize(("status", "asked_at"), [(500, [0, 3, 6]), (400, [0, 24])])
def test_an_archive_in_trouble_is_asked_again_in_three_hours_and_the_next_day_after_a_no(
    far: Forecasters, wide: Chain, status: int, asked_at: list[int]
) -> None:
    far.replies["om archive"] = fails(status)
    asked = []
    for hours in (0, 1, 2, 3, 5, 6) if status == 500 else (0, 3, 23, 24):
        far.us(NOW + hours * HOUR)
        far.requests.clear()
        found = wide.gather(NOW + hours * HOUR, since=NOW - 20 * DAY)
        assert found.error is None
        if "om archive" in far.asked:
            asked.append(hours)

    assert asked == asked_at


def test_the_archive_is_never_asked_for_days_that_end_before_they_begin(
    far: Forecasters, wide: Chain
) -> None:
    """As of a stack that has stood for two years while drywind was off for the first weeks."""
    far.us(NOW)
    far.open_meteo_archive()
    known = [NOW - 450 * DAY + n * HOUR for n in range(450 * 24)]
    wide.store.save_hours(LOT.place, [hour_of(time) for time in known])

    wide.gather(NOW, since=NOW - 460 * DAY)

    for request in far.put("om archive"):
        first, last = (date.fromisoformat(request.args[f"{end}_date"]) for end in ("start", "end"))
        assert first <= last


def hour_of(time: datetime) -> WeatherHour:
    return WeatherHour(time, US_C, 0.5, 2.5, 270.0, 3.0, 0.0, 0.0, 0.0, NWS, time)


@pytest.mark.parametrize("status", [200, 400, 500])
def test_the_key_of_open_meteo_is_sent_to_it_alone_and_is_in_no_error_or_log_or_store(
    far: Forecasters, wide: Chain, caplog: pytest.LogCaptureFixture, status: int
) -> None:
    """The loopback server's own log, which is not ours, shows whole addresses."""
    far.replies |= {"us points": fails(500), "met": fails(500)}
    far.open_meteo(NOW)
    far.open_meteo_archive()
    if status != 200:
        far.replies |= {"om forecast": fails(status), "om archive": fails(status)}

    with caplog.at_level(logging.DEBUG):
        found = wide.gather(NOW, since=NOW - 20 * DAY)

    keyed = {
        name
        for name, request in zip(far.asked, far.requests, strict=True)
        if "hunter2" in request.url
    }
    after_it = {"om ensemble"} if status == 200 else set()
    assert keyed == {"om forecast", "om archive"} | after_it
    assert found.source == (OPEN_METEO if status == 200 else None)
    ours = [vars(record) for record in caplog.records if record.name != "werkzeug"]
    assert len(ours) >= 2
    assert "hunter2" not in repr([found, ours])
    with closing(wide.store):
        assert b"hunter2" not in wide.store.path.read_bytes()


def test_an_ensemble_is_kept_with_the_forecast_it_goes_with_and_asked_for_now_and_then(
    far: Forecasters, wide: Chain
) -> None:
    far.replies |= {"us points": fails(500), "met": fails(500)}
    far.open_meteo(NOW)
    far.open_meteo_ensemble(NOW)
    for hour in range(4):
        wide.gather(NOW + hour * HOUR)

    members = fresh_ensemble(wide.store, LOT.place, NOW + 4 * HOUR)
    assert len(members) == 3
    assert (members[2]["temp_c"] - members[0]["temp_c"]).dropna().eq(5.0).all()
    assert far.asked.count("om ensemble") == 2
    assert fresh_ensemble(wide.store, LOT.place, NOW + 24 * HOUR) == []
    assert fresh_ensemble(wide.store, "elsewhere", NOW) == []


def test_a_forecast_stands_without_its_ensemble(far: Forecasters, wide: Chain) -> None:
    far.replies |= {"us points": fails(500), "met": fails(500), "om ensemble": fails(500)}
    far.open_meteo(NOW)

    assert wide.gather(NOW).source == OPEN_METEO
    assert fresh_ensemble(wide.store, LOT.place, NOW) == []
