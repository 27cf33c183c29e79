"""What readings may teach, and what they may not: the likelihood's promises."""

import json
from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from tests.faults.judging import AHEAD, R7, SITES, STACKED, WARM, at, grounds

from drywind.judge.cases import UNTAUGHT, Case, make_case
from drywind.learn.nodes import Asked, repeated, scaled, simulate_nodes
from drywind.learn.pooling import Normal
from drywind.learn.priors import PRIORS
from drywind.learn.weighed import AIRS, DIFFUSIONS, GREENS, Measured, ask, on_grid, usable
from drywind.learn.yard import Believed, Pupil, learn, seen_of_json, wood_of
from drywind.samples import METER_LIMIT_PCT, Entry, Position, sample_boards
from drywind.wood.drying import State, simulate
from drywind.yard import Event, EventKind

DAYS, DRY_DAYS = 8, 60


def reading(hour: float, entry: Entry) -> Event:
    """Return an entry of an hour since stacking."""
    kind = EventKind.METERED if entry.meter_pct is not None else EventKind.WEIGHED
    return Event("R7", at(hour), kind, entry.detail)


@pytest.fixture(scope="module")
def case() -> Case:
    """Return a stack that stands in warm air."""
    return standing(DAYS)


def standing(days: int) -> Case:
    """Return a stack after so many days in warm air."""
    weather = dict.fromkeys(SITES, [WARM] * (24 * days + AHEAD))
    end = STACKED + timedelta(days=days)
    return make_case(R7, grounds(weather), end, end)


def believed(case: Case, *events: Event) -> Believed:
    """Learn of one stack by its readings."""
    told = replace(case, stack=replace(case.stack, events=events))
    boards = tuple(usable(b, told) for b in sample_boards(events, at(case.hours)))
    asked = ask(told, boards)
    (simulated,) = simulate_nodes([asked], PRIORS)
    return learn([Pupil(told, "gravel", Measured(asked, boards, simulated))], (), PRIORS)["R7"]


def middle(case: Case, hour: int, position: Position = Position.MIDDLE) -> float:
    """Return the moisture content in percent that the table's own wood comes to."""
    (told,) = simulate_nodes([Asked(case, {position: (hour,)})], PRIORS)
    mc = told[position].mc
    centre = tuple(size // 2 for size in mc.shape[:-1])
    return 100.0 * float(mc[centre][0])


def test_readings_of_the_tables_own_wood_leave_it_where_it_was_and_make_it_surer(
    case: Case,
) -> None:
    events = [reading(h, Entry("A", mc_pct=middle(case, h))) for h in (0, 72, 168)]

    found = believed(case, *events)

    assert found.diffusion.mean == pytest.approx(0.0, abs=0.05)
    assert found.diffusion.sd < 0.8 * PRIORS.diffusion_sd
    assert found.ease is None


def test_slower_boards_teach_slower_wood_and_wetter_ones_wetter(case: Case) -> None:
    usual = [middle(case, h) for h in (0, 72, 168)]
    slow = [usual[0], usual[1] + 3.0, usual[2] + 6.0]
    wet = [mc + 8.0 for mc in usual]

    def taught(mcs: list[float]) -> Believed:
        told = zip((0, 72, 168), mcs, strict=True)
        return believed(case, *(reading(h, Entry("A", mc_pct=mc)) for h, mc in told))

    slower, wetter = taught(slow), taught(wet)

    assert slower.diffusion.mean < -0.15
    assert wetter.green.mean > 0.03


def test_average_moisture_content_never_teaches_the_air_at_the_edge(case: Case) -> None:
    inside = [reading(h, Entry("A", mc_pct=middle(case, h))) for h in (0, 72, 168)]
    edge = [
        reading(h, Entry("E", Position.EDGE, mc_pct=middle(case, h, Position.EDGE) + 4.0))
        for h in (72, 168)
    ]

    alone, both = believed(case, *inside), believed(case, *inside, *edge)

    assert wood_of(alone).edge_ease == 1.0
    assert alone.air.mean == pytest.approx(0.0, abs=0.1)
    assert alone.air.sd > 0.85 * PRIORS.air_sd
    assert both.ease is not None
    assert both.ease.mean < 0.0


def test_a_wild_reading_hardly_moves_what_the_others_say(case: Case) -> None:
    good = [
        reading(h, Entry("A", kg=1.0 + middle(case, h) / 100.0, dry_kg=1.0)) for h in (0, 72, 168)
    ]
    wild = reading(120, Entry("A", kg=2.2 * (1.0 + middle(case, 120) / 100.0), dry_kg=1.0))

    usual, moved = believed(case, *good), believed(case, *good, wild)

    assert moved.diffusion.mean == pytest.approx(usual.diffusion.mean, abs=0.1)


def test_a_meter_above_fiber_saturation_tells_nothing(case: Case) -> None:
    told = [reading(h, Entry("A", mc_pct=60.0, meter_pct=60.0)) for h in (72, 168)]

    (board,) = (usable(b, case) for b in sample_boards(told, at(24 * DAYS)))

    assert board.readings == ()
    assert not board.tells


def test_nothing_learned_leaves_a_stack_as_the_table_has_it(case: Case) -> None:
    found = learn([Pupil(case, "gravel")], (), PRIORS)["R7"]

    assert wood_of(found) is UNTAUGHT
    assert case.taught(UNTAUGHT).fingerprint(48) == case.fingerprint(48)


def test_what_a_stack_taught_others_comes_back_from_the_store_as_it_was(case: Case) -> None:
    found = believed(case, *(reading(h, Entry("A", mc_pct=70.0 - h / 8)) for h in (0, 72)))

    assert seen_of_json(json.loads(json.dumps(found.as_json()))) == found.seen
    assert np.isfinite([found.diffusion.mean, found.green.sd]).all()


FIRST_METHOD = {
    "diffusion": {"mean": -0.02, "sd": 0.2},
    "green": {"mean": 0.01, "sd": 0.05},
    "correlation": 0.3,
    "ease": None,
    "readings": 4,
    "seen": [{"mean": -0.05, "sd": 0.3}, None],
}
"""A belief as `METHOD` 1 stored it."""


def test_what_a_stack_taught_under_the_first_method_still_counts() -> None:
    assert seen_of_json(FIRST_METHOD) == (Normal(-0.05, 0.3), None)


def test_moisture_content_between_the_nodes_is_near_what_a_simulation_of_its_own_has(
    case: Case,
) -> None:
    hours = (48, 120, 192)
    (told,) = simulate_nodes([Asked(case, {Position.MIDDLE: hours})], PRIORS)
    grid = on_grid(told[Position.MIDDLE].mc, AIRS)
    rng = np.random.default_rng(3)
    at = [rng.integers(2, len(g) - 2, 30) for g in (DIFFUSIONS, GREENS, AIRS)]
    ln_f, ln_g, ln_a = (g[i] for g, i in zip((DIFFUSIONS, GREENS, AIRS), at, strict=True))

    air = repeated(case.drivers.boards(slice(0, 1)), 30).eased(np.exp(ln_a))
    green = State.green(case.green_mc * np.exp(ln_g), air.air_temp_c[0])
    own = simulate(scaled(case, np.exp(ln_f), 0), air, green).mc[list(hours)].T

    off = 100.0 * (grid[tuple(at)] - own)
    assert np.sqrt(np.mean(off**2)) < 0.3
    assert np.abs(off).max() < 1.5


def test_a_wet_meter_does_bounded_harm() -> None:
    """Eight points too wet, on a board that weighings have told of: less than a deviation."""
    case, end = standing(DRY_DAYS), 24 * DRY_DAYS
    good = [
        reading(h, Entry("A", kg=1.0 + middle(case, h) / 100.0, dry_kg=1.0)) for h in (0, 72, 168)
    ]
    wet = middle(case, end) + 8.0
    meter = reading(end, Entry("A", mc_pct=wet, meter_pct=wet))

    usual, moved = believed(case, *good), believed(case, *good, meter)

    assert wet < METER_LIMIT_PCT
    assert moved.readings == usual.readings + 1
    assert abs(moved.diffusion.mean - usual.diffusion.mean) < usual.diffusion.sd
