"""The exact words of texts, as a sawyer reads them at five in the morning."""

from dataclasses import replace
from datetime import timedelta

import pytest
from tests.messages.outlooks import (
    BURLAP,
    BURLAP_AND_CLOSED,
    BURLAP_HELPS,
    CLOTH,
    CLOTH_HELPS,
    EARLY,
    HOT_SATURDAY,
    LATE,
    METRIC,
    NOW,
    R7,
    R8,
    TO_SHED,
    local,
    outlook,
    read,
    trial,
)

from drywind.alerts.decide import SPEAK_FROM
from drywind.alerts.records import Reason
from drywind.climate.stack_air import Board
from drywind.judge.measures import Remedy
from drywind.judge.outlook import Outlook, Spell
from drywind.units import Thickness
from drywind.yard import Event, EventKind, Measure, Setup

TOP_LATE, TOP_EARLY = replace(LATE, board=Board.TOP), replace(EARLY, board=Board.TOP)


def helpless(seen: Outlook) -> Outlook:
    """Return the outlook with a remedy tried in vain."""
    return replace(seen, trials=(trial(CLOTH, LATE),))


LATER_OF_FIRST_DAYS = Spell(local(13, 6), local(15, 11), local(15, 19), 35.0, 0.25, 5.0)


@pytest.mark.parametrize(
    ("seen", "words"),
    [
        pytest.param(
            outlook([LATE], CLOTH_HELPS),
            "drywind R7 red oak 4/4, gravel: hang shade cloth by Sat 10am. Hot dry wind Sat"
            " 11am-7pm. Edges lose 5.9 pts/day, safe 3.8; done that 3.5, ok.",
            id="an old stack: the loss, and the loss with the remedy",
        ),
        pytest.param(
            outlook([EARLY], BURLAP_HELPS, R8),
            "drywind R8 red oak 4/4, gravel: hang burlap by Sat 10am. Hot dry wind Sat 11am-7pm."
            " Edges lose 7.9 pts/day (safe 3.8), skin to 18% (safe 24); done that 25%, ok.",
            id="a fresh stack: loss and skin, and the skin with the remedy",
        ),
        pytest.param(
            outlook([EARLY], BURLAP_HELPS, R8, LATER_OF_FIRST_DAYS),
            "drywind R8 red oak 4/4, gravel: hang burlap by Sat 6am. Its first days count as one,"
            " worst Mon 11am-7pm. Edges' skin to 18% (safe 24); done that 25%, ok.",
            id="a fresh stack: why to act two days before the wind",
        ),
        pytest.param(
            outlook(
                [EARLY],
                trial(BURLAP_AND_CLOSED, replace(EARLY, shell_pct=25.0)),
                R8,
                LATER_OF_FIRST_DAYS,
            ),
            "drywind R8 red oak 4/4, gravel: hang burlap + close up the packs by Sat 6am. Its first"
            " days count as one. Edges' skin to 18% (safe 24); done that 25%, ok.",
            id="a fresh stack: the same, briefly",
        ),
        pytest.param(
            outlook([LATE], trial(TO_SHED, replace(LATE, loss_pct_per_day=4.4))),
            "drywind R7 red oak 4/4, gravel: not enough, but best: move to long shed by Sat 10am."
            " Edges lose 5.9 pts/day, safe 3.8; done that 4.4, still risky.",
            id="an old stack: not enough, but best",
        ),
        pytest.param(
            outlook([EARLY], trial(BURLAP_AND_CLOSED, replace(EARLY, shell_pct=20.0)), R8),
            "drywind R8 red oak 4/4, gravel: not enough, but best: hang burlap + close up the packs"
            " by Sat 10am. Edges' skin to 18% (safe 24); done that 20%, still risky.",
            id="a fresh stack: not enough, but best",
        ),
        pytest.param(
            helpless(outlook([LATE])),
            "drywind R7 red oak 4/4, gravel: no cover or move we tried helps. Hot dry wind Sat"
            " 11am-7pm (95F RH 25% 11 mph). Edges lose 5.9 pts/day, safe 3.8.",
            id="an old stack: nothing helps",
        ),
        pytest.param(
            outlook([LATE]),
            "drywind R7 red oak 4/4, gravel: all covers are on and no other site has room. Hot dry"
            " wind Sat 11am-7pm (95F RH 25% 11 mph). Edges lose 5.9 pts/day, safe 3.8.",
            id="an old stack: nothing is left to try",
        ),
        pytest.param(
            helpless(outlook([EARLY], None, R8)),
            "drywind R8 red oak 4/4, gravel: no cover or move we tried helps. Hot dry wind Sat"
            " 11am-7pm. Edges lose 7.9 pts/day (safe 3.8), skin to 18% (safe 24).",
            id="a fresh stack: nothing helps",
        ),
        pytest.param(
            outlook([TOP_LATE], CLOTH_HELPS),
            "drywind R7 red oak 4/4, gravel: hang shade cloth by Sat 10am. Hot dry wind Sat"
            " 11am-7pm. Top course loses 5.9 pts/day, safe 3.8; done that 3.5, ok.",
            id="the open top course of an old stack",
        ),
        pytest.param(
            outlook([TOP_EARLY], BURLAP_HELPS, R8),
            "drywind R8 red oak 4/4, gravel: hang burlap by Sat 10am. Hot dry wind Sat 11am-7pm."
            " Top course's skin to 18% (safe 24); done that 25%, ok.",
            id="the open top course of a fresh stack",
        ),
        pytest.param(
            outlook([replace(LATE, board=Board.TYPICAL)], CLOTH_HELPS),
            "drywind R7 red oak 4/4, gravel: hang shade cloth by Sat 10am. Hot dry wind Sat"
            " 11am-7pm. Boards lose 5.9 pts/day, safe 3.8; done that 3.5, ok.",
            id="all the boards",
        ),
        pytest.param(
            outlook([LATE, replace(TOP_LATE, loss_pct_per_day=7.1)], CLOTH_HELPS),
            "drywind R7 red oak 4/4, gravel: hang shade cloth by Sat 10am. Hot dry wind Sat"
            " 11am-7pm. Top course loses 7.1 pts/day, safe 3.8; done that 3.5, ok.",
            id="of several boards the worst",
        ),
        pytest.param(
            outlook([LATE], trial(CLOTH, replace(LATE, loss_pct_per_day=2.0, safe_pct_per_day=5))),
            "drywind R7 red oak 4/4, gravel: hang shade cloth by Sat 10am. Hot dry wind Sat"
            " 11am-7pm. Edges lose 5.9 pts/day, safe 3.8; done that 2.0, ok.",
            id="with the remedy another window is worst: its own loss is told",
        ),
        pytest.param(
            outlook(
                [replace(LATE, loss_pct_per_day=1.034, safe_pct_per_day=1.0)],
                trial(CLOTH, replace(LATE, loss_pct_per_day=0.81, safe_pct_per_day=1.1)),
            ),
            "drywind R7 red oak 4/4, gravel: hang shade cloth by Sat 10am. Hot dry wind Sat"
            " 11am-7pm. Edges lose 1.03 pts/day, safe 1.00; done that 0.81, ok.",
            id="where little is safe: to a hundredth",
        ),
        pytest.param(
            outlook([replace(LATE, loss_pct_per_day=3.0, safe_pct_per_day=2.0)], CLOTH_HELPS),
            "drywind R7 red oak 4/4, gravel: hang shade cloth by Sat 10am. Hot dry wind Sat"
            " 11am-7pm. Edges lose 3.0 pts/day, safe 2.0; done that 3.5, ok.",
            id="from two points on: to a tenth",
        ),
        pytest.param(
            outlook(
                [replace(EARLY, shell_pct=23.9)],
                trial(BURLAP, replace(EARLY, shell_pct=24.9)),
                R8,
            ),
            "drywind R8 red oak 4/4, gravel: hang burlap by Sat 10am. Hot dry wind Sat 11am-7pm."
            " Edges lose 7.9 pts/day (safe 3.8), skin to 23% (safe 24); done that 24%, ok.",
            id="a skin is told as no wetter than it is",
        ),
        pytest.param(
            outlook([LATE], trial(CLOTH, replace(LATE, loss_pct_per_day=3.5), known=False)),
            "drywind R7 red oak 4/4, gravel: not enough, but best: hang shade cloth by Sat 10am."
            " Edges lose 5.9 pts/day, safe 3.8; done that 3.5, still risky.",
            id="an old stack: the hours of danger are unknown where the remedy would take it",
        ),
        pytest.param(
            outlook([EARLY], trial(BURLAP, replace(LATE, loss_pct_per_day=3.0)), R8),
            "drywind R8 red oak 4/4, gravel: hang burlap by Sat 10am. Hot dry wind Sat 11am-7pm."
            " Edges lose 7.9 pts/day (safe 3.8), skin to 18% (safe 24); done that ok.",
            id="a fresh stack that is worst off later with the remedy: no skin to compare",
        ),
        pytest.param(
            outlook([LATE], spell=None),
            "drywind R7 red oak 4/4, gravel: all covers are on and no other site has room. Edges"
            " lose 5.9 pts/day, safe 3.8.",
            id="no weather to name",
        ),
    ],
)
def test_a_warning_says_what_to_do_by_when_why_and_how_bad(seen: Outlook, words: str) -> None:
    assert read(seen) == words


def test_a_metric_reader_reads_celsius_meters_a_second_and_a_24_hour_clock() -> None:
    assert read(helpless(outlook([LATE])), reader=METRIC) == (
        "drywind R7 red oak 4/4, gravel: no cover or move we tried helps. Hot dry wind Sat"
        " 11:00-19:00 (35C RH 25% 5 m/s). Edges lose 5.9 pts/day, safe 3.8."
    )
    assert read(outlook([LATE], CLOTH_HELPS), reader=METRIC) == (
        "drywind R7 red oak 4/4, gravel: hang shade cloth by Sat 10:00. Hot dry wind Sat"
        " 11:00-19:00. Edges lose 5.9 pts/day, safe 3.8; done that 3.5, ok."
    )
    assert read(outlook([EARLY], BURLAP_HELPS, R8), reader=METRIC) == (
        "drywind R8 red oak 4/4, gravel: hang burlap by Sat 10:00. Hot dry wind Sat 11:00-19:00."
        " Edges' skin to 18% (safe 24); done that 25%, ok."
    )


@pytest.mark.parametrize(
    ("reason", "mark"), [(Reason.WORSE, "WORSE: "), (Reason.REPEAT, "STILL: ")]
)
def test_worse_and_still_stand_before_what_to_do(reason: Reason, mark: str) -> None:
    assert read(outlook([LATE], CLOTH_HELPS), reason) == (
        f"drywind R7 red oak 4/4, gravel: {mark}hang shade cloth by Sat 10am. Hot dry wind Sat"
        " 11am-7pm. Edges lose 5.9 pts/day, safe 3.8; done that 3.5, ok."
    )


@pytest.mark.parametrize(
    ("temp_c", "rh", "wind_ms", "air"),
    [
        (35.0, 0.25, 5.0, "Hot dry wind"),
        (35.0, 0.25, 1.0, "Hot dry air"),
        (35.0, 0.55, 5.0, "Hot wind"),
        (20.0, 0.25, 5.0, "Dry wind"),
        (20.0, 0.55, 5.0, "Wind"),
        (20.0, 0.55, 1.0, "Drying air"),
        (4.0, 0.25, 5.0, "Cold dry wind"),
    ],
)
def test_the_air_is_named_by_what_is_out_of_the_ordinary_in_it(
    temp_c: float, rh: float, wind_ms: float, air: str
) -> None:
    spell = replace(HOT_SATURDAY, temp_c=temp_c, rh=rh, wind_ms=wind_ms)

    assert f". {air} Sat 11am-7pm" in read(outlook([LATE], CLOTH_HELPS, spell=spell))


def test_long_names_cost_the_weather_figures_first_and_then_the_cause() -> None:
    def on(site: str) -> Outlook:
        stack = replace(R7, id="NORTH-ROW-12", setup=Setup(site))
        return outlook([LATE], CLOTH_HELPS, stack)

    more = trial(BURLAP_AND_CLOSED, replace(LATE, loss_pct_per_day=3.5))

    assert read(outlook([LATE], CLOTH_HELPS, replace(R7, id="7", setup=Setup("A")))) == (
        "drywind 7 red oak 4/4, A: hang shade cloth by Sat 10am. Hot dry wind Sat 11am-7pm (95F RH"
        " 25% 11 mph). Edges lose 5.9 pts/day, safe 3.8; done that 3.5, ok."
    )
    assert read(on("A")) == (
        "drywind NORTH-ROW-12 red oak 4/4, A: hang shade cloth by Sat 10am. Hot dry wind Sat"
        " 11am-7pm. Edges lose 5.9 pts/day, safe 3.8; done that 3.5, ok."
    )
    assert read(on("gravel")) == (
        "drywind NORTH-ROW-12 red oak 4/4, gravel: hang shade cloth by Sat 10am. Hot dry wind Sat"
        " 11am-7pm. Edges lose 5.9 pts/day, safe 3.8; done that 3.5, ok."
    )
    assert read(replace(on("west gravel lot"), chosen=more)) == (
        "drywind NORTH-ROW-12 red oak 4/4, west gravel lot: hang burlap + close up the packs by"
        " Sat 10am. Edges lose 5.9 pts/day, safe 3.8; done that 3.5, ok."
    )


def test_no_warning_names_a_loss_written_like_the_safe_one() -> None:
    barely = outlook([replace(LATE, loss_pct_per_day=3.81)], CLOTH_HELPS)

    assert SPEAK_FROM < barely.severity < 1.01
    assert "lose 3.8 pts/day, just over what is safe; done that 3.5, ok." in read(barely)


def test_of_a_fresh_stack_the_loss_goes_before_the_cause() -> None:
    long = replace(R8, id="NORTH-ROW-12")

    assert read(outlook([EARLY], BURLAP_HELPS, long)) == (
        "drywind NORTH-ROW-12 red oak 4/4, gravel: hang burlap by Sat 10am. Hot dry wind Sat"
        " 11am-7pm. Edges' skin to 18% (safe 24); done that 25%, ok."
    )


def test_what_to_do_and_by_when_are_never_cut() -> None:
    longest = replace(
        R7,
        id="NORTH-ROW-12",
        species="white_oak_lowland",
        thickness=Thickness.parse("104.7mm"),
        setup=Setup("west gravel lot."),
    )
    remedy = Remedy((Measure.PACKS_CLOSED,), "long drying shed")
    seen = outlook([LATE], trial(remedy, replace(LATE, loss_pct_per_day=4.4)), longest)

    assert read(seen, Reason.WORSE, METRIC).startswith(
        "drywind NORTH-ROW-12 white oak lowland 104.7mm, west gravel lot.: WORSE: not enough, but"
        " best: move to long drying shed + close up the packs by Sat 10:00."
    )


def test_a_stack_that_was_moved_is_named_where_it_stands() -> None:
    moves = (
        Event("R7", NOW - timedelta(days=1), EventKind.MOVED, "barn"),
        Event("R7", NOW + timedelta(days=1), EventKind.MOVED, "long shed"),
    )

    words = read(outlook([LATE], CLOTH_HELPS, replace(R7, events=moves)))

    assert words.startswith("drywind R7 red oak 4/4, barn: hang shade cloth")


def test_of_a_stack_nothing_is_known_of_there_is_nothing_to_say() -> None:
    with pytest.raises(ValueError, match="nothing is known"):
        read(outlook([], spell=None))


def test_where_no_more_fits_a_text_is_what_to_do_and_by_when_alone() -> None:
    longest = replace(
        R7, id="NORTH-ROW-12", species="white_oak_lowland", setup=Setup("west gravel lot.")
    )
    remedy = Remedy((Measure.PACKS_CLOSED,), "long drying shed")
    seen = outlook([LATE], trial(remedy, replace(LATE, loss_pct_per_day=4.4)), longest)

    assert read(seen) == (
        "drywind NORTH-ROW-12 white oak lowland 4/4, west gravel lot.: not enough, but best: move"
        " to long drying shed + close up the packs by Sat 10am."
    )
