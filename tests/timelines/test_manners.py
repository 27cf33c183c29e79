"""Each hazard has its manner: which are told the evening before, again, worse, and over."""

from dataclasses import replace

import pytest
from tests.messages.outlooks import NOW, ZONE, local
from tests.timelines.scripts import (
    AWAKE,
    FIRST,
    HELD,
    HOUR,
    LAPSED,
    LONG_H,
    NOT_YET,
    REPEAT,
    SILENT,
    SLEEPER,
    TOMORROW,
    Sight,
    decisions,
    hourly,
    reasons,
    severities,
    spoken,
)

from drywind.alerts.decide import Before, decide
from drywind.alerts.manner import MANNERS
from drywind.config import Policy
from drywind.judge.findings import Hazard, Sign

WETTING, STAIN, WAITING = Hazard.WETTING, Hazard.STAIN, Hazard.WAITING
CREEPING = [STAIN, WAITING]
OTHERS = [WETTING, *CREEPING]


def standing(hazard: Hazard, severity: float = 1.2) -> Sight:
    return Sight(severity, harm_at=TOMORROW, lasts_h=LONG_H, hazard=hazard)


def test_every_hazard_has_a_manner_and_a_name_of_its_own() -> None:
    assert set(MANNERS) == set(Hazard)
    assert len({manner.name for manner in MANNERS.values()}) == len(Hazard)


@pytest.mark.parametrize("hazard", CREEPING)
def test_what_creeps_up_is_told_at_once_however_far_off(hazard: Hazard) -> None:
    far = Sight(1.2, harm_at=local(15, 12), hazard=hazard)

    assert reasons(hourly(far)) == [FIRST]


@pytest.mark.parametrize("hazard", CREEPING)
def test_what_creeps_up_never_breaks_a_night(hazard: Hazard) -> None:
    tonight = Sight(3.0, harm_at=local(12, 23), hazard=hazard)

    told = reasons(hourly(*[tonight] * 9, start=local(12, 22)), SLEEPER)

    assert told == [*[HELD] * 8, FIRST]


def test_rain_is_told_the_evening_before_and_may_break_a_night() -> None:
    sunday, tonight = (
        Sight(1.2, harm_at=at, hazard=WETTING) for at in (local(14, 9), local(13, 0))
    )

    assert reasons(hourly(sunday)) == [NOT_YET]
    assert reasons(hourly(tonight, start=local(12, 22)), SLEEPER) == [FIRST]


@pytest.mark.parametrize("hazard", CREEPING)
def test_what_creeps_up_is_never_repeated(hazard: Hazard) -> None:
    assert reasons(hourly(*[standing(hazard)] * 200)) == [FIRST, *[SILENT] * 199]


def test_rain_is_repeated_a_week_later() -> None:
    told = reasons(hourly(*[standing(WETTING)] * 170))

    assert told == [FIRST, *[SILENT] * 167, REPEAT, SILENT]


@pytest.mark.parametrize("hazard", OTHERS)
def test_of_no_other_hazard_it_is_told_that_it_gets_worse_or_comes_sooner(hazard: Hazard) -> None:
    worse = standing(hazard, 3.0)
    sooner = Sight(1.2, harm_at=NOW, hazard=hazard)

    assert reasons(hourly(standing(hazard), worse, sooner)) == [FIRST, SILENT, SILENT]


@pytest.mark.parametrize("hazard", CREEPING)
def test_the_end_of_another_hazard_is_noted_once_and_the_next_is_a_first_again(
    hazard: Hazard,
) -> None:
    day, calm = Sight(1.2, harm_at=TOMORROW, hazard=hazard), Sight(0.5, hazard=hazard)
    later = Sight(1.2, harm_at=local(14, 18), hazard=hazard)

    made = decisions(hourly(*[day] * 3, *[calm] * 24, *[later] * 3))

    assert [d.reason for d in made] == [
        *[FIRST, *[SILENT] * 19],
        *[LAPSED, *[SILENT] * 6],
        *[FIRST, SILENT, SILENT],
    ]
    assert spoken(made) == [("Fri 18:00", FIRST), ("Sat 21:00", FIRST)]


def test_rain_is_told_once_a_week_at_most_and_then_again() -> None:
    """It rains on Saturday, on Monday and on the Sunday after."""
    saturday, monday, sunday = (
        Sight(1.2, harm_at=local(day, 11), hazard=WETTING) for day in (13, 15, 21)
    )
    made = decisions(hourly(*[saturday] * 25, *[monday] * 40, *[sunday] * 150))

    assert spoken(made) == [("Fri 18:00", FIRST), ("Sat 16:00", FIRST)]


def test_mold_is_told_only_where_something_helps() -> None:
    """In a damp summer it grows whatever is done."""
    mold = [Sight(1.2, harm_at=TOMORROW, hazard=STAIN, helps=helps) for helps in (False, True)]
    told = [
        decide(replace(s.finding(NOW), sign=Sign.MOLD), AWAKE, Before(None), Policy(), NOW, ZONE)
        for s in mold
    ]

    assert [d.reason for d in told] == [SILENT, FIRST]


def test_a_day_without_harm_parts_one_danger_from_the_next() -> None:
    """Saturday and Monday are hot: Monday is told as new on the evening before, and not before."""
    saturday, monday = (Sight(1.2, harm_at=local(day, 11)) for day in (13, 15))
    made = decisions(hourly(*[saturday] * 25, *[monday] * 40))

    assert spoken(made) == [("Fri 18:00", FIRST), ("Sun 16:00", FIRST)]
    assert [d.reason for d in made].count(LAPSED) == 1


def test_a_danger_that_comes_again_the_next_day_is_the_same_one() -> None:
    saturday, sunday, monday = (Sight(1.2, harm_at=local(day, 11)) for day in (13, 14, 15))
    script = hourly(*[saturday] * 25, *[sunday] * 24, *[monday] * 22)

    assert spoken(decisions(script)) == [("Fri 18:00", FIRST)]


@pytest.mark.parametrize(
    ("chance", "least", "expected"),
    [
        (None, 0.9, FIRST),
        (0.34, 0.35, SILENT),
        (0.35, 0.35, FIRST),
        (0.0, 0.0, FIRST),
    ],
)
def test_a_danger_is_told_if_it_is_likely_enough_or_nobody_asked(
    chance: float | None, least: float, expected: str
) -> None:
    sight = Sight(1.2, chance=chance)

    assert reasons(hourly(sight), policy=Policy(least_chance=least)) == [expected]


def test_a_warning_stands_while_its_danger_gets_unlikely_but_is_not_repeated() -> None:
    likely, unlikely = (Sight(1.2, harm_at=TOMORROW, lasts_h=LONG_H, chance=c) for c in (0.6, 0.2))

    assert reasons(hourly(likely, *[unlikely] * 99)) == [FIRST, *[SILENT] * 99]


def test_what_is_over_its_limit_by_less_than_a_twentieth_is_not_told() -> None:
    assert reasons(severities(0.99, 1.0)) == [SILENT, FIRST]


def test_a_week_of_any_hazard_within_its_limit_is_a_week_of_silence() -> None:
    for hazard in Hazard:
        assert set(reasons(hourly(*[Sight(0.9, hazard=hazard)] * 168))) == {SILENT}


def test_a_repeat_is_not_told_while_another_is_due_in_hours() -> None:
    """Seventy-two hours, not a minute less."""
    script = [
        (NOW, standing(Hazard.TOO_FAST)),
        (NOW + 72 * HOUR - HOUR / 60, standing(Hazard.TOO_FAST)),
    ]

    assert reasons(script) == [FIRST, SILENT]
