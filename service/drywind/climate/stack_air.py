"""From the weather of a site to the air, sun and sky that reach the boards of one stack.

Three boards stand for the stack: the *typical* one (the mean of a course, inside the pack), the
windward *edge* board, and, where no roof covers the stack, a board of the *top* course.
"""

from dataclasses import dataclass, fields, replace
from enum import StrEnum

import numpy as np
import pandas as pd

from drywind.climate.assumptions import DEFAULT, Assumptions
from drywind.climate.surroundings import (
    ZERO_C,
    driven_rain_mm,
    rain_mm,
    sky_wm2,
    sun_on_ground,
    wind_at_stack,
    yard_air,
)
from drywind.climate.transfer import (
    DRY_AIR_GAS_CONSTANT,
    Array,
    along_gap,
    channel_coefficient,
    plate_coefficient,
    vapor_coefficient,
)
from drywind.units import INCH_M
from drywind.yard import Exposure, Measure, Setup, Site

STANDARD_PRESSURE_PA = 101_325.0
SCALE_HEIGHT_M = 8434.0
"""Of an isothermal atmosphere at 15 °C: good to 1 % of pressure below 3,000 m."""


class Board(StrEnum):
    """Which board of a stack."""

    TYPICAL = "typical"
    EDGE = "edge"
    TOP = "top"


@dataclass(frozen=True)
class Drivers:
    """What acts on boards, hour by hour; every array has shape (hours, boards).

    Attributes
    ----------
    air_temp_c, vapor_pressure_pa
        The air at the board.
    heat_wm2k, vapor_ms
        Transfer coefficients of heat and of vapor.
    sun_wm2
        Absorbed sun per square meter of one face.
    sky_wm2
        Long-wave radiation absorbed from the sky per square meter of one face.
    sky_view
        Emissivity times the share of a face that looks at the sky (0 under a roof).
    rain_mm
        Rain that reaches a face in the hour.
    """

    air_temp_c: Array
    vapor_pressure_pa: Array
    heat_wm2k: Array
    vapor_ms: Array
    sun_wm2: Array
    sky_wm2: Array
    sky_view: Array
    rain_mm: Array

    def hours(self, span: slice) -> "Drivers":
        """Return the hours of a span."""
        return Drivers(**{f.name: getattr(self, f.name)[span] for f in fields(self)})

    def boards(self, keep: slice) -> "Drivers":
        """Return some of the boards."""
        return Drivers(**{f.name: getattr(self, f.name)[:, keep] for f in fields(self)})

    def eased(self, ease: Array) -> "Drivers":
        """Return air that takes heat and vapor so many times as readily, by board."""
        if (ease == 1.0).all():
            return self
        return replace(self, heat_wm2k=self.heat_wm2k * ease, vapor_ms=self.vapor_ms * ease)

    def coarse(self, hours: int) -> "Drivers":
        """Return the means of every so many hours; what is left over at the end is dropped."""
        rows = len(self.air_temp_c) // hours

        def mean(array: Array) -> Array:
            found: Array = array[: rows * hours].reshape(rows, hours, -1).mean(axis=1)
            return found

        return Drivers(**{f.name: mean(getattr(self, f.name)) for f in fields(self)})

    @classmethod
    def beside(cls, parts: "list[Drivers]") -> "Drivers":
        """Put boards beside each other; shorter ones end in unknown hours (NaN)."""
        hours = max(len(p.air_temp_c) for p in parts)

        def column(name: str) -> Array:
            return np.concatenate(
                [_lengthen(getattr(p, name), hours) for p in parts], axis=1, dtype=np.float64
            )

        return cls(**{f.name: column(f.name) for f in fields(cls)})

    @classmethod
    def after(cls, parts: "list[Drivers]") -> "Drivers":
        """Put spans of time after each other for the same boards."""
        return cls(
            **{f.name: np.concatenate([getattr(p, f.name) for p in parts]) for f in fields(cls)}
        )


def _lengthen(array: Array, hours: int) -> Array:
    if len(array) == hours:
        return array
    return np.pad(array, ((0, hours - len(array)), (0, 0)), constant_values=np.nan)


def has_roof(site: Site, setup: Setup) -> bool:
    """Return whether sun and rain are kept off the top course."""
    return site.roof or not setup.measures.isdisjoint({Measure.PILE_ROOF, Measure.TARP})


def boards_of(site: Site, setup: Setup) -> tuple[Board, ...]:
    """Return which boards stand for a stack set up so."""
    return (Board.TYPICAL, Board.EDGE) if has_roof(site, setup) else tuple(Board)


@dataclass(frozen=True)
class _Covers:
    """What the covers of a stack do: shares let through, and the width the air crosses [m]."""

    wind: float
    side_sun: float
    side_rain: float
    width_m: float


def stack_air(
    table: pd.DataFrame, site: Site, setup: Setup, assumed: Assumptions = DEFAULT
) -> Drivers:
    """Return the drivers of the three boards of a stack over the hours of a weather table.

    Parameters
    ----------
    table
        The canonical hourly table; NaN stays NaN and ends as an unknown hour. Where sun and
        cloud are both unknown the sky is taken as clear, and unknown rain as none: both err on
        the side of a warning of drying too fast.

    Returns
    -------
    Drivers
        Columns in the order of `Board`. Under a roof the top board is one of the inside.
    """
    wind, sun, rain = (
        wind_at_stack(table, site, assumed),
        sun_on_ground(table, site),
        rain_mm(table),
    )
    covers = _covers(setup, site, assumed)
    narrow = (setup.sticker_m / INCH_M) ** assumed.gap_exponent
    gap_wind = np.maximum(
        assumed.still_air_ms, wind * covers.wind * assumed.gap_penetration * narrow
    )
    temp, vapor = yard_air(table, site, sun, assumed)
    pressure = STANDARD_PRESSURE_PA * np.exp(-site.altitude_m / SCALE_HEIGHT_M)
    density = pressure / (DRY_AIR_GAS_CONSTANT * (temp + ZERO_C))
    none = np.zeros_like(sun)

    def inside(length_m: float, side_sun: Array, side_rain: Array) -> Drivers:
        heat = channel_coefficient(gap_wind, setup.sticker_m, length_m)
        beta = vapor_coefficient(heat, density)
        left = along_gap(beta, gap_wind, setup.sticker_m, length_m)
        return _one(temp, vapor, heat * left, beta * left, side_sun, none, none, side_rain)

    # What strikes the mouth of a gap spreads over the edge board behind it.
    into_gap = setup.sticker_m / assumed.edge_depth_m
    driven = driven_rain_mm(rain, wind) * covers.side_rain * into_gap
    typical = inside(covers.width_m, none, none)
    edge = inside(assumed.edge_depth_m, sun * covers.side_sun, driven)
    top = typical
    if not has_roof(site, setup):
        speed = np.maximum(assumed.still_air_ms, wind)
        heat = np.maximum(assumed.calm_wm2k, plate_coefficient(speed, setup.pack_width_m))
        # One of the two faces looks up; the board is warm through, so each carries half. Rain
        # runs round to the other.
        up = 0.5 * assumed.emissivity
        top = _one(
            *(temp, vapor, heat, vapor_coefficient(heat, density)),
            *(0.5 * assumed.absorptance * sun, up * sky_wm2(table), up + none, rain),
        )
    return Drivers.beside([typical, edge, top])


def _one(*columns: Array) -> Drivers:
    return Drivers(*(column[:, None] for column in columns))


def _covers(setup: Setup, site: Site, assumed: Assumptions) -> _Covers:
    wind, width_m = 1.0, setup.pack_width_m
    sun = {
        Exposure.OPEN: assumed.side_sun_open,
        Exposure.SHED: assumed.side_sun_shed,
        Exposure.BARN: 0.0,
    }[site.exposure]
    rain = assumed.rain_under_eaves if has_roof(site, setup) else 1.0
    if Measure.SHADE_CLOTH in setup.measures:
        wind, sun = wind * assumed.cloth_wind, sun * assumed.cloth_sun
        rain *= assumed.cover_rain
    if Measure.BURLAP in setup.measures:
        wind, sun = wind * assumed.burlap_wind, sun * assumed.burlap_sun
        rain *= assumed.cover_rain
    if Measure.TARP in setup.measures:
        wind, sun, rain = wind * assumed.tarp_wind, 0.0, 0.0
    if Measure.PACKS_CLOSED in setup.measures:
        wind, width_m = wind * assumed.closed_wind, width_m * assumed.closed_width
    return _Covers(wind, sun, rain, width_m)
