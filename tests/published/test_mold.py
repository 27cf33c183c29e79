"""The mold index against the equations of Hukka and Viitanen, worked by hand."""

import numpy as np
import pytest
from tests.published.conftest import Against

from drywind.wood.mold import (
    critical_rh_pct,
    highest_index,
    mold,
    weeks_to_see,
    weeks_to_start,
)

HUKKA = "Hukka and Viitanen 1999, worked from the equations (from memory)"
DAY = 24


def test_critical_humidity_falls_with_warmth_to_80_percent(against: Against) -> None:
    """Of two public programs one has the sign of the linear term wrong."""
    ours = critical_rh_pct([5.0, 10.0, 20.0, 25.0])

    against.value("critical humidity, %", HUKKA, ours, [88.02, 82.03, 80.04, 80.0], 0.005)
    assert critical_rh_pct(17.0) == 80.0  # the bare cubic dips to 79.8


def test_steady_damp_air_starts_mold_on_pine_in_the_published_days(against: Against) -> None:
    days = 7 * weeks_to_start([20.0, 20.0, 25.0, 20.0], [95.0, 90.0, 95.0, 97.0])

    against.value("days to index 1, sawn pine", HUKKA, days, [13.9, 29.4, 11.9, 10.4], 0.05)


def test_the_index_has_the_published_ceiling(against: Against) -> None:
    ceiling = highest_index([20.0, 20.0, 20.0], [95.0, 90.0, 100.0])

    against.value("highest index", HUKKA, ceiling, [5.12, 3.99, 6.0], 0.01)


def test_four_weeks_at_20_c_and_95_percent_reach_index_3(against: Against) -> None:
    course = mold(np.full(28 * DAY, 20.0), np.full(28 * DAY, 0.95))

    against.value("index after 28 days", HUKKA, course.index[-1], 3.11, 0.005)


def test_from_first_growth_to_visible_takes_the_time_between_the_two(against: Against) -> None:
    """In saturated air, where the ceiling hardly slows it; half a day for what it does.

    Of two public programs one has t_v / (t_m - 1) where this needs t_v / t_m - 1.
    """
    index = mold(np.full(30 * DAY, 20.0), np.ones(30 * DAY)).index
    took = (np.argmax(index >= 3.0) - np.argmax(index >= 1.0)) / DAY
    between = 7 * (weeks_to_see(20.0, 100.0) - weeks_to_start(20.0, 100.0))

    against.value("days from index 1 to 3", HUKKA, took, between, 0.5)


@pytest.mark.parametrize(("dry_hours", "lost"), [(6, 0.008), (24, 0.008), (48, 0.024)])
def test_a_dry_spell_takes_off_what_is_published(
    against: Against, dry_hours: int, lost: float
) -> None:
    """0.032 a day for 6 hours, nothing to 24, then 0.016 a day."""
    rh = np.r_[np.full(14 * DAY, 0.95), np.full(dry_hours, 0.50)]

    index = mold(np.full(len(rh), 20.0), rh).index

    drop = index[14 * DAY - 1] - index[-1]
    against.value(f"index lost in {dry_hours} dry hours", HUKKA, drop, lost, 1e-9)


@pytest.mark.parametrize(("temp_c", "rh"), [(0.0, 1.0), (-5.0, 1.0), (50.0, 1.0), (20.0, 0.79)])
def test_nothing_grows_in_frost_in_great_heat_or_below_80_percent(temp_c: float, rh: float) -> None:
    assert mold(np.full(500, temp_c), np.full(500, rh)).index.max() == 0.0
