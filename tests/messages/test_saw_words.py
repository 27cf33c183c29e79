"""What is said of saw days and places: exact words and keys, on made findings."""

from dataclasses import replace
from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import pytest

from drywind.alerts.saw_words import air_words, lot_words, why
from drywind.alerts.wording import Reader
from drywind.cli.plan_views import plan_json, plan_words
from drywind.cli.saw_views import board_json, board_words
from drywind.climate.stack_air import Board
from drywind.judge.measures import Remedy
from drywind.judge.plan import Item, assign
from drywind.judge.sawing import DayAir, Fare, LotDays, Parcel, SawBoard, SawDay, Verdict
from drywind.units import Thickness, Units
from drywind.yard import LogLot, Measure

ZONE = ZoneInfo("America/New_York")
NOW = datetime(2026, 6, 9, 12, tzinfo=UTC)
READER = Reader(Units.US, ZONE, NOW)
TUESDAY, THURSDAY = date(2026, 6, 9), date(2026, 6, 11)
COLUMNS = 80

MAPLE = Parcel(
    LogLot("L4", "hard_maple", datetime(2026, 6, 8, tzinfo=UTC), "lot"), Thickness.parse("4/4")
)
OAK = Parcel(
    LogLot("R2", "red_oak", datetime(2026, 6, 8, tzinfo=UTC), "lot"), Thickness.parse("8/4")
)
WARM = DayAir(14.4, 25.6, 0.62, 2.0, 0.5, foretold=True)
FRONT = DayAir(5.6, 12.8, 0.60, 3.0, -8.0, foretold=True)
FAST = Fare(0.9, Board.TOP, 0.8, 0.2, 0.1, 0.75, 1.0)
COOL = Fare(0.7, Board.EDGE, 0.4, 0.0, 0.0, 1.0, 0.5)


def day(
    parcel: Parcel = MAPLE,
    on: date = TUESDAY,
    score: float | None = 50.0,
    usual: Fare | None = FAST,
    air: DayAir = WARM,
) -> SawDay:
    verdict = Verdict.UNKNOWN if usual is None else Verdict.CHANCY
    return SawDay(parcel, on, "shed", score, verdict, usual, None, None, 72.0, air, 0.1, False)


TODAY = day()
BEST = replace(day(on=THURSDAY, score=66.0, usual=COOL, air=FRONT), verdict=Verdict.GOOD)
BY = datetime(2026, 6, 12, 20, tzinfo=UTC)


def test_a_day_says_its_weather_and_what_it_does_to_the_wood() -> None:
    assert why(BEST, [BEST, TODAY], READER) == (
        "cold front, 42 to 55F, RH 60%: stain 40% of what shows, half of Tue's;"
        " edge boards at 70% of limit"
    )
    assert why(TODAY, [BEST, TODAY], READER) == (
        "mild, 58 to 78F, RH 62%: stain 80% of what shows; top boards at 90% of limit"
    )


def test_what_waits_in_the_log_is_told_and_what_would_help() -> None:
    waited = replace(TODAY, stain_waiting=0.5)
    roofed = replace(TODAY, remedy=Remedy((Measure.PILE_ROOF,)), helped=COOL)
    thin = replace(TODAY, remedy=Remedy((), sticker_m=0.0127), helped=COOL)

    assert "stain 80% of what shows (most of it in the log);" in why(waited, [waited], READER)
    assert why(roofed, [roofed], READER).endswith("; put a pile roof on -> 70%, stain 40%")
    assert why(thin, [thin], READER).endswith("; stack on 1/2 in stickers -> 70%, stain 40%")


def test_of_a_wood_that_does_not_stain_no_stain_is_told_and_old_logs_are() -> None:
    oak = replace(day(OAK, usual=replace(FAST, stain_index=0.0)), is_old=True)

    assert why(oak, [oak], READER) == (
        "mild, 58 to 78F, RH 62%: top boards at 90% of limit; old logs tighten the limit"
    )


def test_an_unknown_day_says_why() -> None:
    assert why(day(usual=None, score=None), [], READER) == "hours of weather are missing"


@pytest.mark.parametrize(
    ("air", "words"),
    [
        (replace(WARM, foretold=False), "usual for the season, 58 to 78F, RH 62%"),
        (replace(WARM, high_c=33.0, rh=0.4, wind_ms=6.0), "hot dry wind, 58 to 91F, RH 40%"),
        (replace(WARM, rh=0.85), "damp, 58 to 78F, RH 85%"),
        (replace(WARM, change_c=6.0), "turning warm, 58 to 78F, RH 62%"),
        (replace(WARM, low_c=-5.0, high_c=4.0), "cold, 23 to 39F, RH 62%"),
    ],
)
def test_weather_is_named_as_the_trade_does(air: DayAir, words: str) -> None:
    assert air_words(air, READER) == words


def test_a_lot_is_told_when_to_saw_it_or_that_no_day_is_good() -> None:
    good = LotDays(MAPLE, (BEST, TODAY), BY, is_foretold=True)
    none = LotDays(MAPLE, (TODAY,), BY, is_foretold=False)
    blind = LotDays(MAPLE, (day(usual=None, score=None),), None, is_foretold=False)

    assert lot_words(good, READER) == (
        "L4 hard maple 4/4: saw Thu Jun 11, stack at shed. Saw by Fri 4pm."
    )
    assert lot_words(none, READER) == (
        "L4 hard maple 4/4: not in the next ten days; least bad is Tue Jun 9, stack at shed."
        " Saw by Fri 4pm, as past years went."
    )
    assert lot_words(blind, READER) == "L4 hard maple 4/4: unknown, the forecast lacks hours."


def test_machines_are_told_every_day_best_first_under_keys_with_units() -> None:
    blind = day(usual=None, score=None)
    lot = LotDays(MAPLE, (BEST, TODAY, blind), BY, is_foretold=True)

    rows = board_json(SawBoard(NOW, (lot,), "there"), READER)

    assert [row["score"] for row in rows] == [66.0, 50.0, None]
    assert rows[0] == {
        "date": "2026-06-11",
        "lot": "L4",
        "species": "hard_maple",
        "thickness": "4/4",
        "site": "shed",
        "score": 66.0,
        "worst_ratio": 0.7,
        "worst_board": "edge",
        "stain_index": 0.4,
        "chance_over_limit": 0.0,
        "chance_stain": 0.0,
        "chance_safe": 1.0,
        "verdict": "good",
        "why": why(BEST, [BEST, TODAY, blind], READER),
        "measure": None,
        "with_measure": None,
        "days_to_20_pct": 72,
        "stain_index_waiting": 0.1,
        "old_logs": False,
        "foretold": True,
        "saw_by": "2026-06-12T20:00:00Z",
        "saw_by_foretold": True,
        "good_day_in_next_ten": True,
        "past_years": "there",
    }
    assert set(rows[2]) == set(rows[0])
    assert rows[2]["verdict"] == "unknown"
    assert rows[2]["worst_ratio"] is None


def test_people_read_a_table_80_columns_wide() -> None:
    lot = LotDays(MAPLE, (BEST, TODAY), BY, is_foretold=True)

    lines = board_words(SawBoard(NOW, (lot,), "the typical year of Here"), READER).splitlines()

    assert [line for line in lines if len(line) > COLUMNS] == []
    assert lines[:3] == [
        "L4 hard maple 4/4: saw Thu Jun 11, stack at shed. Saw by Fri 4pm.",
        "  day        site             score  chance ok  to 20 %  verdict",
        "  Thu Jun 11 shed                66       100%      72 d good",
    ]


def test_a_plan_says_what_moves_where_and_how_to_move_it_safely() -> None:
    plan = assign(
        [
            Item("R7", "red_oak", "4/4", "lot", {"lot": 2.0, "shed": 0.2}),
            Item("R8", "beech", "4/4", "shed", {"lot": 9.0, "shed": 0.1}),
            Item("L4", "yellow_poplar", "4/4", None, {"lot": 0.3, "shed": 0.2}),
            Item("L5", "beech", "4/4", None, {"lot": 1.0, "shed": 1.0}),
        ],
        {"lot": 1, "shed": 2},
    )

    assert plan_words(plan).splitlines() == [
        "Move R7 red oak 4/4 from lot to shed.",
        "Stack L4 yellow poplar 4/4 at lot.",
        "No room for L5 beech 4/4: saw it later, or make room.",
        "Stay: R8 (shed).",
        "Room left then: lot 0, shed 0.",
        "Work of moving: about 60 minutes for two. Packs weigh tons: move them with a",
        "  loader rated for it, by people trained on it, on level ground, nobody between;",
        "  the rules of your place and trade come first.",
    ]
    told = plan_json(plan)
    assert (told["move_minutes"], told["room_left"]) == (60, {"lot": 0, "shed": 0})
    assert told["placings"][0] == {
        "name": "R7",
        "is_lot": False,
        "species": "red_oak",
        "thickness": "4/4",
        "from": "lot",
        "to": "shed",
        "moves": True,
        "harm": {"lot": 2.0, "shed": 0.2},
        "known": True,
        "saves": 1.8,
        "move_minutes": 60,
    }
