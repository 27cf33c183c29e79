"""What `drywind lot list` prints of logs that wait: exact lines, and keys others rely on.

Days at 22 °C: sugar stain runs 1.13 times as fast as at 20 °C, and maple bears three such days;
blue stain runs at its best, and maple bears five.
"""

from datetime import datetime, timedelta

import pytest
from tests.conftest import DRY, WEEK, Command, Hour, WeatherService, Yard

FELLED = datetime.fromisoformat("2025-06-11T13:00-05:00")
"""A Wednesday."""
COLUMNS = 80
COLD: Hour = (5.0, 70.0, 2.0)
BY_NAME = {
    "L4": "hard_maple --volume 1,200_bf",
    "L5": "hard_maple --stored sprinkled",
    "L6": "hard_maple --end-coated --stored shade",
    "L7": "hard_maple",
    "L8": "black_walnut",
}


@pytest.fixture
def lots(quick: Command, weather_service: WeatherService) -> None:
    """Register logs felled at 1 pm, in a week of 22 °C; those of L7 are sawn the next noon."""
    for name, told in BY_NAME.items():
        options = [word.replace("_bf", " bf") for word in told.split()]
        where = ("--felled", FELLED.isoformat(), "--site", "gravel")
        assert quick("lot", "add", name, "--species", *options, *where).code == 0
    assert quick("lot", "sawn", "L7", "--at", "2025-06-12T12:00").code == 0
    watch(quick, weather_service, 0.0, DRY)


def after(days: float) -> str:
    return (FELLED + timedelta(days=days)).isoformat()


def told(quick: Command, days: float, name: str) -> list[str]:
    """Return the lines about one lot, `days` after felling."""
    lines = quick("lot", "list", "--now", after(days)).stdout.splitlines()
    assert [line for line in lines if len(line) > COLUMNS] == []
    at = next(i for i, line in enumerate(lines) if line.startswith(name))
    rest = [i for i in range(at + 1, len(lines)) if not lines[i].startswith("    ")]
    return [line.strip() for line in lines[at : min(rest, default=len(lines))]]


SUGAR_38, BLUE_20 = "sugar stain 37 %", "blue stain 20 %"
INSECTS = "insects: 24 warm hours so far"
LISTED = {
    "L4": [
        "L4           hard maple, gravel: felled 1.0 days ago",
        "1,200 bf, in the open",
        f"{SUGAR_38}, {BLUE_20} of what the wood bears",
        "saw by Fri 4pm",
        INSECTS,
    ],
    "L5": [
        "L5           hard maple, gravel: felled 1.0 days ago",
        "under sprinklers",
        f"{SUGAR_38} of what the wood bears",
        "blue stain not counted: sprinkled",
        "saw by Fri 4pm",
        INSECTS,
    ],
    "L6": [
        "L6           hard maple, gravel: felled 1.0 days ago",
        "in the shade, ends coated",
        f"{SUGAR_38} of what the wood bears",
        "blue stain not counted: ends coated",
        "saw by Fri 4pm",
        INSECTS,
    ],
    "L7": [
        "L7           hard maple, gravel: felled 1.0 days ago",
        "sawn 0.0 days ago, not stacked",
        f"{SUGAR_38}, {BLUE_20} of what the wood bears",
        "sticker its boards by Sat 4am",
        INSECTS,
    ],
    "L8": [
        "L8           black walnut, gravel: felled 1.0 days ago",
        "in the open",
        "nothing is known of its stains",
        INSECTS,
    ],
}


@pytest.mark.usefixtures("lots")
@pytest.mark.parametrize("name", BY_NAME)
def test_a_lot_is_listed_with_how_far_it_has_stained_and_by_when_to_saw_it(
    quick: Command, name: str
) -> None:
    assert told(quick, 1.0, name) == LISTED[name]


def watch(quick: Command, service: WeatherService, days: float, air: Hour) -> None:
    """Have a week of such air foretold `days` after felling, and fetch it."""
    service.issue(FELLED + timedelta(days=days), [air] * WEEK)
    assert quick("watch", "--once", "--dry-run", "--now", after(days)).code == 0


@pytest.mark.usefixtures("lots")
def test_logs_are_to_be_sawn_twelve_hours_before_stain_sets_in_or_at_once(
    quick: Command, weather_service: WeatherService
) -> None:
    """Sugar stain sets in on Saturday at 4 am."""
    watch(quick, weather_service, 1.5, DRY)
    said = {hours: told(quick, hours / 24, "L4")[3] for hours in (34, 47, 50, 60)}

    assert said == {34: "saw by Fri 4pm", 47: "saw by today 4pm", 50: "saw now", 60: "saw now"}


@pytest.mark.usefixtures("lots")
def test_a_stain_likely_already_is_told_as_such(
    quick: Command, weather_service: WeatherService
) -> None:
    watch(quick, weather_service, 3.0, DRY)

    assert told(quick, 3.0, "L4")[2:4] == [
        "sugar stain 113 %, blue stain 60 % of what the wood bears",
        "sugar stain likely already; saw by Sun midnight",
    ]
    assert told(quick, 3.0, "L5")[4] == "sugar stain likely already"


@pytest.mark.usefixtures("lots")
def test_where_no_stain_comes_the_end_of_the_forecast_is_told(
    quick: Command, weather_service: WeatherService
) -> None:
    watch(quick, weather_service, 1.0, COLD)

    assert told(quick, 1.0, "L4")[3] == "no stain expected within the forecast, to Thu 1pm"


@pytest.mark.usefixtures("lots")
def test_weather_that_is_missing_is_never_taken_for_cold(yard: Yard, quick: Command) -> None:
    gone = (FELLED + timedelta(hours=10)).timestamp(), (FELLED + timedelta(hours=20)).timestamp()
    yard.sql("DELETE FROM weather_hour WHERE time_utc BETWEEN ? AND ?", *gone)

    assert told(quick, 1.0, "L4")[2:] == [
        "at least sugar stain 20 %, blue stain 10 % of what the wood bears",
        "saw by Sat 3am",
        "11 h of weather missing: stain may come sooner",
        "insects: at least 13 warm hours so far",
    ]
    yard.sql(
        "DELETE FROM weather_hour WHERE time_utc > ?", (FELLED + timedelta(days=2)).timestamp()
    )
    assert told(quick, 1.0, "L4")[3] == "when to saw is unknown: 11 h of weather missing"
    assert told(quick, 2.5, "L4")[3] == "when to saw is unknown: no forecast"


@pytest.mark.usefixtures("lots")
def test_machines_are_told_the_same_under_keys_with_units(quick: Command) -> None:
    rows = {row["id"]: row for row in quick("lot", "list", "--json", "--now", after(1.0)).json}

    assert rows["L5"] == {
        "id": "L5",
        "species": "hard_maple",
        "felled_at": "2025-06-11T18:00:00Z",
        "sawn_at": None,
        "ended_at": None,
        "age_days": 1.0,
        "site": "gravel",
        "volume": "",
        "end_coated": False,
        "stored": "sprinkled",
        "thicknesses": [],
        "waits_as": "logs",
        "stains": {
            "sugar_stain": {
                "dose_days": 1.13,
                "bears_days": 3.0,
                "share": 0.378,
                "likely_already": False,
            },
            "blue_stain": {
                "dose_days": 0.0,
                "bears_days": 5.0,
                "share": 0.0,
                "likely_already": False,
            },
        },
        "not_counted": {"stain": "blue_stain", "reason": "sprinkled"},
        "stained": False,
        "saw_by": "2025-06-13T21:00:00Z",
        "forecast_until": "2025-06-19T00:00:00Z",
        "unknown_hours": 0,
        "ambrosia_hours": 24,
    }
    assert rows["L7"]["waits_as"] == "boards"
    assert rows["L8"]["stains"] == {}


@pytest.mark.usefixtures("lots")
def test_a_lot_is_listed_until_it_has_ended(quick: Command) -> None:
    assert quick("lot", "end", "L4", "--at", after(1.0)).code == 0

    def listed(days: float) -> set[str]:
        return {row["id"] for row in quick("lot", "list", "--json", "--now", after(days)).json}

    assert listed(0.9) == set(BY_NAME)
    assert listed(1.0) == set(BY_NAME) - {"L4"}
    assert listed(-0.1) == set()


def test_a_lot_registered_is_repeated_with_what_is_not_known(quick: Command) -> None:
    where = ("--felled", FELLED.isoformat(), "--site", "shed")

    told = quick("lot", "add", "W1", "--species", "black walnut", *where).stdout
    row = quick("lot", "add", "M1", "--species", "hard maple", *where, "--json").json

    head, rest = told.splitlines()
    assert head.startswith("W1 at shed, black walnut, felled ")
    assert head.endswith(" days ago.")
    assert rest == "  Nothing is known of its stains: no stain is counted."
    assert (row["id"], row["stored"], row["waits_as"]) == ("M1", "open", "logs")
