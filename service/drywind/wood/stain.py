"""Stain clocks: how far a warm, wet wait has gone toward discoloring sapwood.

Enzymatic (sugar, gray, sticker) stain is chemistry in cells that outlive the tree; its clock runs
from felling, in the log as in the board. Blue stain is a fungus on wet sapwood. Both only add up:
what has run cannot be undone, and shows after drying.

Which moisture content
    That of the outer millimeter (`drywind.wood.drying.Course.shell_mc`), not the board's mean.
    Color is judged after about 1/32 inch is surfaced off (Rappold and Smith 2004, Forest Products
    Journal 54(12), abstract seen), and the gray of lumber lies just beneath a surface that dried in
    time (Gray-brown chemical stain in southern hardwood, Forest Service technical report, year
    not known, seen). Deeper in, weather makes next to no difference: warmth speeds diffusion as
    much as the reaction, so that the core of a 4/4 board takes about the same dose whenever it is
    stacked, and a larger one than any wood is said to bear. Yet Wengert finds wood of fresh logs
    white however it dried, and puts gray cores down to old logs (Fast drying,
    woodworkingnetwork.com, seen): the hours before sawing, which count here.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]

REFERENCE_C = 20.0
DOUBLING_C = 20.0 / 1.8
"""Enzymatic stain runs twice as fast for every 20 °F (Wengert 2006, Stain in maple, woodweb.com,
seen)."""

ENZYMES_WAKE_C = 10.0
"""Assumption: below this the reaction rests; believable are 5 to 15 °C. In winter it is too cold
for it (Wengert, Winter-cut maple, woodworkingnetwork.com, seen), white wood stains when nights are
above 60 °F (a contributor, Preventing blue stain on maple, woodweb.com, seen), and winter logs keep
for months (Processing trees to lumber, woodweb.com, seen), of which doubling alone makes weeks."""

ENZYMES_NEED_MC = 0.40
"""Above this the stain is set (Wengert, Sticker stain, woodworkingnetwork.com; Shupe, Chemical
stains, drtoddshupe.com; both seen)."""

FUNGUS_C = (10.0, 22.0, 30.0, 43.0)
FUNGUS_SPEED = (0.0, 1.0, 1.0, 0.0)
"""Blue-stain fungi grow from 50 to 110 °F (Shupe, drtoddshupe.com, seen), fastest at 22 °C
(Ceratocystis coerulescens, IRG/WP 1177, abstract seen) to 85 °F (older Forest Products Laboratory
texts, from memory). Straight lines between are an assumption."""

FUNGUS_MC = (0.25, 0.45)
"""From none to full speed: not below 20 to 25 % (Shupe, seen), best at 45 to 55 % (Ceratocystis
coerulescens, IRG/WP 1177, abstract seen). Damp air counts through the wet surface it leaves."""

BEARS_DAYS: Mapping[str, Mapping[str, float]] = MappingProxyType(
    {
        "enzymatic": MappingProxyType({"prone": 3.0, "some": 6.0, "little": 12.0}),
        "blue": MappingProxyType({"prone": 3.0, "some": 5.0, "little": 10.0}),
    }
)
"""Assumption: the dose at which a stain shows, by stain and `Species.stain` class.

Enzymatic, days at 20 °C: maple logs bear three, perhaps five days in the mid to high 60s °F
(Wengert 2006, Stain in maple, woodweb.com, seen) and winter-cut maple discolors in 24 h at 90 °F
and 90 % (Wengert, Winter-cut maple, woodworkingnetwork.com, seen): doses of 2.6 to 4.6 and of 2.1.
So prone bears 2 to 5; some and little are twice and four times that, for want of any figure.

Blue, days at the best temperature: unseasoned stock is discolored in 5 or 6 warm humid days (Wood
Handbook FPL-GTR-190, p. 14-2, seen), logs over a weekend above 80 °F (Tax time to turkey time,
gltpa.org, seen). So some bears 4 to 6, prone 2 to 4; little is twice some, for want of any figure.
"""

DRY_STICKER_MC = 0.10
NARROW_STICKER_M = 0.03175
"""Stickers at 8 to 10 % MC and no wider than 1 1/4 in (Wengert, 20 steps to drying hard white
maple, woodweb.com, seen)."""


@dataclass(frozen=True)
class Dose:
    """What has added up at the end of each hour, shaped like the hours it came from.

    Attributes
    ----------
    known
        The least it can be: an unknown hour adds nothing.
    unknown_hours
        How many hours so far might have added something and are unknown.
    """

    known: Array
    unknown_hours: NDArray[np.int64]


def accumulate(per_hour: Array) -> Dose:
    """Add up hours, shape (hours, ...), of which NaN is unknown."""
    return Dose(
        np.nancumsum(per_hour, axis=0), np.cumsum(np.isnan(per_hour), axis=0, dtype=np.int64)
    )


def both(a: Array, b: Array) -> Array:
    """Return a·b, where nothing times unknown is nothing."""
    return np.where((a == 0.0) | (b == 0.0), 0.0, a * b)


def enzymatic_speed(temp_c: ArrayLike) -> Array:
    """Return how many times as fast as at 20 °C enzymatic stain runs; NaN gives NaN."""
    temp = np.asarray(temp_c, dtype=np.float64)
    return np.where(temp < ENZYMES_WAKE_C, 0.0, 2.0 ** ((temp - REFERENCE_C) / DOUBLING_C))


def enzymatic_dose(temp_c: ArrayLike, shell_mc: ArrayLike) -> Dose:
    """Return days at 20 °C that enzymatic stain has run.

    Parameters
    ----------
    temp_c
        Of the log or the air at the board, °C, shape (hours,) or (hours, boards), from felling on.
    shell_mc
        Of the outer millimeter, a fraction, of a shape that broadcasts with it; a log's is green.
    """
    mc = np.asarray(shell_mc, dtype=np.float64)
    wet = np.where(np.isnan(mc), np.nan, mc > ENZYMES_NEED_MC)
    return accumulate(both(enzymatic_speed(temp_c), wet) / 24.0)


def blue_speed(temp_c: ArrayLike) -> Array:
    """Return the speed of blue stain as a share of its fastest, 0-1; NaN gives NaN."""
    return np.interp(np.asarray(temp_c, dtype=np.float64), FUNGUS_C, FUNGUS_SPEED)


def blue_dose(temp_c: ArrayLike, shell_mc: ArrayLike) -> Dose:
    """Return days at the best temperature and moisture that blue stain has grown on sapwood.

    Heartwood does not take it. A log takes it at its ends and where bark is off. Arguments as of
    `enzymatic_dose`.
    """
    wet = np.interp(np.asarray(shell_mc, dtype=np.float64), FUNGUS_MC, (0.0, 1.0))
    return accumulate(both(blue_speed(temp_c), wet) / 24.0)


def stain_index(stain: str, susceptibility: str, dose_days: ArrayLike) -> Array:
    """Return a dose as a share of what wood of a class bears: stain is expected from 1 on.

    Parameters
    ----------
    stain, susceptibility
        A key of `BEARS_DAYS` and of what it holds, as `Species.stain` pairs them.
    """
    return np.asarray(dose_days, dtype=np.float64) / BEARS_DAYS[stain][susceptibility]


class StickerStain(StrEnum):
    """How likely stickers leave their marks."""

    LITTLE = "little"
    LIKELY = "likely"
    VERY_LIKELY = "very likely"


def sticker_stain(
    susceptibility: str, sticker_mc: float, sticker_width_m: float, enzymatic_index: float
) -> StickerStain:
    """Return how likely a board is marked where stickers keep it from drying.

    Only woods prone to enzymatic stain are marked. Each of three things speaks for it: damp
    stickers, wide ones, and faces that dried so slowly that they reached their own stain index
    of 1. Wide green stickers against narrow dry ones cost $5.72 of stain per 1,000 board feet of
    sugar maple, where all defects cost $9.42 (Peck 1957, FPL Report 2086, abstract seen). One of
    the three making it likely, and two very likely, is an assumption.

    Parameters
    ----------
    susceptibility
        To enzymatic stain, a class of `Species.stain`.
    sticker_mc
        A fraction. As of the other two, NaN is unknown and not taken for good.
    sticker_width_m
        Of the side that lies on the board.
    enzymatic_index
        Of the face between stickers.
    """
    if susceptibility != "prone":
        return StickerStain.LITTLE
    good = (
        sticker_mc <= DRY_STICKER_MC,
        sticker_width_m <= NARROW_STICKER_M,
        enzymatic_index < 1.0,
    )
    return (StickerStain.LITTLE, StickerStain.LIKELY, StickerStain.VERY_LIKELY)[
        min(good.count(False), 2)
    ]
