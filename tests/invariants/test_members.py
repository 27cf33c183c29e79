"""A real ensemble kept and taken up again, and the weathers made of it."""

from datetime import UTC, datetime

import numpy as np
import pandas as pd

from drywind.weather.hour import VALUES
from drywind.weather.members import packed, unpacked, weathers
from drywind.weather.spread import DEFAULT, members
from drywind.yard import Site

NOW = datetime(2026, 6, 13, 6, tzinfo=UTC)
SITE = Site("yard", 36.1, -79.95, 273.0)


def table(hours: int, temp_c: float) -> pd.DataFrame:
    index = pd.date_range(NOW, periods=hours, freq="h", name="time_utc")
    values = dict.fromkeys(VALUES, 0.5) | {"temp_c": temp_c, "ghi_wm2": 400.0}
    return pd.DataFrame(values, index=index).assign(source="open_meteo", issued_at=NOW)


def test_an_ensemble_comes_back_as_it_was_kept() -> None:
    kept = [table(48, 20.0 + n) for n in range(3)]
    kept[1].loc[kept[1].index[5], "cloud"] = np.nan

    for before, after in zip(kept, unpacked(packed(kept)), strict=True):
        assert (after.index == before.index).all()
        np.testing.assert_allclose(after[list(VALUES)], before[list(VALUES)], rtol=1e-6)


def test_weathers_follow_the_members_of_an_ensemble_and_begin_with_the_forecast() -> None:
    ahead = table(72, 25.0)
    ensemble = [table(48, 15.0 + 10.0 * n) for n in range(3)]

    found = weathers(ahead, ensemble, SITE, NOW, 7, DEFAULT)

    assert len(found) == 7
    pd.testing.assert_frame_equal(found[0], ahead)
    means = [t["temp_c"].iloc[:48].mean() for t in found]
    assert abs(means[1] - 25.0) < 4.0
    assert abs(means[2] - 35.0) < 4.0
    assert found[1]["temp_c"].notna().all()  # past its end the forecast goes on
    pd.testing.assert_frame_equal(found[3], found[0])


def test_without_an_ensemble_they_are_made_by_the_error_model() -> None:
    ahead = table(48, 25.0)

    for ours, made in zip(
        weathers(ahead, [], SITE, NOW, 5, DEFAULT), members(ahead, SITE, NOW, 5), strict=True
    ):
        pd.testing.assert_frame_equal(ours, made)
