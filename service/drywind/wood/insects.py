"""Insects that bore into drying hardwood: hours in which weather and wood both suit them.

Such an hour is an opening, not an attack: no figure was found for how many it takes. Which woods
an insect takes is `Species.insects`; lyctids take only sapwood.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import ArrayLike

from drywind.wood.stain import Array, Dose, accumulate, both


@dataclass(frozen=True)
class Window:
    """Where an insect flies and lays: temperature of the air in °C, MC as a fraction; ends in."""

    temp_c: tuple[float, float]
    mc: tuple[float, float]


INSECTS: Mapping[str, Window] = MappingProxyType(
    {
        "ambrosia": Window(temp_c=(16.0, 35.0), mc=(0.30, np.inf)),
        "lyctid": Window(temp_c=(15.6, 40.6), mc=(0.08, 0.32)),
        "anobiid": Window(temp_c=(15.6, 35.0), mc=(0.15, 0.30)),
    }
)
"""The windows of the insects in `Species.insects`.

Ambrosia beetles bore into green wood only: warm damp weather, close piles and slow drying (Wagner
1917, Seasoning of Wood, seen), no fresh attack once it is under fiber saturation (Urban Insect
Pests, 2014, seen). Flight from 16 °C is of Trypodendron lineatum (from memory; the flights of
hardwood species begin at 15 to 21 °C); the upper end is an assumption, 32 to 38 °C.

Lyctids are active from 60 to 105 °F in hardwood above 8 % MC (Wengert, Powderpost beetles,
woodworkingnetwork.com, seen); eggs are laid up to 32 % (from memory).

Anobiids need 15 % or more (Wood Handbook FPL-GTR-190, ch. 14, seen). Fiber saturation above and the
temperatures are assumptions; believable are 12 to 20 °C and 30 to 38 °C.
"""


def open_hours(insect: str, temp_c: ArrayLike, mc: ArrayLike) -> Dose:
    """Return how many hours so far were open to an insect.

    Parameters
    ----------
    insect
        A key of `INSECTS`.
    temp_c
        Of the air, °C, shape (hours,) or (hours, boards).
    mc
        Of the log or the board's mean, a fraction, of a shape that broadcasts with it.
    """
    window = INSECTS[insect]
    return accumulate(both(_within(temp_c, window.temp_c), _within(mc, window.mc)))


def _within(values: ArrayLike, ends: tuple[float, float]) -> Array:
    known, (least, most) = np.asarray(values, dtype=np.float64), ends
    return np.where(np.isnan(known), np.nan, (known >= least) & (known <= most))
