"""`drywind ready`: dates with intervals that narrow as boards are weighed, and the day to weigh."""

from datetime import UTC, datetime, timedelta

import pytest
from tests.conftest import DRY, WEEK, Command, WeatherService

NOW = datetime(2026, 6, 20, 12, tzinfo=UTC)
DAYS = 8
STACKED = NOW - timedelta(days=DAYS)


def days_between(goal: dict[str, str]) -> float:
    """Return how wide an interval is."""
    low, high = (datetime.fromisoformat(goal[name]) for name in ("low", "high"))
    return (high - low) / timedelta(days=1)


@pytest.mark.usefixtures("yard")
def test_dates_come_in_order_and_narrow_when_boards_are_weighed(
    quick: Command, weather_service: WeatherService
) -> None:
    weather_service.issue(STACKED, [DRY] * (24 * DAYS + WEEK))
    added = "stack add P1 --species yellow_poplar --thickness 4/4 --site shed"
    quick(*added.split(), "--stacked", STACKED.isoformat())
    quick("watch", "--once", "--dry-run", "--now", STACKED.isoformat())
    quick("watch", "--once", "--dry-run", "--now", NOW.isoformat())

    (before,) = quick("ready", "--json", "--now", NOW.isoformat()).json["stacks"]
    cut = ("--section", "95 g/50 g", "--at", STACKED.isoformat())
    quick("stack", "sample", "P1", "A", "--weight", "1950 g", *cut)
    for day, kg in ((3, 1.77), (7, 1.58)):
        at = (STACKED + timedelta(days=day)).isoformat()
        weighed = ("--weight", f"{kg} kg", "--at", at)
        assert quick("stack", "weigh", "P1", "--board", "A", *weighed).code == 0
    told = quick("ready", "P1", "--json", "--now", NOW.isoformat()).json
    (after,) = told["stacks"]
    printed = quick("ready", "--now", NOW.isoformat()).stdout

    goals = [goal["middle"] for goal in after["goals"]]
    assert goals == sorted(goals)
    assert before["weigh_on"] is not None
    assert before["weigh_narrows"] > 0.1
    assert days_between(after["goals"][1]) < 0.8 * days_between(before["goals"][1])
    low, high = after["mc_pct"]["low"], after["mc_pct"]["high"]
    assert high - low < 0.8 * (before["mc_pct"]["high"] - before["mc_pct"]["low"])
    assert after["readings"] == 3
    assert told["past_years"] in printed.replace("\n", " ")
    assert max(map(len, printed.splitlines()[:2])) <= 80


@pytest.mark.usefixtures("yard")
def test_without_weather_nothing_is_said_of_a_stack(quick: Command) -> None:
    added = "stack add R7 --species red_oak --thickness 4/4 --site shed"
    quick(*added.split(), "--stacked", (NOW - timedelta(days=9)).isoformat())

    done = quick("ready", "--now", NOW.isoformat())

    assert done.stdout == "No stack stands of which enough is known.\n"
    assert quick("ready", "R8").code == 2
