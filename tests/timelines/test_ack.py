"""`drywind ack` from the command line: what it writes, what it says, and what is silent then."""

from datetime import UTC, datetime, timedelta

import pytest
from tests.conftest import DAMP, HOT_DRY, WEEK, Command, Phone, WeatherService, Yard

NOW = datetime(2026, 6, 12, 18, 0, tzinfo=UTC)
"""1 pm on a Friday in the yard."""

HOUR = timedelta(hours=1)
NOTHING = "No warning stands that is not acknowledged already.\n"
BOTH = "for Ada phone, Office mail."


@pytest.fixture
def warned(quick: Command, weather_service: WeatherService) -> None:
    """Fresh red oak R7 and R9 in the shed, a hot dry wind all week, and a pass that warned."""
    for name in ("R7", "R9"):
        wood = ("--species", "red oak", "--thickness", "4/4", "--site", "shed")
        assert quick("stack", "add", name, *wood, "--stacked", NOW.isoformat()).code == 0
    weather_service.issue(NOW, [HOT_DRY] * WEEK)
    assert reasons(quick) == ["first"] * 4


def reasons(quick: Command, hours: int = 0, stack: str | None = None) -> list[str]:
    """Do a pass; return what was decided of a stack, or of all stacks."""
    done = quick("watch", "--once", "--json", "--now", (NOW + hours * HOUR).isoformat())
    found = [d for d in done.json["decisions"] if d["stack"] != "*"]
    fast = [d for d in found if d["hazard"] == "too_fast"]
    return [d["reason"] for d in fast if stack in {None, d["stack"]}]


def ack(quick: Command, *arguments: str, hours: int = 1) -> str:
    done = quick("ack", *arguments, "--now", (NOW + hours * HOUR).isoformat())
    assert (done.code, done.stderr) == (0, "")
    return done.stdout


@pytest.mark.usefixtures("warned")
def test_an_acknowledged_warning_is_not_repeated_and_another_one_is(
    yard: Yard, quick: Command
) -> None:
    yard.config.write_text(yard.config.read_text() + "\n[policy]\nrepeat_hours = 6\n")
    told = ack(quick, "R7")

    assert told == (
        f"R7, too fast: acknowledged {BOTH}\n"
        "They are not repeated; if they get worse, that is told.\n"
    )
    assert reasons(quick, 6) == ["acked", "repeat"] * 2


@pytest.mark.usefixtures("warned")
def test_what_was_acknowledged_is_noted_once(yard: Yard, quick: Command) -> None:
    ack(quick, "R7")

    assert ack(quick, "R7", hours=2) == NOTHING
    assert "R9, too fast" in ack(quick, "--all", hours=2)
    assert ack(quick, "--all", hours=3) == NOTHING
    rows = yard.sql("SELECT stack, contact FROM decision WHERE reason = 'acked' ORDER BY id")
    assert rows == [(s, c) for s in ("R7", "R9") for c in ("Ada phone", "Office mail")]


def test_where_nothing_stands_that_is_said(quick: Command) -> None:
    assert ack(quick, "--all") == NOTHING
    assert quick("ack", "--all", "--json").json == []


@pytest.mark.usefixtures("warned")
def test_only_what_was_asked_is_acknowledged(quick: Command) -> None:
    assert ack(quick, "R7", "--hazard", "stain") == NOTHING
    assert "R7, too fast: acknowledged for Ada phone.\n" in ack(
        quick, "R7", "--contact", "Ada phone"
    )
    assert "acknowledged for Office mail." in ack(quick, "R7", "--hazard", "too_fast")


@pytest.mark.usefixtures("warned")
def test_a_snoozed_stack_is_silent_for_so_long_and_the_other_is_not(
    quick: Command, weather_service: WeatherService, phone: Phone
) -> None:
    told = ack(quick, "R7", "--snooze", "2d")
    weather_service.issue(NOW + 8 * HOUR, [DAMP] * WEEK)

    assert told == (
        f"R7: silent until Sun Jun 14 14:00 {BOTH}\n"
        "What is much worse and cannot wait is told all the same.\n"
    )
    assert reasons(quick, 25) == ["snoozed", "all_clear"] * 2
    assert "R9 red oak 4/4, shed: all clear" in phone.texts[-1]
    assert reasons(quick, 49, "R7") == ["all_clear"] * 2


@pytest.mark.usefixtures("warned")
def test_all_stacks_can_be_snoozed_at_once_and_the_last_snooze_counts(
    yard: Yard, quick: Command, weather_service: WeatherService
) -> None:
    told = ack(quick, "--all", "--snooze", "30d")
    assert f"all stacks: silent until Sun Jul 12 14:00 {BOTH}" in told
    ack(quick, "--all", "--snooze", "47h", hours=2)
    weather_service.issue(NOW + 8 * HOUR, [DAMP] * WEEK)

    assert reasons(quick, 48) == ["snoozed"] * 4
    assert reasons(quick, 49) == ["all_clear"] * 4
    assert {row[0] for row in yard.sql("SELECT stack FROM decision WHERE reason = 'snoozed'")} == {
        "*"
    }


@pytest.mark.usefixtures("warned")
def test_the_answers_for_machines(quick: Command) -> None:
    at = ("--now", (NOW + HOUR).isoformat(), "--json")

    snoozed = quick("ack", "R7", "--snooze", "12h", "--contact", "Ada phone", *at).json
    acked = quick("ack", "R7", "--contact", "Ada phone", *at).json

    who = {"contact": "Ada phone", "stack": "R7"}
    assert snoozed == [who | {"hazard": "*", "reason": "snoozed", "until": "2026-06-13T07:00:00Z"}]
    assert acked == [who | {"hazard": "too_fast", "reason": "acked", "until": None}]


@pytest.mark.usefixtures("warned")
def test_a_stack_taken_down_has_no_warning_to_answer(quick: Command) -> None:
    assert quick("stack", "end", "R7", "--at", (NOW + HOUR).isoformat()).code == 0

    assert ack(quick, "R7", hours=2) == NOTHING


@pytest.mark.usefixtures("warned")
@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ((), "name the stacks or lots whose warnings you have read, or say --all"),
        (("R7", "--all"), "name the stacks or lots whose warnings you have read, or say --all"),
        (("R8",), "there is no stack 'R8'; did you mean R"),
        (("R7", "--hazard", "rot"), "'rot' is not a hazard; there are: too_fast, stain, wetting"),
        (("R7", "--contact", "Bob"), "no contact named Bob; there are: Ada phone, Office mail"),
        (("R7", "--snooze", "0h"), "--snooze 0h: write it like 12h or 2d, up to 30d"),
        (("R7", "--snooze", "31d"), "--snooze 31d: write it like 12h or 2d, up to 30d"),
        (("R7", "--snooze", "soon"), "--snooze soon: write it like 12h or 2d, up to 30d"),
    ],
)
def test_a_wrong_use_ends_with_2_and_one_plain_line(
    quick: Command, arguments: tuple[str, ...], words: str
) -> None:
    done = quick("ack", *arguments)

    assert (done.code, done.stdout) == (2, "")
    assert words in done.stderr
    assert done.stderr.count("\n") == 1
