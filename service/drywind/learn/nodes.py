"""Boards of many stacks dried side by side at nodes of what is not known of them.

What a sample board would weigh is wanted for any diffusion, green moisture content and ease with
which the air takes its water. It is a smooth function of these, so it is simulated at a few nodes
and interpolated by polynomials between them.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from drywind.climate.stack_air import Board, Drivers
from drywind.judge.cases import Case
from drywind.learn.priors import Priors
from drywind.samples import Position
from drywind.weather.air import saturation_pressure_pa
from drywind.wood.drying import Boards, State, simulate
from drywind.wood.solver import FREEZING_C

Array = NDArray[np.float64]

DIFFUSION_REACH, GREEN_REACH, EASE_REACH = 1.2, 0.3, 1.5
"""Logarithms about the species' table and the model within which the truth is looked for."""

DIFFUSION_NODES = DIFFUSION_REACH * np.cos(np.pi * np.arange(4.0, -1.0, -1.0) / 4.0)
GREEN_NODES = GREEN_REACH * np.linspace(-1.0, 1.0, 3)
EASE_NODES = EASE_REACH * np.linspace(-1.0, 1.0, 5)
"""Between them 0.3 point of MC is lost, and 0.5 where the air takes a third of the model's."""

BOARD_AT = {
    Position.MIDDLE: Board.TYPICAL,
    Position.EDGE: Board.EDGE,
    Position.TOP: Board.TOP,
}

AT_ONCE = 12
"""Of stacks and positions simulated side by side; more take much memory for little time."""

START_H = 48
"""The first days, in which a diffusion model starts steeply and is trusted least (assumption)."""


@dataclass(frozen=True)
class Asked:
    """A stack, and the hours since stacking at which boards in each position were measured."""

    case: Case
    hours: Mapping[Position, tuple[int, ...]]

    @property
    def until(self) -> int:
        """The last of them."""
        return max((hour for hours in self.hours.values() for hour in hours), default=0)


@dataclass(frozen=True)
class Simulated:
    """What boards in one position would be like.

    Attributes
    ----------
    mc
        Moisture content, a fraction: shape (diffusion, green, ease, hours), but for the last the
        nodes.
    start_mc
        The same after the first days, or at each hour if that is earlier.
    weather
        Relative change of what was lost by each hour when the air was warmer and drier by one
        standard deviation of what is not known of it, shape (hours,).
    frozen
        Share of what was lost by each hour that left the board frozen, shape (hours,).
    """

    mc: Array
    start_mc: Array
    weather: Array
    frozen: Array


def simulate_nodes(asked: Sequence[Asked], priors: Priors) -> list[dict[Position, Simulated]]:
    """Return what boards would be like at the nodes, for each stack and each of its positions.

    The axis of green moisture content is that of what a half-dried stack begins at.
    """
    found: dict[int, dict[Position, Simulated]] = {id(one): {} for one in asked}
    wanted = [(one, at) for one in asked for at in one.hours]
    for first in range(0, len(wanted), AT_ONCE):
        some = wanted[first : first + AT_ONCE]
        for (one, at), simulated in zip(some, _simulated(some, priors), strict=True):
            found[id(one)][at] = simulated
    return [found[id(one)] for one in asked]


def _simulated(wanted: Sequence[tuple[Asked, Position]], priors: Priors) -> list[Simulated]:
    """Return what boards of some stacks and positions would be like, dried in one batch."""
    batches = [_batch(one.case, at, one.until, priors) for one, at in wanted]
    course = simulate(
        Boards.beside([batch.boards for batch in batches]),
        Drivers.beside([batch.drivers for batch in batches]),
        State.beside([batch.start for batch in batches]),
    ).mc
    boards = np.split(course, len(batches), axis=1)
    hours = [np.array(one.hours[at]) - one.case.begin_hour for one, at in wanted]
    return [_read(*each) for each in zip(boards, hours, batches, strict=True)]


@dataclass(frozen=True)
class _Batch:
    """The boards of one position: all nodes, then the middle ones in warmer and drier air."""

    boards: Boards
    drivers: Drivers
    start: State


_SHAPE = (len(DIFFUSION_NODES), len(GREEN_NODES), len(EASE_NODES))
_MIDDLE = int(np.prod(_SHAPE)) // 2


def _batch(case: Case, at: Position, until: int, priors: Priors) -> _Batch:
    column = list(Board).index(BOARD_AT[at])
    nodes = np.meshgrid(DIFFUSION_NODES, GREEN_NODES, EASE_NODES, indexing="ij")
    ln_f, ln_g, ease = (np.append(a.ravel(), 0.0) for a in nodes)
    begun = slice(case.begin_hour, max(until, case.begin_hour + 1))
    one = case.drivers.hours(begun).boards(slice(column, column + 1))
    warmer = np.zeros(len(ln_f))
    warmer[-1] = 1.0
    boards = scaled(case, np.exp(ln_f), column)
    drivers = in_other_air(repeated(one, len(ln_f)).eased(np.exp(ease)), warmer, priors)
    return _Batch(boards, drivers, case.begin(boards, case.begin_mc * np.exp(ln_g), drivers))


def _read(course: Array, hours: NDArray[np.intp], batch: _Batch) -> Simulated:
    """Return what was simulated, of moisture contents of shape (hours from the first, boards).

    `hours` are counted from the first.
    """

    def on_nodes(rows: Array) -> Array:
        return np.moveaxis(rows[:, :-1].reshape(len(rows), *_SHAPE), 0, -1)

    mc, usual = course[hours], course[:, _MIDDLE]
    iced = is_frozen(batch.drivers)[:, 0]
    leaving = -np.diff(usual[: len(iced) + 1])
    frozen = np.append(0.0, np.cumsum(np.where(iced, leaving, 0.0)))
    lost = usual[0] - usual[hours]
    return Simulated(
        mc=on_nodes(mc),
        start_mc=on_nodes(course[np.minimum(hours, START_H)]),
        weather=_share(usual[hours] - mc[:, -1], lost),
        frozen=_share(np.maximum(frozen[hours], 0.0), lost),
    )


def _share(part: Array, lost: Array) -> Array:
    """Return a share of what was lost; none where hardly anything was."""
    return np.divide(part, lost, out=np.zeros_like(lost), where=lost > 0.005)  # noqa: PLR2004


def is_frozen(drivers: Drivers) -> NDArray[np.bool_]:
    """Return in which hours boards as cold as the air are frozen, of the shape of the drivers."""
    return np.asarray(drivers.air_temp_c < FREEZING_C)


def scaled(case: Case, diffusion: Array, column: int) -> Boards:
    """Return boards of a stack, each with its diffusion multiplied."""
    like, count = case.boards, len(diffusion)
    return Boards(
        np.full(count, like.half_thickness_m[column]),
        np.full(count, like.density_kgm3[column]),
        like.diffusivity_m2s[column] * diffusion,
    )


def repeated(one: Drivers, count: int) -> Drivers:
    """Return the air of one board at so many."""
    return Drivers(**{name: np.repeat(array, count, axis=1) for name, array in vars(one).items()})


def in_other_air(drivers: Drivers, sds: Array, priors: Priors) -> Drivers:
    """Return air that is warmer and drier by so many standard deviations, by board."""
    temp = drivers.air_temp_c
    warmer = temp + priors.weather_k * sds
    rh = drivers.vapor_pressure_pa / saturation_pressure_pa(temp) - priors.weather_rh * sds
    vapor = np.clip(rh, 0.02, 1.0) * saturation_pressure_pa(warmer)
    return replace(drivers, air_temp_c=warmer, vapor_pressure_pa=vapor)


def weights(nodes: Array, at: Array) -> Array:
    """Return the shares (at, nodes) of values at nodes in the polynomial through them."""
    shares = np.ones((len(at), len(nodes)))
    for i, node in enumerate(nodes):
        for j, other in enumerate(nodes):
            if i != j:
                shares[:, i] *= (at - other) / (node - other)
    return shares
