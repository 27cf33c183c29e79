"""All stacks of a yard learned from together: their weighings, then what they teach each other."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from math import sqrt
from typing import Any

import numpy as np
from numpy.typing import NDArray

from drywind.judge.cases import UNTAUGHT, Case, Wood
from drywind.learn.pooling import Member, Normal, Spread, expected
from drywind.learn.priors import Priors
from drywind.learn.weighed import (
    AIRS,
    DIFFUSIONS,
    EDGE_AIRS,
    GREENS,
    Likely,
    Measured,
    log_likelihood,
)

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Believed:
    """What is believed of a stack's wood, in logarithms about the species' table and the model.

    Attributes
    ----------
    diffusion, green, air
        Of the diffusion multiplier, of green moisture content (deviation 0: not learned, as the
        stack was taken up half-dried), and of how readily the air takes water, which average
        moisture content hardly tells.
    correlations
        Of the first two, the first and third, the second and third: a wetter start and slower
        drying may come to the same weight.
    ease
        Of how readily air takes water at the edge, about `air`; None where it cannot be told.
    readings
        How many of the stack's own it rests on.
    seen
        What they alone say of diffusion and green moisture content, to teach other stacks.
    """

    diffusion: Normal
    green: Normal
    air: Normal
    correlations: tuple[float, float, float] = (0.0, 0.0, 0.0)
    ease: Normal | None = None
    readings: int = 0
    seen: tuple[Normal | None, Normal | None] = (None, None)

    @property
    def is_learned(self) -> bool:
        """Whether anything was learned, of it or of others like it."""
        return self.readings > 0 or abs(self.diffusion.mean) > 0.0

    def as_json(self) -> dict[str, Any]:
        """Return it as it is stored."""
        return asdict(self)


def seen_of_json(told: dict[str, Any]) -> tuple[Normal | None, Normal | None]:
    """Return what a belief that was stored says that other stacks can learn of.

    It is as every `METHOD` has stored it.
    """
    diffusion, green = (None if one is None else Normal(**one) for one in told["seen"])
    return diffusion, green


@dataclass(frozen=True)
class Pupil:
    """A stack to learn of; `measured` is None where it has no readings that can be used."""

    case: Case
    site: str
    measured: Measured | None = None


def spreads(priors: Priors) -> tuple[Spread, Spread]:
    """Return how diffusion and green moisture content lie about the table's."""
    return (
        Spread(priors.species_sd, priors.site_sd, priors.stack_sd, priors.common_share),
        Spread(priors.green_species_sd, 0.0, priors.green_stack_sd),
    )


def learn(
    pupils: Sequence[Pupil], before: Sequence[tuple[Member, Member]], priors: Priors
) -> dict[str, Believed]:
    """Return what is believed of each stack, by name.

    Parameters
    ----------
    before
        What stacks that are gone taught: of diffusion, and of green moisture content.
    """
    likely = {
        p.case.stack.id: log_likelihood(p.measured, priors)
        for p in pupils
        if p.measured is not None
    }
    seen = {name: _seen(table, priors) for name, table in likely.items()}
    own = [
        tuple(
            Member(p.case.stack.species, p.site, seen.get(p.case.stack.id, (None, None))[which])
            for which in (0, 1)
        )
        for p in pupils
    ]
    wide = spreads(priors)
    members = [[pair[which] for pair in before] + [pair[which] for pair in own] for which in (0, 1)]
    believed = {}
    for pupil, mine in zip(pupils, own, strict=True):
        name = pupil.case.stack.id
        diffusion, green = (expected(members[w], mine[w], wide[w]) for w in (0, 1))
        if pupil.case.begin_hour > 0:
            green = Normal(0.0, priors.green_sd)
        elif pupil.case.stack.green_mc_pct is not None:
            green = Normal(0.0, priors.green_told_sd)
        found = Believed(diffusion, green, Normal(0.0, priors.air_sd))
        if pupil.measured is not None:
            found = posterior(likely[name], found, priors, edge=pupil.measured.at_edge)
            found = replace(found, readings=pupil.measured.readings, seen=seen[name])
        believed[name] = found if pupil.case.begin_hour == 0 else _of_half_dried(found)
    return believed


def _of_half_dried(believed: Believed) -> Believed:
    """Return what is believed of a stack taken up half-dried: nobody knows how wet it was green."""
    (diffusion, _), (_, with_air, _) = believed.seen, believed.correlations
    ties = (0.0, with_air, 0.0)
    return replace(believed, green=Normal(0.0, 0.0), correlations=ties, seen=(diffusion, None))


def posterior(likely: Likely, prior: Believed, priors: Priors, *, edge: bool) -> Believed:
    """Return what is believed after what a stack's boards say.

    Parameters
    ----------
    edge
        Whether the air at the edge can be told.
    """
    weight = likely.inside + _log(DIFFUSIONS, prior.diffusion)[:, None, None]
    weight = weight + _log(GREENS, prior.green)[None, :, None] + _log(AIRS, prior.air)
    ease = None
    if likely.edge is not None:
        # The air at the edge is the stack's and its own: both are gone through.
        differs = np.subtract.outer(EDGE_AIRS, AIRS)
        own = np.exp(_log(differs, Normal(0.0, priors.edge_sd)))
        told = np.exp(likely.edge - likely.edge.max())
        if edge:
            pair = own * np.einsum("fgt,fga->ta", told, _shares(weight))
            ease = _moments(differs.ravel(), pair.ravel() / pair.sum())
        weight = weight + np.log(told @ own + np.finfo(float).tiny)
    share = _shares(weight)
    grids = DIFFUSIONS, GREENS, AIRS
    sides = [share.sum(axis=tuple({0, 1, 2} - {i})) for i in range(3)]
    diffusion, green, air = (_moments(g, s) for g, s in zip(grids, sides, strict=True))
    away = [(g - m.mean) / m.sd for g, m in zip(grids, (diffusion, green, air), strict=True)]
    ties = (
        float(np.einsum("fga,f,g->", share, away[0], away[1])),
        float(np.einsum("fga,f,a->", share, away[0], away[2])),
        float(np.einsum("fga,g,a->", share, away[1], away[2])),
    )
    return Believed(diffusion, green, air, ties, ease)


def _shares(log_weight: Array) -> Array:
    share = np.exp(log_weight - log_weight.max())
    return np.asarray(share / share.sum(), np.float64)


def _seen(likely: Likely, priors: Priors) -> tuple[Normal | None, Normal | None]:
    """Return what a stack's readings alone say of it."""
    diffusion = Normal(0.0, priors.diffusion_sd)
    green = Normal(0.0, priors.green_sd)
    prior = Believed(diffusion, green, Normal(0.0, priors.air_sd))
    after = posterior(likely, prior, priors, edge=False)
    return after.diffusion.without(diffusion), after.green.without(green)


def _log(grid: Array, belief: Normal) -> Array:
    return np.asarray(-0.5 * ((grid - belief.mean) / belief.sd) ** 2, np.float64)


def _moments(grid: Array, share: Array) -> Normal:
    """Return mean and deviation; no deviation is less than the grid can tell."""
    mean = float(share @ grid)
    step = float(grid[1] - grid[0])
    return Normal(mean, sqrt(max(float(share @ (grid - mean) ** 2), step**2 / 12.0)))


def wood_of(believed: Believed) -> Wood:
    """Return a belief as a stack's case carries it."""
    if not believed.is_learned:
        return UNTAUGHT
    ease = believed.ease
    return Wood(
        diffusion=_times(believed.diffusion),
        diffusion_sd=believed.diffusion.sd,
        green=_times(believed.green),
        green_sd=believed.green.sd,
        air=_times(believed.air),
        air_sd=believed.air.sd,
        correlations=believed.correlations,
        edge_ease=1.0 if ease is None else _times(ease),
        edge_ease_sd=None if ease is None else ease.sd,
        readings=believed.readings,
    )


def _times(believed: Normal) -> float:
    return round(float(np.exp(believed.mean)), DIGITS)


DIGITS = 3
"""A saved state holds until what is believed changes by as much: a thousandth is nothing."""


def members_of(
    species: str, site: str, seen: tuple[Normal | None, Normal | None]
) -> tuple[Member, Member]:
    """Return a stack as others learn from it."""
    diffusion, green = (Member(species, site, one) for one in seen)
    return diffusion, green
