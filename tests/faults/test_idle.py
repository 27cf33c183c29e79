"""Stacks that use little of their safe pace, and what would open them up."""

from dataclasses import replace

import pytest
from tests.faults.judging import R7, UNKNOWN, Air, at, grounds
from tests.faults.test_other_hazards import WEEK, everywhere

from drywind.judge.assess import assess
from drywind.judge.cases import Grounds, make_case
from drywind.judge.outlook import Outlook
from drywind.judge.runs import Run
from drywind.judge.use import Hint, hints, share_of_pace
from drywind.wood.limits import stack_limit
from drywind.yard import Measure, Setup, Stack

COOL: Air = (10.0, 0.75, 3.0)
FRESH: Air = (22.0, 0.5, 4.0)
WALNUT = replace(R7, id="W1", species="black_walnut", setup=Setup("barn"))
CLOSED = replace(
    WALNUT, setup=Setup("shed", measures=frozenset({Measure.PACKS_CLOSED, Measure.BURLAP}))
)
NOW = 96


def look(ground: Grounds, stack: Stack) -> tuple[Outlook, Run]:
    """Judge a stack four days old."""
    run = Run.fresh(make_case(stack, ground, at(NOW + 72), at(NOW)))
    (seen,) = assess([run], {stack.id: stack_limit(stack, {})}, ground, at(NOW), 24)
    return seen, run


def hint(ground: Grounds, stack: Stack) -> Hint | None:
    """Return what would open a stack up."""
    seen, run = look(ground, stack)
    return hints([seen], {stack.id: run}, ground, 24).get(stack.id)


@pytest.mark.parametrize("stack", [WALNUT, CLOSED])
def test_a_stack_uses_more_of_its_pace_in_drier_air(stack: Stack) -> None:
    cool, fresh = (share_of_pace(look(everywhere(air, WEEK), stack)[0]) for air in (COOL, FRESH))

    assert cool is not None
    assert fresh is not None
    assert 0.0 < cool < fresh < 1.0


def test_walnut_in_a_still_corner_is_worth_opening_up() -> None:
    found = hint(everywhere(COOL, WEEK), WALNUT)

    assert found is not None
    assert found.share < 0.3
    assert found.trial.spared
    assert found.trial.remedy.move_to in {"gravel", "shed"}
    assert found.trial.remedy.measures == ()


def test_a_stack_that_keeps_its_pace_is_left_alone() -> None:
    red_oak = replace(R7, setup=Setup("shed"))

    assert hint(everywhere(FRESH, WEEK), red_oak) is None


def test_nothing_is_said_of_a_stack_of_which_hours_are_unknown() -> None:
    gaps = [*[COOL] * 110, *[UNKNOWN] * 40, *[COOL] * 18]

    assert hint(grounds(dict.fromkeys(("gravel", "barn"), gaps)), WALNUT) is None


def test_wood_too_dry_to_be_harmed_has_no_pace() -> None:
    seen, _ = look(everywhere(FRESH, WEEK), replace(WALNUT, green_mc_pct=22.0))

    assert share_of_pace(seen) is None
