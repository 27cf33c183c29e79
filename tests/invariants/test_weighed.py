"""What readings may teach, and what they may not: the likelihood's promises."""

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from tests.faults.judging import AHEAD, R7, SITES, STACKED, WARM, at, grounds

from drywind.judge.cases import UNTAUGHT, Case, make_case
from drywind.learn.nodes import Asked, simulate_nodes
from drywind.learn.priors import PRIORS
from drywind.learn.weighed import Measured, ask, usable
from drywind.learn.yard import Believed, Pupil, learn, wood_of
from drywind.samples import Entry, Position, sample_boards
from drywind.yard import Event, EventKind

DAYS = 8


def reading(hour: float, entry: Entry) -> Event:
    """Return an entry of an hour since stacking."""
    kind = EventKind.METERED if entry.meter_pct is not None else EventKind.WEIGHED
    return Event("R7", at(hour), kind, entry.detail)


@pytest.fixture(scope="module")
def case() -> Case:
    """Return a stack that stands in warm air."""
    weather = dict.fromkeys(SITES, [WARM] * (24 * DAYS + AHEAD))
    end = STACKED + timedelta(days=DAYS)
    return make_case(R7, grounds(weather), end, end)


def believed(case: Case, *events: Event) -> Believed:
    """Learn of one stack by its readings."""
    told = replace(case, stack=replace(case.stack, events=events))
    boards = tuple(usable(b, told) for b in sample_boards(events, at(24 * DAYS)))
    asked = ask(told, boards)
    (simulated,) = simulate_nodes([asked], PRIORS)
    return learn([Pupil(told, "gravel", Measured(asked, boards, simulated))], (), PRIORS)["R7"]


def middle(case: Case, hour: int, position: Position = Position.MIDDLE) -> float:
    """Return the moisture content in percent that the table's own wood comes to."""
    (told,) = simulate_nodes([Asked(case, {position: (hour,)})], PRIORS)
    mc = told[position].mc
    centre = tuple(size // 2 for size in mc.shape[:3])
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


def test_a_belief_comes_back_from_the_store_as_it_was(case: Case) -> None:
    found = believed(case, *(reading(h, Entry("A", mc_pct=70.0 - h / 8)) for h in (0, 72)))

    assert Believed.of_json(found.as_json()) == found
    assert np.isfinite([found.diffusion.mean, found.green.sd]).all()
