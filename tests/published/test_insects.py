"""When insects bore into drying wood, against what is published of them."""

import numpy as np
import pytest
from tests.published import years
from tests.published.conftest import Against

from drywind.units import fahrenheit_to_c
from drywind.wood.insects import INSECTS, open_hours
from drywind.wood.species import load_species


def share(insect: str, temp_f: float, mc: float) -> float:
    """Return which share of like hours is open."""
    return float(open_hours(insect, np.full(10, fahrenheit_to_c(temp_f)), mc).known[-1] / 10)


@pytest.mark.parametrize(
    ("insect", "temp_f", "mc", "expected", "source"),
    [
        ("lyctid", 59, 0.12, 0, "Wengert, woodworkingnetwork.com (seen): from 60 °F"),
        ("lyctid", 90, 0.12, 1, "Wengert, woodworkingnetwork.com (seen): 90 °F best"),
        ("lyctid", 106, 0.12, 0, "Wengert, woodworkingnetwork.com (seen): to 105 °F"),
        ("lyctid", 90, 0.07, 0, "Wengert, woodworkingnetwork.com (seen): above 8 % MC"),
        ("ambrosia", 80, 0.60, 1, "Wagner 1917, Seasoning of Wood (seen): green, warm"),
        ("ambrosia", 80, 0.15, 0, "Wengert, in a forum (seen): not at 15 % MC"),
        ("ambrosia", 50, 0.60, 0, "flight of Trypodendron lineatum (from memory)"),
        ("anobiid", 70, 0.14, 0, "Wood Handbook FPL-GTR-190 ch. 14 (seen): from 15 % MC"),
        ("anobiid", 70, 0.15, 1, "Wood Handbook FPL-GTR-190 ch. 14 (seen): from 15 % MC"),
    ],
)
def test_an_hour_is_open_to_an_insect_in_the_published_air_and_wood_alone(
    against: Against, insect: str, temp_f: float, mc: float, expected: float, source: str
) -> None:
    what = f"{insect} at {temp_f} °F, {100 * mc:.0f} % MC"

    against.value(what, source, share(insect, temp_f, mc), expected, 0.0)


def test_lumber_cut_in_winter_is_safe_from_ambrosia_beetles_until_mid_march(
    against: Against,
) -> None:
    """Wet wood at O'Hare in 2016; Wagner has heavy lumber well dry before the middle of March."""
    temp_c = years.ohare(2016)["temp_c"]
    winter, summer = (
        temp_c[span] for span in (slice("2016-03-14"), slice("2016-07-01", "2016-09-30"))
    )

    shares = [open_hours("ambrosia", t, 0.60).known[-1] / len(t) for t in (winter, summer)]

    wagner = "Wagner 1917, Seasoning of Wood (seen)"
    against.between("share of hours open, January to mid March", wagner, shares[0], 0, 0.05)
    against.between("share of hours open, July to September", wagner, shares[1], 0.5, 1)


def test_every_insect_a_wood_names_has_a_window_and_every_window_a_wood() -> None:
    named = {insect for species in load_species().values() for insect in species.insects}

    assert named == set(INSECTS)
