"""Boards and weather on which the drying model meets other solvers: 24 made cases, and drawn ones.

Nothing freezes and no rain falls in them: they ask whether diffusion and the balance at the face
are solved right, and other solvers know neither ice nor rain.
"""

from typing import NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from tests.published.lumber import GREENSBORO, OPEN, ROOFED, Array, boards_of, column

from drywind.climate.stack_air import Board, Drivers, stack_air
from drywind.wood.drying import Boards
from drywind.wood.species import load_species

HOURS = 16 * 24

# The model's physical constants, typed anew for the other solvers.
VAPOR_GAS_CONSTANT = 461.5  # J/(kg K)
LATENT_HEAT = 2.45e6  # J/kg
STEFAN_BOLTZMANN = 5.670374e-8  # W/(m2 K4)
WATER_HEAT_CAPACITY, WOOD_HEAT_CAPACITY = 4186.0, 1300.0  # J/(kg K)


class Air(NamedTuple):
    """One hour of drivers, each of shape (boards,), as the other solvers take them.

    `conductance` is of vapor, kg/(m2 s Pa); `gain` the sun and sky absorbed, W/m2.
    """

    temp_c: Array
    vapor_pa: Array
    heat: Array
    conductance: Array
    gain: Array
    sky_view: Array

    @classmethod
    def of(cls, drivers: Drivers, hour: int) -> "Air":
        """Return the drivers of an hour."""
        temp_c = drivers.air_temp_c[hour]
        return cls(
            temp_c,
            drivers.vapor_pressure_pa[hour],
            drivers.heat_wm2k[hour],
            drivers.vapor_ms[hour] / (VAPOR_GAS_CONSTANT * (temp_c + 273.15)),
            drivers.sun_wm2[hour] + drivers.sky_wm2[hour],
            drivers.sky_view[hour],
        )


class Afternoon(NamedTuple):
    """The air at 15:00, and how much cooler and damper it is at 03:00."""

    temp_c: float
    rh: float
    wind_ms: float
    cooler_k: float
    damper: float


class Cases(NamedTuple):
    """Boards, their air, and the uniform moisture content they start from, as a fraction."""

    names: list[str]
    boards: Boards
    drivers: Drivers
    start_mc: Array

    def some(self, which: NDArray[np.intp], hours: int) -> "Cases":
        """Return the first hours of some of the cases; one may come more than once."""
        return Cases(
            [self.names[i] for i in which],
            Boards(**{name: array[which] for name, array in vars(self.boards).items()}),
            Drivers(**{name: array[:hours, which] for name, array in vars(self.drivers).items()}),
            self.start_mc[which],
        )


WOODS = [("red_oak", "4/4"), ("white_oak", "8/4"), ("yellow_poplar", "4/4"), ("soft_maple", "4/4")]
HOT, MILD = Afternoon(35.0, 0.25, 5.0, 14.0, 0.35), Afternoon(24.0, 0.55, 2.0, 10.0, 0.35)
COLD, DAMP = Afternoon(5.0, 0.40, 6.0, 4.0, 0.40), Afternoon(27.0, 0.85, 1.0, 7.0, 0.13)
PLACES = {
    "inside in the heat": (HOT, Board.TYPICAL),
    "windward edge in the heat": (HOT, Board.EDGE),
    "top course in the sun": (HOT, Board.TOP),
    "windward edge in mild air": (MILD, Board.EDGE),
    "windward edge in the cold": (COLD, Board.EDGE),
    "inside in the damp": (DAMP, Board.TYPICAL),
}


def spell(air: Afternoon, noon_wm2: float = np.nan, cloud: float = 0.0) -> pd.DataFrame:
    """Return 16 like days from midnight, warmest, driest and windiest at 15:00 (20:00 UTC).

    The sun at noon (17:00 UTC), where it is not known, is a clear sky's.
    """
    hours = pd.date_range("2026-07-01T05:00Z", periods=HOURS, freq="h", name="time_utc")
    turn = 2 * np.pi * hours.hour.to_numpy() / 24
    night = 0.5 - 0.5 * np.cos(turn - 2 * np.pi * 20 / 24)
    values = {
        "temp_c": air.temp_c - air.cooler_k * night,
        "rh": air.rh + air.damper * night,
        "wind_ms": air.wind_ms * (1.0 - 0.5 * night),
        "wind_dir_deg": 270.0,
        "gust_ms": np.nan,
        "ghi_wm2": noon_wm2 * np.maximum(np.cos(turn - 2 * np.pi * 17 / 24), 0.0),
        "cloud": cloud,
        "rain_mm": 0.0,
    }
    return pd.DataFrame(values, index=hours)


def drivers_at(board: Board, weather: pd.DataFrame) -> Drivers:
    """Return the air at one board; only a stack with a bare top course has no roof."""
    setup = OPEN if board is Board.TOP else ROOFED
    return column(stack_air(weather, GREENSBORO, setup), board)


def made_cases() -> Cases:
    """Return four woods in each of six places, from green."""
    pairs = [(wood, place) for place in PLACES for wood in WOODS]
    boards, green = boards_of([wood for wood, _ in pairs])
    air = {place: drivers_at(board, spell(after)) for place, (after, board) in PLACES.items()}
    names = [f"{key} {size}, {place}" for (key, size), place in pairs]
    return Cases(names, boards, Drivers.beside([air[place] for _, place in pairs]), green)


def random_cases(count: int, seed: int) -> Cases:
    """Draw any wood, 3/4 to 16/4, weather and board; from half dried to wetter than green.

    No night is colder than 6 °C, for a top course under a clear sky cools several kelvin below
    the air.
    """
    draw = np.random.default_rng(seed)
    woods = [
        (str(draw.choice(list(load_species()))), f"{draw.integers(3, 17)}/4") for _ in range(count)
    ]
    boards, green = boards_of(woods)
    places = [Board(draw.choice(list(Board))) for _ in woods]
    air = []
    for board in places:
        night_c, cooler_k = draw.uniform(6.0, 24.0), draw.uniform(2.0, 16.0)
        rh, wind_ms = draw.uniform(0.15, 0.90), draw.lognormal(0.7, 0.7)
        damper = draw.uniform(0.0, 1.0) * (0.99 - rh)
        after, cloud = Afternoon(night_c + cooler_k, rh, wind_ms, cooler_k, damper), draw.uniform()
        air.append(drivers_at(board, spell(after, 1000.0 * (1.0 - cloud), cloud)))
    names = [
        f"drawn {key} {size}, {board}" for (key, size), board in zip(woods, places, strict=True)
    ]
    return Cases(names, boards, Drivers.beside(air), green * draw.uniform(0.5, 1.2, count))
