"""Rules for degrade no equation is known for: honeycomb, set, rewetting, end checks.

Each rule weighs what the drying model and the weather say against what drying texts say, and
returns a level with its reason. A number that is missing (NaN) makes the level unknown.
"""

import math
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

CHECKS_START_PCT = 50.0
"""Checks begin above it and only deepen below (Wengert, woodworkingnetwork.com, seen)."""

WET_CORE_PCT = 30.0
HOT_C = 43.0
"""Too much heat while wood is above 30 % MC honeycombs it (Wengert, Deep surface checking,
woodworkingnetwork.com, seen); oak schedules hold 110 °F until the core is drier (FPL-GTR-57,
T4-D2, from memory)."""

HALF_DRIED_PCT = 40.0
"""Below it wetting does harm. Assumption, believable from 30 to 50: "partially dried" in the text
(Wengert 2009, Preventing drying damage to oak, seen)."""

END_GRAIN = math.sqrt(13.0)
"""How many times as fast wood dries through an end as through a face at first: the root of the
ratio of the diffusion coefficients, 13 in beech at 40 °C and 10 % MC (Skaar 1958, abstract seen;
10 to 15 is usual, from memory), by Crank's half-space (from memory)."""


class Level(StrEnum):
    """How likely."""

    NONE = "none"
    SOME = "some"
    HIGH = "high"
    UNKNOWN = "unknown"


@dataclass(frozen=True)
class Risk:
    """A level, and why, in one plain clause."""

    level: Level
    reason: str


_UNKNOWN = Risk(Level.UNKNOWN, "part of its drying is not known")


def hours_until_below(mc: Array, known: NDArray[np.bool_], limit: float) -> Array:
    """Return when a moisture content first falls below a limit, in hours from the start.

    Parameters
    ----------
    mc, known
        Shapes (hours + 1, boards) and (hours, boards), as of `drywind.wood.drying.Course`; of the
        outer millimeter, 24 % within three days has been taken for a sign of checks.

    Returns
    -------
    Array
        Shape (boards,): infinite if it never falls so far, NaN if an hour before that is unknown.
    """
    below = mc < limit
    hour = np.where(below.any(0), below.argmax(0), np.inf)
    gap = np.where(known.all(0), np.inf, known.argmin(0))
    return np.where(gap < hour, np.nan, hour)


def honeycomb(wet_ratio: float, core_mc_pct: float, wood_c: float, *, rewetted: bool) -> Risk:
    """Return the risk that the core is torn open.

    Parameters
    ----------
    wet_ratio
        The greatest loss over safe loss there was while the mean was above `CHECKS_START_PCT`.
    core_mc_pct, wood_c
        Of the middle of the board, now or in what is planned for it.
    rewetted
        Whether rain or dew has reached it since.

    References
    ----------
    Wengert, Honeycomb risk when drying oak, and Deep surface checking, woodworkingnetwork.com
    (seen): surface checks deepen with fast drying, close as the core shrinks unless wetted, and
    are found when the wood is planed.
    """
    if math.isnan(wet_ratio + core_mc_pct + wood_c):
        return _UNKNOWN
    hot = core_mc_pct > WET_CORE_PCT and wood_c > HOT_C
    if wet_ratio <= 1.0:
        if hot:
            return Risk(Level.SOME, "the core is warm before it is dry")
        return Risk(Level.NONE, "it dried within its limit while checks could start")
    if hot:
        return Risk(Level.HIGH, "it dried too fast when green, and its wet core is warm")
    if rewetted:
        return Risk(Level.HIGH, "it dried too fast when green, and was wetted again")
    return Risk(Level.SOME, "it dried too fast when green, and checks may have closed over")


def case_hardening(core_mc_pct: float) -> Risk:
    """Return the risk of set: faces stretched for good, that bow when the board is resawn.

    References
    ----------
    McMillen 1958, Stresses in wood during drying, FPL 1652 (opening seen): the core has to
    shrink first; a kiln's conditioning treatment relieves what is left.
    """
    if math.isnan(core_mc_pct):
        return _UNKNOWN
    if core_mc_pct > WET_CORE_PCT:
        return Risk(Level.NONE, "the core has not begun to shrink")
    return Risk(
        Level.SOME, "all air-dried wood has some set, which conditioning in a kiln relieves"
    )


def rewetting(mc_pct: float, rain_mm: float, wet_ratio: float) -> Risk:
    """Return the risk of rain that reaches the boards.

    Parameters
    ----------
    mc_pct
        Mean moisture content.
    rain_mm
        That reaches them.
    wet_ratio
        As for `honeycomb`.

    References
    ----------
    Wengert 2009, Preventing drying damage to oak (seen): wetting partially dried oak causes much
    interior checking.
    """
    if rain_mm == 0.0:
        return Risk(Level.NONE, "no rain reaches it")
    if math.isnan(mc_pct + rain_mm):
        return _UNKNOWN
    if mc_pct >= HALF_DRIED_PCT:
        return Risk(Level.NONE, "it is still too wet for rain to matter")
    if math.isnan(wet_ratio):
        return _UNKNOWN
    if wet_ratio > 1.0:
        return Risk(Level.HIGH, "rain opens the checks of wood that dried too fast when green")
    return Risk(Level.SOME, "rain on half-dried wood checks it inside")


def end_checks(ratio: float, mc_pct: float, *, coated: bool) -> Risk:
    """Return the risk of checks that run in from the ends.

    Parameters
    ----------
    ratio
        Loss over safe loss of the board as a whole.
    mc_pct
        Mean moisture content.
    coated
        Whether its ends were coated within hours of sawing.

    References
    ----------
    Wengert, Preventing end checks, woodworkingnetwork.com (seen): they start above 50 % MC;
    Drying oak lumber, step 1, woodweb.com (seen): a coating prevents virtually all.
    """
    if coated:
        return Risk(Level.NONE, "its ends are coated")
    if math.isnan(ratio + mc_pct):
        return _UNKNOWN
    if mc_pct <= CHECKS_START_PCT:
        return Risk(Level.NONE, "it is too dry for new end checks")
    if ratio > 1.0:
        return Risk(Level.HIGH, "its bare ends dry several times as fast as faces over the limit")
    if ratio * END_GRAIN > 1.0:
        return Risk(Level.SOME, "its bare ends dry over the limit that its faces keep")
    return Risk(Level.NONE, "even its bare ends dry within the limit")
