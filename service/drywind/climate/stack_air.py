"""From the weather of a site to the air, sun and sky that reach the boards of one stack.

Three boards stand for the stack: the *typical* one (the mean of a course, inside the pack), the
windward *edge* board, and, where no roof covers the stack, a board of the *top* course.
"""

from dataclasses import dataclass, fields
from enum import StrEnum

import numpy as np
import pandas as pd

from drywind.climate.assumptions import DEFAULT, Assumptions
from drywind.climate.transfer import (
    DRY_AIR_GAS_CONSTANT,
    STEFAN_BOLTZMANN,
    Array,
    along_gap,
    channel_coefficient,
    plate_coefficient,
    vapor_coefficient,
)
from drywind.units import INCH_M
from drywind.weather.air import saturation_pressure_pa
from drywind.weather.sun import clear_sky_ghi, sun_position
from drywind.yard import DIRECTIONS, Exposure, Measure, Setup, Site

ZERO_C = 273.15
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
    """

    air_temp_c: Array
    vapor_pressure_pa: Array
    heat_wm2k: Array
    vapor_ms: Array
    sun_wm2: Array
    sky_wm2: Array
    sky_view: Array

    def hours(self, span: slice) -> "Drivers":
        """Return the hours of a span."""
        return Drivers(**{f.name: getattr(self, f.name)[span] for f in fields(self)})

    def boards(self, keep: slice) -> "Drivers":
        """Return some of the boards."""
        return Drivers(**{f.name: getattr(self, f.name)[:, keep] for f in fields(self)})

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
    return np.pad(array, ((0, hours - len(array)), (0, 0)), constant_values=np.nan)


def has_roof(site: Site, setup: Setup) -> bool:
    """Return whether sun and rain are kept off the top course."""
    return site.roof or Measure.PILE_ROOF in setup.measures


def boards_of(site: Site, setup: Setup) -> tuple[Board, ...]:
    """Return which boards stand for a stack set up so."""
    return (Board.TYPICAL, Board.EDGE) if has_roof(site, setup) else tuple(Board)


def stack_air(
    table: pd.DataFrame, site: Site, setup: Setup, assumed: Assumptions = DEFAULT
) -> Drivers:
    """Return the drivers of the three boards of a stack over the hours of a weather table.

    Parameters
    ----------
    table
        The canonical hourly table; NaN stays NaN and ends as an unknown hour. Where sun and
        cloud are both unknown the sky is taken as clear, which errs on the side of a warning.

    Returns
    -------
    Drivers
        Columns in the order of `Board`. Under a roof the top board is one of the inside.
    """
    wind = _wind_at_stack(table, site, assumed)
    through, width_m, side_sun = _covers(setup, site, assumed)
    gap_wind = np.maximum(
        assumed.still_air_ms,
        wind
        * through
        * assumed.gap_penetration
        * (setup.sticker_m / INCH_M) ** assumed.gap_exponent,
    )
    sun = _sun(table, site)
    temp = table["temp_c"].to_numpy(float)
    vapor = table["rh"].to_numpy(float) * saturation_pressure_pa(temp)
    warm = temp + sun / 1000.0 * (assumed.yard_warming if site.exposure is Exposure.OPEN else 0.0)
    pressure = STANDARD_PRESSURE_PA * np.exp(-site.altitude_m / SCALE_HEIGHT_M)
    density = pressure / (DRY_AIR_GAS_CONSTANT * (warm + ZERO_C))

    columns = {}
    for board, length_m in ((Board.TYPICAL, width_m), (Board.EDGE, assumed.edge_depth_m)):
        heat = channel_coefficient(gap_wind, setup.sticker_m, length_m)
        beta = vapor_coefficient(heat, density)
        left = along_gap(beta, gap_wind, setup.sticker_m, length_m)
        absorbed = sun * side_sun if board is Board.EDGE else np.zeros_like(sun)
        columns[board] = (heat * left, beta * left, absorbed, np.zeros_like(sun), 0.0)
    columns[Board.TOP] = columns[Board.TYPICAL]
    if not has_roof(site, setup):
        speed = np.maximum(assumed.still_air_ms, wind)
        heat = np.maximum(assumed.calm_wm2k, plate_coefficient(speed, setup.pack_width_m))
        # One of the two faces looks up; the board is warm through, so each carries half.
        columns[Board.TOP] = (
            heat,
            vapor_coefficient(heat, density),
            0.5 * assumed.absorptance * sun,
            0.5 * assumed.emissivity * _sky_wm2(table, vapor),
            0.5 * assumed.emissivity,
        )
    return _drivers(warm, vapor, [columns[board] for board in Board])


def _drivers(
    temp: Array, vapor: Array, columns: list[tuple[Array, Array, Array, Array, float]]
) -> Drivers:
    def stacked(index: int) -> Array:
        return np.stack([np.broadcast_to(c[index], temp.shape) for c in columns], axis=1)

    shape = (1, len(columns))
    return Drivers(
        air_temp_c=np.tile(temp[:, None], shape),
        vapor_pressure_pa=np.tile(vapor[:, None], shape),
        heat_wm2k=stacked(0),
        vapor_ms=stacked(1),
        sun_wm2=stacked(2),
        sky_wm2=stacked(3),
        sky_view=stacked(4),
    )


def _wind_at_stack(table: pd.DataFrame, site: Site, assumed: Assumptions) -> Array:
    """Bring the wind from 10 m in the open field down to the stack (logarithmic profile)."""
    profile = np.log(assumed.stack_height_m / assumed.roughness_m) / np.log(
        10.0 / assumed.roughness_m
    )
    exposure = {
        Exposure.OPEN: assumed.wind_open,
        Exposure.SHED: assumed.wind_shed,
        Exposure.BARN: assumed.wind_barn,
    }[site.exposure]
    by_sector = np.array([site.shelter.get(name, 1.0) for name in DIRECTIONS])
    direction = table["wind_dir_deg"].to_numpy(float)
    sector = np.nan_to_num(np.round(direction / 45.0)).astype(int) % 8
    # Where the direction is unknown no shelter is counted on.
    shelter = np.where(np.isnan(direction), by_sector.max(), by_sector[sector])
    wind: Array = table["wind_ms"].to_numpy(float) * profile * exposure * shelter
    return wind


def _covers(setup: Setup, site: Site, assumed: Assumptions) -> tuple[float, float, float]:
    """Return (wind let through, width the air crosses [m], side sun absorbed of level sun)."""
    through, width_m = 1.0, setup.pack_width_m
    side = {
        Exposure.OPEN: assumed.side_sun_open,
        Exposure.SHED: assumed.side_sun_shed,
        Exposure.BARN: 0.0,
    }[site.exposure]
    if Measure.SHADE_CLOTH in setup.measures:
        through, side = through * assumed.cloth_wind, side * assumed.cloth_sun
    if Measure.BURLAP in setup.measures:
        through, side = through * assumed.burlap_wind, side * assumed.burlap_sun
    if Measure.PACKS_CLOSED in setup.measures:
        through, width_m = through * assumed.closed_wind, width_m * assumed.closed_width
    return through, width_m, side


def _sun(table: pd.DataFrame, site: Site) -> Array:
    """Return the sun on level ground; a clear sky's where it is unknown."""
    ghi = table["ghi_wm2"].to_numpy(float)
    middle = table.index.tz_convert(None).to_numpy() + np.timedelta64(30, "m")  # type: ignore[attr-defined]
    elevation, _ = sun_position(middle, site.lat, site.lon)
    sun: Array = np.where(np.isnan(ghi), clear_sky_ghi(elevation), ghi)
    return sun


def _sky_wm2(table: pd.DataFrame, vapor_pa: Array) -> Array:
    """Return the long-wave radiation of the sky on level ground [W/m2].

    References
    ----------
    Clear sky: Brutsaert 1975, Water Resources Research 11:742, 1.24 (e/T)^(1/7) with e in hPa.
    Cloud: Crawford & Duchon 1999, J. Appl. Meteorology 38:474. Both from memory.
    """
    kelvin = table["temp_c"].to_numpy(float) + ZERO_C
    clear = 1.24 * (vapor_pa / 100.0 / kelvin) ** (1.0 / 7.0)
    cloud = np.nan_to_num(table["cloud"].to_numpy(float))
    sky: Array = (cloud + (1.0 - cloud) * clear) * STEFAN_BOLTZMANN * kelvin**4
    return sky
