"""The drying model where the answer is known exactly: series, a steady stream, the wet bulb.

They check that its equations are solved right; only published times (`test_drying_times`) say
anything about wood.
"""

import numpy as np
import psychrolib
import pytest
from tests.published.conftest import Against
from tests.published.lumber import Array, steady_air
from tests.published.pde_library import Slab, slab_by_fipy

from drywind.climate.transfer import vapor_coefficient
from drywind.weather.air import saturation_pressure_pa
from drywind.wood import diffusion, emc, solver
from drywind.wood.diffusion import FIBER_SATURATION
from drywind.wood.drying import Boards, State, simulate

ISOTHERMAL = np.array([1e6])
"""A heat-transfer coefficient that holds a board at the temperature of the air."""


def vapor_ms_of(kg_per_s_pa: float, temp_c: float) -> Array:
    return np.array([kg_per_s_pa * solver.VAPOR_GAS_CONSTANT * (temp_c + 273.15)])


# --- exact series ---------------------------------------------------------------------------


def crank_mean(biot: float, fourier: Array) -> Array:
    """Return the mean change left in a slab with a surface resistance, 1 at first.

    Crank 1975, The Mathematics of Diffusion, eq. 4.53 (from memory).
    """
    roots = np.arange(200) * np.pi + 1.0
    for _ in range(200):
        roots = np.arange(200) * np.pi + np.arctan2(biot, roots)
    terms = 2.0 * biot**2 / (roots**2 * (roots**2 + biot**2 + biot))
    return np.exp(-np.outer(fourier, roots**2)) @ terms


def test_with_constant_diffusion_a_board_dries_by_cranks_series(
    monkeypatch: pytest.MonkeyPatch, against: Against
) -> None:
    """The linear case: D 5e-10 m2/s, surface coefficient 1e-6 m/s, 25.4 mm, from 80 to 12 %.

    The model is made linear where its two material relations enter; all the rest is as ever.
    FiPy's steps of an hour are of first order: they stray by 0.26 point on the first day.
    """
    monkeypatch.setattr(diffusion, "FIBER_SATURATION", 0.0)
    monkeypatch.setattr(emc, "isotherm", lambda _at, h: (h, np.ones_like(h)))
    density, saturation = 500.0, float(saturation_pressure_pa(20.0))
    slab = Slab(half_m=0.0127, diffusivity_m2s=5e-10, surface_ms=1e-6)
    boards = Boards(*(np.array([a]) for a in (slab.half_m, density, slab.diffusivity_m2s)))
    vapor_ms = vapor_ms_of(density * slab.surface_ms / saturation, 20.0)
    air = steady_air(480, 20.0, 0.12, ISOTHERMAL, vapor_ms)

    ours = 100.0 * simulate(boards, air, State.green(np.array([0.80]), np.array([20.0]))).mc[:, 0]
    fipys = 12.0 + 68.0 * slab_by_fipy(slab, hours=120)

    days = np.array([1, 5, 10, 20])
    fourier = slab.diffusivity_m2s * 86400.0 * days / slab.half_m**2
    biot = slab.surface_ms * slab.half_m / slab.diffusivity_m2s
    series = 12.0 + 68.0 * crank_mean(biot, fourier)
    apart = "the series worked apart from this program, to the digits kept"
    against.value("Crank's series, MC %", apart, series, [42.988, 14.679, 12.126, 12.000], 5e-4)
    crank = "Crank 1975, The Mathematics of Diffusion, eq. 4.53 (from memory)"
    against.value("MC %, constant diffusion, 1 to 20 d", crank, ours[24 * days], series, 0.1)
    against.value("FiPy's MC %, steps of 1 h, 1 and 5 d", crank, fipys[[24, 120]], series[:2], 0.27)
    assert np.abs(ours[[24, 120]] - series[:2]).max() < np.abs(fipys[[24, 120]] - series[:2]).min()


def test_very_wet_wood_loses_a_steady_stream_with_the_profile_of_carslaw_and_jaeger(
    against: Against,
) -> None:
    """Above fiber saturation diffusion is constant and the face wet: the stream is prescribed.

    Carslaw and Jaeger 1959, Conduction of Heat in Solids, section 3.8 (from memory).
    """
    half, density, diffusivity, stream = 0.0143, 560.0, 8e-10, 2e-5  # stream in kg/(m2 s)
    boards = Boards(np.array([half]), np.array([density]), np.array([diffusivity]))
    pull = 0.5 * float(saturation_pressure_pa(20.0))
    air = steady_air(48, 20.0, 0.5, ISOTHERMAL, vapor_ms_of(stream / pull, 20.0))

    course = simulate(boards, air, State.green(np.array([1.50]), np.array([20.0])))

    cells = boards.cells_m[:, 0]
    edges = np.concatenate([[0.0], np.cumsum(cells)])
    middle = half - 0.5 * (edges[1:] + edges[:-1])  # from the middle of the board
    fourier, n = diffusivity * 48 * 3600.0 / half**2, np.arange(1, 200)[:, None]
    waves = (-1.0) ** n / n**2 * np.exp(-fourier * n**2 * np.pi**2)
    waves = waves * np.cos(n * np.pi * middle / half)
    shape = (3 * middle**2 - half**2) / (6 * half**2) - 2 / np.pi**2 * waves.sum(0)
    lost = stream * half / (density * diffusivity)
    assert course.end.mc.min() > FIBER_SATURATION
    carslaw = "Carslaw and Jaeger 1959, section 3.8 (from memory)"
    ours, profile = course.mc[-1, 0], course.end.mc[:, 0]
    against.value("MC, steady stream, 2 d", carslaw, ours, 1.50 - lost * fourier, 1e-4)
    against.value(
        "MC, steady stream, 2 d, profile", carslaw, profile, 1.50 - lost * (fourier + shape), 1e-3
    )


@pytest.mark.parametrize(("temp_c", "rh"), [(35.0, 0.25), (20.0, 0.65), (5.0, 0.40)])
def test_a_wet_board_in_the_shade_settles_at_the_wet_bulb(
    temp_c: float, rh: float, against: Against
) -> None:
    """PsychroLib's wet bulb (ASHRAE Handbook of Fundamentals 2017) is the oracle.

    Within 0.5 K: the handbook's wet bulb is of adiabatic saturation, from which a wet body in
    moving air strays a little, and the model holds the latent heat at its 20 °C value.
    """
    psychrolib.SetUnitSystem(psychrolib.SI)
    heat = np.array([15.0])
    pressure = 101325.0
    vapor = vapor_coefficient(heat, np.array([pressure / (287.05 * (temp_c + 273.15))]))
    boards = Boards(np.array([0.0143]), np.array([560.0]), np.array([1e-8]))

    course = simulate(
        boards,
        steady_air(12, temp_c, rh, heat, vapor),
        State.green(np.array([2.0]), np.array([temp_c])),
    )

    wet_bulb = psychrolib.GetTWetBulbFromRelHum(temp_c, rh, pressure)
    what = f"wet board at {temp_c:g} C, {100 * rh:.0f} %, C"
    source = "PsychroLib's wet bulb (ASHRAE Handbook of Fundamentals 2017), live"
    against.value(what, source, course.end.temp_c[0], wet_bulb, 0.5)
