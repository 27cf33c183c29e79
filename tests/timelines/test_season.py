"""Whole made seasons: what is said in them, and how right that was."""

from datetime import timedelta

import pytest
from tests.timelines.seasons import COOL, HOT, HOTTER, R7, days, lost, told, watched

from drywind.alerts.records import Reason
from drywind.judge.cases import make_case
from drywind.judge.findings import Hazard
from drywind.judge.hazards import Pace
from drywind.judge.made_weather import Afternoon
from drywind.judge.measures import Remedy, Trial
from drywind.judge.runs import Run, View, advance
from drywind.season.advice import is_kept
from drywind.season.past import Past
from drywind.season.replay import Seen, Watched, decisions
from drywind.season.score import Score, score
from drywind.yard import Measure

SPELL, LENGTH = 5, 7


@pytest.fixture(scope="module")
def past() -> Past:
    return days(LENGTH + 4, COOL, {SPELL: HOT})


@pytest.fixture(scope="module")
def one(past: Past) -> Watched:
    """R7 stacked on Monday the 1st; Saturday will be hot."""
    return watched(past, LENGTH)


@pytest.fixture(scope="module")
def scored(one: Watched, past: Past) -> Score:
    return score([one], past)


def too_fast(one: Watched) -> list[Seen]:
    """Return what was found of drying too fast."""
    return [seen for seen in one.seen if seen.finding.hazard is Hazard.TOO_FAST]


def test_a_hot_day_foretold_right_is_one_hit_and_no_false_alarm(scored: Score) -> None:
    assert (scored.events, scored.hits, scored.borderline) == (1, 1, 1)
    assert (scored.warnings, scored.false_alarms) == (1, 0)
    assert (scored.advised, scored.kept) == (1, 1)
    assert (scored.days_kept, scored.days_idle, scored.days_struck) == (1, 0, 0)
    assert scored.lead_h is not None
    assert scored.lead_h > 24


def test_and_is_told_so(one: Watched) -> None:
    first, *_, last = told(one)

    assert first[0] == "Fri 06:00"
    assert first[1] == (
        "drywind R7 red oak 4/4, gravel lot: hang shade cloth + close up the packs by Sat 10am."
        " Boards lose 4.1 pts/day, safe 3.8; done that 3.5, ok."
    )
    assert last[0] == "Sun 06:00"
    assert one.texts[-1].decision.reason is Reason.ALL_CLEAR


def test_the_same_policy_says_the_same_of_what_was_found(one: Watched, past: Past) -> None:
    again = list(decisions(one.seen, past.contact, past.policy, past.zone))

    assert again == [text.decision for text in one.texts]


def test_every_pass_is_noted_once_until_the_end(one: Watched) -> None:
    assert len(too_fast(one)) == len(one.passes) == LENGTH * 8
    assert [seen.now for seen in too_fast(one)] == one.passes == sorted(set(one.passes))


def test_a_cool_season_is_silence() -> None:
    cool = days(8, COOL)
    one = watched(cool, 5)
    scored = score([one], cool)

    assert one.texts == []
    assert max(seen.finding.severity for seen in one.seen) > 0.3
    assert (scored.events, scored.texts, scored.days_calm) == (0, 0, 6)


@pytest.mark.parametrize("unknown", [slice(30, 40), slice(24, 120), slice(0, 30)])
def test_hours_nobody_knows_never_stop_it(unknown: slice) -> None:
    gappy = lost(days(8, COOL), unknown)
    one = watched(gappy, 5)

    assert len(too_fast(one)) == 5 * 8
    assert any(not seen.finding.complete for seen in one.seen)
    assert score([one], gappy).texts == 0


@pytest.mark.parametrize(("came", "kept"), [(HOT, True), (HOTTER, False)])
def test_advice_is_kept_if_it_holds_in_what_came(
    one: Watched, came: Afternoon, *, kept: bool
) -> None:
    warned_at = one.texts[0].decision.made_at
    (finding,) = (s.finding for s in too_fast(one) if s.now == warned_at)
    truth = days(LENGTH + 4, COOL, {SPELL: came}).truth
    fresh = Run.fresh(make_case(R7, truth, warned_at + timedelta(days=6), warned_at))
    (run,) = advance([fresh], [fresh.case.hour_of(warned_at)])

    burlap = Remedy((Measure.BURLAP, Measure.PACKS_CLOSED))
    advice = Trial(burlap, Pace({}, None, complete=True))

    assert is_kept(advice, finding, View(run, one.limit, truth, warned_at)) is kept


def test_weather_that_ends_ends_it() -> None:
    short = days(3, COOL)

    assert watched(short, 30).passes[-1] < short.end
