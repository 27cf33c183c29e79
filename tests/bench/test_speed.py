"""How fast the drying model is, and how fast next to two general-purpose solvers.

Prints one table: `pytest tests/bench`. Times say as much of the machine as of the program, so only
ratios of the same run are held. Beside each time stands how far the solver strays from the fine
reference, so that none wins by haste. The other solvers take part in the race only, of few boards
and two days: they would need minutes for the rest.
"""

from collections.abc import Callable
from time import perf_counter
from typing import NamedTuple

import numpy as np
import pytest
from tests.published.cases import HOURS, Cases, made_cases
from tests.published.fine_reference import EVERY_H, frozen
from tests.published.lumber import Array
from tests.published.method_of_lines import method_of_lines
from tests.published.pde_library import Grid, by_fipy

from drywind.wood.drying import CELL_GROWTH, CELLS, State, simulate

FEW, YARD, MANY, SHORT_H, WEEK_H = 60, 20 * 3 * 31, 10_000, 48, 168
TIMES_BDF, TIMES_FIPY = 5.0, 20.0
HEAD = "solver     boards  hours  seconds  board-hours/s  points off  drywind faster"


def by_model(cases: Cases) -> Array:
    """Return mean moisture content by the hour, in percent."""
    start = State.green(cases.start_mc, cases.drivers.air_temp_c[0])
    return 100.0 * simulate(cases.boards, cases.drivers, start).mc


def by_bdf(cases: Cases) -> Array:
    """Return the same by SciPy's BDF on as many cells, as fine at the face."""
    return method_of_lines(cases, nodes=CELLS + 1, spread=CELL_GROWTH)[0]


def by_library(cases: Cases) -> Array:
    """Return the same by FiPy on the model's cells and hours."""
    return by_fipy(cases, Grid(CELLS, CELL_GROWTH, steps=1))


class Timed(NamedTuple):
    """What a solver did in how many seconds, and how many points of moisture it strays."""

    solver: str
    boards: int
    hours: int
    seconds: float
    off: float

    @property
    def speed(self) -> float:
        """Board-hours a second."""
        return self.boards * self.hours / self.seconds

    @property
    def row(self) -> str:
        """The table's row."""
        task = f"{self.solver:9} {self.boards:7,} {self.hours:6}"
        return f"{task} {self.seconds:8.2f} {self.speed:14,.0f} {self.off:11.3f}"


def timed(solver: str, solve: Callable[[Cases], Array], boards: int, hours: int) -> Timed:
    """Time a solver on so many boards, the made cases over and over."""
    made = made_cases()
    which = np.resize(np.arange(len(made.names)), boards)
    cases = made.some(which, hours)
    begun = perf_counter()
    found = solve(cases)
    seconds = perf_counter() - begun
    fine = frozen()[0].mc_pct[: hours // EVERY_H + 1, which]
    return Timed(solver, boards, hours, seconds, np.abs(found[::EVERY_H] - fine).max())


def test_the_model_is_several_times_as_fast_as_general_purpose_solvers_and_as_right(
    capsys: pytest.CaptureFixture[str],
) -> None:
    for solve in (by_model, by_bdf, by_library):
        timed("what is done but once is no part of the race", solve, 1, 1)

    model, bdf, fipy = race = [
        timed("drywind", by_model, FEW, SHORT_H),
        timed("SciPy BDF", by_bdf, FEW, SHORT_H),
        timed("FiPy", by_library, FEW, SHORT_H),
    ]
    alone = [
        timed("drywind", by_model, FEW, HOURS),
        timed("drywind", by_model, YARD, HOURS),
        timed("drywind", by_model, MANY, SHORT_H),
        timed("drywind", by_model, MANY, WEEK_H),
    ]

    rows = [row.row + f"{model.speed / row.speed:15.1f} x" for row in race]
    with capsys.disabled():
        print("", HEAD, *rows, *(row.row for row in alone), sep="\n")  # noqa: T201
    assert model.speed > TIMES_BDF * bdf.speed
    assert model.speed > TIMES_FIPY * fipy.speed
    assert model.off < 0.1
