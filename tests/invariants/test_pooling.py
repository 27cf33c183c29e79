"""Partial pooling against a general multivariate normal conditioned in full."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from drywind.learn.pooling import Member, Normal, Spread, expected

WIDE = Spread(0.25, 0.14, 0.2)
beliefs = st.builds(Normal, st.floats(-1.0, 1.0), st.floats(0.05, 1.0))
members = st.builds(
    Member, st.sampled_from(["oak", "maple"]), st.sampled_from(["lot", "shed"]), beliefs
)


@given(st.lists(members, min_size=1, max_size=6), st.builds(Member, st.just("oak"), st.just("lot")))
def test_a_stack_is_expected_as_the_joint_normal_has_it(
    others: list[Member], asked: Member
) -> None:
    """Species, site and stack effects written out, every one a column, and conditioned on."""
    everyone = [*others, asked]
    columns = {
        name: i for i, name in enumerate(["oak", "maple", "lot", "shed", *range(len(everyone))])
    }
    sds = np.array([0.25, 0.25, 0.14, 0.14, *[0.2] * len(everyone)])
    design = np.zeros((len(everyone), len(columns)))
    for row, member in enumerate(everyone):
        for name in (member.species, member.site, row):
            design[row, columns[name]] = 1.0
    joint = design @ np.diag(sds**2) @ design.T
    seen = [m.seen for m in others if m.seen is not None]
    noisy = joint[:-1, :-1] + np.diag([s.sd**2 for s in seen])
    gain = joint[-1, :-1] @ np.linalg.inv(noisy)
    mean = gain @ np.array([s.mean for s in seen])
    variance = joint[-1, -1] - gain @ joint[:-1, -1]

    found = expected(everyone, asked, WIDE)

    assert found.mean == pytest.approx(mean, abs=1e-9)
    assert found.sd == pytest.approx(np.sqrt(variance), rel=1e-6)


def test_a_stack_of_another_wood_at_another_site_teaches_nothing() -> None:
    other = Member("maple", "shed", Normal(0.5, 0.1))

    found = expected([other], Member("oak", "lot"), WIDE)

    assert found.mean == 0.0
    assert found.sd == pytest.approx(np.sqrt(0.25**2 + 0.14**2 + 0.2**2))


def test_the_next_pack_of_the_same_wood_starts_wiser_but_never_as_sure_as_one_weighed() -> None:
    seen = [Member("oak", "lot", Normal(-0.4, 0.1)) for _ in range(8)]

    found = expected(seen, Member("oak", "lot"), WIDE)

    assert -0.4 < found.mean < -0.3
    assert 0.2 < found.sd < 0.25


def test_an_error_all_share_bounds_what_any_number_of_stacks_teaches() -> None:
    seen = [Member("oak", "lot", Normal(-0.4, 0.3)) for _ in range(200)]

    alone, common = (
        expected(seen, Member("oak", "lot"), Spread(0.25, 0.14, 0.2, share)) for share in (0.0, 0.7)
    )

    assert abs(common.mean) < abs(alone.mean)
    assert common.sd > alone.sd + 0.02


def test_a_belief_is_its_prior_and_what_was_seen() -> None:
    prior, seen = Normal(0.1, 0.35), Normal(-0.3, 0.2)
    precision = prior.sd**-2 + seen.sd**-2
    both = Normal(
        (prior.mean * prior.sd**-2 + seen.mean * seen.sd**-2) / precision, precision**-0.5
    )

    found = both.without(prior)

    assert found is not None
    assert (found.mean, found.sd) == pytest.approx((seen.mean, seen.sd))
    assert prior.without(prior) is None
