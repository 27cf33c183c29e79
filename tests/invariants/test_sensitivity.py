"""The table of assumptions: honest ranges, and a change of each does what its words say."""

import json
from itertools import pairwise

import pytest
from tests.conftest import Command

from drywind.judge.sensitivity import Assumption, Effect, Lumber, assumptions, effects
from drywind.units import Thickness
from drywind.wood import diffusion, solver
from drywind.wood.species import find_species
from drywind.yard import Measure, Setup, Site

Found = tuple[Effect, dict[str, tuple[Effect, Effect]]]


@pytest.fixture(scope="module")
def roofed() -> Found:
    """Return red oak in the open under a pile roof: as believed, and each low and high."""
    setup = Setup("yard", measures=frozenset({Measure.PILE_ROOF}))
    site = Site("yard", 40.0, -85.0, 250.0)
    base, pairs = effects(Lumber(find_species("red_oak"), Thickness.parse("4/4"), site, setup))
    return base, {assumption.name: (low, high) for assumption, low, high in pairs}


@pytest.mark.parametrize("assumption", assumptions(), ids=lambda a: a.name)
def test_every_assumption_lies_within_the_range_we_believe(assumption: Assumption) -> None:
    assert assumption.low <= assumption.value <= assumption.high
    assert assumption.low < assumption.high
    assert assumption.why


def test_every_assumption_is_tried_once(roofed: Found) -> None:
    assert list(roofed[1]) == [a.name for a in assumptions()]


def test_a_trial_leaves_no_constant_changed(roofed: Found) -> None:
    assert roofed is not None
    assert (diffusion.ACTIVATION_K, solver.FREEZING_C) == (4600.0, -2.0)


@pytest.mark.parametrize(
    ("name", "what", "sign"),
    [
        ("diffusion", "days_to_20_pct", -1),
        ("diffusion", "hot", 1),
        ("gap_penetration", "days_to_20_pct", -1),
        ("side_sun_open", "hot", 1),
        ("edge_depth_m", "rain_pct", -1),
        ("rain_under_eaves", "rain_pct", 1),
        ("freezing_c", "cold", 1),
        ("shell_checks_pct", "hot", 1),
        ("sorptive_creep", "check", -1),
        ("moisture_slope", "days_to_20_pct", 1),
    ],
)
def test_each_works_the_way_its_words_say(roofed: Found, name: str, what: str, sign: int) -> None:
    base, pairs = roofed
    low, high = pairs[name]
    for a, b in pairwise([getattr(low, what), getattr(base, what), getattr(high, what)]):
        assert sign * (b - a) >= 0.0
    assert sign * (getattr(high, what) - getattr(low, what)) > 0.0


def test_machines_get_all_of_it_and_what_a_shed_assumes_shows_in_a_shed(quick: Command) -> None:
    done = quick("sensitivity", "black_walnut", "--exposure", "shed", "--json")

    told = json.loads(done.stdout)
    by_name = {a["name"]: a for a in told["assumptions"]}
    wind = by_name["wind_shed"]
    hot = [
        effect["hot"] for effect in (wind["effect_of_low"], told["base"], wind["effect_of_high"])
    ]
    assert done.code == 0
    assert list(by_name) == [a.name for a in assumptions()]
    assert list(told["base"]) == list(Effect._fields)
    assert hot == sorted(hot)
    assert hot[0] < hot[2]
