"""Stacks taken up from the store: who has room, and a stack the model fails on."""

from dataclasses import replace
from pathlib import Path
from types import MappingProxyType
from zoneinfo import ZoneInfo

import pytest
from tests.faults.judging import HOT, R7, SITES, at, move, weather_hours

from drywind.config import Config, Policy, WeatherSettings
from drywind.cycle import look_ahead
from drywind.judge.outlook import Outlook
from drywind.store import Store
from drywind.units import Units
from drywind.yard import Event, EventKind, Setup, Site, Stack

SHED = SITES["shed"]


def look(
    folder: Path, now: float, stacks: list[Stack], shed: Site = SHED, only: str | None = None
) -> dict[str, Outlook]:
    """Judge stacks on the gravel and in a shed in a hot dry wind, by name."""
    config = Config(
        "Yard",
        ZoneInfo("America/Chicago"),
        Units.US,
        folder,
        WeatherSettings(contact="yard@example.com"),
        MappingProxyType({"gravel": SITES["gravel"], "shed": shed}),
        MappingProxyType({}),
        Policy(warn_hours_ahead=24),
    )
    with Store(folder / "drywind.db") as store:
        store.save_hours(shed.place, weather_hours([HOT] * (int(now) + 72), at(now)))
        store.add_stacks(stacks)
        return {seen.case.stack.id: seen for seen in look_ahead(config, store, at(now), only)}


def in_shed(name: str, *events: Event) -> Stack:
    """Return a stack that was put up in the shed."""
    return replace(R7, id=name, setup=Setup("shed"), events=events)


def moves(seen: Outlook) -> set[str | None]:
    """Return where a stack's remedies would move it."""
    return {trial.remedy.move_to for trial in seen.trials}


@pytest.mark.parametrize(("room", "expected"), [(None, True), (2, True), (1, False)])
@pytest.mark.parametrize("only", [None, "R7"])
def test_no_stack_is_sent_to_a_site_whose_room_is_taken(
    tmp_path: Path, room: int | None, expected: bool, only: str | None
) -> None:
    """Two stacks were put up in the shed; one of them was moved away since."""
    stacks = [R7, in_shed("S1"), in_shed("S2", move(1, "gravel", "S2"))]

    found = look(tmp_path, 24, stacks, replace(SHED, room=room), only)

    assert ("shed" in moves(found["R7"])) is expected
    assert set(found) == ({"R7", "S1", "S2"} if only is None else {"R7"})


def test_a_stack_taken_down_is_judged_no_more_and_makes_room(tmp_path: Path) -> None:
    ended = in_shed("S1", Event("S1", at(20), EventKind.ENDED))

    found = look(tmp_path, 24, [R7, ended], replace(SHED, room=1))

    assert set(found) == {"R7"}
    assert "shed" in moves(found["R7"])


@pytest.mark.parametrize("now", [24, 100], ids=["from green", "with a saved state due"])
def test_a_stack_the_model_fails_on_does_not_silence_the_others(tmp_path: Path, now: int) -> None:
    found = look(tmp_path, now, [R7, replace(R7, id="X1", green_mc_pct=-5.0)])

    assert found["R7"].pace.complete
    assert not found["X1"].pace.complete
