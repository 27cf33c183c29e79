"""Stress across a drying board, and how near it brings a check at the face.

The shell of a drying board wants to shrink while its core is still full size. A board that dries
alike from both faces stays plane, so all its layers share one strain, and the stresses across the
grain balance: the shell is stretched, the core pressed. Wood under stress also yields: slowly at
constant moisture content (a Maxwell dashpot), and much more while its moisture content changes
(mechano-sorptive creep). That strain stays: stretched early, the shell is too wide in the end, is
pressed itself and pulls the core apart: stress reversal, set, case-hardening.

Two signs come out. The *tension ratio*, face stress over strength, nears 1 wherever the face dries
below fiber saturation at all: creep caps it, whatever the weather. The *check ratio* asks instead
if a small crack at the face would run: stress intensity over toughness. It grows with the depth of
the stretched shell as well, and sets hot dry wind apart from cold. Its level is not to be trusted:
within what we believe of creep alone it moves by some 40 %; the order of weathers stays.

Not modeled: rays, curvature of the rings, the board's width, the face's flaws, collapse.
"""

from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from drywind.wood.diffusion import FIBER_SATURATION

Array = NDArray[np.float64]

STIFFNESS_PA = 2.1e9
"""Of green wood in the tangential direction at 20 °C, times the square of basic specific gravity:
a fit of ours to ten hardwoods, good to about a third (elastic ratios of Table 5-1 times moduli of
Table 5-3, Wood Handbook FPL-GTR-190, from memory)."""

STRENGTH_PA, STRENGTH_EXPONENT = 10.5e6, 1.37
"""Green hardwood in tension across the grain, and the power of basic specific gravity (Wood
Handbook FPL-GTR-190, Table 5-11, from memory)."""

STIFFENING, STRENGTHENING = 3.2, 2.4
"""Rise of the logarithms of both per unit of moisture content lost below `SETTLED`: at 12 % MC as
1, stiffness is 1.20 at 6 % and 0.77 at 20 %, strength 1.12 and 0.80 (Wood Handbook FPL-GTR-190,
Table 5-13, from memory). Red oak's own curves are curved as well (Youngs 1957, FPL 2079, abstract
seen)."""

SETTLED = 0.25
"""Moisture content above which neither changes (Wood Handbook FPL-GTR-190 ch. 5, from memory)."""

SOFTENING_PER_K, WEAKENING_PER_K = 0.0127, 0.010
"""Loss of both per kelvin above 20 °C in moist wood: 38 and 30 % at 50 °C (Wood Handbook
FPL-GTR-190, Table 5-14, from memory); linear in red oak (Youngs 1957, FPL 2079, abstract seen)."""

MOIST_STIFF, MOIST_STRONG = 0.12, 0.18
"""Moisture contents from which that holds in full; drier wood minds heat in proportion less (the
same table)."""

SORPTIVE_CREEP = 35.0
"""Mechano-sorptive strain per unit of moisture content gained or lost, in elastic strains of green
wood. Assumption, believable from 20 to 60: 0.055 per MPa in *Eucalyptus nitens* (Perez et al.
2016, BioResources 11:8277, abstract seen; the unit is ours) makes 23, the 0.15 per MPa usual for
softwoods (from memory) 40 to 60. In compression it may be three times that in tension (Wu and
Milota 1995, on Douglas-fir, abstract seen): left out, as a wet core has none."""

RELAXATION_DAYS = 15.0
"""In which creep at constant moisture content equals the elastic strain. Assumption, believable
from 5 to 60: it moves the check ratio of green 4/4 oak by some 20 %, of 8/4 by 30. Less than creep
by the change of moisture, which is the most of it (the same abstract)."""

TOUGHNESS = 4.1e5
"""Stress intensity, Pa m^0.5, at which a crack runs along the grain: northern red oak, TL (Wood
Handbook FPL-GTR-190, Table 5-10, from memory). Assumption for other woods and for green ones; other
woods of that table have 2.5e5 to 5.2e5, in no order of gravity."""

EDGE_CRACK = 1.12
"""What a free face adds to the intensity at a crack (textbook, from memory)."""

SLICE = 0.1
"""Of a board's thickness."""

DAY_H = 24.0


@dataclass(frozen=True)
class Layers:
    """Half boards in layers, the face's first.

    Attributes
    ----------
    width_m
        Shape (layers, boards); in the same proportions in every board.
    density_kgm3, shrinkage
        Oven-dry mass in a green volume, and tangential shrinkage from green to oven-dry as a
        fraction; shape (boards,).
    """

    width_m: Array
    density_kgm3: Array
    shrinkage: Array

    @cached_property
    def green_stiffness_pa(self) -> Array:
        """Of the green wood at 20 °C, shape (boards,)."""
        return STIFFNESS_PA * (self.density_kgm3 / 1000.0) ** 2

    def stiffness_pa(self, mc: Array, temp_c: Array) -> Array:
        """Return the stiffness of wood at a moisture content (a fraction) and temperature."""
        state = _in_state(mc, temp_c, STIFFENING, SOFTENING_PER_K, MOIST_STIFF)
        return self.green_stiffness_pa * state

    def strength_pa(self, mc: Array, temp_c: Array) -> Array:
        """Return the strength of wood at a moisture content (a fraction) and temperature."""
        green = STRENGTH_PA * (self.density_kgm3 / 1000.0) ** STRENGTH_EXPONENT
        return green * _in_state(mc, temp_c, STRENGTHENING, WEAKENING_PER_K, MOIST_STRONG)

    @cached_property
    def pull(self) -> Array:
        """What each layer's stress adds to the intensity at a crack as deep as each layer.

        Shape (depths, layers), for a half board 1 m thick. A crack of depth a in a stress s(x)
        has the intensity 2 sqrt(a / pi) times the integral of s / sqrt(a^2 - x^2) to a (Tada,
        Paris and Irwin 1973, The Stress Analysis of Cracks Handbook, from memory).
        """
        inner = np.cumsum(self.width_m[:, 0]) / self.width_m[:, 0].sum()
        outer = np.concatenate([[0.0], inner[:-1]])
        depth = inner[:, None]
        share = np.arcsin(np.minimum(inner / depth, 1.0)) - np.arcsin(
            np.minimum(outer / depth, 1.0)
        )
        pull: Array = EDGE_CRACK * 2.0 * np.sqrt(depth / np.pi) * share
        return pull


class Moment(NamedTuple):
    """Strain that stays and stress across the grain [Pa, tension positive], (layers, boards)."""

    creep: Array
    stress_pa: Array


@dataclass(frozen=True)
class Stresses:
    """How boards were strained; arrays of shape (hours + 1, boards), the first row the start.

    Attributes
    ----------
    tension, check
        The tension and the check ratio at the end of each hour.
    end
        The boards after the last hour.
    """

    tension: Array
    check: Array
    end: Moment


def shrinkage_strain(layers: Layers, mc: Array) -> Array:
    """Return the strain each layer would have on its own, negative below fiber saturation.

    References
    ----------
    Wood Handbook FPL-GTR-190 ch. 4: in proportion to the moisture content lost (from memory).
    """
    return -layers.shrinkage * (1.0 - np.minimum(mc / FIBER_SATURATION, 1.0))


def relaxed(layers: Layers, mc: Array) -> Moment:
    """Return boards free of stress: green ones, or dried ones of which nothing is known."""
    return Moment(-shrinkage_strain(layers, mc), np.zeros_like(layers.width_m))


def step(
    layers: Layers, creep: Array, mc: tuple[Array, Array], temp_c: Array, hours: float = 1.0
) -> Moment:
    """Return creep and stress after some hours; NaN in a layer makes the whole board NaN.

    Parameters
    ----------
    creep
        Strain that stays, before; shape (layers, boards).
    mc
        Moisture content before and after, fractions of shape (layers, boards).
    temp_c
        Temperature of the boards, shape (boards,).
    """
    before, after = (np.minimum(m, FIBER_SATURATION) for m in mc)
    stiffness = layers.stiffness_pa(after, temp_c)
    yielding = SORPTIVE_CREEP / layers.green_stiffness_pa * np.abs(after - before)
    yielding += hours / (DAY_H * RELAXATION_DAYS) / stiffness
    yielded = stiffness / (1.0 + stiffness * yielding)
    free = creep + shrinkage_strain(layers, after)
    bearing = yielded * layers.width_m
    shared = (bearing * free).sum(0) / bearing.sum(0)
    stress = yielded * (shared - free)
    return Moment(creep + yielding * stress, stress)


def tension_ratio(layers: Layers, stress_pa: Array, mc: Array, temp_c: Array) -> Array:
    """Return face stress over strength, shape (boards,); negative where the face is pressed."""
    ratio: Array = stress_pa[0] / layers.strength_pa(mc[0], temp_c)
    return ratio


def check_ratio(layers: Layers, stress_pa: Array) -> Array:
    """Return stress intensity over toughness at the worst depth, shape (boards,); at least 0."""
    intensity = (layers.pull @ stress_pa).max(0) * np.sqrt(layers.width_m.sum(0))
    ratio: Array = np.maximum(intensity, 0.0) / TOUGHNESS
    return ratio


def set_strain(layers: Layers, creep: Array) -> Array:
    """Return how much wider the outer tenth of a board stays than its middle, shape (boards,).

    Ten slices is how set is measured: each is sawn out and its width compared (McMillen 1958,
    FPL 1652, from memory).
    """
    slice_m = SLICE * 2.0 * layers.width_m.sum(0)
    outside = np.cumsum(layers.width_m, axis=0) - layers.width_m
    inside = layers.width_m.sum(0) - outside - layers.width_m
    outer, middle = (np.clip(slice_m - m, 0.0, layers.width_m) for m in (outside, inside))
    difference: Array = (creep * (outer - middle)).sum(0) / slice_m
    return difference


def course(layers: Layers, mc: Array, temp_c: Array) -> Stresses:
    """Strain boards that start free of stress through hourly profiles.

    Parameters
    ----------
    mc, temp_c
        Shapes (hours + 1, layers, boards) and (hours + 1, boards); the first is the start.
    """
    moment = relaxed(layers, mc[0])
    tension, check = [np.zeros_like(temp_c[0])], [np.zeros_like(temp_c[0])]
    for i in range(1, len(mc)):
        moment = step(layers, moment.creep, (mc[i - 1], mc[i]), temp_c[i])
        tension.append(tension_ratio(layers, moment.stress_pa, mc[i], temp_c[i]))
        check.append(check_ratio(layers, moment.stress_pa))
    return Stresses(np.array(tension), np.array(check), moment)


def _in_state(mc: Array, temp_c: Array, drying: float, per_k: float, moist: float) -> Array:
    """Return stiffness or strength in a state, of those of green wood at 20 °C.

    `drying` is the rise of the logarithm per unit of moisture content lost, `per_k` the loss per
    kelvin from the moisture content `moist` on.
    """
    dried: Array = np.exp(drying * np.maximum(SETTLED - mc, 0.0))
    return dried * (1.0 - per_k * np.minimum(mc / moist, 1.0) * (temp_c - 20.0))
