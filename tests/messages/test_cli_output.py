"""What the commands print: JSON whose keys others rely on, and words that fit a terminal."""

from datetime import datetime

import pytest
from tests.conftest import HOT_DRY, WEEK, Command, WeatherService, Yard

NOW = "2026-06-12T18:00Z"
COLUMNS = 80

# Wood Handbook (FPL-GTR-190 and -282), Table 4-2: temperature in °F, relative humidity in
# percent, equilibrium moisture content in percent. From memory.
TABLE_4_2 = [(30, 90, 21.0), (70, 65, 12.0), (70, 5, 1.3), (90, 30, 5.9), (140, 95, 21.0)]

# Wengert, Table 9 "Safe drying rates for North American hardwoods", p. 91 of FOR-128, Hardwood
# Dry Kiln Operation (seen): points of moisture content a day for 4/4 and 8/4.
TABLE_9 = {
    "red_oak": {"4/4": 3.8, "8/4": 1.5},
    "white_oak": {"4/4": 2.5, "8/4": 1.0},
    "hard_maple": {"4/4": 6.5, "8/4": 2.6},
    "black_walnut": {"4/4": 8.2, "8/4": 3.3},
    "yellow_poplar": {"4/4": 13.8, "8/4": 5.5},
}


@pytest.mark.parametrize(("temp_f", "rh_pct", "emc_pct"), TABLE_4_2)
def test_emc_gives_the_wood_handbook_s_value(
    quick: Command, temp_f: int, rh_pct: int, emc_pct: float
) -> None:
    told = quick("emc", "--temp", f"{temp_f}F", "--rh", rh_pct, "--json").json

    assert told["emc_pct"] == pytest.approx(emc_pct, abs=0.06)
    assert set(told) == {"temp_c", "rh_pct", "emc_pct"}


def test_emc_takes_either_unit_and_tells_both_people_and_machines(quick: Command) -> None:
    fahrenheit = quick("emc", "--temp", "70F", "--rh", "65", "--json").json
    celsius = quick("emc", "--temp", "21.1C", "--rh", "65", "--json").json

    assert fahrenheit["emc_pct"] == pytest.approx(celsius["emc_pct"], abs=0.01)
    assert quick("emc", "--temp", "70F", "--rh", "65").stdout == (
        "EMC at 70F and 65 % RH: 12.0 % MC\n"
    )


def test_species_lists_safe_losses_as_published_and_names_the_publication(quick: Command) -> None:
    listed = {species["key"]: species for species in quick("species", "--json").json}

    assert {key: listed[key]["safe_loss_pct_per_day"] for key in TABLE_9} == TABLE_9
    for key in TABLE_9:
        source = listed[key]["sources"]["safe_loss_pct_per_day"]
        assert "FOR-128" in source
        assert "Table 9" in source


def test_every_species_listed_has_the_promised_keys_and_a_source_for_each(quick: Command) -> None:
    promised = {
        "name",
        "basic_specific_gravity",
        "green_mc_pct",
        "safe_loss_pct_per_day",
        "air_drying_days",
        "shrinkage_pct",
        "stain",
        "diffusion_multiplier",
    }

    listed = quick("species", "--json").json

    assert len(listed) > len(TABLE_9)
    for species in listed:
        assert set(species) == {"key", "sources", *promised}
        assert set(species["sources"]) == promised


def test_a_species_is_told_with_the_source_of_every_number(quick: Command) -> None:
    told = quick("species", "red oak").stdout

    assert told.startswith("red_oak\n")
    assert "safe_loss_pct_per_day: {'4/4': 3.8, '8/4': 1.5}\n" in told
    assert "FOR-128" in told


def test_a_day_whose_weather_nobody_knows_shows_no_loss(quick: Command) -> None:
    wood = ("--species", "red oak", "--thickness", "4/4", "--site", "shed")
    assert quick("stack", "add", "R7", *wood, "--stacked", NOW).code == 0

    daily = quick("stack", "show", "R7", "--json", "--now", NOW).json["daily"]

    assert all(day["unknown_hours"] == day["hours"] for day in daily)
    assert {day["loss_pct"] for day in daily} == {day["edge_loss_pct"] for day in daily} == {None}


@pytest.fixture
def wide(yard: Yard, quick: Command, weather_service: WeatherService) -> None:
    """Make every name of the yard as long as it may be, and blow a hot dry wind over it."""
    yard.configure('name = "gravel"', 'name = "old gravel bench"')
    yard.configure('name = "shed"', 'name = "long lumber shed"\nroom = 12')
    yard.configure('name = "Ada phone"', 'name = "Ada Lovelace tel"')
    yard.configure('kind = "text"', 'kind = "text"\nquiet_hours = "21:00-05:30"')
    wood = ("--species", "southern red oak", "--thickness", "16/4", "--site", "old gravel bench")
    covers = ("--measures", "shade_cloth packs_closed")
    assert quick("stack", "add", "southfork-12", *wood, *covers, "--stacked", NOW).code == 0
    weather_service.issue(datetime.fromisoformat(NOW), [HOT_DRY] * WEEK)
    assert quick("watch", "--once", "--dry-run", "--now", NOW).code == 0


@pytest.mark.usefixtures("wide")
@pytest.mark.parametrize(
    "command",
    [
        ("check",),
        ("stack", "list", "--now", NOW),
        ("stack", "show", "southfork-12", "--now", NOW),
    ],
    ids=" ".join,
)
def test_what_people_read_fits_a_terminal_of_80_columns(
    yard: Yard, quick: Command, command: tuple[str, ...]
) -> None:
    lines = quick(*command).stdout.replace(str(yard.data), "/var/lib/drywind").splitlines()

    assert lines
    assert [line for line in lines if len(line) > COLUMNS] == []


@pytest.mark.usefixtures("wide")
def test_a_course_is_listed_day_by_day_with_today_marked(quick: Command) -> None:
    verdict, *rest = quick("stack", "show", "southfork-12", "--now", NOW).stdout.splitlines()

    assert verdict.startswith("southfork-12 southern red oak 16/4: ")
    head = next(i for i, line in enumerate(rest) if line.startswith("day "))
    assert " ".join(rest[head].split()) == "day MC % loss edge loss top loss safe EMC"
    assert [line.split()[0] for line in rest[head + 1 : head + 4]] == [
        "2026-06-12*",
        "2026-06-13",
        "2026-06-14",
    ]


@pytest.mark.usefixtures("wide")
def test_a_stack_taken_down_is_shown_as_it_was_at_its_end(quick: Command) -> None:
    ended, last, later = "2026-06-14T18:00Z", "2026-06-14T17:59:59Z", "2026-06-20T18:00Z"
    standing = quick("stack", "show", "southfork-12", "--json", "--now", last).json
    assert quick("stack", "end", "southfork-12", "--at", ended).code == 0

    shown = quick("stack", "show", "southfork-12", "--json", "--now", later)
    told = quick("stack", "show", "southfork-12", "--now", later)

    assert shown.code == told.code == 0
    for key in ("mc_pct", "age_days", "daily", "unknown_hours", "measures", "site"):
        assert shown.json[key] == standing[key]
    assert "2026-06-14*" in told.stdout
