"""How much the air could dry, against wet-bulb temperatures of a general-purpose library.

A wet surface without sun comes to the wet-bulb temperature, and what it gives off is what the air's
heat at that temperature evaporates.
"""

import numpy as np
import psychrolib
import pytest

from drywind.climate.potential import LATENT_HEAT, evaporation_mm
from drywind.climate.stack_air import Drivers
from drywind.climate.transfer import vapor_coefficient
from drywind.weather.air import saturation_pressure_pa

HEAT_WM2K = 12.0
DENSITY_KGM3 = 1.18
PRESSURE_PA = 101_325.0


def air(temp_c: float, rh: float, sun_wm2: float = 0.0) -> Drivers:
    """Return one hour at one board."""
    heat = np.array([[HEAT_WM2K]])
    none = np.zeros((1, 1))
    vapor = vapor_coefficient(heat, np.array([[DENSITY_KGM3]]))
    pressure = rh * saturation_pressure_pa(np.array([[temp_c]]))
    temp, sun = np.array([[temp_c]]), np.array([[sun_wm2]])
    return Drivers(temp, pressure, heat, vapor, sun, none, none, none)


@pytest.mark.parametrize("rh", [0.3, 0.5, 0.7, 0.9])
@pytest.mark.parametrize("temp_c", [10.0, 20.0, 30.0])
def test_without_sun_it_is_what_the_wet_bulb_depression_evaporates(
    temp_c: float, rh: float
) -> None:
    """Oracle: the wet-bulb temperature of psychrolib (ASHRAE Handbook of Fundamentals).

    What is left is the heat of vaporization, which is taken as that at 20 °C, and the psychrometric
    constant of a small board, which is not quite that of a ventilated thermometer.
    """
    psychrolib.SetUnitSystem(psychrolib.SI)
    wet_bulb_c = psychrolib.GetTWetBulbFromRelHum(temp_c, rh, PRESSURE_PA)
    expected = 3600.0 * HEAT_WM2K * (temp_c - wet_bulb_c) / LATENT_HEAT

    assert evaporation_mm(air(temp_c, rh)).item() == pytest.approx(expected, rel=0.07)


def test_damp_air_dries_nothing_and_sun_helps() -> None:
    assert evaporation_mm(air(20.0, 1.0)).item() == pytest.approx(0.0, abs=1e-9)
    assert evaporation_mm(air(20.0, 0.5, 200.0)) > evaporation_mm(air(20.0, 0.5))
    assert np.isnan(evaporation_mm(air(np.nan, 0.5)).item())
