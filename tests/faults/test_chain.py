"""The whole chain, from the weather service to the phone, on good days and on bad ones.

Every pass is `drywind watch --once` over real HTTP, SQLite, SMTP and a phone's web address.
"""

import fcntl
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from tests.conftest import (
    DAMP,
    DRY,
    HOT_DRY,
    WEEK,
    Command,
    Done,
    Mailbox,
    Phone,
    WeatherService,
    Yard,
)

from drywind.alerts.gsm7 import septets

NOW = datetime(2026, 6, 12, 18, 0, tzinfo=UTC)
"""1 pm on a Friday in the yard."""

MIDNIGHT = datetime(2026, 6, 12, 5, 0, tzinfo=UTC)
"""The midnight before it."""

HOUR = timedelta(hours=1)


def stack_up(quick: Command, stack: str, site: str = "shed", *more: str) -> None:
    """Register a stack of 4/4 red oak, stacked `NOW` unless told otherwise."""
    wood = ("--species", "red oak", "--thickness", "4/4", "--site", site)
    added = quick("stack", "add", stack, *wood, "--stacked", NOW.isoformat(), *more)
    assert added.code == 0


def one_pass(command: Command, now: datetime = NOW, *more: str) -> Done:
    return command("watch", "--once", "--json", "--now", now.isoformat(), *more)


def reasons(done: Done) -> list[str]:
    return [d["reason"] for d in done.json["decisions"] if d["hazard"] == "too_fast"]


def finding(done: Done, stack: str = "R7") -> Any:
    return next(found for found in done.json["stacks"] if found["id"] == stack)


@pytest.fixture
def oak(quick: Command, weather_service: WeatherService) -> None:
    """Fresh red oak R7 in the shed, and a hot dry wind all week."""
    stack_up(quick, "R7")
    weather_service.issue(NOW, [HOT_DRY] * WEEK)


@pytest.mark.usefixtures("oak")
def test_hot_dry_weather_on_fresh_red_oak_reaches_the_mailbox_and_the_phone(
    run: Command, mailbox: Mailbox, phone: Phone
) -> None:
    done = one_pass(run)

    assert done.code == 0
    assert reasons(done) == ["first", "first"]
    assert [sent["outcome"] for sent in done.json["outcomes"]] == ["sent", "sent"]
    [text] = phone.texts
    assert text.startswith("drywind R7 red oak 4/4, shed: ")
    assert septets(text) <= 160
    [mail] = mailbox.mails
    assert "R7 red oak 4/4, shed: drying too fast" in mail["Subject"]
    told = mail.get_body(("plain",))
    assert told is not None
    story = told.get_content()
    assert text in story
    assert "3.8 (published)" in story


@pytest.mark.usefixtures("oak")
def test_a_pass_run_again_sends_nothing(quick: Command, mailbox: Mailbox, phone: Phone) -> None:
    one_pass(quick)

    again = one_pass(quick)

    assert again.code == 0
    assert reasons(again) == ["nothing_new", "nothing_new"]
    assert again.json["messages"] == again.json["outcomes"] == []
    assert len(phone.texts) == len(mailbox.mails) == 1


@pytest.mark.usefixtures("oak")
def test_sites_beside_each_other_share_one_forecast_and_the_place_is_looked_up_once(
    quick: Command, weather_service: WeatherService
) -> None:
    one_pass(quick)
    one_pass(quick)

    kinds = [path.split("/")[1] for path in weather_service.requests]
    assert kinds == ["points", "gridpoints", "gridpoints"]


@pytest.mark.usefixtures("oak")
def test_covering_and_moving_a_stack_change_what_is_found_without_being_told(
    quick: Command, weather_service: WeatherService
) -> None:
    weather_service.issue(NOW, [DRY] * WEEK)
    bare = finding(one_pass(quick))
    at = ("--at", NOW.isoformat())

    assert quick("stack", "event", "R7", "covered", "burlap", *at).code == 0
    covered = finding(one_pass(quick))
    assert quick("stack", "event", "R7", "moved", "barn", *at).code == 0
    moved = finding(one_pass(quick))

    assert bare["verdict"] == "too_fast"
    assert covered["measures"] == ["burlap"]
    assert moved["site"] == "barn"
    assert moved["severity"] < covered["severity"] < bare["severity"]
    assert (moved["verdict"], moved["advice"]) == ("safe", None)


@pytest.mark.usefixtures("oak")
def test_the_all_clear_comes_once_when_the_weather_turns_damp(
    quick: Command, weather_service: WeatherService, mailbox: Mailbox, phone: Phone
) -> None:
    one_pass(quick)
    weather_service.issue(NOW + 8 * HOUR, [DAMP] * WEEK)

    assert reasons(one_pass(quick, NOW + 25 * HOUR)) == ["all_clear", "all_clear"]
    weather_service.issue(NOW + 32 * HOUR, [DAMP] * WEEK)
    assert reasons(one_pass(quick, NOW + 33 * HOUR)) == ["nothing_new", "nothing_new"]

    assert len(phone.texts) == len(mailbox.mails) == 2
    assert "all clear" in phone.texts[-1]
    assert "all clear" in mailbox.mails[-1]["Subject"]


@pytest.mark.usefixtures("oak")
def test_a_dry_run_prints_what_it_would_say_but_sends_and_notes_nothing(
    quick: Command, mailbox: Mailbox, phone: Phone
) -> None:
    tried = quick("watch", "--once", "--dry-run", "--now", NOW.isoformat())

    assert tried.code == 0
    assert "FIRST to Ada phone: drywind R7 " in tried.stdout
    assert not phone.texts
    assert not mailbox.mails
    assert reasons(one_pass(quick)) == ["first", "first"]
    assert len(phone.texts) == len(mailbox.mails) == 1


@pytest.mark.usefixtures("oak")
def test_a_dry_run_leaves_alone_what_waits_to_be_sent(quick: Command, mailbox: Mailbox) -> None:
    mailbox.refusal = "451 come back later"
    one_pass(quick)
    mailbox.refusal = None

    assert one_pass(quick, NOW + HOUR, "--dry-run").json["outcomes"] == []

    assert not mailbox.mails


@pytest.mark.usefixtures("oak")
def test_without_any_weather_a_pass_ends_with_3_and_names_each_site(
    quick: Command, weather_service: WeatherService, phone: Phone
) -> None:
    weather_service.mode = "down"

    told = quick("watch", "--once", "--now", NOW.isoformat())
    listed = one_pass(quick)

    assert told.code == listed.code == 3
    for site in ("gravel", "shed", "barn"):
        assert f"{site}: nws: 127.0.0.1:" in told.stderr
    assert "answered 503" in told.stderr
    assert "no usable weather" in told.stderr
    assert [weather["site"] for weather in listed.json["weather"] if weather["error"]] == [
        "gravel",
        "shed",
        "barn",
    ]
    assert finding(listed)["verdict"] == "unknown"
    assert phone.texts == []  # the network may just not be up yet


@pytest.mark.usefixtures("oak")
def test_while_the_service_is_down_the_stored_forecast_still_warns(
    quick: Command, weather_service: WeatherService, phone: Phone
) -> None:
    one_pass(quick, NOW, "--dry-run")
    weather_service.mode = "down"

    done = one_pass(quick, NOW + HOUR)

    assert done.code == 0
    assert all("503" in weather["error"] for weather in done.json["weather"])
    assert finding(done)["verdict"] == "too_fast"
    assert len(phone.texts) == 1


@pytest.mark.usefixtures("oak")
def test_a_forecast_of_three_days_ago_is_not_believed_for_the_hours_ahead(
    quick: Command, weather_service: WeatherService, phone: Phone
) -> None:
    weather_service.issue(NOW - 72 * HOUR, [HOT_DRY] * WEEK)

    done = one_pass(quick)

    assert done.code == 3
    assert finding(done)["verdict"] == "unknown"
    [text] = phone.texts
    assert text.startswith("drywind is blind: last forecast Tue 1pm, 72 h old. ")


@pytest.mark.usefixtures("oak")
def test_a_warning_is_not_cleared_by_a_forecast_nobody_believes(
    quick: Command, weather_service: WeatherService, phone: Phone
) -> None:
    one_pass(quick)
    weather_service.issue(NOW + HOUR, [DAMP] * WEEK)

    done = one_pass(quick, NOW + 73 * HOUR)

    assert done.code == 3
    assert not [text for text in phone.texts if "all clear" in text]


@pytest.mark.usefixtures("oak")
def test_a_clock_set_back_over_a_saved_state_finds_what_it_found_before(
    quick: Command, phone: Phone
) -> None:
    before = one_pass(quick)
    one_pass(quick, NOW + 73 * HOUR)

    after = one_pass(quick)

    assert finding(after) == finding(before)
    assert not [text for text in phone.texts if "nan" in text]


@pytest.mark.usefixtures("oak")
def test_a_mail_server_that_refuses_ends_the_pass_with_4_and_the_phone_gets_its_text(
    quick: Command, mailbox: Mailbox, phone: Phone
) -> None:
    mailbox.refusal = "550 no such user"

    done = one_pass(quick)

    assert done.code == 4
    assert {sent["contact"]: sent["outcome"] for sent in done.json["outcomes"]} == {
        "Ada phone": "sent",
        "Office mail": "failed_for_good",
    }
    assert len(phone.texts) == 1


@pytest.mark.usefixtures("oak")
def test_a_mail_put_off_for_now_goes_out_with_a_later_pass_and_the_text_not_again(
    quick: Command, mailbox: Mailbox, phone: Phone
) -> None:
    mailbox.refusal = "451 come back later"
    put_off = one_pass(quick)
    mailbox.refusal = None

    later = one_pass(quick, NOW + timedelta(minutes=2))

    assert (put_off.code, later.code) == (4, 0)
    assert later.json["outcomes"] == [{"contact": "Office mail", "outcome": "sent"}]
    assert len(phone.texts) == len(mailbox.mails) == 1


@pytest.mark.usefixtures("oak")
@pytest.mark.parametrize(("air", "code"), [(HOT_DRY, 1), (DAMP, 0)])
def test_the_exit_code_tells_whether_a_stack_needs_action_only_if_asked_to(
    quick: Command, weather_service: WeatherService, air: tuple[float, float, float], code: int
) -> None:
    weather_service.issue(NOW, [air] * WEEK)

    assert one_pass(quick, NOW, "--exit-code").code == code
    assert one_pass(quick, NOW).code == 0


@pytest.mark.usefixtures("oak")
@pytest.mark.parametrize(
    "poison",
    [
        "UPDATE stack SET species = 'unobtainium' WHERE id = 'BAD'",
        "UPDATE stack SET thickness = 'thick' WHERE id = 'BAD'",
        "UPDATE stack SET measures = 'blanket' WHERE id = 'BAD'",
        "UPDATE stack SET site = 'loft' WHERE id = 'BAD'",
        "UPDATE stack SET sticker_m = -1 WHERE id = 'BAD'",
        "INSERT INTO event (stack, time, kind, detail) VALUES ('BAD', 0, 'moved', 'loft')",
    ],
)
def test_a_stack_that_cannot_be_judged_does_not_silence_the_others(
    yard: Yard, quick: Command, phone: Phone, caplog: pytest.LogCaptureFixture, poison: str
) -> None:
    stack_up(quick, "BAD")
    yard.sql(poison)

    done = quick("watch", "--once", "--now", NOW.isoformat())

    assert [text for text in phone.texts if text.startswith("drywind R7 ")]
    assert "BAD" in done.stderr + caplog.text


@pytest.mark.usefixtures("oak")
def test_a_stack_at_a_site_no_longer_configured_does_not_silence_the_others(
    yard: Yard, quick: Command, phone: Phone, caplog: pytest.LogCaptureFixture
) -> None:
    stack_up(quick, "B2", "barn")
    yard.configure('name = "barn"', 'name = "old barn"')

    done = quick("watch", "--once", "--now", NOW.isoformat())

    assert [text for text in phone.texts if text.startswith("drywind R7 ")]
    assert "B2" in done.stderr + caplog.text


@pytest.mark.usefixtures("oak")
def test_the_open_top_of_a_stack_on_the_gravel_is_the_first_in_danger_and_the_text_says_so(
    quick: Command, phone: Phone
) -> None:
    stack_up(quick, "G2", "gravel")

    worst = finding(one_pass(quick), "G2")["worst"]

    assert max(worst, key=lambda board: worst[board]["severity"]) == "top"
    [text] = [text for text in phone.texts if text.startswith("drywind G2 ")]
    assert "top course" in text.lower()


@pytest.mark.usefixtures("oak")
def test_under_a_roof_of_its_own_or_of_the_site_no_open_top_is_judged_or_told(
    quick: Command, phone: Phone
) -> None:
    stack_up(quick, "G3", "gravel", "--measures", "pile_roof")

    done = one_pass(quick)

    assert {tuple(found["worst"]) for found in done.json["stacks"]} == {("typical", "edge")}
    assert len(phone.texts) == 2
    assert not [text for text in phone.texts if "top" in text]


@pytest.mark.usefixtures("oak")
def test_a_move_out_from_under_a_roof_is_judged_with_the_open_top_it_brings(
    quick: Command,
) -> None:
    tried = {trial["do"]: trial["severity"] for trial in finding(one_pass(quick))["tried"]}

    assert tried["move to gravel"] > tried["move to gravel + put a pile roof on"]


def test_the_first_two_days_shown_are_the_two_days_listed(
    quick: Command, weather_service: WeatherService
) -> None:
    """Stacked at local midnight, so that the first 48 hours are the first two days."""
    stack_up(quick, "G1", "gravel", "--stacked", MIDNIGHT.isoformat())
    weather_service.issue(MIDNIGHT, [HOT_DRY] * WEEK)
    one_pass(quick, MIDNIGHT)

    shown = quick("stack", "show", "G1", "--json", "--now", NOW.isoformat()).json

    first, second, *_ = shown["daily"]
    for board, column in {"typical": "", "edge": "edge_", "top": "top_"}.items():
        mean = (first[f"{column}loss_pct"] + second[f"{column}loss_pct"]) / 2
        assert shown["first_48h_loss_pct_per_day"][board] == pytest.approx(mean, abs=0.011)
        assert second[f"{column}mc_pct"] == pytest.approx(
            80 - 2 * shown["first_48h_loss_pct_per_day"][board], abs=0.021
        )
    assert [day["hours"] for day in shown["daily"][:2]] == [24, 24]
    assert {day["limit_pct"] for day in shown["daily"]} == {shown["limit_pct_per_day"]} == {3.8}


@pytest.mark.usefixtures("oak")
def test_a_tighter_limit_holds_however_its_species_is_spelled(yard: Yard, quick: Command) -> None:
    yard.config.write_text(yard.config.read_text() + '\n[policy.safe_loss]\n"Red-Oak" = 2.0\n')

    found = finding(one_pass(quick))

    assert (found["limit_pct_per_day"], found["limit_basis"]) == (2.0, "tightened by you")


@pytest.mark.usefixtures("oak")
def test_no_pass_starts_on_a_limit_for_a_wood_nobody_knows(
    yard: Yard, quick: Command, phone: Phone
) -> None:
    yard.config.write_text(yard.config.read_text() + "\n[policy.safe_loss]\nred_oka = 2.0\n")

    done = one_pass(quick)

    assert done.code == 2
    assert "red_oak" in done.stderr
    assert phone.texts == []


@pytest.mark.usefixtures("oak")
def test_a_single_pass_leaves_a_yard_alone_that_is_watched_already(
    yard: Yard, quick: Command, phone: Phone
) -> None:
    """Two deliverers at a time would send a message twice."""
    quick("stack", "list")
    with (yard.data / "daemon.lock").open("w") as held:
        fcntl.flock(held, fcntl.LOCK_EX)

        done = one_pass(quick)

    assert done.code == 2
    assert "another drywind watches" in done.stderr
    assert phone.texts == []
