"""What is told of a stack's lumber, as it reaches the boards that are simulated."""

from dataclasses import replace

import numpy as np
import pytest
from tests.faults.judging import MILD, R7, case, grounds

from drywind.yard import Trait

GROUND = grounds({"gravel": [MILD] * 72})


@pytest.mark.parametrize(
    ("species", "told", "green_mc"),
    [
        # Wood Handbook FPL-GTR-190, Table 4-1: heartwood 80, sapwood 69 (from memory).
        ("red_oak", {Trait.HEART}, 0.80),
        ("red_oak", {Trait.SAP}, 0.69),
        # The same: heartwood 58, none of sapwood (seen).
        ("black_cherry", {Trait.HEART}, 0.58),
        ("black_cherry", {Trait.SAP}, 0.58),
        # The same: heartwood 83, sapwood 106 (from memory), of which the mean is usually taken.
        ("yellow_poplar", {Trait.SAP}, 1.06),
        ("yellow_poplar", {Trait.QUARTERSAWN, Trait.OLD_LOGS}, 0.95),
    ],
)
def test_boards_of_heart_or_sap_start_as_wet_as_is_published_of_them(
    species: str, told: set[Trait], green_mc: float
) -> None:
    stack = replace(R7, species=species, traits=frozenset(told))

    found = case(GROUND, stack=stack)

    assert found.green_mc == found.begin_mc == pytest.approx(green_mc)


@pytest.mark.parametrize("trait", Trait)
def test_a_green_moisture_content_of_the_owners_counts_before_all_others(trait: Trait) -> None:
    stack = replace(R7, green_mc_pct=91.0, traits=frozenset({trait}))

    assert case(GROUND, stack=stack).green_mc == pytest.approx(0.91)


def test_quartersawn_boards_alone_diffuse_slower() -> None:
    plain = case(GROUND).boards.diffusivity_m2s
    told = {t: case(GROUND, stack=replace(R7, traits=frozenset({t}))) for t in Trait}

    for trait, found in told.items():
        share = 1 / 1.15 if trait is Trait.QUARTERSAWN else 1.0
        np.testing.assert_allclose(found.boards.diffusivity_m2s, share * plain, rtol=1e-12)


@pytest.mark.parametrize("trait", [Trait.SAP, Trait.QUARTERSAWN])
def test_a_saved_state_of_lumber_told_otherwise_is_not_taken_up(trait: Trait) -> None:
    plain, told = case(GROUND), case(GROUND, stack=replace(R7, traits=frozenset({trait})))

    assert plain.fingerprint(24) != told.fingerprint(24)
