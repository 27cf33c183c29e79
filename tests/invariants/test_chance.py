"""The chance of harm: the share of weathers in which a stack comes over its limit."""

from dataclasses import replace

import pytest
from tests.faults.judging import HORIZON, HOT, LIMIT, MILD, R7, Air, at, case, grounds, judge

from drywind.judge.cases import Grounds
from drywind.judge.chance import Course, chances
from drywind.judge.findings import Hazard
from drywind.judge.runs import Run, View
from drywind.wood.limits import Limit
from drywind.yard import Measure, Setup

NOW, AHEAD = 2, 24
STACK = replace(R7, setup=Setup("gravel", measures=frozenset({Measure.PILE_ROOF})))
SPAN = NOW + HORIZON


def with_members(weather: Air, *members: Air) -> Grounds:
    """Return a yard with a forecast, and with weathers that could come instead."""
    tables = [dict(grounds({"gravel": [air] * SPAN}).tables) for air in members]
    return replace(grounds({"gravel": [weather] * SPAN}), members=lambda: tables)


def chance(ground: Grounds) -> float | None:
    (found,) = chances([course(ground)], AHEAD)
    return found.over[Hazard.TOO_FAST] if found else None


def course(ground: Grounds, limit: Limit = LIMIT) -> Course:
    """Return a stack to which nothing is done."""
    return Course.as_it_stands(View(Run.fresh(case(ground, NOW, STACK)), limit, ground, at(NOW)))


@pytest.mark.parametrize(("hot", "mild"), [(4, 0), (0, 4), (1, 3), (3, 1)])
def test_it_is_the_share_of_weathers_that_harm(hot: int, mild: int) -> None:
    ground = with_members(HOT, *[HOT] * hot, *[MILD] * mild)

    assert chance(ground) == hot / (hot + mild)


def test_the_first_member_alone_is_judged_as_the_forecast_is() -> None:
    ground = with_members(HOT, HOT)

    (seen,) = judge(ground, NOW, Run.fresh(case(ground, NOW, STACK)))

    assert seen.severity > 1.0
    assert seen.chance == 1.0


def test_without_weathers_to_try_it_is_unknown_and_never_nought() -> None:
    assert chance(with_members(HOT)) is None
    assert chance(with_members(HOT, None)) is None


def test_far_from_the_limit_it_is_not_asked() -> None:
    ground = with_members(MILD, *[HOT] * 3)

    (seen,) = judge(ground, NOW, Run.fresh(case(ground, NOW, STACK)))

    assert seen.chance is None


def test_each_stack_has_its_own_in_one_batch() -> None:
    ground = with_members(HOT, HOT, MILD)
    both = chances([course(ground), course(ground, replace(LIMIT, value=100.0))], AHEAD)

    assert [odds.over[Hazard.TOO_FAST] for odds in both if odds] == [0.5, 0.0]
