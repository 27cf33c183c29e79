"""People's units, converted once at the edge; everything inside is SI, °C, fractions and UTC."""

import re
from dataclasses import dataclass
from enum import StrEnum

from drywind.errors import UsageError

INCH_M = 0.0254
FOOT_M = 0.3048
MPH_MS = 0.44704
SAWING_ALLOWANCE_M = 0.125 * INCH_M
"""Green lumber is sawn about 1/8 in over its nominal thickness (assumption, common practice)."""

_QUANTITY = re.compile(r"\s*([-+]?[0-9]{1,9}(?:\.[0-9]+)?)\s*([^0-9\s].*?)\s*")
_FRACTION = re.compile(r"\s*(?:([0-9]{1,3})[ -])?([0-9]{1,3})/([0-9]{1,3})\s*(in|\")\s*")
_POUNDS_AND_OUNCES = re.compile(
    r"\s*([0-9]{1,4})\s*lb\s*,?\s*([0-9]{1,2}(?:\.[0-9]+)?)\s*oz\s*", re.IGNORECASE
)
_LENGTHS_M = {"mm": 0.001, "cm": 0.01, "m": 1.0, "in": INCH_M, "ft": FOOT_M}
_CUBIC_METER_BF = 1.0 / (144.0 * INCH_M**3)
_VOLUMES_BF = {
    **dict.fromkeys(("bf", "bdft", "boardfeet", "boardfoot", "fbm"), 1.0),
    **dict.fromkeys(("mbf",), 1000.0),
    **dict.fromkeys(("m3", "m³", "cbm"), _CUBIC_METER_BF),
}
_MASSES_KG = {"g": 0.001, "kg": 1.0, "oz": 0.028349523125, "lb": 0.45359237}


class Units(StrEnum):
    """The system of units a person reads."""

    US = "us"
    METRIC = "metric"


def _split(text: str, what: str, example: str) -> tuple[float, str]:
    match = _QUANTITY.fullmatch(text)
    if match is None:
        raise UsageError(f"{text!r} is not a {what} with its unit; write it like {example}")
    return float(match[1]), match[2]


def parse_temperature_c(text: str) -> float:
    """Read a temperature such as ``70F`` or ``21.1C`` and return it in °C.

    Raises
    ------
    UsageError
        If number or unit is missing, or it lies below absolute zero.
    """
    value, unit = _split(text, "temperature", "70F or 21.1C")
    letter = unit.replace("°", "").upper()
    if letter not in {"C", "F"}:
        raise UsageError(f"{text!r}: a temperature's unit is F or C, like 70F or 21.1C")
    celsius = value if letter == "C" else fahrenheit_to_c(value)
    if celsius < -273.15:  # noqa: PLR2004 - absolute zero
        raise UsageError(f"{text!r} lies below absolute zero")
    return celsius


def parse_length_m(text: str) -> float:
    """Read a length such as ``3/4 in``, ``1.5 in``, ``4 ft`` or ``19 mm``; return metres.

    Raises
    ------
    UsageError
        If number or unit is missing or unknown.
    """
    fraction = _FRACTION.fullmatch(text)
    if fraction is not None and int(fraction[3]):
        whole = int(fraction[1] or 0)
        return (whole + int(fraction[2]) / int(fraction[3])) * INCH_M
    value, unit = _split(text, "length", "1 in, 4 ft or 25 mm")
    unit = {'"': "in", "'": "ft"}.get(unit, unit.lower())
    if unit not in _LENGTHS_M:
        raise UsageError(f"{text!r}: a length's unit is one of {', '.join(_LENGTHS_M)}")
    return value * _LENGTHS_M[unit]


def parse_mass_kg(text: str) -> float:
    """Read a mass such as ``812 g``, ``1.8 lb`` or ``4 lb 3.5 oz``; return kilograms.

    Raises
    ------
    UsageError
        If number or unit is missing or unknown.
    """
    if both := _POUNDS_AND_OUNCES.fullmatch(text):
        return float(both[1]) * _MASSES_KG["lb"] + float(both[2]) * _MASSES_KG["oz"]
    value, unit = _split(text, "weight", "812 g or 1.8 lb")
    if unit.lower() not in _MASSES_KG:
        raise UsageError(f"{text!r}: a weight's unit is one of {', '.join(_MASSES_KG)}")
    return value * _MASSES_KG[unit.lower()]


def parse_board_feet(text: str) -> float | None:
    """Read a volume as people write it, like ``1,200 bf``, ``1.2 mbf`` or ``3 m3``.

    None where it is none of these: what people write of a lot's volume is for them alone.
    """
    match = _QUANTITY.fullmatch(text.replace(",", ""))
    unit = re.sub(r"[\s._]+", "", match[2].lower()) if match else ""
    if match is None or unit not in _VOLUMES_BF:
        return None
    return float(match[1]) * _VOLUMES_BF[unit]


def fahrenheit_to_c(value: float) -> float:
    """Convert °F to °C."""
    return (value - 32.0) / 1.8


def c_to_fahrenheit(value: float) -> float:
    """Convert °C to °F."""
    return value * 1.8 + 32.0


def temperature_text(celsius: float, units: Units) -> str:
    """Write a temperature for a text message; no degree sign, which GSM-7 lacks."""
    value, unit = (c_to_fahrenheit(celsius), "F") if units is Units.US else (celsius, "C")
    return f"{round(value)}{unit}"


def wind_text(speed_ms: float, units: Units) -> str:
    """Write a wind speed for a text message."""
    return f"{speed_ms / MPH_MS:.0f} mph" if units is Units.US else f"{speed_ms:.0f} m/s"


def rain_text(rain_mm: float, units: Units) -> str:
    """Write an amount of rain for a text message."""
    return f"{rain_mm / 1000 / INCH_M:.1f} in" if units is Units.US else f"{rain_mm:.0f} mm"


@dataclass(frozen=True)
class Thickness:
    """A board's thickness as the trade names it.

    Attributes
    ----------
    label
        As written by the user: ``4/4`` or ``27mm``.
    quarters
        Quarters of an inch of nominal thickness; 4 for 4/4. A metric thickness is the green
        size, so the sawing allowance is taken off first: 27, 34, 41, 54 mm come out at
        3.8, 4.9, 6.0 and 8.0 quarters.
    green_m
        Thickness of the green board in metres: nominal plus the sawing allowance.
    """

    label: str
    quarters: float
    green_m: float

    @classmethod
    def parse(cls, text: str) -> "Thickness":
        """Read ``4/4`` … ``16/4`` or a green thickness in millimetres such as ``27mm``.

        Raises
        ------
        UsageError
            If the text is neither, or lies outside 3/4 to 16/4.
        """
        if match := re.fullmatch(r"\s*([1-9][0-9]?)\s*/\s*4\s*", text):
            label, quarters = f"{match[1]}/4", float(match[1])
            green_m = quarters * INCH_M / 4 + SAWING_ALLOWANCE_M
        elif match := re.fullmatch(
            r"\s*([1-9][0-9]{1,2}(?:\.[0-9]+)?)\s*mm\s*", text, re.IGNORECASE
        ):
            label, green_m = f"{float(match[1]):g}mm", float(match[1]) / 1000
            quarters = (green_m - SAWING_ALLOWANCE_M) * 4 / INCH_M
        else:
            raise UsageError(f"{text!r} is not a thickness; write it like 4/4, 8/4 or 27mm")
        if not 3 <= round(quarters, 1) <= 16:  # noqa: PLR2004 - the range stated above
            raise UsageError(f"{text!r}: thickness must lie between 3/4 and 16/4 (22 to 105 mm)")
        return cls(label, quarters, green_m)
