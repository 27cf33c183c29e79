"""Scores of made-up harm and made-up warnings, counted by hand."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from drywind.alerts.records import Decision, Reason
from drywind.judge.findings import Hazard
from drywind.season.score import RATIOS, Score, expenses, score_of
from drywind.season.truth import Truth

ZONE = ZoneInfo("Etc/GMT+6")
START = datetime(2026, 6, 1, 6, tzinfo=UTC)
"""Local midnight."""
WEEK = 168

Harm = tuple[int, int, float]
"""First hour, end and severity."""


def truth(*harms: Harm, can_tell_from: int = 6) -> Truth:
    severity = np.zeros(WEEK)
    for first, end, how_bad in harms:
        severity[first:end] = how_bad
    return Truth(START, severity, at(0), at(WEEK - 3), at(can_tell_from))


def at(hour: float) -> datetime:
    return START + timedelta(hours=hour)


def said(hour: float, reason: Reason, onset: float = 0, until: float = 0) -> Decision:
    harm = None if reason is Reason.ALL_CLEAR else at(onset)
    return Decision("sawyer", "R7", Hazard.TOO_FAST, reason, at(hour), 1.2, harm, at(until))


def first(hour: float, onset: float, until: float) -> Decision:
    return said(hour, Reason.FIRST, onset, until)


def of(harm: Truth, *decisions: Decision) -> Score:
    return score_of(harm, decisions, ZONE)


HOT_THIRD_DAY = (58, 68, 1.3)
CLEAR = said(50, Reason.ALL_CLEAR, until=56)


@pytest.mark.parametrize(
    ("decisions", "hits", "false_alarms"),
    [
        ([], 0, 0),
        ([first(30, 58, 68)], 1, 0),
        ([first(56, 58, 68)], 1, 0),
        ([first(57, 58, 68)], 0, 0),
        ([first(60, 60, 68)], 0, 0),
        ([first(30, 40, 58)], 0, 0),
        ([first(30, 40, 59)], 1, 0),
        ([first(30, 58, 68), CLEAR], 0, 0),
        ([first(30, 58, 68), said(54, Reason.REPEAT, 58, 68)], 1, 0),
        ([first(6, 10, 20)], 0, 1),
        ([first(80, 82, 92)], 0, 1),
    ],
    ids=[
        "silence",
        "a day before",
        "two hours before",
        "one hour before",
        "too late, but not false",
        "over before, but not false",
        "stands as it begins",
        "taken back",
        "repeated",
        "of two days before",
        "of the next day",
    ],
)
def test_harm_is_hit_by_a_warning_that_stands_two_hours_before(
    decisions: list[Decision], hits: int, false_alarms: int
) -> None:
    found = of(truth(HOT_THIRD_DAY), *decisions)

    assert (found.events, found.hits, found.false_alarms) == (1, hits, false_alarms)
    assert found.texts == len(decisions)
    assert found.leads_h == tuple(
        (at(58) - d.made_at) / timedelta(hours=1) for d in decisions[:hits]
    )


def test_a_fresh_stack_is_warned_in_time_as_soon_as_somebody_is_awake() -> None:
    at_once = truth((3, 12, 1.3), can_tell_from=6)

    assert of(at_once, first(6, 6, 12)).hits == 1
    assert of(at_once, first(9, 9, 12)).hits == 0


def test_harm_within_a_day_is_one_event_and_later_another() -> None:
    assert len(truth((10, 20, 1.1), (43, 50, 1.4)).events()) == 1
    assert len(truth((10, 20, 1.1), (44, 50, 1.4)).events()) == 2
    assert truth((10, 20, 1.1), (43, 50, 1.4)).events()[0].severity == 1.4


def test_borderline_harm_is_counted_apart_and_near_harm_excuses_a_warning() -> None:
    found = of(truth((58, 68, 1.1)), first(30, 58, 68))
    assert (found.events, found.borderline, found.borderline_hits) == (1, 1, 1)
    assert found.firm_hit_rate is None
    assert found.hit_rate == 1.0

    near = of(truth((58, 68, 0.96)), first(30, 58, 68))
    assert (near.events, near.false_alarms) == (0, 0)
    assert of(truth((58, 68, 0.94)), first(30, 58, 68)).false_alarms == 1


def test_days_are_counted_by_harm_and_protection() -> None:
    """Harm on days 3 and 5; warned of day 3 and, in vain, of day 7."""
    harm = truth((58, 68, 1.3), (106, 110, 1.2))

    found = of(harm, first(30, 58, 68), first(140, 154, 164))

    assert (found.days_kept, found.days_idle, found.days_struck, found.days_calm) == (1, 1, 1, 4)


def test_scores_add_up() -> None:
    one, other = of(truth(HOT_THIRD_DAY), first(30, 58, 68)), of(truth(), first(6, 10, 20))
    both = one + other

    assert (both.events, both.warnings, both.false_alarms) == (1, 2, 1)
    assert both.leads_h == (28.0,)
    assert both.texts_per_week == pytest.approx(2 / both.weeks)
    assert Score() + one == one


def days(kept: int, idle: int, struck: int, calm: int) -> Score:
    return Score(days_kept=kept, days_idle=idle, days_struck=struck, days_calm=calm)


def test_knowing_all_beforehand_is_worth_one_and_of_sure_things_nothing() -> None:
    def values(*counts: int) -> set[float | None]:
        found = [row.value for row in expenses(days(*counts))]
        return {value if value is None else round(value, 9) for value in found}

    assert values(5, 0, 0, 95) == {1.0}
    assert values(0, 3, 0, 97) == {None}
    assert values(3, 0, 0, 0) == {None}
    assert expenses(Score()) == []


def test_silence_is_worth_nothing_where_protection_is_dear_and_less_where_it_is_cheap() -> None:
    """Harm came on 20 days of 100."""
    for row in expenses(days(0, 0, 20, 80)):
        assert row.value is not None
        assert (row.value < -1e-9) == (row.ratio < 0.2)
        assert row.value <= 1e-9


def test_the_expense_of_a_season_by_hand() -> None:
    """Of 100 days 10 were harmful; 8 of them and 12 calm ones were protected, at a cost of 0.2."""
    row = next(r for r in expenses(days(8, 12, 2, 78)) if r.ratio == 0.2)

    assert (row.follow, row.always, row.never) == pytest.approx((0.06, 0.2, 0.1))
    assert row.value == pytest.approx((0.1 - 0.06) / (0.1 - 0.02))


@given(st.tuples(*[st.integers(0, 50)] * 4))
def test_following_texts_is_never_worth_more_than_knowing_all(counts: tuple[int, ...]) -> None:
    rows = expenses(days(*counts))

    assert [row.ratio for row in rows] in ([], list(RATIOS))
    assert all(row.value is None or row.value <= 1.0 + 1e-9 for row in rows)
