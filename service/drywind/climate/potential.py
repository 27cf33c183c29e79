"""How much the air of a site could dry: what a wet board at the edge of a stack would give off."""

import numpy as np
import pandas as pd

from drywind.climate.stack_air import Board, Drivers, stack_air
from drywind.climate.surroundings import ZERO_C
from drywind.climate.transfer import Array
from drywind.weather.air import saturation_pressure_and_slope, saturation_pressure_pa
from drywind.yard import Setup, Site

LATENT_HEAT = 2.45e6
"""Of vaporization at 20 °C [J/kg]."""
VAPOR_GAS_CONSTANT = 461.5
"""[J/(kg K)]"""
HOUR_S = 3600.0

ROUNDS, LEAST_K = 3, 0.01
"""After so many rounds the surface's temperature stands to a tenth of a kelvin."""


def drying_potential_mm(table: pd.DataFrame, site: Site) -> Array:
    """Return the water a wet face at the windward edge would give off, hour by hour.

    Of a stack of usual stickers and pack width without covers of its own; shape (hours,), in mm of
    water (kg/m²) an hour. It compares hours and sites; a board loses far less, because water comes
    to its face slowly. NaN stays NaN.
    """
    return evaporation_mm(stack_air(table, site, Setup(site.name)))[
        :, list(Board).index(Board.EDGE)
    ]


def evaporation_mm(air: Drivers) -> Array:
    """Return what a wet surface gives off in the air and sun of boards, mm of water an hour.

    The heat it takes is that of the air and the sun together: the combination equation (Penman
    1948, "Natural evaporation from open water, bare soil and grass", Proc. R. Soc. A 193, 120-145;
    from memory), whose slope of the saturation curve is taken between the air and the surface.
    Dew counts as none.
    """
    saturated, slope = saturation_pressure_and_slope(air.air_temp_c)
    deficit = saturated - air.vapor_pressure_pa
    carried = air.vapor_ms / (VAPOR_GAS_CONSTANT * (air.air_temp_c + ZERO_C))
    psychrometric = air.heat_wm2k / (LATENT_HEAT * carried)
    heat = np.zeros_like(deficit)
    for _ in range(ROUNDS):
        heat = (slope * air.sun_wm2 + air.heat_wm2k * deficit) / (slope + psychrometric)
        cooler = np.maximum((heat - air.sun_wm2) / air.heat_wm2k, LEAST_K)
        slope = (saturated - saturation_pressure_pa(air.air_temp_c - cooler)) / cooler
    return np.maximum(HOUR_S * heat / LATENT_HEAT, 0.0)
