"""`drywind ready`: when stacks will be ready, and when to weigh them next."""

from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

import click

from drywind.cli.common import (
    config_option,
    json_option,
    load_config,
    now_option,
    open_store,
    print_json,
    read_now,
)


@click.command()
@click.argument("stack_id", metavar="[ID]", required=False)
@config_option
@now_option
@json_option
def ready(stack_id: str | None, config_path: str | None, now: str | None, as_json: bool) -> None:
    """Tell when stacks are past checking (30 % MC), ready for the kiln (25) and air-dry (20).

    Each with the dates that nine in ten futures lie between: of the wood by your weighings, of the
    weather by the forecast and then by past years. And on which day a weighing would teach most.
    """
    from drywind.readiness import past_years_words, yard_readiness  # noqa: PLC0415 - numpy here

    config = load_config(config_path)
    instant = read_now(now, config)
    with open_store(config) as store:
        if stack_id is not None:
            store.stack(stack_id)
        found = yard_readiness(config, store, instant, stack_id)
        words = past_years_words(config, store, found, instant) if found else ""
    if as_json:
        from drywind.cli.ready_views import readiness_json  # noqa: PLC0415

        print_json({"stacks": [readiness_json(r) for r in found], "past_years": words})
        return
    if not found:
        click.echo("No stack stands of which enough is known.")
        return
    _print(found, instant, config.zone)
    click.echo(f"After the forecast: {words}.")


def _print(found: list[Any], now: datetime, zone: ZoneInfo) -> None:
    from drywind.cli.ready_views import goal_words, weigh_words  # noqa: PLC0415

    heads = ("past checks 30%", "kiln 25%", "air-dry 20%", "weigh")
    click.echo(f"{'stack':<9} {'MC now %':<11} " + " ".join(f"{h:<16}" for h in heads).rstrip())
    for one in found:
        mean, low, high = one.mc_pct
        goals = " ".join(f"{goal_words(goal, now, zone):<16}" for goal in one.goals)
        cells = f"{f'{mean:.0f} ({low:.0f}-{high:.0f})':<11} {goals} {weigh_words(one, zone)}"
        click.echo(f"{one.case.stack.id:<9} {cells}".rstrip())
