"""The exact words of one e-mail, and what others must and must not say."""

import shlex
from dataclasses import replace
from datetime import datetime, timedelta

import pytest
from tests.conftest import Command, Yard
from tests.messages.outlooks import (
    BURLAP,
    BURLAP_AND_CLOSED,
    CLOTH,
    CLOTH_HELPS,
    EARLY,
    LATE,
    METRIC,
    NOW,
    R8,
    TO_SHED,
    US,
    likely,
    outlook,
    trial,
    unknown,
)

from drywind.alerts.records import Message, Reason
from drywind.alerts.story import Told, message
from drywind.alerts.tried import CAUTION_COVER, CAUTION_LOADER
from drywind.alerts.wording import Reader
from drywind.climate.stack_air import Board
from drywind.judge.hazards import Pace
from drywind.judge.measures import Remedy, Trial
from drywind.judge.outlook import Outlook
from drywind.wood.limits import Basis, Limit
from drywind.yard import Measure

UNKNOWN = Trial(CLOTH, Pace({}, None, complete=False))
COMMAND = "  drywind stack event "

WHOLE = """\
drywind R8 red oak 4/4, gravel: hang burlap by Sat 10am. Hot dry wind Sat 11am-7pm. Edges lose 7.9\
 pts/day (safe 3.8), skin to 18% (safe 24); done that 25%, ok.

The worst ahead, in points of moisture content (MC) a day:
  windward edge board: 7.9, from 80 % MC, where 3.8 is safe; its skin comes to 18 % in its first 3\
 days
  typical board: 4.1, from 80 % MC, where 3.8 is safe
Safe for this wood and thickness while wet: 3.8 (published).
Every fresh board starts fast; it is in danger if its skin, the outer millimeter, also falls below\
 about 24 % within three days (our own rule).

Why: hot dry wind, Sat 11am-7pm: up to 95F and 11 mph, humidity down to 25 %.

What we tried on it in the model, the least work first (the work is our estimate):
  hang shade cloth: 7.5 pts/day, skin 21 %, still too fast (about 20 min)
  hang burlap: 6.6 pts/day, skin 25 %, safe (about 30 min)  <- do this

Leave it on until drywind says otherwise: as far as the forecast reaches, the danger is not over.

Covers sail: tie cloth and burlap down, weight or strap roofs, and leave them alone once it blows\
 hard.

When it is done, enter it, and the findings change by themselves:
  drywind stack event R8 covered burlap

How sure: the model has not been weighed against your boards; take its losses as good to about 1\
 point a day in the first two days and half a point in the first week. How much wind and sun reach\
 a stack, and what covers do, are assumptions.
Forecast: US National Weather Service, issued 3 h ago.
"""


def mail(seen: Outlook, reason: Reason = Reason.FIRST, reader: Reader = US) -> Message:
    """Return the message, from a forecast three hours old."""
    return message(seen, reason, reader, Told(NOW - timedelta(hours=3), "nws"))


def test_a_warning_tells_the_whole_story() -> None:
    tried = (
        trial(CLOTH, replace(EARLY, loss_pct_per_day=7.5, shell_pct=21.0)),
        trial(BURLAP, replace(EARLY, loss_pct_per_day=6.6, shell_pct=25.0)),
    )
    typical = replace(LATE, board=Board.TYPICAL, start=30, loss_pct_per_day=4.1)
    seen = replace(outlook([EARLY, typical], tried[1], R8), trials=tried)

    assert replace(mail(seen), html="") == Message(
        subject="drywind: R8 red oak 4/4, gravel: drying too fast",
        text=WHOLE.splitlines()[0],
        story=WHOLE,
    )


@pytest.mark.parametrize(
    ("reason", "subject"),
    [
        (Reason.FIRST, "drywind: R7 red oak 4/4, gravel: drying too fast"),
        (Reason.WORSE, "drywind: R7 red oak 4/4, gravel: worse: drying too fast"),
        (Reason.REPEAT, "drywind: R7 red oak 4/4, gravel: still drying too fast"),
    ],
)
def test_the_subject_names_the_stack_and_what_is_new(reason: Reason, subject: str) -> None:
    assert mail(outlook([LATE], CLOTH_HELPS), reason).subject == subject


def test_an_all_clear_gives_its_figures_but_no_cause_no_advice_and_no_caution() -> None:
    told = mail(outlook([replace(LATE, loss_pct_per_day=2.5)]), Reason.ALL_CLEAR)

    assert told.subject == "drywind: R7 red oak 4/4, gravel: all clear"
    assert told.story.startswith(f"{told.text}\n\nThe worst ahead")
    assert "windward edge board: 2.5, from 80 % MC, where 3.8 is safe\n" in told.story
    for phrase in ("Why:", "tried", "do this", "enter it", CAUTION_COVER, CAUTION_LOADER):
        assert phrase not in told.story


@pytest.mark.parametrize(
    ("remedy", "cautions"),
    [
        (CLOTH, {CAUTION_COVER}),
        (BURLAP, {CAUTION_COVER}),
        (Remedy((Measure.PILE_ROOF,)), {CAUTION_COVER}),
        (TO_SHED, {CAUTION_LOADER}),
        (Remedy((Measure.PACKS_CLOSED,)), {CAUTION_LOADER}),
        (BURLAP_AND_CLOSED, {CAUTION_COVER, CAUTION_LOADER}),
        (Remedy((Measure.BURLAP,), "long shed"), {CAUTION_COVER, CAUTION_LOADER}),
    ],
)
def test_the_cautions_are_those_of_the_work_advised(remedy: Remedy, cautions: set[str]) -> None:
    seen = outlook([LATE], trial(remedy, replace(LATE, loss_pct_per_day=3.5)))
    others = replace(seen, trials=(CLOTH_HELPS, trial(BURLAP_AND_CLOSED, LATE), *seen.trials))

    story = mail(others).story

    assert {c for c in (CAUTION_COVER, CAUTION_LOADER) if c in story} == cautions


def test_where_nothing_helps_no_work_is_marked_and_none_is_warned_of() -> None:
    seen = replace(outlook([LATE]), trials=(trial(CLOTH, LATE), trial(TO_SHED, LATE)))

    story = mail(seen).story

    assert "no cover or move we tried helps" in story
    assert "  move to long shed: 5.9 pts/day, still too fast (about 60 min)\n" in story
    for phrase in ("do this", "enter it", CAUTION_COVER, CAUTION_LOADER):
        assert phrase not in story


def test_where_nothing_could_be_tried_nothing_is_told_of_trials() -> None:
    assert "What we tried" not in mail(outlook([LATE])).story


def test_ten_trials_are_shown_and_the_one_advised_whatever_its_place() -> None:
    remedies = [Remedy((Measure.BURLAP,), f"site {n}") for n in range(15)]
    trials = tuple(trial(remedy, LATE) for remedy in remedies)
    seen = replace(outlook([LATE]), trials=trials, chosen=trials[12])

    lines = [line for line in mail(seen).story.splitlines() if line.startswith("  move to")]

    assert [line.split(" +")[0].strip() for line in lines] == [
        f"move to site {n}" for n in [*range(10), 12]
    ]
    assert [line.endswith("<- do this") for line in lines] == [False] * 10 + [True]


def test_a_trial_nothing_is_known_of_is_not_called_safe() -> None:
    seen = replace(outlook([LATE]), trials=(UNKNOWN,))

    assert "  hang shade cloth: unknown" in mail(seen).story
    assert ", safe (" not in mail(seen).story


def test_a_trial_nothing_is_known_of_is_not_called_too_fast_either() -> None:
    seen = replace(outlook([LATE]), trials=(UNKNOWN,))

    assert "still too fast" not in mail(seen).story


def test_a_trial_that_leaves_unknown_what_is_known_without_it_is_called_neither() -> None:
    partly = trial(CLOTH, replace(LATE, loss_pct_per_day=3.0), known=False)
    seen = replace(outlook([LATE]), trials=(partly,))

    assert "  hang shade cloth: 3.0 pts/day, unknown (about 20 min)\n" in mail(seen).story


def test_of_an_old_stack_no_skin_is_told() -> None:
    story = mail(outlook([LATE], CLOTH_HELPS)).story

    for word in ("outer millimeter", "skin", "fresh board"):
        assert word not in story


def test_the_open_top_course_is_told_by_name() -> None:
    story = mail(outlook([replace(LATE, board=Board.TOP)], CLOTH_HELPS)).story

    assert "  open top course: 5.9, from 80 % MC, where 3.8 is safe\n" in story


def test_the_limit_says_what_it_rests_on() -> None:
    own = replace(outlook([LATE], CLOTH_HELPS), limit=Limit(3.2, Basis.TIGHTENED))

    assert (
        "Safe for this wood and thickness while wet: 3.2 (tightened by you).\n" in mail(own).story
    )


def test_missing_weather_is_owned_up_to_and_which_way_it_leads_astray() -> None:
    seen = outlook([LATE], CLOTH_HELPS)
    missing = (
        " The weather of 30 h is missing; the stack was taken as it was before them, so it may be"
        " drier than we think."
    )
    case = unknown(seen.case, slice(100, 130))
    case = unknown(case, slice(seen.now, None))  # not since stacking: still to come
    gap = replace(seen, run=replace(seen.run, case=case))

    assert missing in mail(gap).story
    assert "is missing" not in mail(seen).story


@pytest.mark.parametrize(
    ("count", "words"),
    [
        (31, "nearly certain: all of the 31"),
        (30, "nearly certain: nearly all of the 31"),
        (28, "nearly certain: about 9 in 10 of the 31"),
        (27, "likely: about 9 in 10 of the 31"),
        (23, "likely: about 7 in 10 of the 31"),
        (20, "about an even chance: about 6 in 10 of the 31"),
        (11, "about an even chance: about 4 in 10 of the 31"),
        (10, "unlikely: about 3 in 10 of the 31"),
        (1, "unlikely: hardly any of the 31"),
        (0, "unlikely: none of the 31"),
    ],
)
def test_how_likely_it_is_is_told_in_plain_words_and_a_number(count: int, words: str) -> None:
    seen = likely(outlook([LATE], CLOTH_HELPS), count / 31)

    assert (
        f" are assumptions. That it goes over its limit is {words} weathers tried, which could well"
        " come of this forecast, bring it there.\nForecast: "
    ) in mail(seen).story


def test_a_chance_that_was_not_asked_is_not_told() -> None:
    story = mail(outlook([LATE], CLOTH_HELPS)).story

    assert "weathers" not in story


def test_a_metric_reader_reads_metric_units_in_the_mail_too() -> None:
    story = mail(outlook([LATE], CLOTH_HELPS), reader=METRIC).story

    assert (
        "Why: hot dry wind, Sat 11:00-19:00: up to 35C and 5 m/s, humidity down to 25 %.\n" in story
    )


def test_without_a_spell_no_cause_is_made_up() -> None:
    assert "Why:" not in mail(outlook([LATE], spell=None)).story


@pytest.mark.parametrize("text", ["nan", "inf", "None", "_", "  \n"])
def test_nothing_of_the_machine_shows_but_the_commands_to_enter(text: str) -> None:
    seen = outlook([LATE, replace(EARLY, board=Board.TOP)], CLOTH_HELPS)

    story = mail(seen).story

    assert COMMAND + "R7 covered shade_cloth\n" in story
    assert text not in "".join(
        line for line in story.splitlines(keepends=True) if not line.startswith(COMMAND)
    )


@pytest.mark.parametrize(
    ("remedy", "site", "measures"),
    [
        (CLOTH, "gravel", ["shade_cloth"]),
        (BURLAP_AND_CLOSED, "gravel", ["burlap", "packs_closed"]),
        (Remedy((), "O'Neil's #2 & 3"), "O'Neil's #2 & 3", []),
        (Remedy((Measure.PILE_ROOF,), "barn"), "barn", ["pile_roof"]),
    ],
)
def test_the_commands_to_enter_are_understood_by_a_shell_and_by_the_program(
    yard: Yard, quick: Command, remedy: Remedy, site: str, measures: list[str]
) -> None:
    yard.configure('name = "shed"', "name = \"O'Neil's #2 & 3\"")
    wood = ("--species", "red oak", "--thickness", "4/4", "--site", "gravel")
    assert quick("stack", "add", "R7", *wood).code == 0
    story = mail(outlook([LATE], trial(remedy, replace(LATE, loss_pct_per_day=3.5)))).story

    commands = [shlex.split(line) for line in story.splitlines() if line.startswith(COMMAND)]
    for program, *arguments in commands:
        assert program == "drywind"
        assert quick(*arguments).code == 0

    [listed] = quick("stack", "list", "--json").json
    assert (listed["site"], listed["measures"]) == (site, measures)


def test_a_board_that_cannot_be_harmed_any_more_is_told_in_words() -> None:
    dry = replace(LATE, loss_pct_per_day=0.4, safe_pct_per_day=float("inf"))

    story = mail(outlook([dry]), Reason.ALL_CLEAR).story

    assert "  windward edge board: 0.4, from 80 % MC, where it is too dry to be harmed\n" in story
    assert "inf" not in story


def test_a_trial_that_is_safe_as_far_as_known_is_called_safe() -> None:
    slow = trial(CLOTH, replace(LATE, loss_pct_per_day=3.0), complete=False)

    assert "  hang shade cloth: 3.0 pts/day, safe (" in mail(outlook([LATE], slow)).story


@pytest.mark.parametrize(
    ("issued_at", "words"),
    [
        (NOW - timedelta(hours=30), "issued 30 h ago.\n"),
        (NOW, "issued 0 h ago.\n"),
        (NOW + timedelta(minutes=40), "issued 0 h ago.\n"),  # by a clock ahead of ours
    ],
)
def test_the_forecast_is_told_with_its_age(issued_at: datetime, words: str) -> None:
    story = message(outlook([LATE], CLOTH_HELPS), Reason.FIRST, US, Told(issued_at, "nws")).story

    assert story.endswith(f"Forecast: US National Weather Service, {words}")
