"""Fresh stacks tried by the thousand fare as single stacks that the daemon watches do."""

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.published.saw_yards import sites
from tests.published.years import greensboro

from drywind.judge.cases import Grounds, make_case
from drywind.judge.fresh import TRIED_HOURS, Airs, Batch, Spot, Waited, stain_share, try_fresh
from drywind.judge.hazards import DAY, pace
from drywind.judge.runs import Run, advance
from drywind.judge.saw_score import Hazards, score
from drywind.judge.whole_course import PACE, SCREEN_PACE, follow
from drywind.units import Thickness
from drywind.wood.limits import stack_limit
from drywind.yard import Setup, Stack

STARTS = [datetime(2001, month, 10, 17, tzinfo=UTC) for month in (2, 5, 8)]


def stack(species: str, size: str, start: datetime, site: str = "lot") -> Stack:
    return Stack("S1", species, Thickness.parse(size), start, Setup(site))


@pytest.mark.parametrize(
    ("species", "size"), [("red_oak", "4/4"), ("hard_maple", "4/4"), ("white_oak", "8/4")]
)
def test_a_stack_tried_fares_as_one_that_is_watched(species: str, size: str) -> None:
    there, table = sites(), greensboro()
    spots = [Spot(Setup(name), start, 0) for name in there for start in STARTS]
    batch = Batch.of(spots, Airs(there, [dict.fromkeys(there, table)]))
    limit = stack_limit(stack(species, size, STARTS[0]), {}).value

    tried = try_fresh(
        [(stack(species, size, STARTS[0]), len(spots))],
        batch,
        [limit] * len(spots),
        Waited.none(len(spots)),
    )

    grounds = Grounds(there, dict.fromkeys(there, table))
    for i, spot in enumerate(spots):
        one = stack(species, size, spot.start, spot.setup.site)
        end = spot.start + timedelta(hours=TRIED_HOURS)
        run = Run.fresh(make_case(one, grounds, end, spot.start))
        (done,) = advance([run], [TRIED_HOURS])
        worst = pace(done, 0, TRIED_HOURS - DAY, limit).worst
        assert worst is not None
        assert tried.severity[i] == pytest.approx(worst.severity, abs=1e-6)
        hours = int((done.mc_pct[:, 0] > 40.0).sum()) - 1
        doses = Waited(done.clocks.enzymatic[hours, :1], done.clocks.blue[hours, :1])
        share = stain_share(one, doses, done.clocks.mold[hours, :1])
        assert tried.stain[i] == pytest.approx(float(share[0]), abs=1e-6)


def test_an_hour_that_is_missing_makes_a_spot_unknown_and_no_other() -> None:
    there = sites()
    table = greensboro().copy()
    table.loc[STARTS[1] + timedelta(hours=50), "temp_c"] = np.nan
    spots = [Spot(Setup("lot"), start, 0) for start in STARTS]
    batch = Batch.of(spots, Airs(there, [dict.fromkeys(there, table)]))
    lumber = [(stack("red_oak", "4/4", STARTS[0]), len(spots))]

    tried = try_fresh(lumber, batch, [3.8] * len(spots), Waited.none(len(spots)))

    assert list(np.isnan(tried.severity)) == [False, True, False]
    assert list(np.isnan(tried.stain)) == [False, True, False]


def test_long_steps_find_the_days_that_short_ones_find() -> None:
    """Held to the model by the hour: what `fresh.Pace` says of its error."""
    there, table = sites(), greensboro()
    airs = Airs(there, [dict.fromkeys(there, table)])
    woods = [("red_oak", "4/4"), ("yellow_poplar", "4/4"), ("hard_maple", "4/4")]
    cells = [(wood, Spot(Setup(name), STARTS[1], 0)) for wood in woods for name in there]
    lumber = [(stack(*wood, STARTS[1]), 1) for wood, _ in cells]
    limits = [stack_limit(one, {}).value for one, _ in lumber]
    spots = [spot for _, spot in cells]

    short = follow(lumber, spots, airs, limits, PACE._replace(early_h=1, late_h=1))
    usual = follow(lumber, spots, airs, limits)
    rough = follow(lumber, spots, airs, limits, SCREEN_PACE._replace(hours=PACE.hours))

    assert np.abs(usual.to_25 - short.to_25).max() <= 0.5
    assert np.abs(usual.to_20 - short.to_20).max() <= 2.0
    assert np.abs(usual.ratio - short.ratio).max() <= 0.05
    assert np.abs(usual.days_over - short.days_over).max() <= 1.0
    assert np.abs(rough.to_20 - short.to_20).max() <= 4.0


HAZARD = st.floats(0.0, 2.5)


@settings(max_examples=200)
@given(HAZARD, HAZARD, HAZARD, st.floats(0.0, 1.0), st.integers(0, 2))
def test_a_worse_hazard_never_ranks_higher(
    ratio: float, stain: float, first: float, more: float, which: int
) -> None:
    def scored(values: list[float]) -> float:
        worst, shown, begun = (np.array([value] * 3) for value in values)
        fare = Hazards(worst, shown, begun, np.zeros(3, np.intp)).fare()
        found = score(fare, None, 60.0)
        assert found is not None
        return found

    better = [ratio, stain, first]
    worse = [value + more * (i == which) for i, value in enumerate(better)]

    assert scored(worse) <= scored(better) + 1e-9
    assert 0.0 < scored(better) <= 100.0
    if max(ratio, stain) >= 1.0:
        assert scored(better) <= 50.0
