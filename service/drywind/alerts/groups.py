"""Many decisions, few messages: what of one pass is said together, and what not at all.

Pure, and for one contact: which hazard of a stack is said, which stacks share a message, and what
a contact who gets so many texts a day is told with those that are left.
"""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace

from drywind.alerts.decide import Before, key_of
from drywind.alerts.gsm7 import TWO_PARTS, first_that_fits
from drywind.alerts.manner import MANNERS
from drywind.alerts.page import page
from drywind.alerts.parts import Paragraph
from drywind.alerts.records import Decision, Message, Reason
from drywind.alerts.wording import MARKS, Reader
from drywind.judge.findings import Finding

WARNINGS = (Reason.WORSE, Reason.FIRST, Reason.REPEAT)
"""Reasons that call for work, the most pressing first."""

SEE_MORE = "open the e-mail or run drywind stack show"
RULE = f"\n{'-' * 72}\n\n"


@dataclass(frozen=True)
class Saying:
    """A decision that is to be said, and its words if it is said by itself.

    Attributes
    ----------
    do, cause
        What to do and by when, and the weather behind it, as parts of a text on several stacks.
    """

    finding: Finding
    decision: Decision
    before: Before
    do: str
    cause: str
    message: Message


Entry = tuple[Decision, Message | None, str]
"""A decision to be recorded, the message it carries, and its key."""


def supersede(decided: Sequence[tuple[Finding, Decision]]) -> list[Decision]:
    """Let of each stack only the most urgent warning speak: the rest is `SUPERSEDED` by it.

    The most urgent is the worst of those that something can be done about.
    """
    most: dict[str, tuple[bool, float]] = {}
    chosen: dict[str, Decision] = {}
    for finding, decision in decided:
        if decision.reason in WARNINGS:
            urgency = (finding.helps, finding.severity)
            if finding.subject not in chosen or urgency > most[finding.subject]:
                most[finding.subject], chosen[finding.subject] = urgency, decision
    return [
        replace(d, reason=Reason.SUPERSEDED)
        if d.reason in WARNINGS and d is not chosen[f.subject]
        else d
        for f, d in decided
    ]


def plan(sayings: Sequence[Saying], left: int | None, reader: Reader) -> list[Entry]:
    """Return what to record of all that one contact is to be told: every decision by itself.

    Parameters
    ----------
    left
        How many messages the contact may still get today; None is any number. Warnings go before
        all clears; where they are too many, the last message names all that are left.
    """
    groups = _grouped(sayings)
    warnings = [g for g in groups if g[0].decision.reason in WARNINGS]
    clears = [g for g in groups if g[0].decision.reason not in WARNINGS]
    if left is None:
        left = len(groups)
    room = max(0, left - len(warnings))
    entries = [e for g in clears[:room] for e in _entries(g, group_message(g))]
    over = [s for g in clears[room:] for s in g]
    if len(warnings) <= left:
        alone, merged = warnings, list[Saying]()
    elif left > 0:
        alone, merged = warnings[: left - 1], [s for g in warnings[left - 1 :] for s in g]
    else:
        alone, merged = [], []
        over += [s for g in warnings for s in g]
    entries += [e for g in alone for e in _entries(g, group_message(g))]
    if merged:
        entries += _entries(merged, merged_message(merged, reader))
    for saying in over:
        capped = replace(saying.decision, reason=Reason.OVER_CAP)
        entries.append((capped, None, key_of(capped, saying.before)))
    return entries


def group_message(group: Sequence[Saying]) -> Message:
    """Return the one message on stacks of one site that are told the same for the same reason."""
    first, *others = group
    if not others:
        return first.message
    reason, worst = first.decision.reason, max(group, key=lambda s: s.finding.severity)
    head = f"drywind {first.finding.site}, {len(group)} stacks: {MARKS.get(reason, '')}"
    what = "; ".join(f"{', '.join(names)}: {do}" for do, names in _by_work(group).items())
    names = [s.finding.subject for s in group]
    state = MANNERS[first.finding.hazard].name if reason in WARNINGS else "all clear"
    bad = ""
    if reason in WARNINGS:
        bad = f" Worst {worst.finding.subject}: {worst.finding.severity:.0%} of its limit."
    cause = f" {worst.cause}." if worst.cause else ""
    text = first_that_fits(
        [
            f"{head}{what}.{cause}{bad}",
            f"{head}{what}.{bad}",
            f"{head}{what}.",
            *_shortening(f"{head}{state}: ", names),
        ],
        TWO_PARTS,
    )
    subject = f"drywind: {len(group)} stacks, {first.finding.site}: "
    return _joined(f"{subject}{MARKS.get(reason, '').lower()}{state}", text, group)


def merged_message(sayings: Sequence[Saying], reader: Reader) -> Message:
    """Return the last message of a day, which names all that would have needed more."""
    deadlines = [s.finding.act_by for s in sayings if s.finding.act_by is not None]
    by = f" {reader.deadline(min(deadlines))}" if deadlines else ""
    head = f"drywind: {len(sayings)} stacks need action{by}: "
    text = first_that_fits(_shortening(head, [s.finding.subject for s in sayings]), TWO_PARTS)
    return _joined(f"drywind: {len(sayings)} stacks need action", text, sayings)


def _joined(subject: str, text: str, sayings: Sequence[Saying]) -> Message:
    parts = (Paragraph(text), *(part for s in sayings for part in s.message.parts))
    story = RULE.join([f"{text}\n", *(s.message.story for s in sayings)])
    return Message(subject, text, story, page(subject, parts), parts=parts)


def _shortening(head: str, names: Sequence[str]) -> list[str]:
    """Return texts that name ever fewer stacks, and how many more there are."""
    texts = [f"{head}{', '.join(names)}: {SEE_MORE}."]
    for kept in range(len(names) - 1, 0, -1):
        listed = f"{', '.join(names[:kept])} and {len(names) - kept} more"
        texts.append(f"{head}{listed}: {SEE_MORE}.")
    return texts


def _by_work(group: Sequence[Saying]) -> dict[str, list[str]]:
    """Return the names of the stacks for each work, as the stacks come."""
    by_work = defaultdict(list)
    for saying in group:
        by_work[saying.do].append(saying.finding.subject)
    return by_work


def _grouped(sayings: Sequence[Saying]) -> list[list[Saying]]:
    """Return what shares a message, the most pressing first, in it the worst first."""
    groups = defaultdict(list)
    for saying in sorted(sayings, key=_urgency):
        decision = saying.decision
        groups[saying.finding.site, decision.hazard, decision.reason].append(saying)
    return sorted(groups.values(), key=lambda group: _urgency(group[0]))


def _urgency(saying: Saying) -> tuple[bool, int, float, str]:
    """Return by what sayings are sorted: what can be helped, what is new, what is worst."""
    finding, reason = saying.finding, saying.decision.reason
    rank = WARNINGS.index(reason) if reason in WARNINGS else len(WARNINGS)
    return not finding.helps, rank, -finding.severity, finding.subject


def _entries(group: Sequence[Saying], message: Message) -> list[Entry]:
    """Return the decisions of a group; the one that is of use longest carries the message."""
    carrier = max(group, key=lambda s: s.decision.useful_until)
    return [
        (s.decision, message if s is carrier else None, key_of(s.decision, s.before)) for s in group
    ]
