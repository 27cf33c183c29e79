"""Pictures of what goes on inside a board: diffusion, exact series, other solvers, a kiln."""

from unittest.mock import patch

import numpy as np
from tests.published import test_drying as series
from tests.published import test_rates as rates
from tests.published import test_solver as solvers
from tests.published.cases import made_cases
from tests.published.fine_reference import EVERY_H, all_cases, frozen
from tests.published.lumber import Array, boards_of, steady_air
from tests.published.method_of_lines import method_of_lines
from tests.published.pde_library import Grid, Slab, by_fipy, slab_by_fipy
from tests.published.plots.look import (
    OURS,
    PALE,
    RANGE,
    SECOND,
    THEIRS,
    THIRD,
    UNCHECKED,
    Drawn,
    Row,
    at_most,
    judged,
    key,
    label,
    sheet,
)

from drywind.climate.transfer import vapor_coefficient
from drywind.report.look import COLORS
from drywind.units import INCH_M, fahrenheit_to_c
from drywind.weather.air import saturation_pressure_pa
from drywind.wood import diffusion
from drywind.wood import emc as isotherms
from drywind.wood.drying import Boards, State, simulate
from drywind.wood.solver import VAPOR_GAS_CONSTANT

AIR_DENSITY = np.array([1.15])
CLIMATES = ((43.3, 0.875), (27.0, 0.65))
"""Of a mild kiln, and one in which the formula may no longer hold."""


KILN_C = np.array([fahrenheit_to_c(110), fahrenheit_to_c(150)])


def kiln() -> Drawn:
    """Red oak in steady air against the kiln formula, where it was fitted and where not."""
    figure, panels = sheet(2, 3.2, sharey=True)
    days, thick_in, rows = np.arange(0, 28.1, 0.25), 1.125, []
    for axes, (temp_c, rh) in zip(panels, CLIMATES, strict=True):
        mild = (temp_c, rh) == CLIMATES[0]
        least = float(isotherms.emc_pct(temp_c, rh))
        theirs = least + (80.0 - least) * np.exp(-days / rates.kiln_days(temp_c, thick_in))
        axes.plot(days, theirs, color=THEIRS, label="kiln formula")
        off = []
        for heat, color, dash in ((8.0, OURS, "--"), (15.0, SECOND, "-.")):
            ours = _red_oak_in_steady_air(temp_c, rh, thick_in, heat)[::6]
            name = f"drywind, {heat:.0f} W/(m²K) at the face"
            axes.plot(days, ours, dash, color=color, label=name)
            off.append(np.abs(ours - theirs)[4:].max())
        label(axes, f"{temp_c:g} °C, {100 * rh:g} % humidity", "days", "")
        rows.append(
            Row(
                f"MC of red oak, 1 1/8 in, at {temp_c:g} °C and {100 * rh:g} %, days 1 to 28",
                "a formula" if mild else "the formula, perhaps out of its range",
                f"off by up to {at_most(max(off), 1)} points",
                judged(max(off) <= 6.0) if mild else UNCHECKED,
                rates.KILN,
            )
        )
    panels[0].set_ylabel("mean MC, %")
    key(panels[0])
    return Drawn(figure, rows)


def _red_oak_in_steady_air(temp_c: float, rh: float, thick_in: float, heat: float) -> Array:
    """Return its mean moisture content in percent, by the hour for 28 days."""
    (thick, green), coefficient = boards_of([("red_oak", "4/4")]), np.array([heat])
    boards = Boards(np.array([thick_in * INCH_M / 2]), thick.density_kgm3, thick.diffusivity_m2s)
    vapor = vapor_coefficient(coefficient, AIR_DENSITY)
    air = steady_air(28 * 24, temp_c, rh, coefficient, vapor)
    start = State.green(np.full_like(green, 0.80), np.array([temp_c]))
    return 100.0 * simulate(boards, air, start).mc[:, 0]


def diffusion_across_the_grain() -> Drawn:
    """How diffusion rises with moisture and with warmth: ours, Siau's, and measured ones."""
    figure, (moist, warm) = sheet(2, 3.3)
    mc = np.linspace(0.02, 0.40, 77)
    moist.semilogy(100 * mc, rates.relative_diffusivity(mc), color=OURS, label="drywind, all woods")
    for gravity, color, dash in ((0.40, SECOND, "--"), (0.56, THIRD, "-.")):
        bound = mc[mc <= diffusion.FIBER_SATURATION + 1e-9]
        siau = rates.siau(gravity, bound, 43.3)[1]
        name = f"Siau's model, gravity {gravity:.2f}"
        moist.semilogy(100 * bound, siau / siau[-1], dash, color=color, label=name)
    ends = np.array([0.025, 0.18])
    rise = rates.relative_diffusivity(ends)
    aspen = rise[1] / np.array([8.0, 1.0])
    moist.semilogy(100 * ends, aspen, "o:", color=THEIRS, label="aspen, eightfold (measured)")
    label(moist, "with moisture content", "MC, %", "D over D at 30 % MC")
    key(moist, loc="lower right")

    temp_c = np.linspace(0.0, 66.0, 67)
    believed = [np.exp(-e * (1.0 / (temp_c + 273.15) - 1.0 / 316.45)) for e in (3600.0, 5300.0)]
    warm.fill_between(temp_c, believed[0], believed[1], color=RANGE, linewidth=0, label="believed")
    ours = diffusion.temperature_factor(temp_c) / diffusion.temperature_factor(KILN_C[0])
    warm.semilogy(temp_c, ours, color=OURS, label="drywind")
    kiln_c = np.linspace(KILN_C[0], KILN_C[1], 20)
    formula = rates.kiln_days(KILN_C[0], 1.0) / np.array([rates.kiln_days(t, 1) for t in kiln_c])
    warm.semilogy(kiln_c, formula, "--", color=THEIRS, label="kiln formula, red oak")
    warm.set_yticks([0.1, 0.2, 0.5, 1, 2, 3], ["0.1", "0.2", "0.5", "1", "2", "3"])
    moist.set_yticks([0.05, 0.1, 0.2, 0.5, 1], ["0.05", "0.1", "0.2", "0.5", "1"])
    for axes in (moist, warm):
        axes.minorticks_off()
    label(warm, "with temperature", "°C", "rate over that at 43 °C (110 °F)")
    key(warm, loc="upper left")

    dry, wet = rates.siau(0.56, np.array([0.06, 0.30]), 43.3)[1]
    of_dry, of_wet = rates.relative_diffusivity(np.array([0.06, 0.30]))
    cool, hot = diffusion.temperature_factor(KILN_C)
    theirs = formula[-1]
    times = "{:.1f} times".format
    rows = []
    for what, published, found, within, source in (
        ("rise of D from 6 to 30 % MC", wet / dry, of_wet / of_dry, 0.05 * wet / dry, rates.SIAU),
        ("rise of D from 2.5 to 18 % MC", 8.0, rise[1] / rise[0], 0.5, rates.ASPEN),
        ("rise of the rate from 110 to 150 °F", theirs, hot / cool, 0.2 * theirs, rates.KILN),
    ):
        verdict = judged(abs(found - published) <= within)
        rows.append(Row(what, times(published), times(found), verdict, source))
    return Drawn(figure, rows)


def exact_series() -> Drawn:
    """With constant diffusion: the model and FiPy against Crank's series."""
    figure, (curve, off) = sheet(2, 3.0)
    hours = np.arange(1, 121)
    slab = Slab(half_m=0.0127, diffusivity_m2s=5e-10, surface_ms=1e-6)
    fourier = np.asarray(slab.diffusivity_m2s * 3600.0 * hours / slab.half_m**2, dtype=float)
    biot = slab.surface_ms * slab.half_m / slab.diffusivity_m2s
    exact = 12.0 + 68.0 * series.crank_mean(biot, fourier)
    ours = _linear_board(slab, len(hours))
    fipys = 12.0 + 68.0 * slab_by_fipy(slab, len(hours))[1:]
    curve.plot(hours / 24, exact, color=THEIRS, label="Crank's series")
    curve.plot(hours[::6] / 24, ours[::6], "o", color=OURS, markersize=3, label="drywind")
    off.plot(hours / 24, ours - exact, color=OURS, label="drywind, steps of 1 h")
    off.plot(hours / 24, fipys - exact, "--", color=SECOND, label="FiPy, steps of 1 h")
    label(curve, "1-inch board, constant diffusion", "days", "mean MC, %")
    label(off, "less the series", "days", "points of MC")
    key(curve)
    key(off)
    worst = np.abs(ours - exact)[23:].max()
    worst_fipy = np.abs(fipys - exact)[23:].max()
    crank = "Crank 1975, The Mathematics of Diffusion, eq. 4.53 (from memory)"
    what = "mean MC with constant diffusion, from day 1"
    found = f"within {at_most(worst)} point (FiPy in the same steps: {at_most(worst_fipy)})"
    return Drawn(figure, [Row(what, "an exact series", found, judged(worst <= 0.1), crank)])


def _linear_board(slab: Slab, hours: int) -> Array:
    """Return the model's mean MC in percent with its two material relations made linear."""
    density, saturation = 500.0, float(saturation_pressure_pa(20.0))
    boards = Boards(*(np.array([a]) for a in (slab.half_m, density, slab.diffusivity_m2s)))
    conductance = density * slab.surface_ms / saturation
    vapor = np.array([conductance * VAPOR_GAS_CONSTANT * 293.15])
    air = steady_air(hours, 20.0, 0.12, series.ISOTHERMAL, vapor)
    linear = patch.object(isotherms, "isotherm", lambda _at, h: (h, np.ones_like(h)))
    with patch.object(diffusion, "FIBER_SATURATION", 0.0), linear:
        course = simulate(boards, air, State.green(np.array([0.80]), np.array([20.0])))
    return 100.0 * course.mc[1:, 0]


def other_solvers() -> Drawn:
    """How far the model's coarse steps are from fine ones, and from two other solvers."""
    figure, (mean, outer) = sheet(2, 3.2)
    rows = []
    for cases, fine, kind, color in zip(all_cases(), frozen(), solvers.KINDS, COLORS, strict=False):
        course = solvers.by_model(cases)
        off = np.abs(100.0 * course.mc[::EVERY_H] - fine.mc_pct).max(1)
        skin = np.abs(100.0 * course.shell_mc[::EVERY_H] - fine.shell_mc_pct)[4:]
        thin = cases.boards.half_thickness_m < solvers.THIN_M
        allowed = np.where(thin, solvers.THIN_WITHIN, solvers.THICK_WITHIN)
        days = EVERY_H / 24 * np.arange(len(off))
        name, dash = f"{len(cases.names)} {kind} cases", "-" if color == OURS else "--"
        mean.plot(days[1:], off[1:], dash, color=color, label=f"fine steps, {name}")
        outer.plot(days[4:], skin.max(1), dash, color=color, label=name)
        outside = f"outer 1 mm from day 1 within {at_most(skin.max(), 1)}"
        found = f"within {at_most(off.max())} point; {outside}"
        what = f"mean MC, {name}, 16 days"
        verdict = judged(off.max() <= 0.1 and (skin <= allowed).all())
        rows.append(Row(what, "200 cells, steps of 1 min", found, verdict, solvers.OURS_FINE))

    some = made_cases().some(solvers.EVERY_KIND, 24)
    ours, hours = 100.0 * solvers.by_model(some).mc, np.arange(1, 25) / 24
    bdf = np.abs(ours - method_of_lines(some)[0]).max(1)
    fipy = np.abs(ours - by_fipy(some, Grid(cells=60, spread=1.06, steps=8))).max(1)
    for theirs, mark, color, name in ((bdf, "^", THIRD, "SciPy BDF"), (fipy, "s", PALE, "FiPy")):
        mean.plot(hours[::3], theirs[1::3], mark, color=color, markersize=3.5, label=name)
    for name, off, source in (("SciPy", bdf, solvers.BDF), ("FiPy", fipy, solvers.FIPY)):
        what = f"mean MC, {len(some.names)} made cases, 1 day"
        found, verdict = f"within {at_most(off.max())} point", judged(off.max() <= 0.1)
        rows.append(Row(what, f"{name}, another solver", found, verdict, source))
    mean.axhline(0.1, color=THEIRS, linewidth=1)
    mean.annotate("promised", (16, 0.102), ha="right", color=THEIRS, fontsize=8)
    mean.set_ylim(0, 0.17)
    label(mean, "mean MC: worst of all boards", "days", "points of MC")
    label(outer, "outer millimeter: worst of all boards", "days", "points of MC")
    key(mean, loc="upper right")
    outer.set_ylim(0, 1.0)
    key(outer, loc="upper right")
    return Drawn(figure, rows)
