"""What is tried for a stack in danger, and what is advised."""

from dataclasses import replace

import pytest
from tests.faults.judging import (
    HOT,
    MILD,
    R7,
    UNKNOWN,
    WARM,
    case,
    grounds,
    judge,
    look,
)

from drywind.climate.stack_air import Board
from drywind.judge.measures import Remedy, Trial, choose
from drywind.judge.outlook import Outlook
from drywind.judge.runs import Run
from drywind.yard import Measure, Setup

ROOF, BURLAP = Measure.PILE_ROOF, Measure.BURLAP


def moves(seen: Outlook) -> set[str | None]:
    """Return where a stack's remedies would move it."""
    return {trial.remedy.move_to for trial in seen.trials}


def boards(seen: Outlook, remedy: Remedy) -> set[Board]:
    """Return which boards are judged with a remedy that was tried."""
    [tried] = [trial for trial in seen.trials if trial.remedy == remedy]
    return set(tried.pace.by_board)


@pytest.mark.parametrize("full", [True, False])
def test_no_stack_is_sent_to_a_site_that_is_full(full: bool) -> None:
    ground = grounds({"gravel": [HOT] * 72, "shed": [HOT] * 72})
    ground = replace(ground, full=frozenset({"gravel", "shed"} if full else ()))

    (seen,) = judge(ground, 24, Run.fresh(case(ground, 24)))

    assert moves(seen) == ({None} if full else {None, "shed"})


def test_a_site_whose_weather_nobody_knows_is_no_safe_place() -> None:
    seen = look(grounds({"gravel": [HOT] * 72, "barn": [*[HOT] * 20, *[UNKNOWN] * 52]}), 24)
    away = [trial for trial in seen.trials if trial.remedy.move_to is not None]

    assert away
    assert not any(trial.safe or trial.pace.complete for trial in away)
    assert seen.chosen not in away


def test_a_site_whose_weather_is_known_only_before_the_danger_is_no_safe_place() -> None:
    """Were the hot hours known there too, the shed would be no safe place."""
    hot = [*[MILD] * 56, *[HOT] * 16]
    known, unknown = (
        look(grounds({"gravel": hot, "shed": shed}), 24)
        for shed in (hot, [*[MILD] * 56, *[UNKNOWN] * 16])
    )

    def to_shed(seen: Outlook) -> Trial:
        [tried] = [trial for trial in seen.trials if trial.remedy == Remedy((), "shed")]
        return tried

    if to_shed(known).safe:
        pytest.fail("the shed is safe in this weather: make it hotter")
    assert not to_shed(unknown).safe


def test_hours_unknown_with_and_without_a_remedy_do_not_make_it_unsafe() -> None:
    hours = [*[MILD] * 24, *[WARM] * 36, *[UNKNOWN] * 12]
    seen = look(grounds({"gravel": hours, "shed": hours}), 24)

    assert not seen.pace.complete
    assert all(trial.known for trial in seen.trials)
    assert seen.chosen is not None
    assert seen.chosen.safe


def test_a_remedy_that_does_not_help_is_not_advised() -> None:
    seen = look(grounds({"gravel": [HOT] * 72}), 24)
    useless = Trial(Remedy((BURLAP,)), seen.pace)

    assert choose([useless], [seen.severity]) is None


def test_with_no_other_site_only_covers_are_tried() -> None:
    seen = look(grounds({"gravel": [HOT] * 72}), 24)

    assert moves(seen) == {None}
    assert len(seen.trials) == 4 + 6


def test_with_all_covers_on_only_moves_are_tried() -> None:
    covered = replace(R7, setup=Setup("gravel", measures=frozenset(Measure)))
    seen = look(grounds({"gravel": [HOT] * 72, "shed": [HOT] * 72}), 24, covered)

    assert {trial.remedy.measures for trial in seen.trials} == {()}
    assert moves(seen) == {"shed"}


def test_with_all_covers_on_and_no_other_site_the_danger_is_seen_and_nothing_helps() -> None:
    fan = (40.0, 0.08, 20.0)
    covered = replace(R7, setup=Setup("gravel", measures=frozenset(Measure)))
    seen = look(grounds({"gravel": [fan] * 72}), 24, covered)

    assert seen.onset is not None
    assert seen.spell is not None
    assert (seen.trials, seen.chosen) == ((), None)


def test_under_a_roof_no_top_course_is_judged_and_no_pile_roof_is_tried() -> None:
    sheltered = replace(R7, setup=Setup("shed"))
    seen = look(grounds({"shed": [HOT] * 72}), 24, sheltered)

    assert set(seen.pace.by_board) == {Board.TYPICAL, Board.EDGE}
    assert seen.trials
    assert not any(ROOF in trial.remedy.measures for trial in seen.trials)


def test_out_from_under_a_roof_the_open_top_counts_unless_it_gets_a_roof_of_its_own() -> None:
    ground = grounds({"gravel": [HOT] * 72, "shed": [HOT] * 72})
    seen = look(ground, 24, replace(R7, setup=Setup("shed")))

    assert boards(seen, Remedy((), "gravel")) == set(Board)
    assert boards(seen, Remedy((ROOF,), "gravel")) == {Board.TYPICAL, Board.EDGE}
    assert boards(seen, Remedy((BURLAP,))) == {Board.TYPICAL, Board.EDGE}


def test_in_under_a_roof_the_top_counts_no_more() -> None:
    seen = look(grounds({"gravel": [HOT] * 72, "shed": [HOT] * 72}), 24)

    assert boards(seen, Remedy((), "shed")) == {Board.TYPICAL, Board.EDGE}
    assert boards(seen, Remedy((ROOF,))) == {Board.TYPICAL, Board.EDGE}
    assert boards(seen, Remedy((BURLAP,))) == set(Board)
