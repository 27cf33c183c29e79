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

    for key, printed in TABLE_9.items():
        assert printed.items() <= listed[key]["safe_loss_pct_per_day"].items()
        assert {listed[key]["safe_loss_basis"][size] for size in printed} == {"published"}
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
        "insects",
        "diffusion_multiplier",
    }

    listed = quick("species", "--json").json

    assert len(listed) > len(TABLE_9)
    for species in listed:
        assert set(species) == {"key", "sources", "safe_loss_basis", *promised}
        assert set(species["sources"]) == promised


def test_every_species_has_a_limit_and_what_it_rests_on_for_every_size(quick: Command) -> None:
    listed = {species["key"]: species for species in quick("species", "--json").json}

    sizes = ["3/4", "4/4", "5/4", "6/4", "8/4", "10/4", "12/4", "16/4"]
    for species in listed.values():
        assert list(species["safe_loss_pct_per_day"]) == sizes
        assert list(species["safe_loss_basis"]) == sizes
    beyond, between = "extrapolated", "interpolated"
    assert list(listed["red_oak"]["safe_loss_basis"].values()) == [
        *(beyond, "published", between, between, "published", beyond, beyond, beyond)
    ]
    assert list(listed["red_oak"]["safe_loss_pct_per_day"].values()) == [
        *(3.8, 3.8, 2.82, 2.21, 1.5, 1.11, 0.87, 0.59)
    ]
    assert set(listed["hickory"]["safe_loss_basis"].values()) == {"assumption"}


def test_a_species_is_told_with_the_source_of_every_number(quick: Command) -> None:
    told = quick("species", "red oak").stdout

    assert told.startswith("red_oak\n")
    assert "\n      4/4  3.8   published\n" in told
    assert "\n     12/4  0.87  extrapolated\n" in told
    assert "FOR-128" in told
    assert [line for line in told.splitlines() if len(line) > COLUMNS] == []


ADDED = {
    ("red oak 4/4", ""): (
        "R7 at shed, red oak (upland) 4/4: safe loss while wet 3.8 points of MC a day (published)."
    ),
    ("red oak 4/4", "--old-logs"): (
        "R7 at shed, red oak (upland) 4/4, old logs: safe loss while wet 1.52 points of MC a day"
        " (x 0.4 for oak from stored logs)."
    ),
    ("red oak 12/4", "--old-logs"): (
        "0.35 points of MC a day (extrapolated, x 0.4 for oak from stored logs). Beyond 8/4 none is"
        " published: it is extrapolated from thinner boards. That share is published for 4/4: for"
        " other sizes it is assumed."
    ),
    ("red oak 3/4", ""): (
        "3.8 points of MC a day (extrapolated). Thinner than 4/4 none is published: it is held to"
        " that of 4/4."
    ),
    ("hickory 12/4", ""): (
        "(assumption). Nobody published its safe loss that we know of: it is our own assumption."
        " Beyond 8/4 none is published"
    ),
    ("hard maple 4/4", "--old-logs --quartersawn"): (
        "6.5 points of MC a day (published). Old logs are known to lower the safe loss of oak"
        " alone: it stays as it is. Quartersawn, it dries about 15 % slower; nobody published"
        " another safe loss for it."
    ),
    ("black cherry 4/4", "--sap"): (
        "No green moisture content of its sapwood is published: the usual 58 % stands in;"
        " --green-mc takes your own."
    ),
}
"""What is said when a stack of that wood, with that told of it, is registered."""


@pytest.mark.parametrize(("wood", "options"), ADDED)
def test_a_stack_registered_is_told_its_limit_and_how_little_it_may_rest_on(
    quick: Command, wood: str, options: str
) -> None:
    species, _, thickness = wood.rpartition(" ")
    where = ("--species", species, "--thickness", thickness, "--site", "shed")

    told = quick("stack", "add", "R7", *where, *options.split()).stdout

    assert ADDED[wood, options] in " ".join(told.split())
    assert [line for line in told.splitlines() if len(line) > COLUMNS] == []


@pytest.mark.parametrize("options", ["--sap --green-mc 70", "--heart"])
def test_nothing_is_said_to_stand_in_for_a_green_moisture_content_that_is_known(
    quick: Command, options: str
) -> None:
    cherry = ("--species", "black cherry", "--thickness", "4/4", "--site", "shed")

    assert "stands in" not in quick("stack", "add", "R7", *cherry, *options.split()).stdout


def test_a_stack_registered_tells_machines_its_limit_under_the_keys_of_show(quick: Command) -> None:
    wood = ("--species", "red oak", "--thickness", "12/4", "--site", "shed")

    added = quick("stack", "add", "R7", *wood, "--stacked", NOW, "--json").json
    shown = quick("stack", "show", "R7", "--now", NOW, "--json").json

    assert (added["limit_pct_per_day"], added["limit_basis"]) == (0.87, "extrapolated")
    assert added.items() <= shown.items()


def test_the_limit_of_a_stack_shown_says_what_it_rests_on(quick: Command) -> None:
    wood = ("--species", "red oak", "--thickness", "12/4", "--site", "shed")
    assert quick("stack", "add", "R7", *wood, "--stacked", NOW).code == 0

    told = quick("stack", "show", "R7", "--now", NOW).stdout

    assert (
        "red oak (upland) 12/4: safe loss while wet 0.87 points of MC a day\n  (extrapolated)."
        in told
    )


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
