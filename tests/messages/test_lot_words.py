"""The exact words on log lots, and on boards that wait for their stickers."""

from dataclasses import replace
from datetime import timedelta

from tests.messages.outlooks import METRIC, NOW, US, local

from drywind.alerts.gsm7 import septets
from drywind.alerts.lot_words import lot_message, lot_to_do
from drywind.alerts.story import Told
from drywind.judge.findings import Finding, Hazard, Sign
from drywind.yard import LogLot

L4 = LogLot("L4", "hard_maple", NOW - timedelta(days=2), "gravel lot", volume="1,200 bf")
STAIN = Finding(
    "L4",
    "gravel lot",
    Hazard.WAITING,
    Sign.SUGAR_STAIN,
    3.4,
    3.0,
    1.1,
    first=local(14, 6),
    start=local(14, 6),
    end=local(15, 18),
    act_by=local(13, 18),
    helps=True,
)
TOLD = Told(NOW - timedelta(hours=3), "nws")


def test_logs_are_to_be_sawn_before_stain_sets_in() -> None:
    told = lot_message(L4, STAIN, US, TOLD)

    assert told.text == (
        "drywind lot L4 hard maple logs, gravel lot: saw and put on stickers by Sat 6pm."
        " Sugar stain likely from Sun 6am; felled 2 days ago."
    )
    assert septets(told.text) <= 160
    assert told.subject == "drywind: lot L4 hard maple logs, gravel lot: waiting too long"
    assert "Its clock stands at 3.4 warm days at the end of the forecast, of the 3.0" in told.story
    assert "drywind lot sawn L4, and once stacked drywind lot end L4." in told.story
    assert "Logs roll" in told.story
    assert "Forecast: US National Weather Service, issued 3 h ago." in told.story
    assert told.html


def test_boards_are_to_be_put_on_stickers() -> None:
    sawn = replace(L4, sawn_at=NOW - timedelta(hours=5))

    assert lot_message(sawn, replace(STAIN, act_by=local(14, 6)), METRIC, TOLD).text == (
        "drywind lot L4 hard maple boards, gravel lot: put on stickers by Sun 06:00."
        " Sugar stain likely from Sun 06:00; felled 2 days ago."
    )


def test_an_old_forecast_is_owned_up_to() -> None:
    old = Told(NOW - timedelta(hours=20), "nws")

    assert lot_message(L4, STAIN, US, old).text.endswith(" (Forecast 20 h old.)")


def test_of_several_lots_the_work_and_the_stain_are_told_in_short() -> None:
    assert lot_to_do(L4, STAIN, US) == (
        "saw and put on stickers by Sat 6pm",
        "Sugar stain likely from Sun 6am",
    )
