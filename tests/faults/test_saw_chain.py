"""Saw days from the forecast service to the page in the mailbox, and the plan of a full yard."""

from datetime import UTC, datetime
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest
from tests.conftest import DRY, HOT_DRY, Command, Hour, Mailbox, WeatherService, Yard

SUNDAY = datetime(2025, 6, 15, 12, tzinfo=UTC)
AT = ("--now", SUNDAY.isoformat())
COOL: Hour = (16.0, 72.0, 2.0)
FRONT: Hour = (6.0, 65.0, 4.0)
WARM_DAMP: Hour = (21.0, 90.0, 1.0)
KEYS = {"date", "species", "thickness", "site", "score", "worst_ratio", "stain_index"}


def foretold(quick: Command, service: WeatherService, days: list[Hour]) -> None:
    """Let days of steady weather be foretold, and a pass fetch it."""
    service.issue(SUNDAY, [hour for hour in days for _ in range(24)])
    assert quick("watch", "--once", *AT).code == 0


def lot(quick: Command, name: str, wood: str, *more: str, felled: str = "2025-06-15T05:00") -> None:
    given = ("--species", wood, "--felled", felled, "--site", "gravel")
    assert quick("lot", "add", name, *given, *more).code == 0


def test_a_stored_forecast_ranks_every_day_at_every_site_best_first(
    quick: Command, weather_service: WeatherService, tmp_path: Path
) -> None:
    foretold(quick, weather_service, [WARM_DAMP, WARM_DAMP, FRONT, FRONT, DRY, DRY, DRY])
    lot(quick, "L4", "hard_maple", "--thickness", "4/4")
    picture = tmp_path / "saw.svg"

    done = quick("sawdays", "--json", "--plot", picture, *AT)

    assert done.code == 0
    rows = done.json
    assert len(rows) == 30
    assert set(rows[0]) > KEYS | {"verdict", "why"}
    scores = [row["score"] for row in rows]
    assert scores == sorted(scores, reverse=True)
    assert "Chicago O'Hare IL (2011 to 2013), 1 km off" in rows[0]["past_years"]
    assert {row["date"] for row in rows if not row["foretold"]} >= {"2025-06-23", "2025-06-24"}
    text = "".join(ET.parse(picture).getroot().itertext())
    assert "L4 hard maple 4/4: saw " in text
    assert quick("sawdays", "--json", *AT).json == rows

    trees = quick("sawdays", "--species", "hard_maple", "--json", *AT).json
    best = {row["date"]: row for row in reversed(trees)}
    assert best["2025-06-17"]["score"] > best["2025-06-15"]["score"]
    assert best["2025-06-17"]["stain_index"] < best["2025-06-15"]["stain_index"] / 2
    assert best["2025-06-17"]["why"].startswith("cold")
    assert {row["stain_index_waiting"] for row in trees} == {0.0}
    assert rows[0]["date"] <= "2025-06-16"  # logs stain as they wait
    assert rows[0]["saw_by"] < "2025-06-21"


def test_heat_drives_oak_to_the_days_after_it(
    quick: Command, weather_service: WeatherService
) -> None:
    foretold(quick, weather_service, [HOT_DRY, HOT_DRY, COOL, COOL, COOL, COOL, COOL])
    lot(quick, "R2", "red_oak")

    rows = quick("sawdays", "--json", *AT).json

    best: dict[str, float] = {}
    for row in rows:
        best.setdefault(row["date"], row["score"])
    assert max(best["2025-06-15"], best["2025-06-16"]) < best["2025-06-17"]
    assert rows[0]["date"] >= "2025-06-17"


def test_old_oak_logs_are_held_to_a_tighter_limit(
    quick: Command, weather_service: WeatherService
) -> None:
    foretold(quick, weather_service, [DRY] * 7)
    for name, felled in (("NEW", "2025-06-15T05:00"), ("OLD", "2025-05-01T05:00")):
        lot(quick, name, "red_oak", felled=felled)
    service_past = quick("sawdays", "--json", "--site", "barn", *AT).json

    by_lot = {name: [r for r in service_past if r["lot"] == name] for name in ("NEW", "OLD")}

    # Of May the store knows nothing, so the logs are not old yet: an unknown hour is not warm.
    assert {r["old_logs"] for r in by_lot["NEW"]} == {False}
    assert {r["old_logs"] for r in by_lot["OLD"]} == {False}


def test_the_weeks_outlook_tells_when_to_saw(
    yard: Yard, quick: Command, weather_service: WeatherService, mailbox: Mailbox
) -> None:
    yard.configure('hear = ["warnings", "all_clear"]', 'hear = ["outlook"]')
    lot(quick, "L4", "hard_maple")
    weather_service.issue(SUNDAY, [DRY] * 168)

    assert quick("watch", "--once", *AT).code == 0

    (mail,) = mailbox.mails
    body = mail.get_body(("plain",))
    assert body is not None
    text = body.get_content()
    assert "Lots, and the best of the next ten days to saw each:" in text
    assert "  L4 hard maple 4/4: saw " in text


@pytest.mark.parametrize("rooms", [1, 2])
def test_a_plan_keeps_within_the_room_there_is(
    yard: Yard, quick: Command, weather_service: WeatherService, rooms: int
) -> None:
    text = yard.config.read_text().replace("exposure = ", f"room = {rooms}\nexposure = ")
    yard.config.write_text(text)
    weather_service.issue(SUNDAY, [DRY] * 168)
    where = ("--thickness", "4/4", "--site", "gravel", "--stacked", "2025-06-14T07:00")
    for i, wood in enumerate(("red_oak", "beech")[:rooms]):
        assert quick("stack", "add", f"R{i}", "--species", wood, *where).code == 0
    assert quick("watch", "--once", *AT).code == 0
    lot(quick, "L4", "yellow_poplar", "--volume", "2,500 bf")

    plan = quick("places", "--plan", "--json", *AT).json

    taken = [row["to"] for row in plan["placings"] if row["to"]]
    assert all(taken.count(site) <= rooms for site in ("gravel", "shed", "barn"))
    assert [row["name"] for row in plan["placings"]].count("L4") == 3
    assert all(row["to"] for row in plan["placings"] if not row["is_lot"])
    assert (len(taken) == 3 * rooms) or rooms == 2
    assert quick("places", "--plan", *AT).code == 0
