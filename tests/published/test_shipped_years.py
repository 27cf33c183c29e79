"""The years that come with the program are the public files' own, to the step they are kept to."""

import numpy as np
import pytest
from tests.published.shipped_years import FOLDER, SHIPPED, Shipped, made

from drywind.weather.usual import STEPS, shipped


@pytest.mark.parametrize("one", SHIPPED, ids=lambda one: one.file)
def test_a_shipped_year_is_that_of_its_file(one: Shipped) -> None:
    file = made(one)
    (kept,) = (y for y in shipped() if (y.name, y.year) == (one.name, file.year))

    assert np.array_equal(np.isnan(kept.hours), np.isnan(file.hours))
    assert np.nanmax(np.abs(kept.hours - file.hours) / list(STEPS.values())) <= 0.5 + 1e-6
    assert (kept.lat, kept.lon, kept.is_typical) == (file.lat, file.lon, file.is_typical)


def test_nothing_is_shipped_that_is_made_of_no_file() -> None:
    there = {path.stem for path in FOLDER.iterdir() if path.suffix == ".npz"}

    assert there == {one.file for one in SHIPPED}
