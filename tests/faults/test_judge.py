"""Judging by the real drying model where weather is missing and where the model fails."""

import logging
from dataclasses import replace
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from pydantic import SecretStr
from tests.faults.judging import (
    AHEAD,
    HOT,
    LIMIT,
    MILD,
    R7,
    STACKED,
    UNKNOWN,
    WARM,
    at,
    case,
    figures,
    grounds,
    judge,
    look,
)

from drywind.alerts.decide import Before, decide
from drywind.alerts.records import Decision, Reason
from drywind.climate.stack_air import Board
from drywind.config import Channel, Contact, Policy, Topic
from drywind.judge.hazards import Pace, pace
from drywind.judge.outlook import Outlook
from drywind.judge.runs import Run, advance
from drywind.units import Units
from drywind.yard import Setup

NOTHING = Pace({}, None, complete=False)


def reasons(seen: Outlook, now: float) -> list[Reason]:
    """Return what is said of it to who has heard nothing yet, and to who was warned of more."""
    contact = Contact("Ada", Channel.TEXT, SecretStr(""), frozenset(Topic), Units.US)
    warned = Decision(
        "Ada", "R7", "too_fast", Reason.FIRST, at(now - 23), 9.0, at(now - 23), at(now - 1)
    )
    zone = ZoneInfo("America/Chicago")
    return [
        decide(seen.too_fast, contact, Before(before), Policy(), at(now), zone).reason
        for before in (None, warned)
    ]


def test_hot_wind_over_a_wet_stack_is_seen_and_something_helps() -> None:
    """The weather of these tests is a danger, and is known: what follows is not for lack of one."""
    seen = look(grounds({"gravel": [HOT] * 72}), 24)

    assert seen.pace.complete
    assert set(seen.pace.by_board) == set(Board)
    assert seen.severity > 1.2
    assert seen.onset is not None
    assert seen.chosen is not None
    assert seen.chosen.severity < seen.severity
    assert reasons(seen, 24) == [Reason.FIRST, Reason.NOTHING_NEW]


def test_mild_air_in_a_shed_is_no_danger_and_ends_a_warning() -> None:
    seen = look(grounds({"shed": [MILD] * 72}), 24, replace(R7, setup=Setup("shed")))

    assert seen.pace.complete
    assert reasons(seen, 24) == [Reason.NOTHING_NEW, Reason.ALL_CLEAR]


@pytest.mark.parametrize("known", [0, 24])
def test_of_unknown_weather_nothing_is_judged_and_no_warning_ends(known: int) -> None:
    seen = look(grounds({"gravel": [*[HOT] * known, *[UNKNOWN] * 72]}), 24)

    assert seen.pace == NOTHING
    assert (seen.severity, seen.onset, seen.spell, seen.act_by) == (0.0, None, None, None)
    assert (seen.trials, seen.chosen) == ((), None)
    assert reasons(seen, 24) == [Reason.NOTHING_NEW] * 2


def test_unknown_hours_leave_the_boards_as_they_were() -> None:
    seen = look(grounds({"gravel": [*[HOT] * 10, *[UNKNOWN] * 10, *[HOT] * 52]}), 24)
    mc = seen.run.mc_pct

    assert seen.unknown_hours == 10
    np.testing.assert_array_equal(mc[11:21], mc[10:20])
    assert (mc[21] < mc[20]).all()


def test_a_gap_behind_spoils_only_the_windows_it_lies_in() -> None:
    """At hour 36 the first two days are judged, and days from hour 24 on."""
    weather = [*[HOT] * 10, *[UNKNOWN] * 10, *[HOT] * 65]

    early, later = (look(grounds({"gravel": weather}), now) for now in (36, 37))

    assert not early.pace.complete
    assert later.pace.complete
    assert {w.start >= 24 for w in early.pace.by_board.values()} == {True}


def test_a_danger_this_side_of_a_gap_is_warned_of_and_can_be_helped_as_far_as_is_known() -> None:
    hot, mild = ([*[MILD] * 24, *[air] * 26, *[UNKNOWN] * 10, *[MILD] * 12] for air in (HOT, MILD))
    seen = look(grounds({"gravel": hot, "barn": mild}), 24)

    assert seen.onset is not None
    assert not seen.pace.complete
    assert seen.chosen is not None
    assert seen.chosen.safe
    assert not any(trial.pace.complete for trial in seen.trials)
    assert {t.safe is (t.pace.onset is None) for t in seen.trials} == {True}


def test_a_gap_of_three_hours_is_bridged_and_one_of_four_is_not() -> None:
    def complete(gap: int) -> bool:
        hours = [*[HOT] * 40, *[UNKNOWN] * gap, *[HOT] * (32 - gap)]
        return look(grounds({"gravel": hours}), 24).pace.complete

    assert complete(3)
    assert not complete(4)


def test_a_forecast_too_short_is_judged_as_far_as_it_goes_and_called_incomplete() -> None:
    seen = look(grounds({"gravel": [*[HOT] * 60, *[UNKNOWN] * 12]}), 24)

    assert seen.onset is not None
    assert not seen.pace.complete


def test_a_stack_stacked_in_this_very_hour_is_judged_and_can_be_helped() -> None:
    fresh = replace(R7, stacked_at=at(0.7))
    seen = look(grounds({"gravel": [HOT] * 48}), 0.75, fresh)

    assert seen.case.start == STACKED
    assert seen.now == 0
    assert seen.pace.complete
    assert {(w.start, w.hours) for w in seen.pace.by_board.values()} == {(0, 48)}
    assert seen.onset == STACKED
    assert seen.act_by == at(2)
    assert seen.chosen is not None


def test_dried_in_pieces_a_stack_comes_to_the_same() -> None:
    found = case(grounds({"gravel": [HOT] * 72}), 24)
    (whole,) = advance([Run.fresh(found)], [72])
    pieces = [Run.fresh(found)]
    for hour in (1, 1, 7, 40, 72):
        pieces = advance(pieces, [hour])

    assert figures(pace(pieces[0], 24, AHEAD, LIMIT.value)) == pytest.approx(
        figures(pace(whole, 24, AHEAD, LIMIT.value)), rel=1e-9
    )


def test_without_stacks_there_is_nothing_to_judge() -> None:
    assert judge(grounds({"gravel": [HOT] * 72}), 24) == []


def test_a_stack_the_model_fails_on_is_unknown_and_the_others_are_judged_as_ever(
    caplog: pytest.LogCaptureFixture,
) -> None:
    ground = grounds({"gravel": [HOT] * 72})
    poisoned = replace(R7, id="X1", green_mc_pct=-5.0)
    last = replace(R7, id="R9")

    with caplog.at_level(logging.ERROR):
        runs = [Run.fresh(case(ground, 24, stack)) for stack in (R7, poisoned, last)]
        healthy, unknown, too = judge(ground, 24, *runs)

    assert figures(healthy.pace) == figures(too.pace) == figures(look(ground, 24).pace)
    assert healthy.onset is not None
    assert [o.case.stack.id for o in (healthy, unknown, too)] == ["R7", "X1", "R9"]
    assert unknown.pace == NOTHING
    assert (unknown.trials, unknown.chosen, unknown.spell) == ((), None, None)
    assert reasons(unknown, 24) == [Reason.NOTHING_NEW] * 2
    assert "X1" in caplog.text
    assert "R7" not in caplog.text


def test_the_work_is_due_before_the_first_harm_not_before_the_worst() -> None:
    gale = (40.0, 0.1, 12.0)
    weather = [*[MILD] * 62, *[WARM] * 12, *[MILD] * 8, *[gale] * 30]
    seen = look(grounds({"shed": weather}), 54, replace(R7, setup=Setup("shed")))

    assert seen.pace.worst is not None
    assert seen.pace.onset is not None
    assert seen.pace.onset.end < seen.pace.worst.start
    assert seen.act_by == at(62)
    assert seen.spell is not None
    assert (seen.spell.first, seen.spell.temp_c) == (at(62), 40.0)
    assert seen.spell.start == at(82)
