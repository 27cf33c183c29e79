"""The exact words of an all clear, which must not promise more than was judged."""

from dataclasses import replace

import pytest
from tests.messages.outlooks import AGE_H, EARLY, LATE, METRIC, R7, R8, outlook, read, trial

from drywind.alerts.records import Reason
from drywind.climate.stack_air import Board
from drywind.judge.measures import Remedy
from drywind.judge.outlook import Outlook
from drywind.units import Thickness
from drywind.wood.limits import Basis, Limit
from drywind.yard import Measure, Setup

TYPICAL = replace(LATE, board=Board.TYPICAL)


def cleared(seen: Outlook) -> str:
    """Return the text of an all clear, without the name of the stack."""
    return read(seen, Reason.ALL_CLEAR).removeprefix(
        f"drywind {seen.case.stack.id} red oak 4/4, gravel: "
    )


def test_an_all_clear_says_how_far_it_reaches_and_how_fast_it_gets_at_most() -> None:
    typical = replace(TYPICAL, start=LATE.start + 48, loss_pct_per_day=1.9)
    calm = outlook([replace(LATE, loss_pct_per_day=2.5), typical])

    words = (
        "drywind R7 red oak 4/4, gravel: all clear through Mon as it stands: loses 2.5 pts/day at"
        " most, safe 3.8."
    )
    assert read(calm, Reason.ALL_CLEAR) == words
    assert read(calm, Reason.ALL_CLEAR, METRIC) == words


def test_covers_that_can_come_off_are_told_with_what_it_loses_without_them() -> None:
    bare = trial(Remedy((), off=(Measure.BURLAP,)), replace(LATE, loss_pct_per_day=3.0))
    calm = replace(outlook([replace(LATE, loss_pct_per_day=2.5)]), lift=bare)

    assert cleared(calm) == (
        "all clear through Sat, take the burlap off: loses 3.0 pts/day at most, safe 3.8."
    )


def test_a_fresh_stack_that_loses_over_its_limit_is_cleared_by_its_skin() -> None:
    calm = outlook([replace(EARLY, shell_pct=27.9)], None, R8)

    assert calm.severity < 0.85
    assert cleared(calm) == "all clear through Sat as it stands: its skin stays at 27% or wetter."


@pytest.mark.parametrize("safe", [11.4, float("inf")])
def test_a_dry_stack_may_lose_over_the_limit_of_wet_wood(safe: float) -> None:
    calm = outlook([replace(LATE, loss_pct_per_day=4.4, safe_pct_per_day=safe)])

    assert cleared(calm) == "all clear through Sat as it stands: it is dry enough to stand it."


def test_a_stack_that_takes_up_water_loses_nothing() -> None:
    calm = outlook([replace(LATE, loss_pct_per_day=-0.4)])

    assert (
        cleared(calm) == "all clear through Sat as it stands: loses 0.0 pts/day at most, safe 3.8."
    )


def test_where_little_is_safe_it_is_told_to_a_hundredth() -> None:
    calm = outlook([replace(LATE, loss_pct_per_day=0.5, safe_pct_per_day=1.0)])
    thick = replace(calm, limit=Limit(1.0, Basis.PUBLISHED))

    assert (
        cleared(thick)
        == "all clear through Sat as it stands: loses 0.50 pts/day at most, safe 1.00."
    )


def test_all_that_was_judged_is_promised_not_only_the_worst_window() -> None:
    worst = replace(LATE, loss_pct_per_day=2.5)  # to Saturday evening
    calm = outlook([worst])
    judged = calm.pace.judged | {(worst.start + 48, 24)}

    seen = replace(calm, pace=replace(calm.pace, judged=judged))

    assert cleared(seen).startswith("all clear through Mon as it stands: ")


def test_where_its_figures_do_not_fit_an_all_clear_still_says_how_far_it_reaches() -> None:
    longest = replace(
        R7,
        id="NORTH-ROW-12",
        species="white_oak_lowland",
        thickness=Thickness.parse("104.7mm"),
        setup=Setup("west gravel lot."),
    )
    calm = outlook([replace(LATE, loss_pct_per_day=2.5)], None, longest)

    assert read(calm, Reason.ALL_CLEAR) == (
        "drywind NORTH-ROW-12 white oak lowland 104.7mm, west gravel lot.: all clear through Sat as"
        " it stands: loses 2.5 pts/day at most, safe 3.8."
    )


def test_a_green_stack_is_not_called_dry() -> None:
    """Its boards are at 80 % MC; the edge, worst off later, is judged by its loss alone."""
    typical = replace(EARLY, board=Board.TYPICAL, loss_pct_per_day=4.1, shell_pct=29.0)
    edge = replace(LATE, start=60, loss_pct_per_day=3.0)
    calm = outlook([typical, edge], None, R8)

    assert calm.severity < 0.85
    assert "dry enough" not in cleared(calm)


def test_an_all_clear_promises_no_day_of_which_only_an_hour_was_judged() -> None:
    until_1_am = replace(LATE, start=AGE_H - 17, loss_pct_per_day=2.5)

    assert cleared(outlook([until_1_am])).startswith("all clear through today as it stands: ")
