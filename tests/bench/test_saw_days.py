"""Trying saw days costs little beside the drying itself: a ratio of one run."""

from time import process_time

import numpy as np
import pytest
from tests.bench.saw_speed import WOODS, busy_yard
from tests.published.saw_yards import NOW, parcel

from drywind.judge.cases import boards_like, green_mc_of
from drywind.judge.fresh import TRIED_HOURS, Airs, Batch, Spot
from drywind.judge.sawdays import saw_days
from drywind.wood.drying import State, simulate
from drywind.yard import Setup

MEMBERS = 15
MOST_TIMES = 6.0
"""Covers tried and boards followed until dry are in it."""


def test_a_lot_takes_a_few_times_what_its_boards_alone_take_to_dry(
    capsys: pytest.CaptureFixture[str],
) -> None:
    yard, lot = busy_yard(MEMBERS), parcel(*WOODS[0], felled_days_ago=2.0)
    spots = [
        Spot(setup, start, weather)
        for setup in yard.setups.values()
        for start in yard.starts
        for weather in range(MEMBERS)
    ]
    batch = Batch.of(spots, Airs(yard.sites, yard.weathers))
    stack = lot.stack(Setup("lot"), NOW)
    count = len(batch.boards)
    start = State.green(np.full(count, green_mc_of(stack)), batch.drivers.air_temp_c[0])

    begun = process_time()
    simulate(boards_like(stack, count), batch.drivers, start)
    alone = process_time() - begun
    begun = process_time()
    found = saw_days([lot], yard)
    whole = process_time() - begun

    speed = count * TRIED_HOURS / alone
    with capsys.disabled():
        print(f"\n{count} boards x {TRIED_HOURS} h: {alone:.1f} s ({speed:,.0f} board-hours/s)")  # noqa: T201
        print(f"saw days of one lot: {whole:.1f} s, {whole / alone:.1f} times that")  # noqa: T201
    assert len(found) == 50
    assert whole < MOST_TIMES * alone
