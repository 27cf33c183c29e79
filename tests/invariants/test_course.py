"""The days of a stack's course, whenever and wherever it was stacked."""

from dataclasses import replace
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.faults.judging import HORIZON, LIMIT, MILD, R7, case, grounds

from drywind.judge.course import WHOLE_DAY_HOURS, course, day_spans
from drywind.judge.runs import Run
from drywind.yard import Measure, Setup

HOURS = 200
STACK = replace(R7, setup=Setup("gravel", measures=frozenset({Measure.PILE_ROOF})))
CASE = case(grounds({"gravel": [MILD] * HOURS}), HOURS - HORIZON, STACK)
ZONES = ("America/Chicago", "Asia/Kathmandu", "Pacific/Auckland", "UTC")


@given(
    zone=st.sampled_from(ZONES).map(ZoneInfo),
    moved=st.integers(0, 8760),
    first=st.integers(0, 60),
    seed=st.integers(0, 99),
)
def test_the_days_follow_each_other_and_lose_together_what_the_run_loses(
    zone: ZoneInfo, moved: int, first: int, seed: int
) -> None:
    later = replace(CASE, weather=CASE.weather.shift(moved, freq="h"))
    mc_pct = 80.0 - np.cumsum(np.random.default_rng(seed).random((later.hours + 1, 3)), axis=0) / 9
    mc_pct[:first] = np.nan
    run = replace(Run.fresh(later), mc_pct=mc_pct, shell_pct=mc_pct)

    spans = day_spans(later, zone)
    days = course(run, LIMIT.value, zone)

    assert [end for _, _, end in spans] == [*(start for _, start, _ in spans[1:]), later.hours]
    assert len({on for on, _, _ in spans}) == len(spans)
    assert all(WHOLE_DAY_HOURS <= end - start <= 25 for _, start, end in spans[1:-1])
    assert [day.start for day in days] == [start for _, start, _ in spans if start >= first]
    for board, column in zip(later.counted, range(3), strict=False):
        lost = sum(day.boards[board].loss_pct for day in days)
        assert lost == pytest.approx(mc_pct[days[0].start, column] - mc_pct[-1, column])
        assert days[-1].boards[board].mc_pct == mc_pct[-1, column]


def test_the_first_day_and_parts_of_one_are_not_judged() -> None:
    steep = 100.0 - 8.0 * np.arange(HOURS + 1)[:, None] / 24 * np.ones(3)
    run = replace(Run.fresh(CASE), mc_pct=steep, shell_pct=np.full_like(steep, 10.0))

    days = course(run, LIMIT.value, ZoneInfo("America/Chicago"))

    for day in days:
        judged = day.start >= 24 and day.is_whole
        assert (day.severity > 0.0) == (judged and steep[day.start, 0] > 25.0)
    assert max(day.severity for day in days) > 1.0
