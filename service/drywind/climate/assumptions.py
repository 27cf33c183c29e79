"""Every guessed coefficient of the stack's own climate, in one table with its reason.

No published figure was found for how much of the wind reaches the sticker gaps, or by how much a
roof, shade cloth or burlap slows drying (the handbooks say only that they do). These values are
assumptions; `low` and `high` are what we would still find believable.
"""

from dataclasses import dataclass, field, fields
from typing import NamedTuple


def _assumed(value: float, low: float, high: float, why: str) -> float:
    return field(default=value, metadata={"low": low, "high": high, "why": why})


class Row(NamedTuple):
    """One assumption as a row to print."""

    name: str
    value: float
    low: float
    high: float
    why: str


@dataclass(frozen=True)
class Assumptions:
    """The table; replace a field to see what it does."""

    wind_open: float = _assumed(0.8, 0.6, 1.0, "wind at a stack on open ground, of the open field")
    wind_shed: float = _assumed(0.5, 0.3, 0.7, "wind inside an open-sided shed, of the open field")
    wind_barn: float = _assumed(0.12, 0.05, 0.25, "wind inside a closed barn, of the open field")
    roughness_m: float = _assumed(0.05, 0.02, 0.2, "roughness length of a yard's surroundings")
    stack_height_m: float = _assumed(1.0, 0.5, 2.0, "height at which the wind meets the stack")
    gap_penetration: float = _assumed(
        0.3, 0.1, 0.5, "air speed in a 1 in sticker gap, of the wind that meets the stack"
    )
    gap_exponent: float = _assumed(
        0.5, 0.3, 1.0, "how the speed in the gap follows its height: friction in a narrow channel"
    )
    still_air_ms: float = _assumed(0.03, 0.01, 0.1, "drift in the gaps on a calm day, by buoyancy")
    edge_depth_m: float = _assumed(0.2, 0.1, 0.3, "width of the windward board")
    cloth_wind: float = _assumed(0.55, 0.4, 0.8, "wind that passes 70 % shade cloth")
    cloth_sun: float = _assumed(0.3, 0.2, 0.4, "sun that passes 70 % shade cloth")
    burlap_wind: float = _assumed(0.3, 0.15, 0.5, "wind that passes burlap hung on the sides")
    burlap_sun: float = _assumed(0.1, 0.05, 0.2, "sun that passes burlap")
    tarp_wind: float = _assumed(
        0.1, 0.03, 0.3, "wind that gets under a tarp: what it gives off stays; look for mold"
    )
    closed_wind: float = _assumed(0.5, 0.3, 0.8, "air speed in the gaps of packs pushed together")
    closed_width: float = _assumed(3.0, 2.0, 4.0, "packs the air crosses when pushed together")
    side_sun_open: float = _assumed(
        0.02,
        0.01,
        0.08,
        "sun absorbed by edge boards in the open, per area of both faces, of the sun on level"
        " ground: 0.04 by geometry on the sunny side, which is the windward one half of the time",
    )
    side_sun_shed: float = _assumed(0.01, 0.0, 0.03, "the same inside a shed")
    absorptance: float = _assumed(0.6, 0.4, 0.8, "sun absorbed by a board lying in it")
    yard_warming: float = _assumed(
        1.0, 0.0, 4.0, "kelvin the ground of an open yard adds to the air per kW/m2 of sun"
    )
    damp_grass: float = _assumed(
        0.03, 0.0, 0.08, "how far grass under a stack brings the air toward saturation"
    )
    damp_wet_ground: float = _assumed(0.1, 0.03, 0.25, "the same of a wet lot")
    rain_under_eaves: float = _assumed(
        0.5, 0.2, 1.0, "driven rain that gets under a roof to the windward boards"
    )
    cover_rain: float = _assumed(0.5, 0.2, 0.8, "driven rain that passes shade cloth or burlap")
    calm_wm2k: float = _assumed(
        4.0, 2.0, 6.0, "heat transfer from a sunlit board in calm air, by natural convection"
    )
    emissivity: float = _assumed(0.9, 0.85, 0.95, "wood in the thermal infrared")

    @classmethod
    def rows(cls) -> list[Row]:
        """Return the whole table for people to read."""
        return [
            Row(f.name, float(f.default), f.metadata["low"], f.metadata["high"], f.metadata["why"])  # type: ignore[arg-type]
            for f in fields(cls)
        ]


DEFAULT = Assumptions()
