"""What the page says of the weeks ahead: made by a worker, kept in a file, shown while new."""

import json
import logging
from datetime import UTC, datetime, timedelta

import pytest
from tests.conftest import DRY, WEEK, Command, WeatherService, Yard

from drywind.clock import floor_hour
from drywind.config import load
from drywind.daemon.worker import main
from drywind.report.record import PlaceMonth, Plans, Ready, SawDay, State
from drywind.sheets.plans import FILE_NAME, FRESH, keep_plans, kept_plans, make_plans
from drywind.store import Store

NOW = floor_hour(datetime.now(UTC))
HOUR = timedelta(hours=1)
URLS = {"DRYWIND_URL_ADA": "json://x", "DRYWIND_URL_OFFICE": "json://y"}


@pytest.fixture
def planned(yard: Yard, quick: Command, weather_service: WeatherService) -> Yard:
    """Red oak a week old, a lot of maple, and plans made of them by the daemon's worker."""
    weather_service.issue(NOW, [DRY] * WEEK)
    wood = ("--species", "red_oak", "--thickness", "4/4", "--site", "shed")
    stacked = (NOW - timedelta(hours=30)).isoformat()
    assert quick("stack", "add", "R7", *wood, "--stacked", stacked).code == 0
    lot = ("--species", "hard_maple", "--felled", (NOW - 12 * HOUR).isoformat())
    assert quick("lot", "add", "L4", *lot, "--site", "gravel").code == 0
    assert quick("watch", "--once").code == 0
    worker(yard, "plans")
    return yard


def worker(yard: Yard, job: str) -> None:
    where = ["--config", str(yard.config), "--store", str(yard.data / "drywind.db")]
    with pytest.raises(SystemExit) as ended:
        main([job, *where, "--now", NOW.isoformat()])
    assert ended.value.code == 0


def test_the_page_shows_ready_dates_saw_days_and_places_until_they_are_old(planned: Yard) -> None:
    worker(planned, "pass")

    page = (planned.data / "yard.html").read_text()
    assert "Which day to saw" in page
    assert "Where to stack, by month" in page
    assert "At 20 %" in page
    config = load(planned.config, URLS)
    found = kept_plans(config, NOW + HOUR)
    assert found is not None
    assert [goal.mc_pct for goal in found.ready["R7"]] == [30.0, 25.0, 20.0]
    assert {day.lot for day in found.saw_days} == {"L4"}
    assert len({day.date for day in found.saw_days}) == len(found.saw_days) == 10
    assert {month.site for month in found.months} == {"gravel", "shed", "barn"}
    assert kept_plans(config, NOW + FRESH) is None
    assert kept_plans(config, NOW - HOUR) is None


@pytest.mark.parametrize("text", ["", "{", "[]", json.dumps({"made_at": "x", "plans": {}})])
def test_a_file_that_is_damaged_is_said_and_does_without(
    yard: Yard, text: str, caplog: pytest.LogCaptureFixture
) -> None:
    yard.data.mkdir()
    (yard.data / FILE_NAME).write_text(text)

    with caplog.at_level(logging.WARNING):
        worker(yard, "pass")

    assert "the plans kept for the page cannot be read" in caplog.text
    assert "Which day to saw" not in (yard.data / "yard.html").read_text()


def test_a_yard_without_stacks_lots_or_weather_has_no_plans(yard: Yard) -> None:
    config = load(yard.config, URLS)
    with Store(yard.data / "drywind.db") as store:
        found = make_plans(config, store, NOW)
        keep_plans(config, store, NOW)

    assert found == Plans()
    assert kept_plans(config, NOW) == Plans()


def test_every_kind_of_plan_survives_its_file() -> None:
    """The types the file is made of are those of the page."""
    from drywind.sheets.plans import _FORM, _Kept

    day = NOW.date()
    plans = Plans(
        {"R7": (Ready(25.0, day, None, day),)},
        (SawDay(day, "L4", "hard maple 4/4", "shed", State.WELL, "good", "mild"),),
        (PlaceMonth("shed", "red oak 4/4", 6, None, 2.0, ""),),
    )

    assert _FORM.validate_json(_FORM.dump_json(_Kept(NOW, plans))).plans == plans
