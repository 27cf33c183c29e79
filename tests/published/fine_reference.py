"""The drying model's own equations on 200 cells in steps of a minute, frozen in a file.

How far the model's few cells and long steps stray is measured against it; that the equations are
right, other solvers say. In the steep first six hours a third of the step, or twice the cells,
moves no mean by 0.0001 point and no outer millimeter by 0.002. After a change of the model or of
the cases, make it anew, which takes a minute or two:

    .venv/bin/python -m tests.published.fine_reference
"""

import sys
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from multiprocessing import Pool
from pathlib import Path
from typing import NamedTuple
from unittest.mock import patch

import numpy as np
from tests.published.cases import HOURS, Cases, made_cases, random_cases
from tests.published.lumber import Array

from drywind.wood import drying, solver
from drywind.wood.drying import State, simulate
from drywind.wood.solver import Air, Guess, Scheme

FILE = Path(__file__).parent / "data" / "fine_reference.npz"
EVERY_H = 6
RANDOM_COUNT, RANDOM_SEED = 24, 20
CELLS, CELL_GROWTH, STEP_S, TIGHTER = 200, 1.02, 60.0, 1e-3
FREEZING_C = -2.0


class Fine(NamedTuple):
    """Mean of a board and of its outer millimeter in percent, (times, boards), from the start.

    `fingerprint` tells the cases apart, shape (inputs, boards).
    """

    mc_pct: Array
    shell_mc_pct: Array
    fingerprint: Array


@contextmanager
def fine_steps() -> Iterator[None]:
    """Make the model as fine as the reference."""
    coarse = Scheme.step

    def step(scheme: Scheme, air: Air, now: Guess, seconds: float) -> Guess:
        if seconds <= STEP_S:
            return coarse(scheme, air, now, seconds)
        for _ in range(round(seconds / STEP_S)):
            now = coarse(scheme, air, now, STEP_S)
        return now

    with ExitStack() as changes:
        changes.enter_context(patch.object(drying, "CELLS", CELLS))
        changes.enter_context(patch.object(drying, "CELL_GROWTH", CELL_GROWTH))
        changes.enter_context(patch.object(Scheme, "step", step))
        for name in ("TOLERANCE_MC", "TOLERANCE_K", "TOLERANCE_RH"):
            changes.enter_context(patch.object(solver, name, TIGHTER * getattr(solver, name)))
        yield


def solve_finely(cases: Cases, hours: int) -> tuple[Array, Array]:
    """Return mean and outer-millimeter moisture content by the hour, in percent."""
    means, shells = [cases.start_mc], [cases.start_mc]
    with fine_steps():
        state = State.green(cases.start_mc, cases.drivers.air_temp_c[0])
        for hour in range(hours):
            course = simulate(cases.boards, cases.drivers.hours(slice(hour, hour + 1)), state)
            state = course.end
            assert state.temp_c.min() > FREEZING_C, cases.names[state.temp_c.argmin()]
            means.append(course.mc[-1])
            shells.append(course.shell_mc[-1])
            if (hour + 1) % 48 == 0:
                sys.stderr.write(f"{cases.names[0]} and {len(means[0]) - 1} more: {hour + 1} h\n")
    return 100.0 * np.array(means), 100.0 * np.array(shells)


def fingerprint(cases: Cases) -> Array:
    """Return what goes into the cases, each input's mean over the hours, (inputs, boards)."""
    inputs = [*vars(cases.boards).values(), cases.start_mc]
    return np.array(inputs + [array.mean(axis=0) for array in vars(cases.drivers).values()])


def all_cases() -> list[Cases]:
    """Return the made and the drawn cases."""
    return [made_cases(), random_cases(RANDOM_COUNT, RANDOM_SEED)]


def frozen() -> list[Fine]:
    """Return the reference of the made and of the drawn cases, every `EVERY_H` hours."""
    with np.load(FILE) as file:
        halves = [np.split(file[name].astype(float), 2, axis=1) for name in Fine._fields]
    return [Fine(*parts) for parts in zip(*halves, strict=True)]


def freeze() -> None:
    """Solve all cases, the made and the drawn ones side by side, and write the file."""
    cases = all_cases()
    with Pool(len(cases)) as pool:
        solved = pool.starmap(solve_finely, [(some, HOURS) for some in cases])
    mc, shell = (np.concatenate(parts, axis=1) for parts in zip(*solved, strict=True))
    prints = np.concatenate([fingerprint(some) for some in cases], axis=1)
    fine = Fine(mc[::EVERY_H].astype("f4"), shell[::EVERY_H].astype("f4"), prints)
    np.savez_compressed(FILE, **fine._asdict())


if __name__ == "__main__":
    freeze()
