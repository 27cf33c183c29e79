"""Sample boards from the command line: what is weighed teaches, what is doubtful is asked about."""

import math
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from tests.conftest import DRY, WEEK, Command, Done, WeatherService

NOW = datetime(2026, 6, 20, 12, tzinfo=UTC)
DAYS = 8
STACKED = NOW - timedelta(days=DAYS)


def at(days: float) -> str:
    """Return an instant counted from when the stack was stacked."""
    return (STACKED + timedelta(days=days)).isoformat()


def show(quick: Command) -> dict[str, Any]:
    """Show the stack as of the present."""
    shown: dict[str, Any] = quick("stack", "show", "R7", "--json", "--now", NOW.isoformat()).json
    return shown


@pytest.fixture
def stack(quick: Command, weather_service: WeatherService) -> None:
    """Put up a stack that has stood for eight days in weather that a pass has seen."""
    added = "stack add R7 --species red_oak --thickness 4/4 --site gravel --measures pile_roof"
    assert quick(*added.split(), "--stacked", at(0)).code == 0
    weather_service.issue(STACKED, [DRY] * (24 * DAYS + WEEK))
    assert quick("watch", "--once", "--dry-run", "--now", at(0)).code == 0


@pytest.fixture
def boards(quick: Command, stack: None) -> None:  # noqa: ARG001 - it stands first
    """Cut two boards of it, at 80 % MC: A of 1000 g oven-dry, B of 1300 g."""
    for board, weight in (("A", "1800 g"), ("B", "2340 g")):
        cut = ("--section", "90 g/50 g", "--section", "18 g/10 g", "--at", at(0))
        assert quick("stack", "sample", "R7", board, "--weight", weight, *cut).code == 0


def weigh(quick: Command, board: str, weight: str, day: float, *more: str) -> Done:
    """Weigh a board."""
    told = ("--board", board, "--weight", weight, "--at", at(day))
    return quick("stack", "weigh", "R7", *told, *more)


@pytest.mark.usefixtures("boards")
def test_weighings_correct_the_course_of_a_stack(quick: Command) -> None:
    table = show(quick)
    for day, weight in ((3, "1706 g"), (7, "3 lb 9.3 oz")):
        done = weigh(quick, "A", weight, day)
        assert done.code == 0, done.stderr
    shown = show(quick)

    assert "R7 board A: 62.4 % MC by weight.\n4 readings: water moves" in done.stdout
    assert shown["learned"]["readings"] == 4
    assert shown["learned"]["diffusion_multiplier"]["value"] < 0.97
    assert shown["mc_pct"]["typical"] > table["mc_pct"]["typical"] + 0.5
    assert "times as fast" in quick("stack", "show", "R7", "--now", NOW.isoformat()).stdout


@pytest.mark.usefixtures("boards")
@pytest.mark.parametrize(
    ("board", "weight", "words"),
    [
        ("A", "2135 g", "did you swap the boards A and B?"),
        ("A", "3.62 kg", "is it in pounds, not kilograms?"),
        ("A", "1890 g", "is it this board, and was it read right?"),
    ],
)
def test_a_doubtful_weight_is_asked_about_and_kept_only_when_sure(
    quick: Command, board: str, weight: str, words: str
) -> None:
    doubted = weigh(quick, board, weight, 3)
    kept = quick("stack", "readings", "R7", "--json").json
    sure = weigh(quick, board, weight, 3, "--sure")

    assert doubted.code == 2
    assert words in doubted.stderr
    assert "--sure" in doubted.stderr
    assert [len(b["readings"]) for b in kept] == [1, 1]
    assert sure.code == 0


@pytest.mark.usefixtures("boards")
def test_a_wrong_entry_is_struck_or_replaced_and_what_it_taught_is_gone(quick: Command) -> None:
    weigh(quick, "A", "1706 g", 3)
    before = show(quick)["learned"]
    weigh(quick, "B", "2000 g", 3, "--sure")
    number = quick("stack", "readings", "R7", "--json").json[1]["readings"][1]["number"]

    replaced = weigh(quick, "B", "2210 g", 3, "--instead-of", str(number))
    listed = quick("stack", "readings", "R7", "--json").json[1]["readings"]
    struck = quick("stack", "strike", "R7", str(listed[1]["number"]))
    after = show(quick)["learned"]
    again = quick("stack", "strike", "R7", str(number))

    assert replaced.code == 0
    assert [reading["weight_g"] for reading in listed] == [2340.0, 2210.0]
    assert struck.stdout == f"R7: entry #{listed[1]['number']} counts no more.\n"
    assert after == before
    assert (again.code, f"R7 has no entry #{number}" in again.stderr) == (2, True)


@pytest.mark.usefixtures("stack")
def test_a_board_of_unknown_oven_dry_weight_teaches_and_more_once_it_is_dried(
    quick: Command,
) -> None:
    done = quick("stack", "sample", "R7", "A", "--weight", "1800 g", "--at", at(0))
    assert "oven-dry weight is not known yet" in done.stdout
    weigh(quick, "A", "1700 g", 3)
    weigh(quick, "A", "1610 g", 7)
    relative = show(quick)["learned"]
    dried = quick("stack", "dried", "R7", "--board", "A", "--oven-dry", "1000 g", "--at", at(7.5))
    known = show(quick)["learned"]

    def width(learned: dict[str, dict[str, float]], name: str) -> float:
        return math.log(learned[name]["high"] / learned[name]["low"])

    assert dried.stdout.startswith("R7 board A: 61.0 % MC by weight.")
    assert width(relative, "diffusion_multiplier") < 2 * 1.645 * 0.35
    assert width(known, "green_mc_pct") < 0.8 * width(relative, "green_mc_pct")


@pytest.mark.usefixtures("stack")
def test_a_meter_is_corrected_for_cold_and_refused_above_fiber_saturation(quick: Command) -> None:
    cold = quick("stack", "meter", "R7", "15", "--temp", "10C", "--sure", "--at", at(7))
    wet = quick("stack", "meter", "R7", "42", "--temp", "20C", "--at", at(7))
    plain = quick("stack", "event", "R7", "metered", "35")

    assert cold.stdout.startswith("R7: 16.1 % MC by meter.")
    for refused in (wet, plain):
        assert refused.code == 2
        assert "above 30 %" in refused.stderr
        assert "weigh a sample board" in refused.stderr.replace("\n", " ")
    assert quick("stack", "readings", "R7").stdout.count("by meter") == 1


@pytest.mark.parametrize(
    ("weight", "words"), [("1990 g", "boards gain no 8 points"), ("1700 g", "")]
)
def test_where_no_weather_is_known_only_a_great_gain_is_doubted(
    quick: Command, weight: str, words: str
) -> None:
    added = "stack add R7 --species red_oak --thickness 4/4 --site gravel"
    assert quick(*added.split(), "--stacked", at(0)).code == 0
    weigh(quick, "A", "1800 g", 1, "--oven-dry", "1000 g")

    done = weigh(quick, "A", weight, 3)

    assert done.code == (2 if words else 0)
    assert words in done.stderr


def test_a_stack_taken_up_half_dried_teaches_how_fast_its_wood_dries(
    quick: Command, weather_service: WeatherService
) -> None:
    """It is judged from its newest reading on; how wet it was green stays unknown."""
    weather_service.issue(STACKED, [DRY] * (24 * DAYS + WEEK))
    weighed = {"R7": (1450, 1440, 1430), "R8": (1450, 1380, 1330)}
    for name in weighed:
        added = f"stack add {name} --species red_oak --thickness 4/4 --site gravel"
        assert quick(*added.split(), "--stacked", at(-30)).code == 0
    assert "unknown, 720 h of weather missing" in quick("watch", "--once", "--now", at(0)).stdout
    taught = {}
    for name, weights in weighed.items():
        for day, grams in zip((1, 4, 7), weights, strict=True):
            told = ("--board", "A", "--weight", f"{grams} g", "--at", at(day))
            dry = ("--oven-dry", "1000 g") if day == 1 else ()
            done = quick("stack", "weigh", name, *told, *dry)
            assert done.code == 0, done.stderr
        shown = quick("stack", "show", name, "--json", "--now", at(7)).json
        assert shown["mc_pct"]["typical"] == pytest.approx(grams / 10 - 100, abs=0.5)
        taught[name] = shown["learned"]

    assert taught["R7"]["readings"] == 3
    assert taught["R7"]["green_mc_pct"] is None
    assert "; it began at" not in done.stdout
    slow, fast = (taught[name]["diffusion_multiplier"] for name in ("R7", "R8"))
    assert slow["value"] < 0.8
    assert fast["value"] > 1.0
