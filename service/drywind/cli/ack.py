"""`drywind ack`: answer a warning, so that it is not repeated, or not for a while."""

import re
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

import click

from drywind.alerts.records import EVERY, Decision, Reason
from drywind.cli.common import (
    config_option,
    json_option,
    load_config,
    now_option,
    open_store,
    print_json,
    read_now,
)
from drywind.cli.records import Json
from drywind.clock import iso
from drywind.config import Config
from drywind.errors import UsageError
from drywind.store import Store

LONGEST_SNOOZE = timedelta(days=30)


@click.command()
@click.argument("names", metavar="[STACK|LOT]...", nargs=-1)
@click.option("--all", "everything", is_flag=True, help="Every warning that stands.")
@click.option("--hazard", help="Only warnings of this hazard, like too_fast.")
@click.option("--contact", help="Only for this contact; for all of them if not given.")
@click.option("--snooze", help="Say nothing for so long, like 12h or 2d, and then go on.")
@config_option
@now_option
@json_option
def ack(
    names: tuple[str, ...], config_path: str | None, now: str | None, as_json: bool, **asked: Any
) -> None:
    """Acknowledge warnings: they are not repeated, but it is told if they get worse.

    With --snooze nothing at all is said of these stacks for a while (with --all, of any stack),
    except what is much worse and cannot wait; after it, warnings are repeated as before.
    """
    config = load_config(config_path)
    instant = read_now(now, config)
    if bool(names) == asked["everything"]:
        raise UsageError("name the stacks or lots whose warnings you have read, or say --all")
    _check(config, asked["hazard"], asked["contact"])
    long = None if asked["snooze"] is None else _read_snooze(asked["snooze"])
    with open_store(config) as store:
        warnings = [
            (warning, answered)
            for warning, answered in _open_warnings(store, names, instant)
            if asked["hazard"] in {None, warning.hazard}
            and asked["contact"] in {None, warning.contact}
        ]
        if long is None:
            answers = [_acknowledged(w, instant) for w, answered in warnings if not answered]
        else:
            place = (EVERY if asked["everything"] else None, asked["hazard"] or EVERY)
            snoozes = (_snoozed(w, place, instant, instant + long) for w, _ in warnings)
            answers = list(dict.fromkeys(snoozes))
        store.record_all((answer, None, _key(answer)) for answer in answers)
    if as_json:
        print_json([_json(answer) for answer in answers])
    else:
        click.echo(_words(answers, config))


def _check(config: Config, hazard: str | None, contact: str | None) -> None:
    from drywind.judge.findings import Hazard  # noqa: PLC0415 - numpy only where needed

    if hazard is not None and hazard not in set(Hazard):
        raise UsageError(f"{hazard!r} is not a hazard; there are: {', '.join(Hazard)}")
    if contact is not None and contact not in config.contacts:
        known = ", ".join(config.contacts) or "none"
        raise UsageError(f"no contact named {contact}; there are: {known}")


def _read_snooze(text: str) -> timedelta:
    match = re.fullmatch(r"(\d{1,3})([hd])", text)
    long = timedelta()
    if match is not None:
        long = int(match[1]) * timedelta(hours=1 if match[2] == "h" else 24)
    if not timedelta() < long <= LONGEST_SNOOZE:
        raise UsageError(f"--snooze {text}: write it like 12h or 2d, up to 30d")
    return long


def _open_warnings(
    store: Store, names: Sequence[str], now: datetime
) -> list[tuple[Decision, bool]]:
    """Return the warnings that stand of these, or of all, and which were acknowledged."""
    from drywind.speaking import Memory  # noqa: PLC0415 - numpy only where needed

    lots = store.lots(include_ended=True)
    for name in set(names) - {lot.id for lot in lots}:
        store.stack(name)
    standing = {s.id for s in store.stacks(include_ended=True) if s.stands_at(now)}
    standing |= {lot.id for lot in lots if lot.waits_at(now)}
    wanted = standing & set(names) if names else standing
    found = Memory(store.last_decisions()).open_warnings()
    return [(warning, answered) for warning, answered in found if warning.stack in wanted]


def _acknowledged(warning: Decision, now: datetime) -> Decision:
    return replace(warning, reason=Reason.ACKED, made_at=now)


def _snoozed(
    warning: Decision, place: tuple[str | None, str], now: datetime, until: datetime
) -> Decision:
    stack, hazard = place
    return replace(
        warning,
        stack=stack or warning.stack,
        hazard=hazard,
        reason=Reason.SNOOZED,
        made_at=now,
        severity=0.0,
        onset=None,
        useful_until=until,
    )


def _key(answer: Decision) -> str:
    """Return the key of an answer: one given twice at an instant is one."""
    parts = (answer.contact, answer.stack, answer.hazard, answer.reason)
    return "|".join([*parts, answer.made_at.isoformat(), answer.useful_until.isoformat()])


def _json(answer: Decision) -> Json:
    return {
        "contact": answer.contact,
        "stack": answer.stack,
        "hazard": answer.hazard,
        "reason": answer.reason,
        "until": iso(answer.useful_until) if answer.reason is Reason.SNOOZED else None,
    }


def _words(answers: Sequence[Decision], config: Config) -> str:
    if not answers:
        return "No warning stands that is not acknowledged already."
    done, rest = "acknowledged", "They are not repeated; if they get worse, that is told."
    if answers[0].reason is Reason.SNOOZED:
        until = answers[0].useful_until.astimezone(config.zone)
        done = f"silent until {until:%a %b %d %H:%M}"
        rest = "What is much worse and cannot wait is told all the same."
    whom: dict[str, list[str]] = defaultdict(list)
    for answer in answers:
        stack = "all stacks" if answer.stack == EVERY else answer.stack
        hazard = "" if answer.hazard == EVERY else f", {answer.hazard.replace('_', ' ')}"
        whom[f"{stack}{hazard}"].append(answer.contact)
    lines = [f"{what}: {done} for {', '.join(names)}." for what, names in whom.items()]
    return "\n".join([*lines, rest])
