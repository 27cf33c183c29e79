"""Texts about several stacks: what shares one, its exact words, and what it never exceeds."""

from collections.abc import Sequence
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.messages.outlooks import METRIC, NOW, US, local
from tests.timelines.scripts import TOMORROW, Sight

from drywind.alerts.decide import Before
from drywind.alerts.groups import (
    RULE,
    Saying,
    group_message,
    merged_message,
    plan,
    supersede,
)
from drywind.alerts.gsm7 import TWO_PARTS, septets
from drywind.alerts.records import Decision, Message, Reason
from drywind.judge.findings import Hazard

FIRST, WORSE, REPEAT, ALL_CLEAR = Reason.FIRST, Reason.WORSE, Reason.REPEAT, Reason.ALL_CLEAR
HANG, MOVE = "hang burlap by Sat 6am", "move to long shed by Sat 6am"
CLEAR = "all clear through Sun as it stands"
CAUSE = "Hot dry wind Sat 6am-2pm"


def saying(
    name: str,
    reason: Reason = FIRST,
    do: str = HANG,
    severity: float = 1.2,
    site: str = "gravel lot",
) -> Saying:
    """Return what is to be said of a stack whose harm begins tomorrow."""
    sight = Sight(severity, harm_at=TOMORROW, name=name, site=site)
    finding = replace(sight.finding(NOW), act_by=TOMORROW)
    until = local(13, 14)
    decision = Decision("Ada", name, "too_fast", reason, NOW, severity, TOMORROW, until)
    words = Message(f"drywind: {name}", f"drywind {name}: {do}.", f"The story of {name}.\n")
    return Saying(finding, decision, Before(None), do, "" if do is CLEAR else CAUSE, words)


def texts(sayings: Sequence[Saying], left: int | None = None) -> list[str]:
    return [m.text for _, m, _ in plan(sayings, left, US) if m is not None]


def test_stacks_with_the_same_work_share_it() -> None:
    group = [saying("R7", severity=1.55), saying("T9"), saying("B2", do=MOVE)]

    assert group_message(group).text == (
        "drywind gravel lot, 3 stacks: R7, T9: hang burlap by Sat 6am; "
        "B2: move to long shed by Sat 6am. Hot dry wind Sat 6am-2pm. Worst R7: 155% of its limit."
    )


@pytest.mark.parametrize(
    ("reason", "do", "words"),
    [
        (WORSE, HANG, "2 stacks: WORSE: R7, T9: hang burlap by Sat 6am."),
        (REPEAT, HANG, "2 stacks: STILL: R7, T9: hang burlap by Sat 6am."),
        (ALL_CLEAR, CLEAR, "2 stacks: R7, T9: all clear through Sun as it stands."),
    ],
)
def test_the_reason_stands_before_all_stacks(reason: Reason, do: str, words: str) -> None:
    text = group_message([saying(name, reason, do) for name in ("R7", "T9")]).text

    assert text.startswith(f"drywind gravel lot, {words}")
    assert text.endswith("its limit.") is (reason is not ALL_CLEAR)


@pytest.mark.parametrize(
    ("reason", "subject"),
    [
        (FIRST, "drywind: 2 stacks, gravel lot: drying too fast"),
        (WORSE, "drywind: 2 stacks, gravel lot: worse: drying too fast"),
        (REPEAT, "drywind: 2 stacks, gravel lot: still: drying too fast"),
        (ALL_CLEAR, "drywind: 2 stacks, gravel lot: all clear"),
    ],
)
def test_an_email_joins_the_stories_under_one_subject(reason: Reason, subject: str) -> None:
    mail = group_message([saying(name, reason) for name in ("R7", "T9")])

    assert mail.subject == subject
    assert mail.story == f"{mail.text}\n{RULE}The story of R7.\n{RULE}The story of T9.\n"


def test_a_stack_alone_keeps_its_own_words() -> None:
    alone = saying("R7")

    assert group_message([alone]) is alone.message


def test_where_the_work_of_each_does_not_fit_the_stacks_are_named() -> None:
    group = [saying(f"R{i}", do=f"hang burlap on all {i} sides by Sat 6am") for i in range(12)]

    assert group_message(group).text == (
        "drywind gravel lot, 12 stacks: drying too fast: R0, R1, R2, R3, R4, R5, R6, R7, R8, R9, "
        "R10, R11: open the e-mail or run drywind stack show."
    )


def test_where_not_even_the_names_fit_it_is_told_how_many_more_there_are() -> None:
    text = group_message([saying(f"stack-{i:06}", do=str(i)) for i in range(40)]).text

    named = (len(text.split(": ")[2].split(" and ")[0]) + 2) // len("stack-000000, ")
    assert text.endswith(
        f"stack-{named - 1:06} and {40 - named} more: open the e-mail or run drywind stack show."
    )
    assert TWO_PARTS - 14 < septets(text) <= TWO_PARTS


def test_the_last_message_of_a_day_names_all_stacks_and_when_the_first_is_due() -> None:
    late = saying("W2", site="long shed")
    later = replace(late, finding=replace(late.finding, act_by=local(14, 9)))

    merged = merged_message([saying("R7"), saying("T9", WORSE), later], US)

    assert merged.text == (
        "drywind: 3 stacks need action by Sat 6am: R7, T9, W2: "
        "open the e-mail or run drywind stack show."
    )
    assert merged.subject == "drywind: 3 stacks need action"
    assert merged.story.count("The story of") == 3


def test_the_last_message_tells_time_as_its_reader_does() -> None:
    assert (
        "need action by Sat 06:00: R7, T9"
        in merged_message([saying("R7"), saying("T9")], METRIC).text
    )


def test_what_cannot_be_helped_has_no_deadline() -> None:
    helpless = [replace(s, finding=replace(s.finding, act_by=None)) for s in map(saying, "AB")]

    assert merged_message(helpless, US).text.startswith("drywind: 2 stacks need action: A, B: ")


SCATTERED = [saying(f"R{i}", severity=1.2 + i / 10, site=f"lot {i}") for i in range(4)]


@pytest.mark.parametrize(
    ("left", "alone", "merged"),
    [(None, 4, 0), (9, 4, 0), (4, 4, 0), (3, 2, 2), (2, 1, 3), (1, 0, 4), (0, 0, 0)],
)
def test_the_worst_are_told_by_themselves_as_long_as_messages_last(
    left: int | None, alone: int, merged: int
) -> None:
    told = texts(SCATTERED, left)

    assert told[:alone] == [f"drywind R{3 - i}: {HANG}." for i in range(alone)]
    assert len(told) == alone + (merged > 0)
    if merged:
        names = ", ".join(f"R{i}" for i in reversed(range(merged)))
        assert told[-1].startswith(f"drywind: {merged} stacks need action by Sat 6am: {names}: ")


def test_what_no_message_is_left_for_is_kept_back_by_name() -> None:
    entries = plan(SCATTERED, 0, US)

    assert {(d.reason, m) for d, m, _ in entries} == {(Reason.OVER_CAP, None)}
    assert [key for *_, key in entries] == [
        f"Ada|R{i}|too_fast|over_cap|never" for i in (3, 2, 1, 0)
    ]


@pytest.mark.parametrize(("left", "clears"), [(4, 2), (3, 1), (2, 0), (1, 0)])
def test_all_clears_give_way_to_warnings(left: int, clears: int) -> None:
    ends = [saying(f"C{i}", ALL_CLEAR, CLEAR, site=f"lot {i}") for i in range(2)]

    entries = plan([*ends, *SCATTERED[:2]], left, US)

    told = [d.reason for d, message, _ in entries if message is not None]
    assert told.count(ALL_CLEAR) == clears
    assert len(told) == min(left, 2 + clears)
    assert [d.reason for d, *_ in entries].count(Reason.OVER_CAP) == 2 - clears


def test_what_shares_a_message_is_recorded_one_by_one_and_one_carries_it() -> None:
    longest = saying("T9")
    longest = replace(longest, decision=replace(longest.decision, useful_until=local(15, 0)))

    entries = plan([saying("R7", severity=1.5), longest, saying("B2")], None, US)

    assert [d.stack for d, *_ in entries] == ["R7", "B2", "T9"]
    assert [d.stack for d, message, _ in entries if message is not None] == ["T9"]
    assert len({key for *_, key in entries}) == 3


@pytest.mark.parametrize(
    "other",
    [saying("T9", site="long shed"), saying("T9", WORSE)],
    ids=["another site", "another reason"],
)
def test_what_differs_has_a_message_of_its_own(other: Saying) -> None:
    assert len(texts([saying("R7"), other])) == 2


def test_another_hazard_has_a_message_of_its_own() -> None:
    wet = saying("T9")
    wet = replace(
        wet,
        finding=replace(wet.finding, hazard=Hazard.WETTING),
        decision=replace(wet.decision, hazard="wetting"),
    )

    assert len(texts([saying("R7"), wet])) == 2


def test_of_one_stack_the_worst_that_can_be_helped_is_told_and_counts_for_the_rest() -> None:
    sights = [
        Sight(1.3, hazard=Hazard.TOO_FAST),
        Sight(1.6, hazard=Hazard.WETTING),
        Sight(2.5, hazard=Hazard.STAIN, helps=False),
        Sight(1.2, hazard=Hazard.STAIN, name="R8"),
        Sight(9.0, hazard=Hazard.WAITING),
    ]
    reasons = [FIRST, REPEAT, FIRST, WORSE, Reason.HELD_QUIET]
    decided = [
        (s.finding(NOW), Decision("Ada", s.name, s.hazard, r, NOW, s.severity, None, TOMORROW))
        for s, r in zip(sights, reasons, strict=True)
    ]

    made = supersede(decided)

    assert [d.reason for d in made] == [
        Reason.SUPERSEDED,
        REPEAT,
        Reason.SUPERSEDED,
        WORSE,
        Reason.HELD_QUIET,
    ]
    assert [replace(d, reason=r) for d, r in zip(made, reasons, strict=True)] == [
        d for _, d in decided
    ]


names = st.from_regex(r"[A-Za-z0-9._-]{1,12}", fullmatch=True)
sites = st.sampled_from(["a", "gravel lot", "sixteen letters."])
work = st.sampled_from([HANG, MOVE, "not enough, but best: hang shade cloth + hang burlap now"])
many = st.lists(
    st.builds(
        saying,
        names,
        st.sampled_from([FIRST, WORSE, REPEAT, ALL_CLEAR]),
        work,
        st.floats(1.05, 3),
        sites,
    ),
    min_size=1,
    max_size=40,
    unique_by=lambda s: s.finding.subject,
)


@given(many, st.one_of(st.none(), st.integers(0, 6)))
def test_never_more_messages_than_are_left_none_over_two_parts_and_nothing_is_lost(
    sayings: list[Saying], left: int | None
) -> None:
    entries = plan(sayings, left, US)
    told = [m for _, m, _ in entries if m is not None]

    assert sorted(d.stack for d, *_ in entries) == sorted(s.finding.subject for s in sayings)
    assert left is None or len(told) <= left
    assert all(septets(m.text) <= TWO_PARTS for m in told)
    capped = [d.stack for d, *_ in entries if d.reason is Reason.OVER_CAP]
    clears = {s.finding.subject for s in sayings if s.decision.reason is ALL_CLEAR}
    assert left == 0 or set(capped) <= clears  # while a message is left every warning is told
