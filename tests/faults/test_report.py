"""The yard's page and the plots as commands and the daemon write them."""

import json
import stat
import subprocess
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest
from tests.conftest import DAMP, DRY, HOT_DRY, Command, Mailbox, WeatherService, Yard

from drywind.clock import floor_hour

ISSUED = datetime(2026, 6, 10, 18, tzinfo=UTC)
NOW = "2026-06-10T21:00Z"


@pytest.fixture
def watched(yard: Yard, quick: Command, weather_service: WeatherService) -> Yard:
    """Return a yard of two stacks in hot dry wind that was watched once."""
    weather_service.issue(ISSUED, [HOT_DRY] * 60 + [DRY] * 114)
    for name, species, site in (("R7", "red_oak", "gravel"), ("P3", "yellow_poplar", "barn")):
        quick(
            *("stack", "add", name, "--species", species, "--thickness", "4/4"),
            *("--site", site, "--stacked", "2026-06-10T18:00Z"),
        )
    # What is beyond the forecast takes long to make, and has tests of its own.
    (yard.data / "plans.json").write_text(json.dumps({"made_at": NOW, "plans": {}}))
    quick("watch", "--once", "--now", NOW)
    return yard


def test_a_pass_leaves_the_page_for_its_owners_eyes(watched: Yard) -> None:
    page = watched.data / "yard.html"

    assert "Loopback Yard" in page.read_text()
    assert stat.S_IMODE(page.stat().st_mode) == 0o600
    assert [p.name for p in watched.data.iterdir() if p.name.startswith(".drywind-")] == []


def test_a_dry_run_leaves_none(yard: Yard, quick: Command, weather_service: WeatherService) -> None:
    weather_service.issue(ISSUED, [DRY] * 174)
    quick("watch", "--once", "--dry-run", "--now", NOW)

    assert not (yard.data / "yard.html").exists()


def by_the_daemons_worker(yard: Yard) -> "subprocess.CompletedProcess[str]":
    """Do a pass as the daemon has it done."""
    command = [sys.executable, "-m", "drywind.daemon.worker", "pass", "--unsure-clock"]
    command += ["--store", str(yard.data / "drywind.db"), "--now", datetime.now(UTC).isoformat()]
    return subprocess.run(
        [*command, "--config", str(yard.config)], capture_output=True, text=True, check=False
    )


def test_the_daemons_pass_leaves_the_page_and_tells_its_warning_without_it(
    yard: Yard, quick: Command, weather_service: WeatherService
) -> None:
    since = floor_hour(datetime.now(UTC)) - timedelta(hours=2)
    weather_service.issue(since, [HOT_DRY] * 60 + [DRY] * 114)
    quick(
        *("stack", "add", "R7", "--species", "red_oak", "--thickness", "4/4"),
        *("--site", "gravel", "--stacked", since.isoformat()),
    )
    page = yard.data / "yard.html"
    page.mkdir()  # nothing can be written over a folder

    hindered = by_the_daemons_worker(yard)
    warned = yard.sql("SELECT count(*) FROM outbox")
    page.rmdir()
    again = by_the_daemons_worker(yard)

    assert (hindered.returncode, again.returncode) == (0, 0), hindered.stderr + hindered.stdout
    assert "the yard's page could not be written" in hindered.stderr
    assert warned == [(2,)]
    assert "The one stack needs work." in page.read_text()


def test_the_report_says_what_is_to_be_done_and_where_it_was_written(
    watched: Yard, quick: Command, tmp_path: Path
) -> None:
    file = tmp_path / "page.html"

    done = quick("report", "--out", file, "--now", NOW)

    assert done.code == 0
    assert done.stdout == f"1 of 2 stacks needs work.\nWrote {file}\n"
    made, kept = (
        p.read_text().partition("The watch itself")[0] for p in (file, watched.data / "yard.html")
    )
    assert made == kept


@pytest.mark.usefixtures("watched")
def test_the_report_as_json_is_what_the_page_shows(quick: Command) -> None:
    told = quick("report", "--json", "--now", NOW).json

    assert told["today"][0] == "1 of 2 stacks needs work."
    assert [work["subject"] for work in told["work"]] == ["R7"]
    assert [(s["id"], s["state"]) for s in told["stacks"]] == [("R7", "over"), ("P3", "well")]
    (place,) = told["places"]
    assert set(place["drying_mm_per_h"]) == {"gravel", "shed", "barn"}
    assert len(place["emc_pct"]) == 240
    assert place["emc_pct"][-1] is None
    assert [day["word"] for day in place["days"]][:2] == ["hot & dry", "hot & dry"]
    curve = told["stacks"][0]["curve"]
    lengths = {len(curve["times"]), *(len(b["mc_pct"]) for b in curve["boards"].values())}
    assert len(lengths) == 1


@pytest.mark.usefixtures("watched")
def test_sheltered_sites_dry_less(quick: Command) -> None:
    (place,) = quick("report", "--json", "--now", NOW).json["places"]
    known = {name: [v for v in hours if v is not None] for name, hours in
             place["drying_mm_per_h"].items()}  # fmt: skip

    assert sum(known["gravel"]) > sum(known["shed"]) > sum(known["barn"]) > 0


def test_where_no_weather_came_the_page_says_so(yard: Yard, quick: Command) -> None:
    quick(
        *("stack", "add", "R7", "--species", "red_oak", "--thickness", "4/4"),
        *("--site", "gravel", "--stacked", "2026-06-10T18:00Z"),
    )

    told = quick("report", "--json", "--now", NOW).json

    assert told["today"][0] == "Nothing can be said of the stacks."
    assert told["stacks"][0]["state"] == "unknown"
    assert told["weather"][0]["issued_at"] is None
    assert quick("report", "--now", NOW).code == 0
    assert (
        "No new forecast for gravel, shed, barn in a day." in (yard.data / "yard.html").read_text()
    )


@pytest.mark.usefixtures("watched")
def test_a_page_that_cannot_be_written_is_an_error_that_names_it(
    quick: Command, tmp_path: Path
) -> None:
    target = tmp_path / "none" / "page.html"

    done = quick("report", "--out", target, "--now", NOW)

    assert done.code == 4
    assert done.stderr == f"{target} cannot be written: No such file or directory\n"


def test_the_digest_brings_the_page_along(
    watched: Yard, quick: Command, mailbox: Mailbox, weather_service: WeatherService
) -> None:
    weather_service.issue(datetime(2026, 6, 11, 9, tzinfo=UTC), [HOT_DRY] * 60 + [DRY] * 114)
    watched.configure('hear = ["warnings", "all_clear"]', 'hear = ["warnings", "digest"]')
    done = quick("watch", "--once", "--now", "2026-06-11T11:00Z")
    assert (done.code, done.stderr) == (0, "")
    digest = next(m for m in mailbox.mails if "this morning" in m["subject"])

    (page,) = digest.iter_attachments()

    assert page.get_filename() == "yard.html"
    assert page.get_content().strip() == (watched.data / "yard.html").read_text().strip()
    warning = next(m for m in mailbox.mails if "drying too fast" in m["subject"])
    assert [p.get_filename() for p in warning.iter_attachments()] == []


def test_a_warning_goes_out_without_its_picture_where_that_cannot_be_drawn(
    quick: Command,
    weather_service: WeatherService,
    mailbox: Mailbox,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def fail(*_: object) -> None:
        raise OSError("no fonts")

    monkeypatch.setattr("drywind.speaking.outlook_picture", fail)
    weather_service.issue(ISSUED, [HOT_DRY] * 174)
    quick(
        *("stack", "add", "R7", "--species", "red_oak", "--thickness", "4/4"),
        *("--site", "gravel", "--stacked", "2026-06-10T18:00Z"),
    )
    quick("watch", "--once", "--now", NOW)

    (mail,) = mailbox.mails
    assert "drying too fast" in mail["subject"]
    assert "image/png" not in [part.get_content_type() for part in mail.walk()]


@pytest.mark.usefixtures("watched")
@pytest.mark.parametrize("form", ["png", "svg"])
def test_a_stack_is_drawn(form: str, quick: Command, tmp_path: Path) -> None:
    file = tmp_path / f"R7.{form}"

    done = quick("stack", "show", "R7", "--now", NOW, "--plot", file)

    assert (done.code, done.stderr) == (0, "")
    if form == "png":
        assert file.read_bytes().startswith(b"\x89PNG")
    else:
        words = "".join(ET.parse(file).getroot().itertext())
        for told in ("R7 red oak 4/4, gravel", "typical board", "edge board", "top board",
                     "safe pace", "moisture content (%)"):  # fmt: skip
            assert told in words


@pytest.mark.usefixtures("watched")
def test_the_same_stack_gives_the_same_picture(quick: Command, tmp_path: Path) -> None:
    files = [tmp_path / "a.svg", tmp_path / "b.svg"]
    for file in files:
        quick("stack", "show", "R7", "--now", NOW, "--plot", file)

    assert files[0].read_bytes() == files[1].read_bytes()


@pytest.mark.usefixtures("watched")
def test_a_plot_of_another_kind_is_refused_before_any_work(quick: Command) -> None:
    done = quick("stack", "show", "R7", "--plot", "R7.jpg")

    assert done.code == 2
    assert done.stderr == "--plot R7.jpg: the name ends in .png or .svg\n"


def test_damp_days_are_called_so(quick: Command, weather_service: WeatherService) -> None:
    weather_service.issue(ISSUED, [DAMP] * 174)
    quick("watch", "--once", "--now", NOW)

    (place,) = quick("report", "--json", "--now", NOW).json["places"]

    assert {day["word"] for day in place["days"][:7]} == {"damp"}
