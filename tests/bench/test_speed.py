"""How fast the drying model is, and how fast next to SciPy's BDF on the same boards.

Prints its figures: `pytest -s tests/bench`. Times say as much of the machine as of the program, so
only the ratio of two of the same run is held.
"""

from collections.abc import Callable
from time import perf_counter

import numpy as np
from tests.published.lumber import Array
from tests.published.method_of_lines import CASES, made_cases, method_of_lines

from drywind.climate.stack_air import Drivers
from drywind.wood.drying import CELL_GROWTH, CELLS, Boards, State, simulate

FEW, LONG_H = 60, 384
MANY, SHORT_H = 4000, 48
COMPARED_H = 96
KINDS = len(CASES)
AT_LEAST = 5.0


def many(count: int, hours: int) -> tuple[Boards, Drivers, Array]:
    """Return so many boards, the hard cases over and over, with their air and green moisture."""
    boards, drivers, green = made_cases()
    which = np.resize(np.arange(len(green)), count)
    return (
        Boards(**{name: array[which] for name, array in vars(boards).items()}),
        Drivers(**{name: array[:hours, which] for name, array in vars(drivers).items()}),
        green[which],
    )


def by_model(boards: Boards, drivers: Drivers, green: Array) -> Array:
    """Return mean moisture content by the hour, in percent."""
    return 100.0 * simulate(boards, drivers, State.green(green, drivers.air_temp_c[0])).mc


def by_bdf(boards: Boards, drivers: Drivers, green: Array) -> Array:
    """Return the same by SciPy's BDF on as many cells, as fine at the face."""
    mean, _ = method_of_lines(boards, drivers, green, nodes=CELLS + 1, spread=CELL_GROWTH)
    return mean


def timed(
    solve: Callable[[Boards, Drivers, Array], Array], case: tuple[Boards, Drivers, Array]
) -> tuple[Array, float]:
    """Return what a solver finds, and the board-hours it does a second."""
    begun = perf_counter()
    found = solve(*case)
    return found, (found.shape[0] - 1) * found.shape[1] / (perf_counter() - begun)


def test_the_model_is_at_least_five_times_as_fast_as_bdf_on_as_many_cells() -> None:
    """Both are held against a fine solution, BDF's on 70 nodes, so that neither wins by haste."""
    by_model(*many(KINDS, 1))  # what is done but once is no part of the race
    for count, hours in ((FEW, LONG_H), (MANY, SHORT_H)):
        _, speed = timed(by_model, many(count, hours))
        print(f"{count} boards x {hours} h: {speed:,.0f} board-hours a second")  # noqa: T201

    case = many(FEW, COMPARED_H)
    (model, model_speed), (bdf, bdf_speed) = timed(by_model, case), timed(by_bdf, case)

    fine, _ = method_of_lines(*many(KINDS, COMPARED_H))
    off, bdf_off = (np.abs(found[:, :KINDS] - fine).max() for found in (model, bdf))
    ratio = model_speed / bdf_speed
    print(  # noqa: T201
        f"{FEW} boards x {COMPARED_H} h: {ratio:.1f} times as fast as SciPy's BDF; at most"
        f" {off:.3f} points of moisture from the fine solution, BDF {bdf_off:.3f}"
    )
    assert ratio >= AT_LEAST
