"""What must hold of limits and of the sorption isotherm whatever the species, size and air."""

from datetime import UTC, datetime

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from drywind.errors import UsageError
from drywind.units import Thickness
from drywind.wood.emc import emc_fraction_and_slope, emc_pct
from drywind.wood.limits import Basis, safe_loss_pct_per_day, stack_limit, weight
from drywind.wood.species import Species, find_species, load_species
from drywind.yard import Setup, Stack, Trait

any_species = st.sampled_from(list(load_species().values()))
any_thickness = st.one_of(
    st.integers(3, 16).map(lambda quarters: Thickness.parse(f"{quarters}/4")),
    st.floats(22.3, 104.7).map(lambda mm: Thickness.parse(f"{mm:.2f}mm")),
)
any_traits = st.frozensets(st.sampled_from(Trait))
any_temp_c = st.floats(-30.0, 60.0)
FOUR_QUARTER = Thickness.parse("4/4")


@given(any_species, any_thickness, any_thickness)
def test_a_thicker_board_may_never_lose_more(s: Species, a: Thickness, b: Thickness) -> None:
    thin, thick = sorted((a, b), key=lambda t: t.quarters)

    assert safe_loss_pct_per_day(s, thick).value <= safe_loss_pct_per_day(s, thin).value


@given(any_species, any_thickness)
def test_no_board_may_lose_more_than_4_4_nor_nothing_at_all(s: Species, size: Thickness) -> None:
    assert 0 < safe_loss_pct_per_day(s, size).value <= s.safe_loss_pct_per_day["4/4"]


@given(any_species, st.floats(-0.09, 0.09))
def test_a_metric_board_near_8_4_has_the_published_8_4_limit(s: Species, off: float) -> None:
    assume("8/4" in s.safe_loss_pct_per_day)
    near = Thickness.parse(f"{(8 + off) * 6.35 + 3.175:.3f}mm")

    assert safe_loss_pct_per_day(s, near).value == s.safe_loss_pct_per_day["8/4"]


@given(any_species, any_thickness, st.floats(0.01, 1.0))
def test_an_owners_limit_tightens_every_thickness_alike(
    s: Species, size: Thickness, share: float
) -> None:
    own = share * s.safe_loss_pct_per_day["4/4"]

    tightened = safe_loss_pct_per_day(s, size, own)

    assert tightened.basis.endswith(Basis.TIGHTENED)
    assert tightened.value <= safe_loss_pct_per_day(s, size).value
    assert tightened.value == pytest.approx(share * safe_loss_pct_per_day(s, size).value)
    assert safe_loss_pct_per_day(s, FOUR_QUARTER, own).value == pytest.approx(own)


@given(any_species, st.one_of(st.floats(1.001, 1e6), st.floats(-10.0, 0.0), st.just(float("nan"))))
def test_an_owners_limit_can_neither_loosen_nor_forbid(s: Species, share: float) -> None:
    with pytest.raises(UsageError, match="tightened, not loosened"):
        safe_loss_pct_per_day(s, FOUR_QUARTER, share * s.safe_loss_pct_per_day["4/4"])


@pytest.mark.parametrize(
    ("species", "size", "value", "basis"),
    [
        ("red_oak", "3/4", 3.8, Basis.EXTRAPOLATED),
        ("red_oak", "25mm", 3.8, Basis.EXTRAPOLATED),
        ("red_oak", "27mm", 3.8, Basis.PUBLISHED),
        ("red_oak", "4/4", 3.8, Basis.PUBLISHED),
        ("red_oak", "6/4", 3.8 * 0.6, Basis.INTERPOLATED),
        ("red_oak", "8/4", 1.5, Basis.PUBLISHED),
        ("red_oak", "54mm", 1.5, Basis.PUBLISHED),
        ("red_oak", "16/4", 1.5**2 / 3.8, Basis.EXTRAPOLATED),
        ("red_oak_lowland", "6/4", 0.6, Basis.EXTRAPOLATED),
        ("red_oak_lowland", "8/4", 0.4, Basis.EXTRAPOLATED),
        ("white_oak_lowland", "4/4", 1.0, Basis.ASSUMPTION),
        ("hickory", "8/4", 2.1, Basis.ASSUMPTION),
        ("hickory", "12/4", 2.1 * 1.5**-1.336, Basis.ASSUMPTION),
    ],
)
def test_a_limit_says_what_it_rests_on(species: str, size: str, value: float, basis: Basis) -> None:
    """6/4 stands 0.6 of 4/4 (FPL-GTR-118, from memory), 8/4 stands 0.40 (FOR-128 Table 9, seen)."""
    limit = safe_loss_pct_per_day(find_species(species), Thickness.parse(size))

    assert limit.value == pytest.approx(value, rel=0.04)
    assert limit.basis == basis


@given(any_species, any_thickness, any_traits)
def test_old_logs_hold_oak_to_0_4_and_leave_other_woods_and_nothing_else_told_matters(
    s: Species, size: Thickness, traits: frozenset[Trait]
) -> None:
    plain, told = safe_loss_pct_per_day(s, size), safe_loss_pct_per_day(s, size, None, traits)

    if "oak" in s.name and Trait.OLD_LOGS in traits:
        assert told.value == pytest.approx(0.4 * plain.value)
        assert told.basis.endswith(Basis.STORED_LOGS)
    else:
        assert told == plain


@pytest.mark.parametrize(
    ("species", "size", "own", "basis"),
    [
        ("red_oak", "4/4", None, "x 0.4 for oak from stored logs"),
        ("red_oak", "6/4", None, "interpolated, x 0.4 for oak from stored logs"),
        ("red_oak", "4/4", 3.0, "x 0.4 for oak from stored logs, tightened by you"),
        ("red_oak", "12/4", 3.0, "extrapolated, x 0.4 for oak from stored logs, tightened by you"),
        ("hard_maple", "4/4", None, "published"),
        ("hard_maple", "12/4", 6.0, "extrapolated, tightened by you"),
        ("hickory", "4/4", 5.0, "assumption, tightened by you"),
    ],
)
def test_a_limit_of_old_logs_or_your_own_says_all_it_rests_on_and_is_not_called_published(
    species: str, size: str, own: float | None, basis: str
) -> None:
    thickness, old = Thickness.parse(size), frozenset({Trait.OLD_LOGS})

    assert safe_loss_pct_per_day(find_species(species), thickness, own, old).basis == basis


def test_a_stack_is_held_to_its_owners_limit_however_its_wood_is_spelled() -> None:
    logs = frozenset({Trait.OLD_LOGS})
    stacked = datetime(2026, 6, 12, tzinfo=UTC)
    stack = Stack("W2", "white oak", FOUR_QUARTER, stacked, Setup("barn"), traits=logs)

    limit = stack_limit(stack, {"White-Oak": 2.0, "red_oak": 1.0})

    assert limit.value == pytest.approx(0.4 * 2.0)
    assert limit.basis == f"{Basis.STORED_LOGS}, {Basis.TIGHTENED}"


@given(st.floats(0.0, 250.0), st.floats(0.0, 250.0))
def test_wetter_wood_never_counts_less(a: float, b: float) -> None:
    drier, wetter = weight(np.sort([a, b]))

    assert 0 <= drier <= wetter <= 1


def test_the_limit_counts_in_full_to_40_and_not_at_all_under_25() -> None:
    np.testing.assert_array_equal(
        weight([np.nan, 0.0, 25.0, 32.5, 40.0, 90.0]), [np.nan, 0.0, 0.0, 0.5, 1.0, 1.0]
    )


@given(any_temp_c, st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_damper_air_never_lowers_emc(temp_c: float, a: float, b: float) -> None:
    drier, damper = emc_pct(temp_c, np.sort([a, b]))

    assert 0 <= drier <= damper < 35


@given(any_temp_c, st.floats(0.001, 0.999))
def test_the_slope_of_emc_is_its_derivative(temp_c: float, h: float) -> None:
    step = 1e-5
    below, above = emc_pct(temp_c, np.array([h - step, h + step])) / 100

    emc, slope = emc_fraction_and_slope(temp_c, h)

    assert below < emc < above
    assert slope == pytest.approx((above - below) / (2 * step), rel=1e-5)
