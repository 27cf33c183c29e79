"""Units: exact conversions where the unit is defined exactly, and laws that hold for every value.

Source of the exact factors: NIST Special Publication 811 (2008), appendix B (from memory): inch
0.0254 m, foot 0.3048 m, mile per hour 0.44704 m/s, pound 0.45359237 kg; an ounce is 1/16 pound.
"""

from contextlib import suppress

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drywind.errors import UsageError
from drywind.units import (
    Thickness,
    Units,
    c_to_fahrenheit,
    fahrenheit_to_c,
    parse_length_m,
    parse_mass_kg,
    parse_temperature_c,
    temperature_text,
    wind_text,
)

tenths = st.integers(0, 99_999).map(lambda n: n / 10)
celsius = st.floats(-100, 100)


@pytest.mark.parametrize(
    ("text", "metres"),
    [
        ("1 in", 0.0254),
        ("3/4 in", 0.01905),
        ('1-1/2"', 0.0381),
        ("1 1/2 in", 0.0381),
        ("4 ft", 1.2192),
        ("4'", 1.2192),
        ("655 ft", 199.644),
        ("19 mm", 0.019),
        ("2.5 CM", 0.025),
        ("-86 m", -86.0),
    ],
)
def test_a_length_is_read_exactly(text: str, metres: float) -> None:
    assert parse_length_m(text) == pytest.approx(metres, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "kilograms"), [("812 g", 0.812), ("1 lb", 0.45359237), ("16 oz", 0.45359237)]
)
def test_a_mass_is_read_exactly(text: str, kilograms: float) -> None:
    assert parse_mass_kg(text) == pytest.approx(kilograms, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "degrees"),
    [
        ("32F", 0.0),
        ("212 F", 100.0),
        ("-40°F", -40.0),
        ("-40c", -40.0),
        ("21.1 C", 21.1),
        ("-459.67F", -273.15),
    ],
)
def test_a_temperature_is_read_exactly(text: str, degrees: float) -> None:
    assert parse_temperature_c(text) == pytest.approx(degrees, abs=1e-9)


@pytest.mark.parametrize("text", ["", "70", "F", "70 K", "seventy F", "70 F C", "-274C", "-460F"])
def test_what_is_no_temperature_is_refused(text: str) -> None:
    with pytest.raises(UsageError):
        parse_temperature_c(text)


@pytest.mark.parametrize("text", ["", "655", "ft", "1 mile", "3/0 in", "1,5 m", "1/2 mm", "5' 3\""])
def test_what_is_no_length_is_refused(text: str) -> None:
    with pytest.raises(UsageError):
        parse_length_m(text)


@pytest.mark.parametrize("text", ["", "812", "lb", "1 stone", "1 lb 3"])
def test_what_is_no_mass_is_refused(text: str) -> None:
    with pytest.raises(UsageError):
        parse_mass_kg(text)


@given(celsius)
def test_fahrenheit_and_back_is_the_same_temperature(value: float) -> None:
    assert fahrenheit_to_c(c_to_fahrenheit(value)) == pytest.approx(value, abs=1e-9)


@given(celsius, st.floats(0.01, 50))
def test_warmer_in_celsius_is_warmer_in_fahrenheit(value: float, rise: float) -> None:
    assert c_to_fahrenheit(value + rise) - c_to_fahrenheit(value) == pytest.approx(1.8 * rise)


@given(tenths, st.sampled_from(["", " ", "  "]))
def test_blanks_around_a_quantity_change_nothing(value: float, blank: str) -> None:
    assert parse_length_m(f"{blank}{value}{blank}m{blank}") == value
    assert parse_mass_kg(f"{blank}{value}{blank}kg{blank}") == value
    assert parse_temperature_c(f"{blank}{value}{blank}C{blank}") == value


@given(tenths)
def test_the_same_length_in_other_units_is_the_same_length(value: float) -> None:
    metres = parse_length_m(f"{value} ft")

    assert parse_length_m(f"{value * 12:.1f} in") == pytest.approx(metres, abs=1e-9)
    assert parse_length_m(f"{value * 304.8:.3f} mm") == pytest.approx(metres, abs=1e-6)


@given(
    st.text(max_size=20) | st.from_regex(r"[-+ 0-9./]{0,8}(in|\"|ft|mm|°?F|lb|/4)", fullmatch=True)
)
def test_any_text_is_read_or_refused_and_never_breaks_the_reader(text: str) -> None:
    for read in (parse_length_m, parse_mass_kg, parse_temperature_c, Thickness.parse):
        with suppress(UsageError):
            read(text)


@pytest.mark.parametrize(
    ("degrees", "us", "metric"), [(21.1, "70F", "21C"), (-40, "-40F", "-40C"), (35.4, "96F", "35C")]
)
def test_a_temperature_is_written_in_the_readers_units(
    degrees: float, us: str, metric: str
) -> None:
    assert (temperature_text(degrees, Units.US), temperature_text(degrees, Units.METRIC)) == (
        us,
        metric,
    )


def test_a_wind_speed_is_written_in_the_readers_units() -> None:
    assert (wind_text(6.7056, Units.US), wind_text(6.7056, Units.METRIC)) == ("15 mph", "7 m/s")


@given(st.floats(-60, 60), st.floats(0, 75), st.sampled_from(Units))
def test_written_numbers_are_plain_ascii_so_a_text_stays_one_part(
    degrees: float, speed: float, units: Units
) -> None:
    assert (temperature_text(degrees, units) + wind_text(speed, units)).isascii()


@pytest.mark.parametrize(
    ("text", "label", "quarters", "green_mm"),
    [
        ("4/4", "4/4", 4.0, 28.575),
        (" 8 / 4 ", "8/4", 8.0, 53.975),
        ("3/4", "3/4", 3.0, 22.225),
        ("16/4", "16/4", 16.0, 104.775),
        ("27mm", "27mm", 3.752, 27.0),
        ("34 mm", "34mm", 4.854, 34.0),
        ("41mm", "41mm", 5.957, 41.0),
        ("54mm", "54mm", 8.004, 54.0),
    ],
)
def test_a_thickness_is_read_with_its_sawing_allowance(
    text: str, label: str, quarters: float, green_mm: float
) -> None:
    """Trade sizes: nominal quarters of an inch plus 1/8 in; a metric size is the green one."""
    thickness = Thickness.parse(text)

    assert thickness.label == label
    assert thickness.quarters == pytest.approx(quarters, abs=5e-4)
    assert thickness.green_m == pytest.approx(green_mm / 1000, rel=1e-12)


@pytest.mark.parametrize(
    "text", ["", "4", "1in", "8/5", "2/4", "17/4", "21.9mm", "105.2mm", "-4/4", "4/4 oak"]
)
def test_what_is_no_thickness_is_refused(text: str) -> None:
    with pytest.raises(UsageError):
        Thickness.parse(text)


@given(st.integers(3, 16))
def test_quarters_and_their_green_size_in_millimetres_are_one_thickness(quarters: int) -> None:
    nominal = Thickness.parse(f"{quarters}/4")
    metric = Thickness.parse(f"{nominal.green_m * 1000:.3f}mm")

    assert metric.quarters == pytest.approx(nominal.quarters, abs=1e-3)
    assert metric.green_m == pytest.approx(nominal.green_m, abs=1e-6)
