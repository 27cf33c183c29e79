"""Humidity of the outdoor air: the one place where MetPy is called.

MetPy costs over a second to import, so it is imported only when it is called. Arrays come in as
°C, fractions and Pa, are given units once, and leave as plain float arrays. Humidity is over
liquid water at every temperature, as weather services report it, also below freezing.
"""

import math
from importlib import import_module
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

# Constants of MetPy 1.7 (metpy.constants), from which its saturation pressure is made.
_R_VAPOR = 8.314462618 / 18.015268e-3  # J/(kg K), gas constant of water vapor
_CP_VAPOR = 1.330 * _R_VAPOR / 0.330  # J/(kg K), heat capacity of water vapor
_CP_LIQUID = 4219.4  # J/(kg K), heat capacity of liquid water
_T0 = 273.16  # K, triple point
_E0 = 611.2  # Pa, saturation pressure there
_L0 = 2.50084e6  # J/kg, heat of vaporization there
_ZERO_C = 273.15  # K

# ln e = _LOG_E - _HEAT / T - _POWER ln T, T in K: the equation with its constants gathered.
_POWER = (_CP_LIQUID - _CP_VAPOR) / _R_VAPOR
_HEAT = _L0 / _R_VAPOR + _POWER * _T0
_LOG_E = math.log(_E0) + _POWER * math.log(_T0) + _HEAT / _T0

DEWPOINT_EXCESS_C = 0.5
"""How far rounding may lift a reported dew point over the temperature (assumption)."""


def saturation_pressure_pa(temp_c: ArrayLike) -> Floats:
    """Return the saturation vapor pressure over liquid water, Pa, as MetPy does but fast.

    Source: M. H. P. Ambaum, "Accurate, simple equation for saturated vapour pressure over water
    and ice", Q. J. R. Meteorol. Soc. 146 (2020) 4252-4258, eq. 13, with MetPy's constants.
    """
    return saturation_pressure_and_slope(temp_c)[0]


def saturation_pressure_and_slope(temp_c: ArrayLike) -> tuple[Floats, Floats]:
    """Return `saturation_pressure_pa` and its derivative by temperature, in Pa and Pa/K."""
    kelvin = np.asarray(temp_c, dtype=np.float64) + _ZERO_C
    fall = _HEAT / kelvin
    pressure = np.exp(_LOG_E - fall - _POWER * np.log(kelvin))
    return pressure, pressure * (fall - _POWER) / kelvin


def rh_from_dewpoint(temp_c: ArrayLike, dewpoint_c: ArrayLike) -> Floats:
    """Return the relative humidity, 0-1, of air with this dew point; NaN stays NaN.

    Raises
    ------
    ValueError
        If a dew point lies more than 0.5 K above the temperature; within that it is taken down.
    """
    temp, dewpoint = np.asarray(temp_c, np.float64), np.asarray(dewpoint_c, np.float64)
    if np.any(dewpoint > temp + DEWPOINT_EXCESS_C):
        raise ValueError("a dew point lies above its temperature")
    dewpoint = np.minimum(dewpoint, temp)
    return _plain(
        _calc().relative_humidity_from_dewpoint(
            _quantity(temp, "degC"), _quantity(dewpoint, "degC")
        ),
        "",
    )


def _calc() -> Any:
    return import_module("metpy.calc")


def _quantity(values: ArrayLike, unit: str) -> Any:
    units = import_module("metpy.units").units
    return units.Quantity(np.asarray(values, np.float64), unit)


def _plain(quantity: Any, unit: str) -> Floats:
    return np.asarray(quantity.m_as(unit), np.float64)
