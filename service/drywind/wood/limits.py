"""How fast a board may safely dry: points of moisture content (MC) per day."""

import math
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import ArrayLike, NDArray

from drywind.errors import UsageError
from drywind.units import Thickness
from drywind.wood.species import Species

FULL_WEIGHT_MC_PCT = 40.0
"""From green to here the limit counts in full: checks form above 50 %, other degrade in oak above
45 % (Wengert, woodworkingnetwork.com and woodweb.com, seen)."""

NO_WEIGHT_MC_PCT = 25.0
"""Below about this hardly anything can be damaged (a contributor on woodweb.com, seen)."""

THICKNESS_EXPONENT = -1.32
"""Of the 4/4 limit, 6/4 stands 0.6 (Denig, Wengert and Simpson 2000, FPL-GTR-118, from memory) and
8/4 stands 0.40 (Table 9 of FOR-128, seen); the power law through both."""

_SAME_SIZE_QUARTERS = 0.1
"""A metric board this near 4/4 or 8/4 is that size."""


class Basis(StrEnum):
    """What a limit rests on."""

    PUBLISHED = "published"
    INTERPOLATED = "interpolated"
    EXTRAPOLATED = "extrapolated"
    ASSUMPTION = "assumption"
    TIGHTENED = "tightened by you"


@dataclass(frozen=True)
class Limit:
    """A safe loss in points of MC per day, and what it rests on."""

    value: float
    basis: Basis


def safe_loss_pct_per_day(
    species: Species, thickness: Thickness, own: float | None = None
) -> Limit:
    """Return the safe daily loss of a board at high moisture content.

    4/4 and 8/4 are the table's. Other sizes follow the power law through them, or
    `THICKNESS_EXPONENT` where the table has no 8/4. Thinner than 4/4 is held to the 4/4 limit:
    it could stand more, but nobody has published how much.

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
    if own is None:
        return limit
    four_quarter = species.safe_loss_pct_per_day["4/4"]
    if not 0 < own <= four_quarter:
        raise UsageError(
            f"your limit of {own:g} points a day for {species.name} must lie above 0 and not "
            f"above {four_quarter:g}, the limit for 4/4: a limit can be tightened, not loosened"
        )
    return Limit(limit.value * (own / four_quarter), Basis.TIGHTENED)


def _table_limit(species: Species, quarters: float) -> Limit:
    four_quarter = species.safe_loss_pct_per_day["4/4"]
    eight_quarter = species.safe_loss_pct_per_day.get("8/4")
    if quarters <= 4 + _SAME_SIZE_QUARTERS:
        value, basis = four_quarter, Basis.PUBLISHED
    elif eight_quarter is None:
        value = four_quarter * (quarters / 4) ** THICKNESS_EXPONENT
        basis = Basis.EXTRAPOLATED
    elif abs(quarters - 8) <= _SAME_SIZE_QUARTERS:
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
