"""Moisture content of sample boards and by meter, against what others publish."""

import pytest
from tests.published.conftest import Against

from drywind.samples import corrected_meter_pct, mc_pct, oven_dry_kg, sections_mc_pct

WENGERT = "Drying Oak Lumber 3B (Wengert): the procedure's formulas (seen)"


def test_moisture_content_of_a_section_is_the_published_one(against: Against) -> None:
    source = "Purdue FNR-156: 136 g wet, 100 g oven-dry (seen)"

    against.value("MC of a section", source, mc_pct(0.136, 0.100), 36.0, 1e-9)


def test_a_sample_board_by_its_sections_follows_the_published_procedure(against: Against) -> None:
    """A board of 1000 g whose two sections are at 78 and 82 %, and 833.3 g later."""
    green = sections_mc_pct([(0.089, 0.050), (0.091, 0.050)])
    dry_kg = oven_dry_kg(1.000, green)

    against.value("green MC, mean of two sections", WENGERT, green, 80.0, 1e-9)
    against.value("oven-dry weight reckoned, g", WENGERT, 1000 * dry_kg, 555.6, 0.1)
    against.value("MC by a later weight", WENGERT, mc_pct(0.8333, dry_kg), 50.0, 0.1)


@pytest.mark.parametrize(
    ("shown", "temp_c", "mc"), [(15.0, 20.0, 15.0), (15.0, 10.0, 17.0), (15.0, 50.0, 11.0)]
)
def test_a_meter_is_corrected_about_as_a_manual_has_it(
    against: Against, shown: float, temp_c: float, mc: float
) -> None:
    """Manual and equation differ by a point: less than the two that a reading is let err."""
    source = "a pin meter's manual (seen); ours Pfaff & Garrahan 1986"

    found = corrected_meter_pct(shown, temp_c)

    against.value(f"MC where a meter shows {shown:g} at {temp_c:g} °C", source, found, mc, 2.0)


def test_the_meter_equation_gives_its_worked_values(against: Against) -> None:
    source = "Pfaff & Garrahan 1986, Forest Products Journal 36(3), worked out (from memory)"
    found = [corrected_meter_pct(15, 10), corrected_meter_pct(15, 30), corrected_meter_pct(20, 0)]

    against.value(
        "MC by meter: 15 at 10 °C, 15 at 30, 20 at 0", source, found, [16.1, 14.0, 22.9], 0.06
    )
