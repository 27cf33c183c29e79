"""A stack's hours from stacking on: what was done to it, and states it is taken up at."""

from dataclasses import replace

import numpy as np
import pytest
from tests.faults.judging import (
    HOT,
    MILD,
    R7,
    WARM,
    at,
    case,
    cover,
    figures,
    grounds,
    judge,
    look,
    move,
)

from drywind.climate.stack_air import Board, stack_air
from drywind.judge.runs import Run, advance
from drywind.yard import Measure, Setup


def test_a_stack_moved_and_covered_midway_gets_the_air_of_each_span() -> None:
    ground = grounds({"gravel": [HOT] * 72, "barn": [MILD] * 72})
    stack = replace(R7, events=(cover(20, Measure.BURLAP), move(10, "barn")))

    found = case(ground, 24, stack)

    setups = [Setup("gravel"), Setup("barn"), Setup("barn", measures=frozenset({Measure.BURLAP}))]
    for setup, span in zip(setups, [(0, 10), (10, 20), (20, 72)], strict=True):
        hours = slice(*span)
        site = ground.sites[setup.site]
        air = stack_air(ground.tables[setup.site].iloc[hours], site, setup)
        for name, expected in vars(air).items():
            np.testing.assert_array_equal(getattr(found.drivers, name)[hours], expected)
    assert found.weather["temp_c"].tolist() == [33.0] * 10 + [15.0] * 62
    assert found.counted == (Board.TYPICAL, Board.EDGE)


def test_a_move_changes_what_comes_after_it_and_nothing_before() -> None:
    ground = grounds({"gravel": [HOT] * 72, "barn": [MILD] * 72})
    stayed, moved = (
        look(ground, 24, replace(R7, events=events)) for events in ((), (move(10, "barn"),))
    )

    np.testing.assert_allclose(moved.run.mc_pct[:11], stayed.run.mc_pct[:11], rtol=1e-9)
    assert (moved.run.mc_pct[12:] > stayed.run.mc_pct[12:]).all()
    assert stayed.onset is not None
    assert moved.onset is None


@pytest.mark.parametrize(
    "hours",
    [
        pytest.param((-30, -5), id="before stacking"),
        pytest.param((0, 0.5), id="in the hour of stacking"),
        pytest.param((10.1, 10.9), id="in one hour"),
        pytest.param((20, 10), id="told out of order"),
        pytest.param((23.9, 24.4), id="in the present hour"),
        pytest.param((30, 40), id="planned"),
        pytest.param((71.5, 500), id="at and past the end of the forecast"),
    ],
)
def test_whenever_things_were_done_every_hour_is_there_once(hours: tuple[float, float]) -> None:
    first, second = hours
    stack = replace(R7, events=(move(first, "barn"), cover(second, Measure.BURLAP)))
    ground = grounds({"gravel": [HOT] * 72, "barn": [MILD] * 72})

    found = case(ground, 24, stack)

    assert found.weather.index.tolist() == ground.tables["gravel"].index.tolist()
    assert {len(array) for array in vars(found.drivers).values()} == {72}


def test_a_run_taken_up_at_a_checkpoint_gives_the_outlook_of_a_whole_one() -> None:
    weather = [*[MILD] * 60, *[WARM] * 60]
    ground = grounds({"gravel": weather, "barn": weather})
    found = case(ground, 54)
    (at_6,) = advance([Run.fresh(found)], [6])

    (whole,) = judge(ground, 54, Run.fresh(found))
    (resumed,) = judge(ground, 54, Run.resumed(found, 6, at_6.state, at_6.clocks.at(6)))

    assert whole.onset is not None
    assert figures(resumed.pace) == pytest.approx(figures(whole.pace), rel=1e-9)
    assert resumed.spell == whole.spell
    assert [t.remedy for t in resumed.trials] == [t.remedy for t in whole.trials]
    assert [t.severity for t in resumed.trials] == pytest.approx(
        [t.severity for t in whole.trials], rel=1e-9
    )
    assert resumed.chosen is not None
    assert whole.chosen is not None
    assert resumed.chosen.remedy == whole.chosen.remedy


def test_a_fresh_stack_beside_it_changes_a_stacks_outlook_by_less_than_is_told() -> None:
    """All stacks are dried in one batch, whose steps are as short as its freshest boards need."""
    ground = grounds({"gravel": [HOT] * 84})
    neighbor = replace(R7, id="F1", stacked_at=at(36))

    alone = look(ground, 36)
    beside, _ = judge(
        ground, 36, Run.fresh(case(ground, 36)), Run.fresh(case(ground, 36, neighbor))
    )

    assert figures(beside.pace) == pytest.approx(figures(alone.pace), abs=0.01)


@pytest.mark.parametrize(
    ("changed_hour", "still_holds"), [(30, False), (47, False), (48, True), (60, True)]
)
def test_a_checkpoint_holds_until_something_before_it_changes(
    changed_hour: int, still_holds: bool
) -> None:
    weather = [MILD] * 84
    corrected = [*weather[:changed_hour], HOT, *weather[changed_hour + 1 :]]

    before, after = (case(grounds({"gravel": w}), 36) for w in (weather, corrected))
    covered = replace(R7, events=(cover(changed_hour, Measure.BURLAP),))
    late_entry = case(grounds({"gravel": weather}), 36, covered)

    assert (after.fingerprint(48) == before.fingerprint(48)) is still_holds
    assert (late_entry.fingerprint(48) == before.fingerprint(48)) is still_holds
    assert before.fingerprint(47) != before.fingerprint(48)
