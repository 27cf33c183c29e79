"""The two nights a year the clocks change, and yards by other clocks: a whole pass each hour."""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import UTC, datetime, time, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pandas as pd
import pytest
from pydantic import SecretStr
from tests.timelines.outages import (
    HOUR,
    Climate,
    Watch,
    leave_out_chances,
    local_spell,
    services,
    stacked,
)

from drywind.alerts.blind import BLIND
from drywind.alerts.records import Reason
from drywind.clock import floor_hour
from drywind.config import HEAR, Channel, Contact
from drywind.cycle import Pass
from drywind.speaking import Said
from drywind.store import Store
from drywind.units import Units
from drywind.yard import Site

NEW_YORK = ZoneInfo("America/New_York")
YARD = Site("yard", 42.65, -73.75, 60.0)
ADA = Contact("Ada", Channel.TEXT, SecretStr("json://127.0.0.1"), HEAR[Channel.TEXT], Units.US)
SLEEPER = replace(ADA, quiet=(time(21), time(5, 30)))
CHANGES = [
    pytest.param(datetime(2026, 3, 8, tzinfo=NEW_YORK), 23, id="spring"),
    pytest.param(datetime(2026, 11, 1, tzinfo=NEW_YORK), 25, id="fall"),
]
"""The midnights before 02:00 EST becomes 03:00 EDT, and 02:00 EDT becomes 01:00 EST; hours of
the day."""


@pytest.fixture(autouse=True)
def _quickly(monkeypatch: pytest.MonkeyPatch) -> None:
    leave_out_chances(monkeypatch)


@contextmanager
def watching(folder: Path, site: Site, climate: Climate, contact: Contact) -> Iterator[Watch]:
    """Watch a yard without a stack."""
    with services(climate.hour) as told, Store(folder / "drywind.db") as store:
        yield Watch(told, store, climate.zone, {site.name: site}, contact)


def each_hour(first: datetime, last: datetime) -> list[datetime]:
    """Return every hour from one instant up to, not including, another."""
    begin = first.astimezone(UTC)
    return [begin + i * HOUR for i in range((last.astimezone(UTC) - begin) // HOUR)]


def told(passes: Sequence[Pass]) -> list[Said]:
    """Return what was said."""
    return [s for p in passes for s in p.said if s.is_new and s.message is not None]


def text(said: Said) -> str:
    assert said.message is not None
    return said.message.text


def next_day(midnight: datetime) -> datetime:
    return midnight + timedelta(days=1)  # on the wall clock


@pytest.mark.parametrize(("midnight", "hours"), CHANGES)
def test_each_hour_of_the_day_is_passed_and_dried_once(
    tmp_path: Path, midnight: datetime, hours: int
) -> None:
    passes = each_hour(midnight, next_day(midnight))
    with watching(tmp_path, YARD, Climate(NEW_YORK), ADA) as watch:
        watch.store.add_stack(stacked("R1", "red_oak", passes[0]))
        outlooks = [watch.look(now).outlooks[0] for now in passes]

    assert len(passes) == hours
    assert [o.now for o in outlooks] == list(range(hours))
    weather = outlooks[-1].case.weather
    assert list(weather.index[:hours]) == [pd.Timestamp(now) for now in passes]
    assert weather[["temp_c", "rh", "wind_ms"]].iloc[:hours].notna().all(axis=None)
    assert not weather["filled"].any()


@pytest.mark.parametrize(("midnight", "_hours"), CHANGES)
def test_a_spell_is_told_by_the_clock_of_the_day_it_comes(
    tmp_path: Path, midnight: datetime, _hours: int
) -> None:
    """Told on the day before, by the other clock."""
    climate = Climate(NEW_YORK, [local_spell(NEW_YORK, midnight, 2)])
    eve = midnight - timedelta(hours=8)  # 4 pm
    with watching(tmp_path, YARD, climate, ADA) as watch:
        watch.store.add_stack(stacked("R1", "red_oak", eve.astimezone(UTC)))
        [said] = told([watch.look(eve.astimezone(UTC))])

    assert said.decision.reason is Reason.FIRST
    assert " by Sun 10am." in text(said)
    assert said.decision.onset == midnight.replace(hour=10).astimezone(UTC)


@pytest.mark.parametrize(("midnight", "hours"), CHANGES)
def test_what_is_seen_in_the_night_is_told_once_when_quiet_hours_end_on_the_wall_clock(
    tmp_path: Path, midnight: datetime, hours: int
) -> None:
    """Stacked at 10 pm the evening before; passes are on the hour, and quiet hours end at 5:30."""
    climate = Climate(NEW_YORK, [local_spell(NEW_YORK, midnight, 2)])
    eve = (midnight - timedelta(hours=2)).astimezone(UTC)
    with watching(tmp_path, YARD, climate, SLEEPER) as watch:
        watch.store.add_stack(stacked("R1", "red_oak", eve))
        passes = [watch.look(now) for now in each_hour(eve, next_day(midnight))]

    fast = [s.decision for p in passes for s in p.said if s.decision.hazard == "too_fast"]
    reasons = [decision.reason for decision in fast]
    night = 2 + 6 + hours - 24
    assert reasons[:night] == [Reason.HELD_QUIET] * night
    assert reasons[night] is Reason.FIRST
    assert passes[night].now.astimezone(NEW_YORK).time() == time(6)
    assert len(told(passes)) == 1


@pytest.mark.parametrize(("midnight", "_hours"), CHANGES)
def test_blindness_is_told_after_24_real_hours_with_the_wall_clock_of_the_last_forecast(
    tmp_path: Path, midnight: datetime, _hours: int
) -> None:
    last = midnight.astimezone(UTC).replace(hour=0) - 12 * HOUR  # noon in UTC, the day before
    with watching(tmp_path, YARD, Climate(NEW_YORK), ADA) as watch:
        watch.store.add_stack(stacked("R1", "red_oak", last))
        passes = [watch.look(last)]
        watch.told.blackout = True
        passes += [watch.look(now) for now in each_hour(last + HOUR, last + 36 * HOUR)]

    [said] = [s for s in told(passes) if s.decision.hazard == BLIND]
    assert said.decision.made_at == last + 24 * HOUR
    assert f"last forecast Sat {last.astimezone(NEW_YORK):%-I}am, 24 h old" in text(said)


@dataclass(frozen=True)
class Abroad:
    """A yard by another clock, who forecasts for it, and the hours of a text there.

    `told_at` is when it is told: of a fresh stack at once, but for quiet hours. `spell` is how its
    first day is told in the e-mail, and `words` what stands of it in the text.
    """

    zone: str
    site: Site
    services: set[str]
    units: Units
    told_at: time
    spell: str
    words: str


CHICAGO = Site("yard", 41.98, -87.9, 205.0)
OSLO = Site("yard", 59.9, 10.7, 90.0)
KOLKATA = Site("yard", 22.6, 88.4, 10.0)
YARDS = [
    Abroad(
        "America/Chicago", CHICAGO, {"nws"}, Units.US, time(6), "Sat 10am-10pm", "Sat 10am-10pm"
    ),
    Abroad(
        "Europe/Oslo",
        OSLO,
        {"met_norway"},
        Units.METRIC,
        time(6),
        "Sat 10:00-22:00",
        "Sat 10:00-22:00",
    ),
    # Passes, and the hours of a forecast, begin at half past by this clock.
    Abroad(
        "Asia/Kolkata",
        KOLKATA,
        {"met_norway"},
        Units.METRIC,
        time(5, 30),
        "Sat 10:30-21:30",
        "Sat 10:30-21:30",
    ),
]


@pytest.mark.parametrize("abroad", YARDS, ids=lambda abroad: abroad.zone)
def test_a_spell_is_told_by_the_clock_of_the_yard_and_from_the_services_that_know_it(
    tmp_path: Path, abroad: Abroad
) -> None:
    """Hot from 10:00 on Saturday, as is seen at Friday's midnight and told on Friday."""
    zone = ZoneInfo(abroad.zone)
    friday, saturday = (datetime(2026, 6, day, tzinfo=zone) for day in (12, 13))
    climate = Climate(zone, [local_spell(zone, saturday, 3)])
    contact = replace(SLEEPER, units=abroad.units)
    passes = each_hour(floor_hour(friday.astimezone(UTC)), friday + timedelta(hours=18))
    with watching(tmp_path, abroad.site, climate, contact) as watch:
        watch.store.add_stack(stacked("R1", "red_oak", passes[0]))
        found = [watch.look(now) for now in passes]
        asked = set(watch.told.asked)

    [said] = told(found)
    assert said.decision.reason is Reason.FIRST
    assert said.decision.made_at.astimezone(zone) == datetime.combine(friday, abroad.told_at, zone)
    assert said.message is not None
    assert f" {abroad.words}" in text(said)
    assert f", {abroad.spell}: up to " in said.message.story
    assert asked == abroad.services
