"""Saw days, places and past years asked for wrongly, or where nothing can be said."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from tests.conftest import DRY, Command, WeatherService, Yard
from tests.published.shipped_years import DATA

NOW = datetime(2025, 6, 11, 13, tzinfo=UTC)
AT = ("--now", NOW.isoformat())
ADD = "lot add L4 --species hard_maple --felled 2025-06-10T13:00 --site shed --thickness 4/4"
OHARE = DATA / "725300_ohare_2012.isd-lite.gz"
GREENSBORO = DATA / "723170_greensboro.tmy3.csv.gz"


@pytest.fixture
def forecast(quick: Command, weather_service: WeatherService) -> None:
    """Let a dry week be foretold, and a lot of maple wait."""
    weather_service.issue(NOW, [DRY] * 168)
    assert quick("watch", "--once", *AT).code == 0
    assert quick(*ADD.split()).code == 0


@pytest.mark.usefixtures("forecast")
@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ("sawdays --species mapel", "'mapel' is not a species drywind knows; did you mean"),
        ("sawdays --species hard_maple --lot L4", "--species and --lot: give one of them"),
        ("sawdays --lot L5", "there is no lot 'L5'; did you mean L4?"),
        ("sawdays --thickness 1/2", "'1/2' is not a thickness; write it like 4/4, 8/4 or 27mm"),
        ("sawdays --site attic", "no site named 'attic'; there are: gravel, shed, barn"),
        ("sawdays --weather there.epw", "there.epw"),
        (f"sawdays --weather {GREENSBORO}", "must lie within, a day before its end"),
        ("sawdays --plot out.txt", "out.txt: a picture's name ends in .svg, .png, .pdf"),
        ("places", "give --species (where does it dry best?), --site (what suits it?) or --plan"),
        ("places --species mapel", "'mapel' is not a species drywind knows; did you mean"),
        ("places --species beech --site attic", "no site named 'attic'; there are: gravel, shed"),
        ("places --plan --species beech", "--plan takes none of --species, --month and --plot"),
        ("weather import there.epw --site shed", "there.epw"),
        ("weather import {this} --site attic", "no site named 'attic'; there are: gravel, shed"),
        ("weather import {this} --site shed", "begins no TMY2, TMY3, EPW, ISD-Lite or CSV"),
        ("weather forget --site attic", "no site named 'attic'; there are: gravel, shed"),
    ],
)
def test_what_cannot_be_is_named_and_nothing_changes(
    yard: Yard, quick: Command, arguments: str, words: str
) -> None:
    now = () if arguments.startswith("weather") else AT
    done = quick(*arguments.replace("{this}", __file__).split(), *now)

    assert (done.code, done.stdout) == (2, "")
    assert words in done.stderr
    assert "Traceback" not in done.stderr
    assert not (yard.folder / "out.txt").exists()
    assert yard.sql("SELECT count(*) FROM past_year") == [(0,)]


@pytest.mark.usefixtures("forecast")
def test_a_lot_felled_in_the_future_is_refused(quick: Command) -> None:
    soon = (datetime.now(UTC) + timedelta(days=1)).isoformat()

    done = quick("lot", "add", "L9", "--species", "beech", "--felled", soon, "--site", "shed")

    assert (done.code, done.stderr) == (2, f"{soon!r} lies ahead; tell it once it has happened\n")


@pytest.mark.usefixtures("forecast")
def test_without_room_anywhere_it_says_so_and_what_to_do(yard: Yard, quick: Command) -> None:
    text = yard.config.read_text().replace("exposure = ", "room = 0\nexposure = ")
    for i, name in enumerate(("gravel", "shed", "barn")):
        text = text.replace("room = 0", "room = 1", 1)
        quick("stack", "add", f"R{i}", "--species", "beech", "--thickness", "4/4", "--site", name)
    yard.config.write_text(text)

    later = datetime.now(UTC) + timedelta(hours=1)
    done = quick("sawdays", "--now", later.isoformat())

    assert done.code == 2
    assert "no site has room for another stack: gravel (1), shed (1), barn (1)" in done.stderr
    assert "`drywind stack end`" in done.stderr


def test_without_a_forecast_it_says_so(quick: Command) -> None:
    assert quick(*ADD.split()).code == 0

    done = quick("sawdays", *AT)

    assert (done.code, done.stdout) == (3, "")
    assert done.stderr.startswith("there is no forecast in the store: let `drywind watch` run")


def test_without_lots_it_says_how_to_register_one(quick: Command) -> None:
    done = quick("sawdays", *AT)

    assert done.stdout == "No lot waits for the saw; register logs with `drywind lot add`.\n"
    assert quick("sawdays", "--json", *AT).json == []


def test_past_years_are_kept_of_a_place_once_and_forgotten(yard: Yard, quick: Command) -> None:
    before = quick("weather", "list", "--json").json
    for _ in range(2):
        done = quick("weather", "import", OHARE, "--site", "shed", "--name", "O'Hare", "--json")
        assert done.code == 0
    assert done.json == [
        {
            "name": "O'Hare",
            "year": 2012,
            "is_typical": False,
            "lat": 41.9803,
            "lon": -87.9046,
            "known_hours": 8760,
        }
    ]

    after = quick("weather", "list", "--json").json

    assert {row["origin"] for row in before} == {"shipped"}
    assert {row["words"] for row in before} == {
        "3 years at Chicago O'Hare IL (2011 to 2013), 1 km off"
    }
    assert {(row["site"], row["origin"], row["words"]) for row in after} == {
        (site, "yard", "2012 at O'Hare") for site in ("gravel", "shed", "barn")
    }
    assert yard.sql("SELECT count(*) FROM past_year") == [(1,)]
    assert quick("weather", "forget", "--site", "barn").stdout == "1 past year of barn forgotten.\n"
    assert quick("weather", "list", "--json").json == before


def test_a_picture_that_cannot_be_written_is_named(tmp_path: Path, quick: Command) -> None:
    path = tmp_path / "none" / "saw.svg"

    done = quick("sawdays", "--plot", path, *AT)

    assert done.code == 2
    assert done.stderr == f"{path} cannot be written: there is no folder {path.parent}\n"
