"""The exact words of the morning's digest and the week's outlook."""

from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.messages.outlooks import METRIC, US

from drywind.alerts.digest import SiteDay, StackLine, digest_message, outlook_message
from drywind.alerts.gsm7 import septets

WELL = StackLine("R7", "gravel lot", "red oak 4/4", 62.4, 0.55)
WARNED = replace(WELL, name="R8", pace=1.35, warnings=("drying too fast (told Fri 4pm)",))
HELD = replace(WELL, name="R9", held=("staining (quiet hours)", "getting wet (not due yet)"))
HINTED = replace(WELL, name="W1", hints=("dry enough to move to the long shed",))
LOST = replace(WELL, name="B2", mc_pct=None, pace=None)
DARK = replace(WELL, name="B3", pace=None)

FRIDAY = date(2026, 6, 12)
HOT = SiteDay("gravel lot, long shed", FRIDAY, 35.0, 0.18, 7.0, 5.2)
FAIR = replace(HOT, day=FRIDAY + timedelta(days=1), high_c=22.0, low_rh=0.45, emc_pct=11.4)
DAMP = replace(HOT, day=FRIDAY + timedelta(days=2), high_c=15.0, low_rh=0.8, emc_pct=18.0)
UNKNOWN = SiteDay(HOT.site, FRIDAY + timedelta(days=3), None, None, None, None)
BARN = replace(FAIR, site="old barn")


def test_a_morning_on_which_all_is_well_has_no_digest() -> None:
    assert digest_message([], US) is None
    assert digest_message([WELL, replace(WELL, name="R8")], US) is None


@pytest.mark.parametrize("line", [WARNED, HELD, HINTED, LOST, DARK], ids=lambda line: line.name)
def test_one_stack_with_something_to_tell_makes_one(line: StackLine) -> None:
    assert digest_message([WELL, line], US) is not None


def test_the_digest() -> None:
    mail = digest_message([WELL, WARNED, HELD, HINTED, LOST, DARK], US)

    assert mail is not None
    assert mail.subject == "drywind: this morning 5 of 6 stacks to look at"
    assert mail.text == (
        "drywind Fri: 6 stacks stand. Warned: R8; kept back: R9; unknown: B2, B3; hints: W1."
    )
    assert mail.story == (
        f"{mail.text}\n\n"
        "The stacks, and the worst ahead of each:\n"
        "  R7 red oak 4/4, gravel lot: 62 % MC; 55% of its limit\n"
        "  R8 red oak 4/4, gravel lot: 62 % MC; 135% of its limit;"
        " warned of drying too fast (told Fri 4pm)\n"
        "  R9 red oak 4/4, gravel lot: 62 % MC; 55% of its limit;"
        " kept back: staining (quiet hours), getting wet (not due yet)\n"
        "  W1 red oak 4/4, gravel lot: 62 % MC; 55% of its limit;"
        " dry enough to move to the long shed\n"
        "  B2 red oak 4/4, gravel lot: unknown; measure it: drywind stack event B2 weighed 35\n"
        "  B3 red oak 4/4, gravel lot: 62 % MC; ahead unknown\n\n"
        "Warnings come by themselves.\n"
    )


def test_the_digest_of_a_single_stack_begins_with_what_there_is() -> None:
    mail = digest_message([HELD], US)

    assert mail is not None
    assert mail.text == "drywind Fri: 1 stack stands. Kept back: R9."


def test_a_digest_of_many_stacks_counts_them() -> None:
    mail = digest_message([replace(WARNED, name=f"stack-{i:06}") for i in range(40)], US)

    assert mail is not None
    assert mail.text == "drywind Fri: 40 stacks stand. Warned: 40."


def test_the_outlook() -> None:
    mail = outlook_message([HOT, FAIR, DAMP, UNKNOWN, BARN], [WELL], US)

    assert mail.subject == "drywind: the week ahead, from Fri Jun 12 on"
    assert mail.text == (
        "drywind week ahead: gravel lot, long shed hot & dry Fri, damp Sun, unknown Mon; "
        "old barn fair."
    )
    assert mail.story == (
        "The week ahead at gravel lot, long shed:\n"
        "  Fri Jun 12: hot & dry; up to 95F, RH down to 18 %, wind up to 16 mph, EMC 5.2 %\n"
        "  Sat Jun 13: fair; up to 72F, RH down to 45 %, wind up to 16 mph, EMC 11.4 %\n"
        "  Sun Jun 14: damp; up to 59F, RH down to 80 %, wind up to 16 mph, EMC 18.0 %\n"
        "  Mon Jun 15: unknown\n\n"
        "The week ahead at old barn:\n"
        "  Sat Jun 13: fair; up to 72F, RH down to 45 %, wind up to 16 mph, EMC 11.4 %\n\n"
        "Hot & dry days are those that open checks. On damp days, of 16 % EMC and more in the "
        "mean, boards hardly dry, and stain and mold grow. The later days of a forecast are the "
        "less sure ones.\n\n"
        "The stacks, and the worst ahead of each:\n"
        "  R7 red oak 4/4, gravel lot: 62 % MC; 55% of its limit\n"
    )


def test_the_outlook_in_metric_units() -> None:
    story = outlook_message([HOT], [WELL], METRIC).story

    assert (
        "  Fri Jun 12: hot & dry; up to 35C, RH down to 18 %, wind up to 7 m/s, EMC 5.2 %" in story
    )


@pytest.mark.parametrize(
    ("high_c", "low_rh", "emc_pct", "word"),
    [
        (27.0, 0.39, 6.0, "hot & dry"),
        (26.9, 0.39, 6.0, "fair"),
        (27.0, 0.40, 6.0, "fair"),
        (20.0, 0.60, 16.0, "damp"),
        (20.0, 0.60, 15.9, "fair"),
        (None, 0.60, 15.9, "unknown"),
    ],
)
def test_the_word_of_a_day(high_c: float | None, low_rh: float, emc_pct: float, word: str) -> None:
    assert replace(HOT, high_c=high_c, low_rh=low_rh, emc_pct=emc_pct).word == word


lines = st.lists(st.sampled_from([WELL, WARNED, HELD, HINTED, LOST, DARK]), min_size=1, max_size=60)
days = st.lists(
    st.builds(
        SiteDay,
        st.sampled_from(["a", "gravel lot, long shed, old barn, barn lee, sawmill"]),
        st.dates(FRIDAY, FRIDAY + timedelta(days=6)),
        st.one_of(st.none(), st.floats(-40, 60)),
        st.floats(0, 1),
        st.floats(0, 75),
        st.floats(0, 30),
    ),
    min_size=1,
)


@given(lines, days)
def test_both_texts_fit_one_message(stacks: list[StackLine], ahead: list[SiteDay]) -> None:
    digest, week = digest_message(stacks, US), outlook_message(ahead, stacks, US)

    assert digest is None or septets(digest.text) <= 160
    assert septets(week.text) <= 160
