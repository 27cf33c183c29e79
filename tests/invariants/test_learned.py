"""What the yard's own record of forecasts and observations teaches."""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from math import nan
from pathlib import Path

import pytest

from drywind.learned import error_model, humidity_bias, score
from drywind.store import Store
from drywind.weather.hour import WeatherHour
from drywind.weather.spread import DEFAULT

HOUR = timedelta(hours=1)
DAYS = 12
START = datetime(2026, 6, 1, tzinfo=UTC)
NOW = START + timedelta(days=DAYS)
PLACE = "41.98,-87.90"


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store(tmp_path / "drywind.db") as opened:
        yield opened


def hour(at: datetime, source: str, issued_at: datetime, rh: float) -> WeatherHour:
    return WeatherHour(at, 20.0, rh, 3.0, 270.0, nan, nan, 0.5, 0.0, source, issued_at)


def record(store: Store, damper: float, days: int = DAYS) -> None:
    """Let a service foretell each day at midnight, so much too damp, and a station observe."""
    for day in range(days):
        issued = START + timedelta(days=day)
        ahead = [issued + n * HOUR for n in range(72)]
        store.note_foretold(PLACE, [hour(at, "nws", issued, 0.5 + damper) for at in ahead])
        seen = [issued + n * HOUR for n in range(24)]
        store.save_hours(PLACE, [hour(at, "nws_obs", at, 0.5) for at in seen])


def test_a_forecast_that_is_too_damp_shows_its_bias(store: Store) -> None:
    record(store, damper=0.08)

    bias = humidity_bias(score(store, PLACE, "nws", NOW))

    assert bias is not None
    assert bias.points == pytest.approx(8.0)
    assert bias.days == DAYS


def test_of_two_days_nothing_is_concluded(store: Store) -> None:
    record(store, damper=0.08, days=2)

    assert humidity_bias(score(store, PLACE, "nws", NOW)) is None


@pytest.mark.parametrize(("damper", "worse"), [(0.3, True), (0.0, False)])
def test_errors_are_believed_larger_or_smaller_as_the_record_has_them(
    store: Store, damper: float, worse: bool
) -> None:
    record(store, damper)

    learned = error_model(score(store, PLACE, "nws", NOW))

    usual, own = (float(model.at("rh", 12.0)) for model in (DEFAULT, learned))
    assert own > usual if worse else own < usual


def test_without_observations_or_of_another_service_nothing_is_learned(store: Store) -> None:
    assert score(store, PLACE, "nws", NOW) is None
    assert error_model(None) is DEFAULT
    record(store, damper=0.1)

    assert score(store, PLACE, "met_norway", NOW) is None
    assert score(store, "elsewhere", "nws", NOW) is None


def test_a_forecast_is_not_held_to_a_later_forecast(store: Store) -> None:
    """Hours told before they began are no record of what came."""
    ahead = [START + n * HOUR for n in range(48)]
    store.note_foretold(PLACE, [hour(at, "nws", START, 0.6) for at in ahead])
    store.save_hours(PLACE, [hour(at, "nws", START, 0.6) for at in ahead[1:]])

    assert score(store, PLACE, "nws", NOW) is None
