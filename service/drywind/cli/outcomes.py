"""`drywind outcomes`: how stacks came out, how right the warnings were, and tighter limits."""

import sys
from dataclasses import replace
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

import click

from drywind.cli.common import config_option, json_option, load_config, open_store, print_json
from drywind.cli.entry import read_when
from drywind.clock import utc_now
from drywind.config import Config
from drywind.errors import UsageError
from drywind.outcomes import Harm, Result
from drywind.store import Store
from drywind.units import Thickness
from drywind.yard import Event, EventKind

if TYPE_CHECKING:
    from drywind.learn.outcomes import Ended

HARM = click.Choice([harm.value for harm in Harm])


@click.command()
@config_option
@json_option
def outcomes(config_path: str | None, as_json: bool) -> None:
    """Hold warnings against what you saw when stacks were taken down.

    Where boards checked at a loss under the limit, a tighter one is proposed. It is yours to put
    into the configuration; nothing changes by itself.
    """
    from drywind.learn.outcomes import proposals, tallies  # noqa: PLC0415 - numpy only here

    config = load_config(config_path)
    with open_store(config) as store:
        ended = _ended(config, store)
    scores, proposed = tallies(ended), proposals(ended)
    if as_json:
        print_json(
            {
                "stacks": [
                    {
                        "id": one.name,
                        "species": one.species,
                        "checks": one.result.checks,
                        "stain": one.result.stain,
                        "warp": one.result.warp,
                        "worst_severity": one.result.severity,
                        "warned": sorted(one.warned),
                    }
                    for one in ended
                ],
                "score": {seen: tally._asdict() for seen, tally in scores.items()},
                "proposals": [
                    {
                        "species": p.species,
                        "limit_pct_per_day": round(p.limit, 2),
                        "proposed_pct_per_day": p.proposed,
                        "checked_at_pct_per_day": [round(x, 2) for x in p.checked],
                        "sound_at_pct_per_day": [round(x, 2) for x in p.sound],
                    }
                    for p in proposed
                ],
            }
        )
        return
    if not ended:
        click.echo("No stack was taken down yet with a word on how it came out.")
        return
    heads = ("warned, harmed", "warned, sound", "silent, harmed", "silent, sound")
    click.echo(f"{'stacks':<8} " + " ".join(f"{head:>15}" for head in heads))
    for seen, tally in scores.items():
        click.echo(f"{seen:<8} " + " ".join(f"{count:>15}" for count in tally))
    for p in proposed:
        click.echo(
            f"You had checks at {p.checked[0]:.1f} points a day: hold {p.species} to"
            f" {p.proposed:g} (now {p.limit:g})?\n    [policy.safe_loss]\n"
            f"    {p.species} = {p.proposed:g}"
        )


def _ended(config: Config, store: Store) -> list["Ended"]:
    from drywind.alerts.groups import WARNINGS  # noqa: PLC0415 - numpy only here
    from drywind.judge.findings import Hazard  # noqa: PLC0415
    from drywind.learn.outcomes import Ended  # noqa: PLC0415
    from drywind.wood.limits import stack_limit  # noqa: PLC0415

    said = [d for d in store.last_decisions() if d.reason in WARNINGS and d.hazard in set(Hazard)]
    found = []
    for stack in store.stacks(include_ended=True):
        end = next((e for e in stack.events if e.kind is EventKind.ENDED), None)
        if end is None or not end.detail:
            continue
        like = replace(stack, thickness=Thickness.parse("4/4"), traits=frozenset())
        limit = stack_limit(like, config.policy.safe_loss).value
        warned = frozenset(Hazard(d.hazard) for d in said if d.stack == stack.id)
        found.append(Ended(stack.id, stack.species, limit, Result.read(end.detail), warned))
    return found


@click.command()
@click.argument("stack_id", metavar="ID")
@click.option("--checks", type=HARM, help="Surface or end checks.")
@click.option("--stain", type=HARM, help="Sugar, blue or sticker stain.")
@click.option("--warp", type=HARM, help="Cup, bow, twist.")
@click.option("--at", default="", help="When (ISO 8601); now if not given.")
@config_option
def end(stack_id: str, at: str, config_path: str | None, **told: str | None) -> None:
    """Tell that a stack was taken down, and how it came out; it is watched no longer.

    On a terminal it asks for what is not given; enter alone leaves it open.
    """
    config = load_config(config_path)
    seen = {name: told[name] or _asked(name) for name in ("checks", "stain", "warp")}
    harms = {name: Harm(harm) for name, harm in seen.items() if harm}
    with open_store(config) as store:
        stack, now = store.stack(stack_id), utc_now()
        when = read_when(config, at, now) if at else now
        if stack.ended_at is not None:
            raise UsageError(f"{stack_id} was taken down at {stack.ended_at:%Y-%m-%d %H:%M} UTC")
        if when < stack.stacked_at:
            raise UsageError(
                f"{stack_id} was stacked only at {stack.stacked_at:%Y-%m-%d %H:%M} UTC"
            )
        worst = _worst(config, store, stack_id, when) if harms else None
        result = Result(**harms, severity=worst)
        store.add_event(Event(stack_id, when, EventKind.ENDED, result.detail))


def _asked(name: str) -> str | None:
    """Ask on a terminal; None where nobody is there, or nothing is answered."""
    if not sys.stdin.isatty():
        return None
    answer = click.prompt(f"{name} ({', '.join(Harm)})?", default="", show_default=False)
    if answer and answer not in list(Harm):
        raise UsageError(f"{answer!r}: allowed are {', '.join(Harm)}")
    return answer or None


def _worst(config: Config, store: Store, stack_id: str, when: datetime) -> float | None:
    """Return the worst window a stack went through, by the model; None where unknown."""
    from drywind.cycle import watched_cases  # noqa: PLC0415 - numpy only here
    from drywind.judge.runs import Run, advance  # noqa: PLC0415
    from drywind.learn.outcomes import worst_severity  # noqa: PLC0415

    _, cases, limits = watched_cases(config, store, when - timedelta(seconds=1), stack_id)
    for case in cases:
        until = min(case.hour_of(when) - 1, case.hours)  # what is under way is still foretold
        (run,) = advance([Run.fresh(case)], [until])
        found = worst_severity(run, until, limits[stack_id].value)
        return None if found is None else round(found, 3)
    return None
