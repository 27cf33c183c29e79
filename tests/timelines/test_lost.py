"""A stack behind which too many hours are unknown: nothing is said of it until it is measured.

By the real drying model: red oak stacked in a shed, 30 mild hours, hours nobody knows, and then a
gale or mild air to the end of the forecast.
"""

from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from tests.faults.judging import (
    MILD,
    R7,
    UNKNOWN,
    WARM,
    Air,
    at,
    case,
    grounds,
    look,
    metered,
)
from tests.messages.outlooks import ZONE
from tests.timelines.scripts import ALL_CLEAR, AWAKE, FIRST, SILENT

from drywind.alerts.decide import Before, decide
from drywind.alerts.records import Decision, Reason
from drywind.config import Policy
from drywind.judge.hazards import Pace
from drywind.judge.outlook import Outlook
from drywind.yard import Event, EventKind, Setup

GALE: Air = (40.0, 0.1, 12.0)
AFTER = 60
"""Hours are known so long after a gap."""


def weather(gap: int, air: Air) -> list[Air]:
    """Return the hours from stacking on, so many of them unknown."""
    return [*[MILD] * 30, *[UNKNOWN] * gap, *[air] * (2 * AFTER)]


def see(hours: Sequence[Air], now: float, *events: Event) -> Outlook:
    """Judge the stack at an hour counted from stacking."""
    stack = replace(R7, setup=Setup("shed"), events=events)
    return look(grounds({"shed": hours}), now, stack)


def warning(now: float) -> Decision:
    """Return a warning whose hours are over at an hour counted from stacking."""
    made_at = at(now) - timedelta(hours=23)
    return Decision("Ada", "R7", "too_fast", FIRST, made_at, 9.0, made_at, at(now))


def told(seen: Sequence[Outlook], warned: Decision | None) -> list[Reason]:
    """Return what one is told, pass by pass, who was warned so before."""
    made, before = [], Before(warned)
    for outlook in seen:
        now = outlook.case.time_of(outlook.now)
        made.append(decide(outlook.too_fast, AWAKE, before, Policy(), now, ZONE))
        if made[-1].reason.speaks:
            before = Before(made[-1])
    return [decision.reason for decision in made]


@pytest.mark.parametrize(("gap", "is_lost"), [(48, False), (49, True)])
def test_up_to_two_unknown_days_are_borne_and_no_more(gap: int, is_lost: bool) -> None:
    """Two days after the gap no window that is judged lies in it any more."""
    now = 30 + gap + 49
    danger, calm = (see(weather(gap, air), now) for air in (GALE, MILD))

    assert danger.unknown_hours == calm.unknown_hours == gap
    if is_lost:
        assert danger.pace == calm.pace == Pace({}, None, complete=False)
        assert (danger.trials, danger.chosen, danger.act_by) == ((), None, None)
    assert told([danger], None) == [SILENT if is_lost else FIRST]
    assert told([calm], warning(now)) == [SILENT if is_lost else ALL_CLEAR]


def test_of_a_lost_stack_nothing_is_told_for_as_long_as_nobody_measures_it() -> None:
    for air in (GALE, MILD):
        seen = [see(weather(60, air), now) for now in range(90, 151, 12)]

        assert told(seen, None) == [SILENT] * 6
        assert told(seen, warning(90)) == [SILENT] * 6


@pytest.mark.parametrize("kind", [EventKind.METERED, EventKind.WEIGHED])
def test_a_reading_brings_a_lost_stack_back_with_its_danger(kind: EventKind) -> None:
    reading = replace(metered(108.5, 75.0), kind=kind)

    seen = [see(weather(60, GALE), now, reading) for now in range(102, 115, 3)]

    assert told(seen, None) == [SILENT, SILENT, SILENT, FIRST, SILENT]
    assert [o.pace.complete for o in seen] == [False, False, False, True, True]


def test_a_reading_lets_a_warning_from_before_the_loss_end() -> None:
    seen = [see(weather(60, MILD), now, metered(108, 35.0)) for now in range(102, 115, 3)]

    assert told(seen, warning(102)) == [SILENT, SILENT, ALL_CLEAR, SILENT, SILENT]


def test_a_stack_that_was_measured_begins_there_and_its_unknown_hours_are_forgotten() -> None:
    seen = see(weather(60, WARM), 114, metered(108, 55.0))
    mc, shell = seen.run.mc_pct, seen.run.shell_pct

    assert (seen.case.begin_hour, seen.unknown_hours) == (108, 0)
    assert np.isnan(mc[1:108]).all()
    np.testing.assert_allclose(mc[108], 55.0, rtol=1e-9)
    assert (mc[109:] < mc[108:-1]).all()
    assert (shell[108] < 55.0).all()
    assert {w.start >= 108 for w in seen.pace.by_board.values()} == {True}


def test_the_newest_reading_counts_and_a_later_one_only_when_its_time_has_come() -> None:
    readings = [metered(110, 45.0), metered(95, 60.0), metered(120, 30.0)]  # as told, out of order

    before, after = (see(weather(60, MILD), now, *readings).case for now in (119, 120))

    assert (before.begin_hour, before.begin_mc) == (110, 0.45)
    assert (after.begin_hour, after.begin_mc) == (120, 0.30)


def test_where_the_weather_is_known_a_stack_begins_green_whatever_was_read() -> None:
    seen = see(weather(48, MILD), 110, metered(100, 20.0))

    assert (seen.case.begin_hour, seen.case.begin_mc) == (0, 0.80)


def test_a_measured_stack_is_lost_again_after_two_more_unknown_days() -> None:
    def hours(gap: int) -> list[Air]:
        return [*weather(60, MILD)[:110], *[UNKNOWN] * gap, *[MILD] * 2 * AFTER]

    borne, lost = (see(hours(gap), 200, metered(105, 45.0)) for gap in (48, 49))

    assert borne.pace.complete
    assert lost.pace == Pace({}, None, complete=False)


def test_a_reading_that_moves_the_beginning_makes_a_saved_state_stale() -> None:
    ground = grounds({"shed": weather(60, MILD)})
    bare = replace(R7, setup=Setup("shed"))

    found = [
        case(ground, 120, replace(bare, events=events)).fingerprint(115)
        for events in ((), (metered(110, 45.0),), (metered(110, 46.0),), (metered(111, 45.0),))
    ]

    assert len(set(found)) == 4


def test_a_reading_between_two_short_gaps_keeps_a_stack_from_being_lost() -> None:
    """Each gap is borne; since the reading only the second one is unknown."""
    hours = [*[MILD] * 30, *[UNKNOWN] * 30, *[MILD] * 30, *[UNKNOWN] * 30, *[MILD] * 2 * AFTER]

    assert see(hours, 180, metered(80, 60.0)).pace.complete


def test_a_stack_measured_at_what_the_model_itself_has_is_in_the_same_danger() -> None:
    whole = [*[MILD] * 110, *[GALE] * AFTER]
    known = see(whole, 111)
    reading = metered(110, float(known.run.mc_pct[110, 0]))

    measured = see([*whole[:30], *[UNKNOWN] * 60, *whole[90:]], 111, reading)

    assert known.severity > 1.5
    assert measured.severity > 0.8 * known.severity
