"""What stacks teach of each other: partial pooling over species and sites.

A stack's logarithm is the species' and the site's share and its own; each is normal about the
table's. What was seen of a stack counts as one measurement of its logarithm, of known precision.
So every stack's expectation from all the others is a linear regression in closed form.

Source: Gelman and Hill, Data Analysis Using Regression and Multilevel Models (2007), chapter 12 on
partial pooling; leave-one-out by the inverse, Rasmussen and Williams, Gaussian Processes for
Machine Learning (2006), eq. 5.12 (both from memory).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Normal:
    """A belief: mean and standard deviation."""

    mean: float
    sd: float

    def without(self, prior: "Normal") -> "Normal | None":
        """Return the measurement that made this of a prior; None where it says nothing."""
        precision = self.sd**-2 - prior.sd**-2
        if precision < NOTHING * prior.sd**-2:
            return None
        mean = (self.mean * self.sd**-2 - prior.mean * prior.sd**-2) / precision
        return Normal(mean, precision**-0.5)


NOTHING = 1e-3
"""A measurement that sharpens a belief by less says nothing."""


@dataclass(frozen=True)
class Spread:
    """How far the shares of species, site and stack lie about the table's: deviations.

    `common` is the share of a measurement's variance that is the same error for all stacks: no
    number of stacks teaches more about wood than the model knows of it.
    """

    species: float
    site: float
    stack: float
    common: float = 0.0


@dataclass(frozen=True)
class Member:
    """A stack among others; `seen` is what measurements say of it, None where there are none."""

    species: str
    site: str
    seen: Normal | None = None


def expected(members: Sequence[Member], asked: Member, spread: Spread) -> Normal:
    """Return what is to be expected of a stack by all the other members.

    One of the members itself is left out, so that nothing counts twice.
    """
    others = [m for m in members if m is not asked and m.seen is not None]
    prior = spread.species**2 + spread.site**2 + spread.stack**2
    if not others:
        return Normal(0.0, sqrt(prior))
    between = np.array([[_shared(a, b, spread) for b in others] for a in others])
    sds = np.array([m.seen.sd for m in others if m.seen is not None])
    between += spread.common * np.outer(sds, sds)
    noise = spread.stack**2 + (1.0 - spread.common) * sds**2
    seen = np.array([m.seen.mean for m in others if m.seen is not None])
    shared = np.array([_shared(asked, other, spread) for other in others])
    gain = np.linalg.solve(between + np.diag(noise), shared)
    return Normal(float(gain @ seen), sqrt(max(prior - float(gain @ shared), 1e-9)))


def _shared(one: Member, other: Member, spread: Spread) -> float:
    """Return the covariance of two stacks."""
    same_species, same_site = one.species == other.species, one.site == other.site
    return spread.species**2 * same_species + spread.site**2 * same_site
