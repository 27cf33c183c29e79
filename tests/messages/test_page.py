"""The page of an e-mail: what stands on it, and that it is fit for any mail program."""

import re
from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from xml.etree import ElementTree as ET

import numpy as np
import pytest
from tests.messages.outlooks import (
    AGE_H,
    BURLAP_AND_CLOSED,
    BURLAP_HELPS,
    CLOTH_HELPS,
    EARLY,
    LATE,
    NOW,
    R7,
    R8,
    US,
    likely,
    outlook,
    trial,
    unknown,
)

from drywind.alerts.blind import blind_message
from drywind.alerts.curve import PAST_DAYS, curve
from drywind.alerts.page import page
from drywind.alerts.parts import Bar, Curve, Lines, Row, plain
from drywind.alerts.records import Message, Reason
from drywind.alerts.story import Told, message
from drywind.climate.stack_air import Board
from drywind.judge.outlook import Outlook
from drywind.weather.nws_alerts import Notice
from drywind.weather.seen import SiteWeather
from drywind.yard import Setup

HOSTILE = "<script>alert('1')</script> & \"lot\""
TAGS = {"html", "head", "meta", "title", "body", "div", "h1", "h2", "p", "br", "b"}
TABLE_TAGS = {"table", "tr", "th", "td"}
ATTRIBUTES = {"lang", "charset", "name", "content", "style", "scope", "colspan"}


def mail(seen: Outlook, reason: Reason = Reason.FIRST) -> Message:
    return message(seen, reason, US, Told(NOW - timedelta(hours=3), "nws"))


def tree(html: str) -> ET.Element:
    """Return a page as a tree, which only a well-formed one has."""
    assert html.startswith("<!DOCTYPE html>\n")
    return ET.fromstring(html)


def shown(html: str) -> str:
    """Return what a person reads of a page, with one space between words."""
    return " ".join(" ".join(tree(html).itertext()).split())


def drying(per_day: float = 3.0, lost: slice = slice(0)) -> Outlook:
    """Return R7, whose typical board loses two points a day and whose edge so many."""
    seen = outlook([LATE], CLOTH_HELPS)
    days = np.arange(seen.case.hours + 1) / 24
    mc_pct = np.stack([110.0 - 2.0 * days, 110.0 - per_day * days, 110.0 - 2.5 * days], axis=1)
    case = replace(unknown(seen.case, lost), counted=(Board.TYPICAL, Board.EDGE))
    return replace(seen, run=replace(seen.run, case=case, mc_pct=mc_pct))


def curve_of(seen: Outlook) -> Curve:
    found = curve(seen, US)
    assert found is not None
    return found


MANY = likely(outlook([LATE, replace(LATE, board=Board.TOP)], trial(BURLAP_AND_CLOSED, LATE)), 0.7)
ALL = [
    pytest.param(mail(outlook([LATE], CLOTH_HELPS)), id="an old stack"),
    pytest.param(mail(outlook([EARLY], BURLAP_HELPS, R8), Reason.WORSE), id="a fresh stack"),
    pytest.param(mail(MANY, Reason.REPEAT), id="all there is to tell"),
    pytest.param(mail(outlook([LATE])), id="nothing is left to try"),
    pytest.param(
        mail(outlook([replace(LATE, loss_pct_per_day=1.0)]), Reason.ALL_CLEAR), id="clear"
    ),
    pytest.param(mail(drying()), id="with a curve"),
    pytest.param(
        blind_message([SiteWeather("lot", None, "nws: down")], US),
        id="blind",
    ),
]


@pytest.mark.parametrize("told", ALL)
def test_a_page_is_well_formed_and_brings_nothing_that_acts_or_fetches(told: Message) -> None:
    elements = list(tree(told.html).iter())

    assert {e.tag for e in elements} <= TAGS | TABLE_TAGS
    assert {name for e in elements for name in e.attrib} <= ATTRIBUTES
    assert not re.search(r"https?:|//|url\(|@import|javascript|cid:", told.html)


@pytest.mark.parametrize("told", ALL)
def test_a_page_tells_all_that_the_plain_mail_tells(told: Message) -> None:
    words = shown(told.html)
    _short, *paragraphs = told.story.strip().split("\n\n")

    for line in "\n".join(paragraphs).splitlines():
        text = line.removesuffix("<- do this").strip()
        pieces = [text] if text in words or line[:2] != "  " else text.split(": ", 1)
        assert all(piece in words for piece in pieces), line


def test_the_headline_is_what_to_do_and_by_when() -> None:
    heads = [
        (mail(outlook([LATE], CLOTH_HELPS)), "Hang shade cloth by Sat 10am"),
        (mail(outlook([LATE])), "All covers are on and no other site has room"),
        (
            mail(outlook([replace(LATE, loss_pct_per_day=1.0)]), Reason.ALL_CLEAR),
            "All clear through Sat as it stands",
        ),
    ]
    for told, head in heads:
        assert [e.text for e in tree(told.html).iter("h1")] == [head]


def test_the_facts_are_when_how_bad_and_how_likely() -> None:
    words = shown(mail(likely(outlook([LATE], CLOTH_HELPS), 23 / 31)).html)

    assert (
        "When Hot dry wind Sat 11am-7pm."
        " How bad Edges lose 5.9 pts/day, safe 3.8; done that 3.5, ok."
        " How likely Likely: about 7 in 10 of 31 weathers."
    ) in words
    assert "How likely" not in shown(mail(outlook([LATE], CLOTH_HELPS)).html)


def test_the_measure_advised_is_marked_in_words_and_no_other() -> None:
    rows = (Row("hang burlap", "4.6"), Row("move to barn", "3.5", advised=True))

    words = shown(page("R7", [Lines("Tried:", rows)]))

    assert words.endswith("Tried: hang burlap 4.6 Do this: move to barn 3.5")


def test_hostile_names_are_shown_and_do_nothing() -> None:
    seen = outlook([LATE], CLOTH_HELPS, replace(R7, setup=Setup(HOSTILE)))
    notices = (
        Notice("1", HOSTILE, NOW, None, None, None, "Severe", "", frozenset(), "", over=False),
    )

    told = message(seen, Reason.FIRST, US, Told(NOW, HOSTILE, notices))

    elements = list(tree(told.html).iter())
    assert {e.tag for e in elements} <= TAGS | TABLE_TAGS
    assert shown(told.html).count(HOSTILE) >= 3


def test_a_curve_stands_on_the_page_alone() -> None:
    told = mail(drying())

    assert "Day by day" in told.html
    assert "Day by day" not in told.story
    assert plain([curve_of(drying())]) == "\n"


def test_the_days_of_a_curve_begin_three_back_and_end_with_the_forecast() -> None:
    days = curve_of(drying()).days

    assert [day.name for day in days] == [
        *("Tue 9", "Wed 10", "Thu 11", "today", "Sat 13", "Sun 14", "Mon 15", "Tue 16")
    ]
    assert [day.ahead for day in days] == [False] * PAST_DAYS + [True] * 5
    assert shown(page("", [curve_of(drying())])).count("from here on by the forecast today") == 1


def test_a_day_tells_what_is_left_at_its_end_and_what_was_lost_against_what_is_safe() -> None:
    """R7 has stood for 10 d and 6 h when Saturday begins."""
    saturday = curve_of(drying()).days[4]

    assert [bar.words for bar in saturday.mc] == ["88", "76"]
    assert saturday.loss == Bar("edge 3.0", 3.0 / 3.8)
    assert saturday.safe == Bar("safe 3.8", 1.0)
    assert not saturday.over


def test_a_day_over_the_limit_says_so_in_words() -> None:
    seen = drying(per_day=4.5)

    assert [day.over for day in curve_of(seen).days] == [True] * 7 + [False]
    assert shown(page("", [curve_of(seen)])).count("edge 4.5, over safe 3.8") == 7
    assert "over" not in shown(page("", [curve_of(drying(per_day=3.79))]))


def test_a_part_of_a_day_is_not_held_against_a_whole_days_limit() -> None:
    last = curve_of(drying(per_day=4.5)).days[-1]

    assert last.loss == Bar("edge 3.4 in 18 h", 0.0)
    assert last.safe.words == ""


def test_a_day_that_is_not_wholly_known_is_unknown_and_never_within_the_limit() -> None:
    lost = slice(AGE_H + 10, AGE_H + 60)

    saturday, sunday, monday = curve_of(drying(lost=lost)).days[4:7]

    assert [bar.words for bar in saturday.mc] == ["88", "76"]
    assert [bar.words for bar in sunday.mc] == ["unknown", "unknown"]
    for day in (saturday, sunday, monday):
        assert (day.loss.words, day.safe.words, day.over) == ("unknown", "", False)


def test_a_dry_board_is_told_so_and_a_run_taken_up_later_begins_there() -> None:
    seen = drying()
    mc_pct = np.where(np.arange(seen.case.hours + 1)[:, None] < AGE_H - 42, np.nan, 20.0)
    late = replace(seen, run=replace(seen.run, mc_pct=np.broadcast_to(mc_pct, (len(mc_pct), 3))))

    days = curve_of(late).days

    assert days[0].name == "Thu 11"
    assert {day.safe.words for day in days[:-1]} == {"too dry to be harmed"}


def test_of_a_stack_no_day_is_known_of_there_is_no_curve() -> None:
    seen = drying()
    blank = replace(seen, run=replace(seen.run, mc_pct=np.full_like(seen.run.mc_pct, np.nan)))

    assert curve(blank, US) is None


def test_no_bar_is_longer_than_its_place() -> None:
    def widths(html: str) -> Iterator[int]:
        for width in re.findall(r"width:(-?\d+)%;height", html):
            yield int(width)

    for per_day in (-1.0, 0.5, 3.8, 6.0):
        found = list(widths(mail(drying(per_day)).html))
        assert found
        assert 0 <= min(found) <= max(found) <= 100
