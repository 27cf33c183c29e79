"""A past year replayed from the command line: what it prints, and how it is used wrongly."""

import gzip
from pathlib import Path

import pytest
from tests.conftest import Command, Yard
from tests.timelines.seasons import COOL, HOT, LOT, days

from drywind.weather.hour import VALUES

PLACE = ("--lat", "41.98", "--lon", "-75", "--altitude", "205")
OAK = ("--species", "red oak", "--thickness", "4/4")
COOL_SPAN = ("--start", "2026-06-06", "--days", "3", "--exposure", "barn")
SPAN = ("--start", "2026-06-02", "--days", "3")


@pytest.fixture(scope="session")
def season(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Nine days from June 1st on, the fifth of them hot."""
    file = tmp_path_factory.mktemp("season") / "season.csv"
    table = days(9, COOL, {4: HOT}).tables[LOT.name]
    table[list(VALUES)].to_csv(file, date_format="%Y-%m-%dT%H:%MZ")
    return file


def test_the_json_is_a_contract(quick: Command, season: Path) -> None:
    done = quick("replay", "--weather", str(season), *OAK, *PLACE, *SPAN, "--perfect", "--json")

    assert done.code == 0, done.stderr
    assert done.stderr == ""
    told = done.json
    assert set(told) == {"daily", "days_to_20_pct", "findings", "messages", "score"}
    assert [day["date"] for day in told["daily"]] == ["2026-06-02", "2026-06-03", "2026-06-04"]
    keys = "mc_pct edge_mc_pct loss_pct edge_loss_pct limit_pct shell_mc_pct emc_pct"
    assert all(day[key] is not None for day in told["daily"] for key in keys.split())
    assert told["days_to_20_pct"] is None
    assert len(told["findings"]) == 24 * 3
    assert {"at", "hazard", "severity", "first", "complete"} <= set(told["findings"][0])
    said = {hazard: score["texts"] for hazard, score in told["score"].items()}
    assert set(said) == {"too_fast", "stain", "wetting"}
    assert sum(said.values()) == len(told["messages"]) > 0
    text = told["messages"][0]
    assert (text["reason"], text["hazard"]) == ("first", "too_fast")
    assert text["text"].startswith("drywind stack red oak 4/4, yard: ")


def test_it_reads_packed_files_and_prints_a_summary(
    quick: Command, season: Path, tmp_path: Path
) -> None:
    packed = tmp_path / "season.gz"
    packed.write_bytes(gzip.compress(season.read_bytes()))

    done = quick("replay", "--weather", str(packed), *OAK, *PLACE, *COOL_SPAN)

    assert done.code == 0, done.stderr
    assert done.stderr == ""
    assert "Not at 20 % when the weather ends." in done.stdout
    assert "Harm that came: 0; warned of in time: 0." in done.stdout
    assert max(map(len, done.stdout.splitlines())) <= 80


@pytest.mark.usefixtures("yard")
def test_a_site_of_the_configuration_brings_its_place_and_its_clock(
    quick: Command, season: Path
) -> None:
    """Midnight in Chicago in summer is 05:00 UTC."""
    begin = ("--start", "2026-06-06", "--days", "1", "--site", "barn", "--json")

    done = quick("replay", "--weather", str(season), *OAK, *begin)

    assert done.code == 0, done.stderr
    assert [(day["date"], day["hours"]) for day in done.json["daily"]] == [("2026-06-06", 24)]
    assert done.json["findings"][0]["at"] == "2026-06-06T05:00:00Z"


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        (("--species", "walnut"), "did you mean black_walnut?"),
        (("--thickness", "thick"), "'thick' is not a thickness; write it like 4/4, 8/4 or 27mm"),
        (("--start", "May"), "'May' is not a time; write it like 2026-06-13T07:30"),
        (("--start", "2026-05-31"), "runs from 2026-06-01 00:00 to 2026-06-10 00:00; --start 2026"),
        (("--days", "9"), "--start 2026-06-02 and --days 9 do not lie within"),
        (("--days", "0"), "0 is not in the range"),
        (("--seed", "0"), "0 is not in the range"),
        (("--lat", "91"), "91.0 is not in the range"),
        (("--altitude", "high"), "'high' is not a length with its unit"),
        (("--exposure", "loft"), "'loft' is not one of 'open', 'roofed', 'shed', 'barn'"),
        (("--exposure", "shed", "--site", "barn"), "--site and --exposure: give one of them"),
        (("--weather", "gone.csv"), "gone.csv: cannot be read"),
    ],
    ids=lambda part: " ".join(part) if isinstance(part, tuple) else "",
)
def test_what_cannot_be_used_is_named(
    quick: Command, season: Path, changes: tuple[str, ...], words: str
) -> None:
    done = quick("replay", "--weather", str(season), *OAK, *PLACE, *SPAN, *changes)

    assert done.code == 2
    assert words in done.stderr
    assert done.stdout == ""


def test_a_file_without_place_needs_one_whole(quick: Command, season: Path) -> None:
    none = quick("replay", "--weather", str(season), *OAK, *SPAN)
    half = quick("replay", "--weather", str(season), *OAK, *SPAN, *PLACE[:4])

    assert (none.code, half.code) == (2, 2)
    assert "CSV names no place; give one with --lat, --lon and --altitude" in none.stderr
    assert "--lat, --lon and --altitude are given together or not at all" in half.stderr


def test_a_site_must_be_in_the_configuration(quick: Command, yard: Yard, season: Path) -> None:
    done = quick("replay", "--weather", str(season), *OAK, *SPAN, "--site", "loft")

    assert yard.config.exists()
    assert done.code == 2
    assert "no site named 'loft'; there are: gravel, shed, barn" in done.stderr
