"""The species table against its sources, and its assumptions against the rules they name."""

import dataclasses
import re
from collections.abc import Callable, Iterable

import numpy as np
import pytest
from tests.published.conftest import Against

from drywind.errors import UsageError
from drywind.wood.species import Species, as_json, find_species, load_species

# Wengert, Table 9 "Safe drying rates for North American hardwoods", p. 91 of FOR-128, Hardwood
# Dry Kiln Operation (seen; the columns were put back in order from the page's recognized text):
# points of moisture content per day for 4/4 and 8/4.
TABLE_9 = {
    "white_ash": (10.4, 4.1),
    "beech": (4.5, 1.8),
    "yellow_birch": (6.1, 2.4),
    "black_cherry": (5.8, 2.3),
    "american_elm": (10.4, 4.1),
    "hard_maple": (6.5, 2.6),
    "soft_maple": (13.8, 5.5),
    "silver_maple": (13.8, 5.5),  # the row is soft maple, which the trade takes both for
    "red_oak": (3.8, 1.5),
    "white_oak": (2.5, 1.0),
    "sweetgum": (5.3, 2.1),
    "black_tupelo": (10.9, 4.3),
    "black_walnut": (8.2, 3.3),
    "yellow_poplar": (13.8, 5.5),
}

# Wood Handbook FPL-GTR-190, Table 4-3 (seen): radial, tangential, volumetric shrinkage, percent.
TABLE_4_3 = {
    "red_alder": (4.4, 7.3, 12.6),
    "black_ash": (5.0, 7.8, 15.2),
    "green_ash": (4.6, 7.1, 12.5),
    "white_ash": (4.9, 7.8, 13.3),
    "aspen": (3.5, 6.7, 11.5),
    "basswood": (6.6, 9.3, 15.8),
    "beech": (5.5, 11.9, 17.2),
    "paper_birch": (6.3, 8.6, 16.2),
    "sweet_birch": (6.5, 9.0, 15.6),
    "yellow_birch": (7.3, 9.5, 16.8),
    "butternut": (3.4, 6.4, 10.6),
    "black_cherry": (3.7, 7.1, 11.5),
    "cottonwood": (3.9, 9.2, 13.9),
    "american_elm": (4.2, 9.5, 14.6),
    "rock_elm": (4.8, 8.1, 14.9),
    "hackberry": (4.8, 8.9, 13.8),
    "pecan": (4.9, 8.9, 13.6),
    "hickory": (7.7, 11.0, 17.8),
    "white_oak": (5.6, 10.5, 16.3),
    "sweetgum": (5.3, 10.2, 15.8),
    "sycamore": (5.0, 8.4, 14.1),
    "black_tupelo": (5.1, 8.7, 14.4),
    "black_walnut": (5.5, 7.8, 12.8),
    "black_willow": (3.3, 8.7, 13.9),
    "yellow_poplar": (4.6, 8.2, 12.7),
}

# Wood Handbook FPL-GTR-190, Table 4-1 (seen): green moisture content of heartwood and sapwood.
TABLE_4_1 = {
    "red_alder": (None, 97),
    "black_ash": (95, None),
    "green_ash": (None, 58),
    "white_ash": (46, 44),
    "aspen": (95, 113),
    "basswood": (81, 133),
    "beech": (55, 72),
    "paper_birch": (89, 72),
    "sweet_birch": (75, 70),
    "yellow_birch": (74, 72),
    "black_cherry": (58, None),
}

# Woods each source names (all seen): a stain class was given to every one of them drywind knows.
NAMED_FOR_ENZYMATIC_STAIN = {
    "Forsyth and Amburgey 1991, nonmicrobial gray sapstain, abstract": (
        "southern_red_oak",
        "white_ash",
        "hackberry",
    ),
    "Gray-brown chemical stain in southern hardwood": (
        "soft_maple",
        "silver_maple",
        "hackberry",
        "hickory",
        "red_oak",
    ),
    "Wengert 1998, Causes and cures for sticker stain": ("hard_maple", "white_ash"),
    "Wengert, Yellow-poplar stains": ("yellow_poplar",),
}

every_species = pytest.mark.parametrize("species", load_species().values(), ids=load_species())


def sourced(field: str, *, starting: str) -> list[Species]:
    return [s for s in load_species().values() if s.sources[field].startswith(starting)]


def keys_of(species: Iterable[Species]) -> set[str]:
    return {s.key for s in species}


def test_safe_losses_are_those_of_table_9(against: Against) -> None:
    ours = [find_species(key).safe_loss_pct_per_day for key in TABLE_9]

    against.value(
        "safe losses, 4/4 and 8/4, %/day",
        "Wengert, Table 9, p. 91 of FOR-128 (seen)",
        [(losses["4/4"], losses["8/4"]) for losses in ours],
        list(TABLE_9.values()),
        0.0,
    )
    for key in TABLE_9:
        source = find_species(key).sources["safe_loss_pct_per_day"]
        assert re.search(r"Table 9.*FOR-128.*\(seen\)", source)


def test_lowland_red_oak_takes_the_cautious_end_of_its_published_range_and_says_so(
    against: Against,
) -> None:
    """Table 9 of FOR-128 (seen) prints 1.0-3.8 for 4/4 and nothing for 8/4."""
    species = find_species("red_oak_lowland")

    against.value(
        "safe loss of lowland red oak, 4/4, %/day",
        "Wengert, Table 9, p. 91 of FOR-128 (seen): 1.0 to 3.8",
        species.safe_loss_pct_per_day["4/4"],
        1.0,
        0.0,
    )
    assert set(species.safe_loss_pct_per_day) == {"4/4"}
    assert "published as 1.0 to 3.8" in species.sources["safe_loss_pct_per_day"]


def test_lowland_white_oak_may_lose_no_more_than_lowland_red_oak() -> None:
    white, red = find_species("white_oak_lowland"), find_species("red_oak_lowland")

    assert white.safe_loss_pct_per_day["4/4"] <= red.safe_loss_pct_per_day["4/4"]
    assert not white.safe_loss_is_published


def test_no_other_safe_loss_is_called_published() -> None:
    published = keys_of(s for s in load_species().values() if s.safe_loss_is_published)

    assert published == {*TABLE_9, "red_oak_lowland"}


@pytest.mark.parametrize(
    "species",
    sourced("safe_loss_pct_per_day", starting="assumption: nothing published; the lowest"),
    ids=lambda s: s.key,
)
def test_a_default_safe_loss_follows_the_rule_it_names(species: Species) -> None:
    published = [s for s in load_species().values() if s.safe_loss_is_published]
    slow_enough = [s for s in published if s.air_drying_days[0] >= species.air_drying_days[0]]
    least_days = min(s.air_drying_days[0] for s in slow_enough)
    lowest = min(
        (s for s in slow_enough if s.air_drying_days[0] == least_days),
        key=lambda s: s.safe_loss_pct_per_day["4/4"],
    )

    assert species.safe_loss_pct_per_day == lowest.safe_loss_pct_per_day


def test_shrinkages_are_those_of_table_4_3(against: Against) -> None:
    ours = [find_species(key).shrinkage_pct for key in TABLE_4_3]

    against.value(
        "shrinkage: radial, tangential, volumetric, %",
        "Wood Handbook FPL-GTR-190, Table 4-3 (seen)",
        [(s["radial"], s["tangential"], s["volumetric"]) for s in ours],
        list(TABLE_4_3.values()),
        0.0,
    )


def test_no_other_shrinkage_claims_a_table_that_was_seen() -> None:
    claimed = keys_of(s for s in load_species().values() if "(seen)" in s.sources["shrinkage_pct"])

    assert claimed == set(TABLE_4_3)


def test_green_moisture_contents_are_those_of_table_4_1(against: Against) -> None:
    kinds = [find_species(key) for key in TABLE_4_1]
    ours, printed = (
        np.array(pairs, dtype=float)
        for pairs in (
            [(s.green_mc_heart_pct, s.green_mc_sap_pct) for s in kinds],
            list(TABLE_4_1.values()),
        )
    )

    np.testing.assert_array_equal(np.isnan(ours), np.isnan(printed))
    told = ~np.isnan(printed)
    against.value(
        "green MC, heartwood and sapwood, %",
        "Wood Handbook FPL-GTR-190, Table 4-1 (seen)",
        ours[told],
        printed[told],
        0.0,
    )


@every_species
def test_the_green_moisture_content_used_lies_within_those_published(species: Species) -> None:
    both = [mc for mc in (species.green_mc_heart_pct, species.green_mc_sap_pct) if mc is not None]

    if both:
        assert min(both) <= species.green_mc_pct <= max(both)
    if species.sources["green_mc_pct"].startswith("assumption: mean of the heartwood"):
        assert species.green_mc_pct == pytest.approx(sum(both) / 2, abs=0.5)


@every_species
def test_every_field_has_a_source_that_says_how_sure_it_is(species: Species) -> None:
    fields = {f.name for f in dataclasses.fields(Species)} - {"key", "sources"}
    had = {field for field in fields if getattr(species, field) is not None}

    assert set(species.sources) == had
    for source in species.sources.values():
        assert re.search(
            r"\((seen|from memory)\)|^assumption: .+|^common practice, no source$", source
        )


@every_species
def test_json_tells_exactly_the_promised_fields_each_with_its_source(species: Species) -> None:
    promised = {
        "name",
        "basic_specific_gravity",
        "green_mc_pct",
        "safe_loss_pct_per_day",
        "air_drying_days",
        "shrinkage_pct",
        "stain",
        "insects",
        "diffusion_multiplier",
    }

    told = as_json(species)

    assert set(told) == {"key", "sources", *promised}
    assert set(told["sources"]) == promised
    assert find_species(told["key"]) is species


@every_species
def test_a_stain_class_is_one_of_the_three_and_never_rests_on_an_assumption(
    species: Species,
) -> None:
    assert set(species.stain) <= {"enzymatic", "blue"}
    assert set(species.stain.values()) <= {"prone", "some", "little"}
    assert bool(species.stain) != species.sources["stain"].startswith("assumption")


@pytest.mark.parametrize(("source", "keys"), NAMED_FOR_ENZYMATIC_STAIN.items())
def test_every_wood_a_source_names_for_enzymatic_stain_has_a_class(
    source: str, keys: tuple[str, ...]
) -> None:
    without = [key for key in keys if "enzymatic" not in find_species(key).stain]

    assert not without, source


def test_lyctids_take_the_woods_with_large_pores_and_ambrosia_beetles_any_green_wood() -> None:
    """Large pores: the ring-porous, walnut and butternut (from memory); oak, hickory (seen)."""
    large_pored = {
        *("black_ash", "green_ash", "white_ash", "american_elm", "rock_elm", "hackberry"),
        *("hickory", "pecan", "butternut", "black_walnut"),
        *("red_oak", "red_oak_lowland", "southern_red_oak", "white_oak", "white_oak_lowland"),
    }
    woods = load_species().values()

    assert keys_of(s for s in woods if "lyctid" in s.insects) == large_pored
    assert keys_of(s for s in woods if "ambrosia" in s.insects) == set(load_species())


@pytest.mark.parametrize("spelled", ["red oak", "Red-Oak", "RED_OAK", " red  oak "])
def test_a_species_is_found_however_it_is_spelled(spelled: str) -> None:
    assert find_species(spelled).key == "red_oak"


@pytest.mark.parametrize(
    ("asked", "hint"),
    [
        ("walnut", "did you mean black_walnut?"),
        ("red oke", "did you mean red_oak,"),
        ("", "`drywind species` lists them"),
    ],
)
def test_an_unknown_species_is_refused_with_the_nearest_names(asked: str, hint: str) -> None:
    with pytest.raises(UsageError, match=re.escape(hint)):
        find_species(asked)


@pytest.mark.parametrize(
    "change",
    [
        lambda s: s.safe_loss_pct_per_day.update({"4/4": 99.0}),
        lambda s: s.sources.clear(),
        lambda s: setattr(s, "green_mc_pct", 0.0),
    ],
)
def test_the_table_cannot_be_changed_by_its_readers(change: Callable[[Species], object]) -> None:
    with pytest.raises((AttributeError, TypeError)):
        change(find_species("red_oak"))
