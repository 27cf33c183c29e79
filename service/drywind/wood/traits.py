"""What is told of a stack's lumber, as it bears on how wet it starts and how fast it dries.

What it does to the safe loss stands in `drywind.wood.limits`.
"""

from collections.abc import Set as AbstractSet

from drywind.wood.species import Species
from drywind.yard import Trait

QUARTERSAWN_TIME = 1.15
"""How many times as long quartersawn lumber takes to dry: about 15 % longer in hardwoods, as their
rays then run from edge to edge and help little (Wengert 2007, Drying Quartersawn Versus Flatsawn,
and 2012, Drying Oak Lumber, Step 1, both woodweb.com, seen)."""


def sorted_green_mc_pct(species: Species, traits: AbstractSet[Trait]) -> float | None:
    """Return the green moisture content published of boards all heartwood, or all sapwood.

    None where neither is told of them, or where none is published of it; the species' usual value
    stands for them then. In percent of oven-dry mass; the source is the species'.
    """
    if Trait.HEART in traits:
        return species.green_mc_heart_pct
    if Trait.SAP in traits:
        return species.green_mc_sap_pct
    return None


def diffusion_share(traits: AbstractSet[Trait]) -> float:
    """Return what share of the species' diffusion coefficient the boards have, 0-1.

    Drying that is held up inside a board takes time as 1 / D, so 15 % more time is that share of
    the coefficient D. Where the air holds it up, too, it comes to a little less (14 % in the
    model, in slow air).
    """
    return 1.0 / QUARTERSAWN_TIME if Trait.QUARTERSAWN in traits else 1.0
