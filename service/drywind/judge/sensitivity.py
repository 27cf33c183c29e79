"""What each assumption does: every one moved to the ends of what we believe, and the stack dried.

The stack dries in made weather: a hot dry windy spell, a cold dry windy one, damp air, mild
days until it is at 20 %, and half-dried in a rain. Climate assumptions travel as arguments; a
constant of the wood is exchanged in its module while one trial runs.
"""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from types import ModuleType
from typing import NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from drywind.climate.assumptions import DEFAULT, Assumptions
from drywind.climate.stack_air import Board, Drivers, has_roof, stack_air
from drywind.judge import hazards
from drywind.judge.made_weather import COLD, DAMP, HOT, MILD, Afternoon, made_days, rainy
from drywind.units import Thickness
from drywind.wood import diffusion, limits, solver, stain, stress
from drywind.wood.drying import Boards, Course, State, simulate
from drywind.wood.species import Species
from drywind.yard import Setup, Site

Array = NDArray[np.float64]

LONGEST_DAYS, FEW_DAYS = 200, 10
AIR_DRY_MC = 0.20
SPELL_DAYS = 4
RAIN_FROM_MC = 0.25


@dataclass(frozen=True)
class Lumber:
    """What dries, and where."""

    species: Species
    thickness: Thickness
    site: Site
    setup: Setup

    @property
    def outer(self) -> Board:
        """The board that has it worst."""
        return Board.EDGE if has_roof(self.site, self.setup) else Board.TOP


@dataclass(frozen=True)
class Assumption:
    """One assumption, and where it lives: None for a field of `Assumptions` or of `Setting`."""

    name: str
    value: float
    low: float
    high: float
    why: str
    module: ModuleType | None = None


@dataclass(frozen=True)
class Setting:
    """Assumptions that travel as arguments; `diffusion` and `green_mc` multiply the species'."""

    climate: Assumptions = field(default_factory=lambda: DEFAULT)
    diffusion: float = 1.0
    green_mc: float = 1.0


class Effect(NamedTuple):
    """What comes of a setting, for the outer board but where said otherwise.

    Attributes
    ----------
    hot, cold
        How bad the first 48 hours are in the spell, from 0 up; 1 is the limit.
    shell_pct
        The lowest moisture content of the outer millimeter in the first three hot days.
    check
        The check ratio (`drywind.wood.stress`) after the hot spell, a level to compare, no limit.
    stain
        Days at 20 °C that enzymatic stain has run in four damp days, inside the stack.
    rain_pct
        Points gained in 12 hours of windy rain, from 25 % MC.
    days_to_20_pct
        Mild days until the inside of the stack is air-dry.
    """

    hot: float
    cold: float
    shell_pct: float
    check: float
    stain: float
    rain_pct: float
    days_to_20_pct: float


@dataclass(frozen=True)
class _Courses:
    """How the boards of some settings dried in each weather."""

    boards: Boards
    hot: Course
    hot_states: list[State]
    cold: Course
    damp: Course
    rain_pct: Array
    days: Array


Pair = tuple[Assumption, Effect, Effect]
"""An assumption, and the effects of its low and its high end."""


def _constant(module: ModuleType, name: str, low: float, high: float, why: str) -> Assumption:
    return Assumption(name.lower(), float(getattr(module, name)), low, high, why, module)


def assumptions() -> list[Assumption]:
    """Return the whole table."""
    return [
        *(Assumption(*row) for row in Assumptions.rows()),
        Assumption("diffusion", 1.0, 0.7, 1.43, "a board's diffusion, of its species'"),
        Assumption(
            "green_mc", 1.0, 0.85, 1.15, "a stack's green moisture content, of its species'"
        ),
        _constant(diffusion, "ACTIVATION_K", 3600, 5300, "how diffusion rises with warmth, E/R"),
        _constant(diffusion, "MOISTURE_SLOPE", 5.0, 13.4, "how diffusion rises with moisture"),
        _constant(diffusion, "FIBER_SATURATION", 0.26, 0.32, "where free water ends; woods differ"),
        _constant(solver, "FREEZING_C", -5.0, -0.5, "wood below it holds its free water as ice"),
        _constant(solver, "SNOW_C", 0.0, 1.5, "air below it brings snow, which does not soak"),
        _constant(stain, "ENZYMES_WAKE_C", 5.0, 15.0, "below it enzymatic stain rests"),
        _constant(stress, "SORPTIVE_CREEP", 20.0, 60.0, "how wood yields while its MC changes"),
        _constant(stress, "RELAXATION_DAYS", 5.0, 60.0, "in which steady wood yields"),
        _constant(
            hazards, "SHELL_CHECKS_PCT", 20.0, 27.0, "outer millimeter of a board that checks"
        ),
        _constant(hazards, "SHELL_SCALE_PCT", 4.0, 9.0, "points drier that count like the limit"),
        _constant(
            limits, "FULL_WEIGHT_MC_PCT", 35.0, 50.0, "the limit counts in full down to here"
        ),
        _constant(limits, "NO_WEIGHT_MC_PCT", 20.0, 30.0, "and no more from here on"),
    ]


def effects(lumber: Lumber) -> tuple[Effect, Iterator[Pair]]:
    """Return what becomes of lumber as we believe it, and of each assumption's low and high.

    The latter are worked out one by one as they are asked for.
    """
    light = [a for a in assumptions() if a.module is None]
    settings = [_set(a, value) for a in light for value in (a.low, a.high)]
    found = _judge(lumber, _dry(lumber, settings))
    courses = _dry(lumber, [Setting()])
    (base,) = _judge(lumber, courses)

    def trial(module: ModuleType, name: str, value: float) -> Effect:
        with _exchanged(module, name, value):
            dries = module in {diffusion, solver}
            (effect,) = _judge(lumber, _dry(lumber, [Setting()]) if dries else courses)
        return effect

    def each() -> Iterator[Pair]:
        yield from zip(light, found[::2], found[1::2], strict=True)
        for one in assumptions():
            if one.module is not None:
                name = one.name.upper()
                yield one, trial(one.module, name, one.low), trial(one.module, name, one.high)

    return base, each()


def _set(assumption: Assumption, value: float) -> Setting:
    if assumption.name == "diffusion":
        return Setting(diffusion=value)
    if assumption.name == "green_mc":
        return Setting(green_mc=value)
    return Setting(climate=replace(DEFAULT, **{assumption.name: value}))


@contextmanager
def _exchanged(module: ModuleType, name: str, value: float) -> Iterator[None]:
    usual = getattr(module, name)
    setattr(module, name, value)
    try:
        yield
    finally:
        setattr(module, name, usual)


def _dry(lumber: Lumber, settings: Sequence[Setting]) -> _Courses:
    """Dry an outer and an inner board of every setting through all the weathers."""
    species, count = lumber.species, len(settings)
    flat = species.diffusion_multiplier * diffusion.transverse_diffusivity(
        species.basic_specific_gravity
    )
    boards = Boards(
        np.full(count, lumber.thickness.green_m / 2),
        np.full(count, 1000.0 * species.basic_specific_gravity),
        flat * np.array([s.diffusion for s in settings]),
    )
    green = species.green_mc_pct / 100.0 * np.array([s.green_mc for s in settings])

    def air(weather: pd.DataFrame, board: Board) -> Drivers:
        at = list(Board).index(board)
        of = (stack_air(weather, lumber.site, lumber.setup, s.climate) for s in settings)
        return Drivers.beside([drivers.boards(slice(at, at + 1)) for drivers in of])

    def dried(afternoon: Afternoon, board: Board, month: int, days: int) -> Course:
        drivers = air(made_days(afternoon, month, days), board)
        return simulate(boards, drivers, State.green(green, drivers.air_temp_c[0]))

    wet, mild = (
        air(rainy(), lumber.outer),
        air(made_days(MILD, 5, LONGEST_DAYS), Board.TYPICAL),
    )
    soaked = simulate(boards, wet, State.green(np.full(count, RAIN_FROM_MC), wet.air_temp_c[0]))
    hot, hot_states = _by_hours(boards, air(made_days(HOT, 7, SPELL_DAYS), lumber.outer), green)
    return _Courses(
        boards,
        hot=hot,
        hot_states=hot_states,
        cold=dried(COLD, lumber.outer, 1, SPELL_DAYS),
        damp=dried(DAMP, Board.TYPICAL, 7, SPELL_DAYS),
        rain_pct=100.0 * (soaked.mc[-1] - soaked.mc[0]),
        days=_days_to_air_dry(boards, mild, green),
    )


def _judge(lumber: Lumber, courses: _Courses) -> list[Effect]:
    """Return what became of each setting's boards."""
    limit = limits.safe_loss_pct_per_day(lumber.species, lumber.thickness).value
    temp = made_days(DAMP, 7, SPELL_DAYS)["temp_c"].to_numpy(float)
    columns = (
        _severity(courses.hot, limit),
        _severity(courses.cold, limit),
        100.0 * courses.hot.shell_mc[: hazards.SHELL_HOURS + 1].min(0),
        _check(courses, lumber.species),
        stain.enzymatic_dose(temp[:, None], courses.damp.shell_mc[1:]).known[-1],
        courses.rain_pct,
        courses.days,
    )
    return [Effect(*map(float, row)) for row in zip(*columns, strict=True)]


def _severity(course: Course, limit: float) -> list[float]:
    """Judge the first window of each board as the daemon does."""
    loss = 100.0 * (course.mc[0] - course.mc[hazards.FIRST_WINDOW])
    daily = loss * hazards.DAY / hazards.FIRST_WINDOW
    driest = 100.0 * course.shell_mc[: hazards.SHELL_HOURS + 1].min(0)
    windows = (
        hazards.Window(Board.EDGE, 0, hazards.FIRST_WINDOW, a, limit, b)
        for a, b in zip(daily, driest, strict=True)
    )
    return [max(0.0, window.severity) for window in windows]


def _days_to_air_dry(boards: Boards, drivers: Drivers, green: Array) -> Array:
    """Return how long each board takes to 20 %; infinite where it is not there by the end."""
    days, state = np.full(len(green), np.inf), State.green(green, drivers.air_temp_c[0])
    for day in range(0, LONGEST_DAYS, FEW_DAYS):
        hours = slice(24 * day, 24 * (day + FEW_DAYS))
        course = simulate(boards, drivers.hours(hours), state)
        state, dry = course.end, course.mc <= AIR_DRY_MC
        just = dry.any(0) & np.isinf(days)
        days[just] = day + dry.argmax(0)[just] / 24.0
        if np.isfinite(days).all():
            break
    return days


def _by_hours(boards: Boards, drivers: Drivers, green: Array) -> tuple[Course, list[State]]:
    """Return the course of boards, and the boards at its start and after each hour."""
    states, hours = [State.green(green, drivers.air_temp_c[0])], list[Course]()
    for hour in range(len(drivers.air_temp_c)):
        hours.append(simulate(boards, drivers.hours(slice(hour, hour + 1)), states[-1]))
        states.append(hours[-1].end)
    mc, shell = (
        np.concatenate([getattr(hours[0], name)[:1], *(getattr(h, name)[1:] for h in hours)])
        for name in ("mc", "shell_mc")
    )
    return Course(mc, shell, np.concatenate([h.known for h in hours]), states[-1]), states


def _check(courses: _Courses, species: Species) -> Array:
    """Return the highest check ratio of each board in the hot spell."""
    boards = courses.boards
    tangential = np.full(len(boards.density_kgm3), species.shrinkage_pct["tangential"] / 100.0)
    layers = stress.Layers(boards.cells_m, boards.density_kgm3, tangential)
    profiles = np.array([s.mc for s in courses.hot_states])
    temps = np.array([s.temp_c for s in courses.hot_states])
    highest: Array = stress.course(layers, profiles, temps).check.max(0)
    return highest
