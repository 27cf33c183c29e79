"""The rules for degrade against the sentences they are made of; each stands beside its rows."""

import pytest
from tests.published.conftest import Against

from drywind.wood import degrade
from drywind.wood.degrade import Level


def test_bare_ends_dry_three_or_four_times_as_fast_as_faces(against: Against) -> None:
    source = "Skaar 1958, abstract seen (beech, 13); 10 to 15 from memory"
    against.between("ratio of diffusion coefficients", source, degrade.END_GRAIN**2, 10.0, 15.0)


@pytest.mark.parametrize(
    ("ratio", "mc_pct", "coated", "level"),
    [
        (2.0, 70.0, True, Level.NONE),  # Wengert, Drying oak step 1, seen: a coating stops them
        (2.0, 45.0, False, Level.NONE),  # Wengert, Preventing end checks, seen: above 50 % MC
        (1.2, 70.0, False, Level.HIGH),
        (0.5, 70.0, False, Level.SOME),
        (0.2, 70.0, False, Level.NONE),
    ],
)
def test_end_checks_come_of_bare_ends_of_wet_boards_near_their_limit(
    *, ratio: float, mc_pct: float, coated: bool, level: Level
) -> None:
    assert degrade.end_checks(ratio, mc_pct, coated=coated).level is level


@pytest.mark.parametrize(
    ("ratio", "core_pct", "wood_c", "rewetted", "level"),
    [
        # Wengert, Deep surface checking, and Honeycomb risk when drying oak, seen
        (0.9, 60.0, 25.0, False, Level.NONE),
        (0.9, 60.0, 25.0, True, Level.NONE),
        (0.9, 35.0, 50.0, False, Level.SOME),
        (0.9, 25.0, 50.0, False, Level.NONE),
        (1.3, 35.0, 25.0, False, Level.SOME),
        (1.3, 35.0, 25.0, True, Level.HIGH),
        (1.3, 35.0, 50.0, False, Level.HIGH),
        (1.3, 25.0, 50.0, False, Level.SOME),
    ],
)
def test_honeycomb_follows_fast_drying_when_green_then_rain_or_heat(
    *, ratio: float, core_pct: float, wood_c: float, rewetted: bool, level: Level
) -> None:
    assert degrade.honeycomb(ratio, core_pct, wood_c, rewetted=rewetted).level is level


@pytest.mark.parametrize(
    ("mc_pct", "rain_mm", "ratio", "level"),
    [
        # Wengert 2009, Preventing drying damage to oak, seen: of partially dried lumber
        (60.0, 5.0, 1.5, Level.NONE),
        (30.0, 0.0, 1.5, Level.NONE),
        (30.0, 5.0, 0.8, Level.SOME),
        (30.0, 5.0, 1.5, Level.HIGH),
    ],
)
def test_rain_harms_half_dried_wood(
    mc_pct: float, rain_mm: float, ratio: float, level: Level
) -> None:
    assert degrade.rewetting(mc_pct, rain_mm, ratio).level is level


def test_set_comes_when_the_core_shrinks_and_a_kiln_relieves_it() -> None:
    """McMillen 1958, FPL 1652, opening seen."""
    assert degrade.case_hardening(45.0).level is Level.NONE
    dry_core = degrade.case_hardening(18.0)
    assert dry_core.level is Level.SOME
    assert "conditioning" in dry_core.reason
