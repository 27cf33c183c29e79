"""What `drywind export` writes: everything, in columns others rely on, and nothing dangerous."""

import csv
import json
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from tests.conftest import Command, Yard

from drywind.alerts.records import Decision, Message, Reason
from drywind.store import Outcome, Store
from drywind.units import Thickness
from drywind.weather.hour import WeatherHour
from drywind.yard import Event, EventKind, LogLot, Measure, Setup, Stack, Trait

NOW = datetime(2026, 6, 12, 18, 0, tzinfo=UTC)
COLUMNS = {
    "stacks": "id,species,thickness,site,stacked,green_mc,sticker,pack_width,measures,traits,"
    "events",
    "events": "stack,time_utc,kind,what,mc_pct,sticker_mm",
    "lots": "id,species,felled_utc,site,volume,end_coated,stored,sawn_utc,ended_utc",
    "weather_hours": "lat,lon,time_utc,temp_c,rh,wind_ms,wind_dir_deg,gust_ms,ghi_wm2,cloud,"
    "rain_mm,source,issued_utc",
    "decisions": "id,contact,stack,hazard,reason,severity_limits,made_utc,onset_utc,"
    "useful_until_utc,subject,text,state,attempts",
    "outcomes": "decision_id,at_utc,outcome,detail",
}


@pytest.fixture
def stored(yard: Yard) -> Path:
    """Return a folder for exports beside a store with something of each kind."""
    nan = float("nan")
    setup = Setup("shed", 0.01905, 1.2, frozenset({Measure.BURLAP, Measure.PILE_ROOF}))
    with Store(yard.data / "drywind.db") as store:
        store.add_stack(
            Stack(
                id="-R7",
                species="red_oak",
                thickness=Thickness.parse("4/4"),
                stacked_at=NOW,
                setup=setup,
                green_mc_pct=78.5,
                traits=frozenset({Trait.HEART}),
            )
        )
        store.add_stack(Stack("W2", "black_walnut", Thickness.parse("27mm"), NOW, Setup("barn")))
        store.add_event(Event("W2", NOW, EventKind.METERED, "35.0"))
        store.add_event(Event("W2", NOW, EventKind.RESTICKERED, "0.0254"))
        store.add_event(Event("W2", NOW, EventKind.MOVED, "shed"))
        store.add_lot(LogLot("L4", "hard_maple", NOW, "barn", volume="=1+1"))
        store.save_hours(
            "-33.90,-70.60",
            [WeatherHour._make([NOW, -5.5, 0.25, 6.0, nan, nan, 810.0, 0.1, 0.0, "nws", NOW])],
        )
        decided = Decision(
            "Ada phone", "W2", "too_fast", Reason.FIRST, NOW, 1.5, None, NOW + timedelta(days=1)
        )
        store.record(decided, Message("Wind", "Tell Ada phone.", "It all.\n", "<p>"), "key")
        store.start_attempt(1, NOW)
        store.finish_attempt(1, NOW, Outcome.FAILED_FOR_NOW, "put off (451)", NOW)
    return yard.folder


def table(folder: Path, name: str) -> list[dict[str, str]]:
    with (folder / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_all_is_written_as_csv_with_these_columns_for_its_owner_alone(
    quick: Command, stored: Path
) -> None:
    done = quick("export", stored / "all")

    assert done.code == 0
    assert done.stdout == (
        f"Wrote {stored / 'all'}: 2 stacks, 3 events, 1 lots, 1 weather hours, 1 decisions,"
        " 1 outcomes.\n"
    )
    heads = {
        file.stem: file.read_text(encoding="utf-8").splitlines()[0]
        for file in (stored / "all").iterdir()
    }
    assert heads == COLUMNS
    assert {f.stat().st_mode & 0o777 for f in (stored / "all").iterdir()} == {0o600}
    metered, restickered, moved = table(stored / "all", "events")
    assert (metered["mc_pct"], metered["what"]) == ("35.0", "")
    assert (restickered["sticker_mm"], restickered["what"]) == ("25.4", "")
    assert (moved["what"], moved["time_utc"]) == ("shed", "2026-06-12T18:00:00Z")
    [hour] = table(stored / "all", "weather_hours")
    assert (hour["lat"], hour["temp_c"], hour["gust_ms"]) == ("-33.9", "-5.5", "")
    [decided] = table(stored / "all", "decisions")
    assert (decided["state"], decided["attempts"]) == ("failed_for_now", "1")
    [outcome] = table(stored / "all", "outcomes")
    assert outcome["detail"] == "put off (451)"


def test_no_cell_of_text_is_a_formula_and_no_number_is_text(quick: Command, stored: Path) -> None:
    quick("export", stored / "all")

    assert [row["id"] for row in table(stored / "all", "stacks")] == ["'-R7", "W2"]
    assert table(stored / "all", "lots")[0]["volume"] == "'=1+1"
    assert table(stored / "all", "weather_hours")[0]["lon"] == "-70.6"


def test_json_tells_the_same_with_the_same_names_and_null_for_unknown(
    quick: Command, stored: Path
) -> None:
    file = stored / "all.json"
    done = quick("export", file, "--format", "json")

    told: dict[str, list[dict[str, Any]]] = json.loads(file.read_text(encoding="utf-8"))
    assert done.code == 0
    assert {name: ",".join(rows[0]) for name, rows in told.items()} == COLUMNS
    assert told["weather_hours"][0]["gust_ms"] is None
    assert told["lots"][0]["volume"] == "=1+1"
    assert told["decisions"][0]["severity_limits"] == 1.5
    assert file.stat().st_mode & 0o777 == 0o600


@pytest.mark.parametrize("how", ["csv", "json"])
def test_redacted_no_name_of_a_contact_is_anywhere(quick: Command, stored: Path, how: str) -> None:
    target = stored / "redacted"
    assert quick("export", target, "--redact", "--format", how).code == 0

    files = [target] if how == "json" else list(target.iterdir())
    text = "".join(file.read_text(encoding="utf-8") for file in files)
    assert "Ada" not in text
    assert "contact 1" in text
    assert "Tell contact 1." in text


def test_exported_stacks_are_imported_as_they_were(
    quick: Command, yard: Yard, stored: Path
) -> None:
    quick("export", stored / "all")
    with Store(yard.data / "drywind.db") as store:
        before = [(s.id, s.setup, s.thickness, s.traits, s.green_mc_pct) for s in store.stacks()]
    (yard.data / "drywind.db").unlink()

    done = quick("stack", "import", stored / "all" / "stacks.csv")

    assert done.code == 0, done.stderr
    with Store(yard.data / "drywind.db") as store:
        after = [(s.id, s.setup, s.thickness, s.traits, s.green_mc_pct) for s in store.stacks()]
        assert {s.stacked_at for s in store.stacks()} == {NOW}
    assert after == before


def test_an_export_is_not_written_over_anything_nor_where_nothing_can_be(
    quick: Command, stored: Path
) -> None:
    (stored / "there").mkdir()

    assert quick("export", stored / "there").code == 2
    assert quick("export", stored / "no folder" / "x").code == 4
    assert list((stored / "there").iterdir()) == []
