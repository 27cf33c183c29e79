"""How fast a board may safely dry: points of moisture content (MC) per day."""

import math
from collections.abc import Mapping
from collections.abc import Set as AbstractSet
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import ArrayLike, NDArray

from drywind.errors import UsageError
from drywind.units import Thickness
from drywind.wood.species import Species, find_species
from drywind.yard import Stack, Trait

FULL_WEIGHT_MC_PCT = 40.0
"""From green to here the limit counts in full: checks form above 50 %, other degrade in oak above
45 % (Wengert, woodworkingnetwork.com and woodweb.com, seen)."""

NO_WEIGHT_MC_PCT = 25.0
"""Below about this hardly anything can be damaged (a contributor on woodweb.com, seen)."""

THICKNESS_EXPONENT = -1.32
"""Of the 4/4 limit, 6/4 stands 0.6 (Denig, Wengert and Simpson 2000, FPL-GTR-118, from memory) and
8/4 stands 0.40 (Table 9 of FOR-128, seen); the power law through both."""

STORED_LOGS_SHARE = 0.4
"""Oak from stored logs is many times likelier to check, which suggests drying its 4/4 like 8/4
(Wengert, Lower-quality stored-log lumber, woodworkingnetwork.com, seen); and 8/4 may lose 0.40 of
what 4/4 may (Table 9 of FOR-128, seen). That the same share holds for other thicknesses is an
assumption (believable 0.3 to 1). No share was found published for other woods."""

SIZES = ("3/4", "4/4", "5/4", "6/4", "8/4", "10/4", "12/4", "16/4")
"""The sizes hardwood is sawn to, whose limits are listed."""

_SAME_SIZE_QUARTERS = 0.1
"""A metric board this near 8/4 is that size, and this much above 4/4 still 4/4."""

THINNEST_PUBLISHED, THICKEST_PUBLISHED = 3.5, 8 + _SAME_SIZE_QUARTERS
"""In quarters. From the first to 4.1 a board is 4/4 to the trade (27 mm comes out at 3.75)."""


class Basis(StrEnum):
    """What a limit rests on."""

    PUBLISHED = "published"
    INTERPOLATED = "interpolated"
    EXTRAPOLATED = "extrapolated"
    ASSUMPTION = "assumption"
    STORED_LOGS = "x 0.4 for oak from stored logs"
    TIGHTENED = "tightened by you"


@dataclass(frozen=True)
class Limit:
    """A safe loss in points of MC per day, and what it rests on.

    `basis` is a `Basis`, or several in the order they came in, joined by commas; a limit changed
    from a published one is not called published.
    """

    value: float
    basis: str


def stack_limit(stack: Stack, own: Mapping[str, float]) -> Limit:
    """Return the safe daily loss of a stack while it is wet.

    Parameters
    ----------
    own
        The owner's own limits for 4/4, by species, however that is spelled.

    Raises
    ------
    UsageError
        If a species is unknown, or the owner's limit for the stack's is not one.
    """
    species = find_species(stack.species)
    by_key = {find_species(name).key: limit for name, limit in own.items()}
    return safe_loss_pct_per_day(species, stack.thickness, by_key.get(species.key), stack.traits)


def safe_loss_pct_per_day(
    species: Species,
    thickness: Thickness,
    own: float | None = None,
    traits: AbstractSet[Trait] = frozenset(),
) -> Limit:
    """Return the safe daily loss of a board at high moisture content.

    4/4 and 8/4 are the table's. Other sizes follow the power law through them, or
    `THICKNESS_EXPONENT` where the table has no 8/4; beyond 8/4 that is an extrapolation. Thinner
    than 4/4 is held to the 4/4 limit: it could stand more, but nobody has published how much.
    Quartersawn boards keep the limit: nobody has published another.

    Parameters
    ----------
    own
        The owner's own limit for 4/4 of this species; it tightens every thickness alike.

    Raises
    ------
    UsageError
        If `own` is not above zero, or is looser than the table's 4/4 limit.
    """
    limit = _table_limit(species, thickness.quarters)
    if Trait.OLD_LOGS in traits and is_oak(species):
        limit = _changed(limit, STORED_LOGS_SHARE, Basis.STORED_LOGS)
    if own is None:
        return limit
    four_quarter = species.safe_loss_pct_per_day["4/4"]
    if not 0 < own <= four_quarter:
        raise UsageError(
            f"your limit of {own:g} points a day for {species.name} must lie above 0 and not "
            f"above {four_quarter:g}, the limit for 4/4: a limit can be tightened, not loosened"
        )
    return _changed(limit, own / four_quarter, Basis.TIGHTENED)


def is_oak(species: Species) -> bool:
    """Return whether a species is an oak, which old logs harm."""
    return "oak" in species.key.split("_")


def _changed(limit: Limit, share: float, why: Basis) -> Limit:
    was = "" if limit.basis == Basis.PUBLISHED else f"{limit.basis}, "
    return Limit(limit.value * share, f"{was}{why}")


def _table_limit(species: Species, quarters: float) -> Limit:
    four_quarter = species.safe_loss_pct_per_day["4/4"]
    eight_quarter = species.safe_loss_pct_per_day.get("8/4")
    if quarters <= 4 + _SAME_SIZE_QUARTERS:
        value = four_quarter
        basis = Basis.PUBLISHED if quarters >= THINNEST_PUBLISHED else Basis.EXTRAPOLATED
    elif eight_quarter is None:
        value = four_quarter * (quarters / 4) ** THICKNESS_EXPONENT
        basis = Basis.EXTRAPOLATED
    elif 8 - _SAME_SIZE_QUARTERS <= quarters <= THICKEST_PUBLISHED:
        value, basis = eight_quarter, Basis.PUBLISHED
    else:
        value = four_quarter * (eight_quarter / four_quarter) ** math.log2(quarters / 4)
        basis = Basis.INTERPOLATED if quarters < 8 else Basis.EXTRAPOLATED  # noqa: PLR2004 - 8/4
    return Limit(value, basis if species.safe_loss_is_published else Basis.ASSUMPTION)


def weight(mc_pct: ArrayLike) -> NDArray[np.float64]:
    """Return how much of a loss counts against the limit at a moisture content, 0-1.

    All of it from green to 40 % MC and none below 25 %; the straight taper between is an
    assumption. NaN gives NaN.
    """
    above = np.asarray(mc_pct, dtype=np.float64) - NO_WEIGHT_MC_PCT
    return np.clip(above / (FULL_WEIGHT_MC_PCT - NO_WEIGHT_MC_PCT), 0.0, 1.0)
