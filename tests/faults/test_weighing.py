"""Sample boards from the command line: what is weighed is learned, what cannot be is asked about."""

from datetime import UTC, datetime, timedelta

import pytest
from tests.conftest import DRY, WEEK, Command, WeatherService, Yard

NOW = datetime.now(UTC).replace(minute=0, second=0, microsecond=0)
DAYS = 8
STACKED = NOW - timedelta(days=DAYS)
"""Readings are entered as of now, so the yard's past lies before the real present."""


def at(days: float) -> str:
    """Return an instant counted from when the stack was stacked."""
    return (STACKED + timedelta(days=days)).isoformat()


@pytest.fixture
def stack(quick: Command, weather_service: WeatherService) -> None:
    """A stack that has stood for eight days in weather that is known, seen by a pass."""
    done = quick(
        *"stack add R7 --species red_oak --thickness 4/4 --site gravel".split(),
        *("--measures", "pile_roof", "--stacked", STACKED.isoformat()),
    )
    assert done.code == 0, done.stderr
    weather_service.issue(STACKED, [DRY] * (24 * DAYS + WEEK))
    done = quick("watch", "--once", "--dry-run", "--now", STACKED.isoformat())
    assert done.code == 0, done.stderr


@pytest.mark.usefixtures("stack")
def test_weighings_correct_the_course_of_a_stack(quick: Command) -> None:
    table = quick("stack", "show", "R7", "--json").json
    cut = ("--section", "90 g/50 g", "--section", "18 g/10 g", "--at", at(0))
    done = quick("stack", "sample", "R7", "A", "--weight", "1800 g", *cut)
    assert done.stdout == "R7 board A: 80.0 % MC by its sections.\n"

    for day, weight in ((3, 1706), (7, 1625)):
        done = quick(
            *f"stack weigh R7 --board A --weight {weight}g --at {at(day)}".split(),
        )
        assert done.code == 0, done.stderr
    shown = quick("stack", "show", "R7", "--json").json

    assert "62.5 % MC by weight" in done.stdout
    assert "times as fast" in done.stdout
    learned = shown["learned"]
    assert learned["readings"] == 3
    assert learned["diffusion_multiplier"]["value"] < 0.9
    assert shown["mc_pct"]["typical"] > table["mc_pct"]["typical"] + 2.0
    assert table["learned"] is None
