"""What covers do in the model: in weather that stays as it is, none makes a stack dry too fast."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.faults.judging import LIMIT, R7, Air, at, grounds

from drywind.judge.assess import assess_views
from drywind.judge.cases import Grounds, make_case
from drywind.judge.measures import Remedy, Trial, choose
from drywind.judge.runs import Run, View
from drywind.yard import Measure, Setup, Stack

HOURS = 96
airs = st.tuples(st.floats(-5, 38), st.floats(0.1, 0.95), st.floats(0.2, 12))
covers = st.frozensets(st.sampled_from(Measure))
MODEL_CANNOT_TELL = 0.02


def severity(ground: Grounds, stack: Stack) -> float:
    """Return how fast a fresh stack dries over three days, as it stands."""
    case = make_case(stack, ground, at(HOURS), at(0))
    (seen,) = assess_views([View(Run.fresh(case), LIMIT, ground, at(0))], 48, advise=False)
    return seen.severity


@settings(max_examples=12, deadline=None)
@given(airs, covers, st.sampled_from(Measure), st.sampled_from(["gravel", "shed", "barn"]))
def test_one_cover_more_never_makes_it_dry_faster(
    air: Air, on: frozenset[Measure], more: Measure, site: str
) -> None:
    ground = grounds({site: [air] * HOURS})
    bare = replace(R7, setup=Setup(site, measures=on))
    covered = replace(R7, setup=bare.setup.with_measure(more))

    assert severity(ground, covered) <= severity(ground, bare) + MODEL_CANNOT_TELL


@settings(max_examples=12, deadline=None)
@given(airs, covers)
def test_a_site_out_of_the_wind_never_makes_it_dry_faster(air: Air, on: frozenset[Measure]) -> None:
    ground = grounds({site: [air] * HOURS for site in ("gravel", "shed", "barn")})
    at_each = [
        severity(ground, replace(R7, setup=Setup(site, measures=on)))
        for site in ("gravel", "shed", "barn")
    ]

    assert at_each == pytest.approx(sorted(at_each, reverse=True), abs=MODEL_CANNOT_TELL)


remedies = st.builds(
    Remedy,
    st.lists(st.sampled_from(Measure), max_size=2, unique=True).map(tuple),
    st.sampled_from([None, "shed"]),
)


@settings(max_examples=10, deadline=None)
@given(st.lists(remedies, min_size=1, max_size=6), st.data())
def test_what_is_advised_is_the_least_work_that_is_safe_or_helps(
    options: list[Remedy], data: st.DataObject
) -> None:
    ground = grounds({"gravel": [(33.0, 0.2, 6.0)] * HOURS})
    case = make_case(R7, ground, at(HOURS), at(0))
    (seen,) = assess_views([View(Run.fresh(case), LIMIT, ground, at(0))], 48, advise=False)
    trials = [
        Trial(
            option,
            replace(seen.pace, onset=None) if data.draw(st.booleans()) else seen.pace,
            chance=data.draw(st.sampled_from([None, 0.5, 0.9])),
        )
        for option in options
    ]
    chosen = choose(trials, [seen.severity])
    safe = [t for t in trials if t.safe]

    if safe:
        assert chosen is not None
        assert chosen.safe
        assert chosen.remedy.minutes == min(t.remedy.minutes for t in safe)
    else:
        assert chosen is None or chosen.spared
