"""The band and the safe pace of a curve: what must hold whatever the weather."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from drywind.judge.band import safe_pace
from drywind.wood.limits import NO_WEIGHT_MC_PCT


@given(st.floats(26.0, 200.0), st.floats(0.5, 14.0), st.integers(1, 2000))
def test_the_safe_pace_falls_by_the_limit_while_wet_and_ends_where_none_holds(
    begin_pct: float, limit: float, hours: int
) -> None:
    pace = safe_pace(begin_pct, limit, hours)
    known = pace[np.isfinite(pace)]

    assert len(pace) == hours + 1
    assert known[0] == begin_pct
    assert (np.diff(known) < 0.0).all()
    assert (known[:-1] > NO_WEIGHT_MC_PCT).all()
    wet = known[:-1] >= 40.0
    np.testing.assert_allclose(-np.diff(known)[wet], limit / 24.0)


def test_a_board_too_dry_for_a_limit_has_no_pace() -> None:
    assert np.isnan(safe_pace(20.0, 3.8, 5)[1:]).all()
