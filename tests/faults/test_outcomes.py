"""How stacks came out: told at their end, held against warnings, and a tighter limit proposed."""

from datetime import UTC, datetime, timedelta

import pytest
from tests.conftest import DRY, HOT_DRY, WEEK, Command, WeatherService, Yard

from drywind.judge.findings import Hazard
from drywind.learn.outcomes import Ended, Tally, proposals, tallies
from drywind.outcomes import Harm, Result

NOW = datetime(2026, 6, 20, 12, tzinfo=UTC)
DAYS = 6
STACKED = NOW - timedelta(days=DAYS)


@pytest.fixture
def stacks(quick: Command, weather_service: WeatherService) -> None:
    """Put up three stacks that have stood for six days, two of them hot ones."""
    weather = [HOT_DRY] * 48 + [DRY] * (24 * DAYS + WEEK)
    weather_service.issue(STACKED, weather)
    for name, site in (("R7", "gravel"), ("R8", "gravel"), ("B1", "barn")):
        added = f"stack add {name} --species white_oak --thickness 4/4 --site {site}"
        quick(*added.split(), "--stacked", STACKED.isoformat())
    done = quick("watch", "--once", "--now", STACKED.isoformat())
    assert done.code == 0, done.stderr


@pytest.mark.usefixtures("stacks")
def test_the_score_is_kept_by_what_was_warned_of_and_seen(yard: Yard, quick: Command) -> None:
    for name, checks in (("R7", "some"), ("R8", "none"), ("B1", "none")):
        done = quick(
            *f"stack end {name} --checks {checks} --stain none --at".split(), NOW.isoformat()
        )
        assert done.code == 0, done.stderr
    told = quick("outcomes", "--json").json

    assert told["score"]["checks"]["warned_harmed"] == 1
    assert told["score"]["checks"]["warned_sound"] >= 1
    assert {stack["id"]: stack["checks"] for stack in told["stacks"]}["R7"] == "some"
    severities = {stack["id"]: stack["worst_severity"] for stack in told["stacks"]}
    assert severities["R7"] > max(1.0, severities["B1"])
    assert told["proposals"] == []
    assert "safe_loss" not in yard.config.read_text()


def test_an_end_without_a_word_on_how_it_came_out_counts_in_no_score(
    quick: Command, weather_service: WeatherService
) -> None:
    weather_service.issue(NOW, [DRY] * WEEK)
    quick(*["stack", "add", "R7", "--species", "red_oak", "--thickness", "4/4", "--site", "barn"])
    quick("stack", "end", "R7", "--at", (NOW + timedelta(days=1)).isoformat())

    assert "No stack was taken down yet" in quick("outcomes").stdout


def ended(checks: Harm, severity: float, warned: bool = False) -> Ended:
    """Return a stack of white oak, held to 2.5, and the worst it went through."""
    hazards = frozenset({Hazard.TOO_FAST} if warned else ())
    return Ended("W", "white_oak", 2.5, Result(checks=checks, severity=severity), hazards)


def test_checks_under_the_limit_propose_a_tighter_one() -> None:
    (found,) = proposals([ended(Harm.SOME, 0.92), ended(Harm.NONE, 0.7)])

    assert found.proposed == 2.0
    assert found.checked == pytest.approx((2.3,))


@pytest.mark.parametrize(
    "stacks",
    [
        [ended(Harm.SOME, 1.4)],
        [ended(Harm.NONE, 0.9)],
        [ended(Harm.SOME, 0.8), ended(Harm.NONE, 0.95)],
        [],
    ],
)
def test_nothing_is_proposed_by_checks_over_the_limit_or_where_others_bore_as_much(
    stacks: list[Ended],
) -> None:
    assert proposals(stacks) == []


def test_two_that_checked_outweigh_one_that_did_not() -> None:
    found = proposals([ended(Harm.RUINED, 0.8), ended(Harm.SOME, 0.85), ended(Harm.NONE, 0.95)])

    assert [p.proposed for p in found] == [1.8]


def test_every_stack_is_counted_once() -> None:
    stacks = [
        ended(Harm.SOME, 1.2, warned=True),
        ended(Harm.NONE, 1.2, warned=True),
        ended(Harm.SOME, 0.9),
        ended(Harm.NONE, 0.5),
        ended(Harm.NONE, 0.5),
    ]

    assert tallies(stacks)["checks"] == Tally(1, 1, 1, 2)
    assert tallies(stacks)["stain"] == Tally(0, 0, 0, 0)
