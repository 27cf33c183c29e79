"""What must hold of the rules for degrade."""

from math import nan

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from drywind.wood.degrade import (
    Level,
    Risk,
    case_hardening,
    end_checks,
    honeycomb,
    hours_until_below,
    rewetting,
)


def test_the_hour_a_shell_dries_out_is_the_first_below_never_infinite_and_unknown_after_a_gap() -> (
    None
):
    mc = np.array([[0.8, 0.8, 0.8, 0.8], [0.3, 0.3, 0.3, 0.3], [0.2, 0.3, 0.2, 0.3]])
    mc = np.vstack([mc, [0.3, 0.3, 0.2, 0.3]])
    known = np.ones((3, 4), dtype=bool)
    known[1, 2:] = False

    np.testing.assert_array_equal(hours_until_below(mc, known, 0.24), [2.0, np.inf, nan, nan])
    known[1], known[2] = True, [False, True, True, True]
    np.testing.assert_array_equal(hours_until_below(mc, known, 0.24), [2.0, np.inf, 2.0, np.inf])


@pytest.mark.parametrize(
    "risk",
    [
        honeycomb(nan, 35.0, 20.0, rewetted=False),
        honeycomb(0.5, nan, 20.0, rewetted=False),
        honeycomb(0.5, 35.0, nan, rewetted=True),
        case_hardening(nan),
        rewetting(nan, 2.0, 0.5),
        rewetting(30.0, nan, 0.5),
        rewetting(30.0, 2.0, nan),
        end_checks(nan, 60.0, coated=False),
        end_checks(0.2, nan, coated=False),
    ],
)
def test_what_is_missing_is_unknown_and_never_safe(risk: Risk) -> None:
    assert risk.level is Level.UNKNOWN


@given(
    st.floats(0.0, 3.0), st.floats(5.0, 90.0), st.floats(-10.0, 70.0), st.booleans(), st.booleans()
)
def test_a_worse_past_never_lowers_a_risk(
    ratio: float, mc_pct: float, wood_c: float, rewetted: bool, coated: bool
) -> None:
    order = [Level.NONE, Level.SOME, Level.HIGH]

    def rank(risk: Risk) -> int:
        return order.index(risk.level)

    assert rank(honeycomb(ratio, mc_pct, wood_c, rewetted=rewetted)) <= rank(
        honeycomb(ratio + 1.0, mc_pct, wood_c + 20.0, rewetted=True)
    )
    assert rank(rewetting(mc_pct, 1.0, ratio)) <= rank(rewetting(mc_pct, 1.0, ratio + 1.0))
    assert rank(end_checks(ratio, mc_pct, coated=coated)) <= rank(
        end_checks(ratio + 1.0, mc_pct, coated=False)
    )
