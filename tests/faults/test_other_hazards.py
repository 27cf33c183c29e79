"""Stain, mold and rain: what is found of a stack in made weather, and what is tried against it."""

from dataclasses import replace
from datetime import UTC, datetime

import pandas as pd
import pytest
from tests.faults.judging import HOT, MILD, R7, STACKED, UNKNOWN, Air, at, grounds

from drywind.judge.assess import assess
from drywind.judge.cases import Grounds, make_case
from drywind.judge.findings import Finding, Hazard, Sign
from drywind.judge.hazards import fastest_hours
from drywind.judge.measures import Remedy, ready_hour, remedies
from drywind.judge.outlook import Outlook
from drywind.judge.runs import Run
from drywind.wood.limits import stack_limit
from drywind.yard import Event, EventKind, Measure, Setup, Site, Stack, Trait

HUMID: Air = (26.0, 0.93, 0.5)
DRY: Air = (26.0, 0.45, 3.0)
COLD: Air = (4.0, 0.93, 0.5)
WEEK = 168
MAPLE = replace(R7, id="E1", species="hard_maple", setup=Setup("barn"))
TO_GRAVEL = Remedy((), "gravel")


def look(ground: Grounds, now: int, stack: Stack, days: int = 7) -> Outlook:
    """Judge a stack as far as a forecast of some days goes."""
    case = make_case(stack, ground, at(now + 24 * days), at(now))
    limits = {stack.id: stack_limit(stack, {})}
    (seen,) = assess([Run.fresh(case)], limits, ground, at(now), 48)
    return seen


def finding(seen: Outlook, hazard: Hazard) -> Finding:
    """Return what was found of a hazard."""
    [found] = [f for f in seen.findings if f.hazard is hazard]
    return found


def everywhere(air: Air, hours: int) -> Grounds:
    """Return a yard with the same weather at every site."""
    return grounds({site: [air] * hours for site in ("gravel", "shed", "barn")})


def rain(ground: Grounds, first: int, hours: int, mm: float) -> Grounds:
    """Return a yard on which some rain falls an hour."""
    tables = {}
    for name, table in ground.tables.items():
        changed = table.copy()
        changed.loc[changed.index[first : first + hours], "rain_mm"] = mm
        tables[name] = changed
    return replace(ground, tables=tables)


def test_maple_in_a_still_humid_corner_is_warned_of_sugar_stain() -> None:
    seen = look(everywhere(HUMID, WEEK), 0, MAPLE)
    stain = finding(seen, Hazard.STAIN)

    assert stain.over
    assert stain.sign is Sign.SUGAR_STAIN
    assert stain.first is not None
    assert at(24) < stain.first < at(96)
    assert not finding(seen, Hazard.TOO_FAST).over


@pytest.mark.parametrize(
    ("air", "stack"),
    [
        (COLD, MAPLE),
        (HUMID, replace(MAPLE, traits=frozenset({Trait.HEART}))),
        (HUMID, replace(MAPLE, species="white_oak")),
        (DRY, replace(MAPLE, setup=Setup("gravel"))),
    ],
    ids=["in the cold", "heartwood", "oak", "where it dries"],
)
def test_no_sugar_stain_is_seen(air: Air, stack: Stack) -> None:
    stain = finding(look(everywhere(air, WEEK), 0, stack), Hazard.STAIN)

    assert not stain.over
    assert stain.complete


def test_what_dries_it_in_time_is_advised_and_covers_are_not() -> None:
    """In air as dry as this the open lot dries it at once; the barn does not."""
    seen = look(everywhere((22.0, 0.7, 2.0), WEEK), 0, MAPLE)

    assert finding(seen, Hazard.STAIN).over
    assert seen.chosen is not None
    assert seen.chosen.remedy.move_to in {"gravel", "shed"}
    assert seen.chosen.spared
    assert all(
        set(t.remedy.measures) <= set(Measure) and t.remedy.move_to
        for t in seen.trials
        if t.remedy.measures
    )


def test_burlap_that_stains_is_taken_off() -> None:
    wrapped = Setup("gravel", measures=frozenset({Measure.PILE_ROOF, Measure.TARP}))
    seen = look(everywhere((22.0, 0.6, 3.0), WEEK), 0, replace(MAPLE, setup=wrapped))

    assert finding(seen, Hazard.STAIN).over
    assert seen.chosen is not None
    assert Measure.TARP in seen.chosen.remedy.off
    assert seen.chosen.safe


def test_logs_felled_long_ago_stain_their_boards_sooner() -> None:
    ground = everywhere(HUMID, WEEK + 48)
    fresh = replace(MAPLE, stacked_at=at(48))
    old = replace(fresh, events=(Event("E1", STACKED, EventKind.FELLED),))
    soon, late = (finding(look(ground, 48, s), Hazard.STAIN) for s in (old, fresh))

    assert soon.first is not None
    assert late.first is not None
    assert soon.first < late.first
    assert soon.value == pytest.approx(late.value + 2 * 2 ** (6 / (20 / 1.8)), abs=0.01)


def test_stain_that_is_done_is_not_warned_of() -> None:
    seen = look(everywhere(HUMID, 2 * WEEK), WEEK, MAPLE)
    stain = finding(seen, Hazard.STAIN)

    assert (stain.severity, stain.over) == (0.0, False) or stain.sign is Sign.MOLD


def test_hours_ahead_that_nobody_knows_are_no_promise_of_bright_wood() -> None:
    ground = grounds({"barn": [*[COLD] * 10, *[UNKNOWN] * 20, *[COLD] * 138]})

    assert not finding(look(ground, 0, MAPLE), Hazard.STAIN).complete


HALF_DRY = Event("R7", at(1), EventKind.METERED, "35.0")


def half_dried(setup: Setup) -> tuple[Stack, Grounds]:
    """Return a stack that was metered at 35 % after days nobody knows, on dry sites."""
    air = [*[UNKNOWN] * 60, *[MILD] * 168]
    ground = grounds({site: list(air) for site in ("gravel", "shed")})
    stack = replace(R7, setup=setup, events=(replace(HALF_DRY, time=at(60)),))
    return stack, ground


def test_rain_on_a_half_dried_stack_without_a_roof_is_warned_of_and_a_roof_advised() -> None:
    stack, ground = half_dried(Setup("gravel"))
    seen = look(rain(ground, 84, 6, 2.0), 61, stack, days=6)
    wet = finding(seen, Hazard.WETTING)

    assert wet.over
    assert (wet.first, wet.end) == (at(84), at(90))
    assert wet.value == pytest.approx(12.0)
    assert seen.chosen is not None
    assert seen.chosen.remedy == Remedy((Measure.TARP,)) or Measure.PILE_ROOF in (
        seen.chosen.remedy.measures
    )


def test_rain_under_a_roof_or_on_green_wood_is_not_warned_of() -> None:
    stack, ground = half_dried(Setup("shed"))
    green = replace(R7, setup=Setup("gravel"))

    assert not finding(look(rain(ground, 84, 6, 2.0), 61, stack, 6), Hazard.WETTING).over
    wet = look(rain(everywhere(MILD, WEEK), 20, 6, 2.0), 0, green)
    assert finding(wet, Hazard.WETTING).severity == 0.0


def test_a_drizzle_is_not_warned_of() -> None:
    stack, ground = half_dried(Setup("gravel"))
    wet = finding(look(rain(ground, 84, 6, 0.2), 61, stack, 6), Hazard.WETTING)

    assert 0.0 < wet.severity < 1.0
    assert not wet.over


def test_rain_nobody_knows_of_is_no_promise_of_a_dry_stack() -> None:
    stack, ground = half_dried(Setup("gravel"))
    unknown = rain(ground, 84, 6, float("nan"))

    assert not finding(look(unknown, 61, stack, 6), Hazard.WETTING).complete


def test_covers_come_off_again_once_the_danger_is_over() -> None:
    hours = [*[(26.0, 0.35, 2.0)] * 50, *[MILD] * 118]
    seen = look(grounds({"shed": hours}), 1, replace(R7, setup=Setup("shed")))
    lifted = [t for t in seen.trials if t.off_at is not None]

    assert seen.pace.onset is not None
    assert seen.pace.relief is not None
    assert {t.off_at for t in lifted} == {seen.case.time_of(seen.pace.relief)}
    assert all(t.spared for t in lifted)
    assert all(t.off_at is None for t in seen.trials if not t.spared)


def test_stickers_are_changed_only_while_a_stack_is_made() -> None:
    ground = everywhere(HOT, WEEK)
    sites = ground.sites
    fresh = remedies(Setup("gravel"), sites, stacking=True)

    assert [r for r in fresh if r.sticker_m is not None]
    assert not [r for r in remedies(Setup("gravel"), sites) if r.sticker_m is not None]


@pytest.mark.parametrize(("month", "hour", "ready"), [(6, 17, 19), (6, 3, 11), (12, 3, 13)])
def test_work_waits_for_daylight(month: int, hour: int, ready: int) -> None:
    """By the clock of Chicago the sun rises at 5:15 in June, and at 7:15 (13 UTC) in December."""
    start = datetime(2026, month, 15, tzinfo=UTC)
    site = Site("gravel", 41.98, -87.9, 205.0)
    hours = pd.date_range(start, periods=96, freq="h", name="time_utc")
    table = pd.DataFrame(
        dict.fromkeys(
            ["temp_c", "rh", "wind_ms", "wind_dir_deg", "ghi_wm2", "cloud", "rain_mm"], 0.5
        ),
        index=hours,
    )
    stack = replace(R7, stacked_at=start)
    case = make_case(stack, Grounds({"gravel": site}, {"gravel": table}), hours[-1], start)

    assert ready_hour(case, site, hour) == ready


COVERED = Setup("gravel", measures=frozenset({Measure.PILE_ROOF, Measure.BURLAP}))


def test_covers_that_have_done_their_work_can_come_off_and_a_roof_stays() -> None:
    seen = look(everywhere(MILD, WEEK), 24, replace(R7, setup=COVERED))

    assert seen.lift is not None
    assert seen.lift.remedy == Remedy((), off=(Measure.BURLAP,))
    assert seen.chosen is None


def test_covers_that_are_needed_stay_on() -> None:
    """Without burlap it would go over its limit, with it it does not."""
    ground = grounds({"shed": [*[(26.0, 0.35, 2.0)] * 50, *[MILD] * 118]})
    bare = look(ground, 1, replace(R7, setup=Setup("shed")))
    wrapped = Setup("shed", measures=frozenset({Measure.BURLAP}))
    seen = look(ground, 1, replace(R7, setup=wrapped))

    assert Hazard.TOO_FAST in bare.over
    assert not seen.over
    assert seen.lift is None


def test_where_hours_are_unknown_nothing_is_said_to_come_off() -> None:
    ground = grounds({"gravel": [*[MILD] * 30, *[UNKNOWN] * 60, *[MILD] * 78]})

    assert look(ground, 24, replace(R7, setup=COVERED)).lift is None


def test_the_fastest_hours_are_those_of_the_afternoon_and_nothing_is_decided_by_them() -> None:
    day = [*[MILD] * 12, *[(24.0, 0.4, 4.0)] * 4, *[MILD] * 8]
    seen = look(grounds({"shed": day * 7}), 48, replace(R7, setup=Setup("shed")))
    found = fastest_hours(seen.run, seen.now, 48, seen.limit.value)

    assert found is not None
    start, ratio = found
    assert start % 24 in range(11, 15)
    assert ratio > seen.severity
    assert not seen.over


def test_where_nothing_is_known_no_hour_is_the_fastest() -> None:
    ground = grounds({"gravel": [UNKNOWN] * WEEK})
    lost = look(ground, 100, R7)

    assert fastest_hours(lost.run, lost.now, 48, 3.8) is None
