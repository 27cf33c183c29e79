"""`drywind stack`: register stacks, tell what happens to them, and see how they dry."""

from datetime import timedelta
from pathlib import Path
from typing import Any

import click

from drywind.cli.boards import dried, meter, readings, sample, strike, weigh
from drywind.cli.common import (
    config_option,
    json_option,
    load_config,
    now_option,
    open_store,
    open_to_read,
    plot_option,
    print_json,
    read_now,
)
from drywind.cli.completion import stack_names
from drywind.cli.entry import make_stack, read_detail, read_stacks, read_when
from drywind.cli.outcomes import end
from drywind.cli.records import stack_json
from drywind.cli.telling import export, tell
from drywind.clock import utc_now
from drywind.config import Config
from drywind.errors import UsageError
from drywind.store import Store
from drywind.yard import Event, EventKind, Trait

OWN_COMMANDS = {EventKind.ENDED, EventKind.SAMPLED, EventKind.OVEN_DRIED, EventKind.STRUCK}
"""What is told by commands of its own."""


@click.group()
def stack() -> None:
    """Register stacks, and tell what happens to them."""


stack.add_command(tell)
stack.add_command(export)


@stack.command()
@click.argument("stack_id", metavar="ID")
@click.option("--species", required=True, help="Like red_oak; see `drywind species`.")
@click.option("--thickness", required=True, help="Like 4/4, 8/4 or 27mm.")
@click.option("--site", required=True, help="Where it stands.")
@click.option("--stacked", default="", help="When (ISO 8601); now if not given.")
@click.option("--green-mc", default="", help="Moisture content when stacked, in percent.")
@click.option("--sticker", default="", help='Sticker thickness, like "3/4 in"; 1 in.')
@click.option("--pack-width", default="", help='Like "4 ft".')
@click.option("--measures", default="", help='Covers in place from the start: "pile_roof burlap".')
@click.option("--heart", is_flag=True, help="The boards are all heartwood.")
@click.option("--sap", is_flag=True, help="The boards are all sapwood.")
@click.option("--quartersawn", is_flag=True, help="They dry about 15 % slower.")
@click.option("--old-logs", is_flag=True, help="Their logs lay for weeks in warm weather.")
@config_option
@json_option
def add(stack_id: str, config_path: str | None, as_json: bool, **given: Any) -> None:
    """Register a stack."""
    from drywind.cli.told import limit_json, registered_words  # noqa: PLC0415 - numpy only here
    from drywind.wood.limits import stack_limit  # noqa: PLC0415

    config = load_config(config_path)
    traits = " ".join(trait for trait in Trait if given.pop(trait))
    made = make_stack(config, {"id": stack_id, "traits": traits, **given}, utc_now())
    limit = stack_limit(made, config.policy.safe_loss)
    with open_store(config) as store:
        store.add_stack(made)
    if as_json:
        print_json(stack_json(made, made.stacked_at) | limit_json(limit))
        return
    click.echo(registered_words(made, limit, utc_now()))


@stack.command("import")
@click.argument("file", type=click.Path(exists=True, dir_okay=False))
@config_option
def import_(file: str, config_path: str | None) -> None:
    """Register stacks from a CSV file: all of them, or none if a row has a fault."""
    from drywind.cli.told import registered_words  # noqa: PLC0415 - numpy only where needed
    from drywind.wood.limits import stack_limit  # noqa: PLC0415

    config, now = load_config(config_path), utc_now()
    made = read_stacks(config, Path(file), now)
    limits = [stack_limit(one, config.policy.safe_loss) for one in made]
    with open_store(config) as store:
        store.add_stacks(made)
    click.echo(f"Registered {len(made)} stacks.")
    for one, limit in zip(made, limits, strict=True):
        click.echo(registered_words(one, limit, now))


@stack.command("list")
@click.option("--all", "include_ended", is_flag=True, help="Also those taken down.")
@config_option
@now_option
@json_option
def list_(include_ended: bool, config_path: str | None, now: str | None, as_json: bool) -> None:
    """List the stacks, as they stand."""
    config = load_config(config_path)
    instant = read_now(now, config)
    with open_to_read(config) as store:
        stacks = store.stacks(include_ended=True)
    rows = [
        stack_json(s, instant)
        for s in stacks
        if include_ended or s.ended_at is None or instant < s.ended_at
    ]
    if as_json:
        print_json(rows)
        return
    for row in rows:
        click.echo(
            f"{row['id']:<12} {row['species']:<18} {row['thickness']:<5} {row['site']:<16} "
            f"{row['age_days']:>6.1f} d"
        )
        if row["measures"] or row["traits"]:
            click.echo(f"    {', '.join([*row['measures'], *row['traits']])}")


@stack.command()
@click.argument("stack_id", metavar="ID", shell_complete=stack_names)
@plot_option
@config_option
@now_option
@json_option
def show(
    stack_id: str, plot: str | None, config_path: str | None, now: str | None, as_json: bool
) -> None:
    """Show how a stack has dried and will, by the weather stored for its site."""
    from drywind.alerts.wording import Reader  # noqa: PLC0415
    from drywind.cli.told import lumber_words, paragraph  # noqa: PLC0415 - numpy only here
    from drywind.cli.views import (  # noqa: PLC0415
        daily_json,
        outlook_json,
        verdict_lines,
    )
    from drywind.cli.wood_words import is_taught, wood_words  # noqa: PLC0415
    from drywind.cycle import look_ahead  # noqa: PLC0415
    from drywind.sheets.curves import plot_outlook  # noqa: PLC0415

    config = load_config(config_path)
    instant = read_now(now, config)
    with open_to_read(config) as store:
        chosen = store.stack(stack_id)
        if chosen.ended_at is not None and chosen.ended_at <= instant:
            instant = chosen.ended_at - timedelta(seconds=1)
        if not chosen.stands_at(instant):
            raise UsageError(
                f"{stack_id} is stacked only at {chosen.stacked_at:%Y-%m-%d %H:%M} UTC"
            )
        outlooks = look_ahead(config, store, instant, stack_id)
    if not outlooks:
        raise UsageError(f"{stack_id} cannot be judged; see above")
    (outlook,) = outlooks
    if plot:
        plot_outlook(outlook, Reader(config.units, config.zone, instant), Path(plot))
    daily = daily_json(outlook.run, outlook.limit, config.zone)
    if as_json:
        print_json(outlook_json(outlook, instant) | {"daily": daily})
        return
    click.echo(verdict_lines(outlook))
    _print_daily(daily, instant.astimezone(config.zone).date().isoformat())
    click.echo(paragraph(lumber_words(chosen, outlook.limit)))
    if is_taught(outlook.case.wood):
        click.echo(paragraph(wood_words(outlook.case)))
    if outlook.unknown_hours:
        missed = outlook.unknown_loss_pct
        drier = "" if missed is None else f"; it may be {missed:.0f} points drier"
        click.echo(f"MC uncertain: {outlook.unknown_hours} h of weather missing{drier}.")


def _print_daily(daily: list[dict[str, Any]], today: str) -> None:
    has_top = "top_mc_pct" in daily[0]
    top = f" {'top':>6} {'loss':>5}" if has_top else ""
    click.echo(
        f"{'day':<11} {'MC %':>6} {'loss':>5} {'edge':>6} {'loss':>5}{top} {'safe':>5} {'EMC':>5}"
    )

    def cell(value: float | None, width: int) -> str:
        return f"{'?':>{width}}" if value is None else f"{value:>{width}.1f}"

    for day in daily:
        row = [(day["mc_pct"], 6), (day["loss_pct"], 5), (day["edge_mc_pct"], 6)]
        row.append((day["edge_loss_pct"], 5))
        if has_top:
            row += [(day["top_mc_pct"], 6), (day["top_loss_pct"], 5)]
        row += [(day["limit_pct"], 5), (day["emc_pct"], 5)]
        mark = "*" if day["date"] == today else " "
        click.echo(f"{day['date']}{mark} " + " ".join(cell(v, w) for v, w in row))


@stack.command()
@click.argument("stack_id", metavar="ID", shell_complete=stack_names)
@click.argument("kind", type=click.Choice([k.value for k in EventKind if k not in OWN_COMMANDS]))
@click.argument("what", default="")
@click.option("--at", default="", help="When (ISO 8601); now if not given.")
@config_option
def event(stack_id: str, kind: str, what: str, at: str, config_path: str | None) -> None:
    """Tell what happened: covered burlap, uncovered burlap, moved SITE, restickered "3/4 in".

    weighed takes the moisture content in percent, as does metered, below fiber saturation;
    `weigh` and `meter` take what the scale and the meter show.
    """
    config = load_config(config_path)
    detail = read_detail(config, EventKind(kind), what)
    with open_store(config) as store:
        _add_event(config, store, (stack_id, EventKind(kind), detail), at)


for command in (sample, weigh, dried, meter, readings, strike, end):
    stack.add_command(command)


def _add_event(config: Config, store: Store, told: tuple[str, EventKind, str], at: str) -> None:
    stack_id, kind, detail = told
    chosen = store.stack(stack_id)
    when = read_when(config, at, utc_now()) if at else utc_now()
    if chosen.ended_at is not None:
        raise UsageError(f"{stack_id} was taken down at {chosen.ended_at:%Y-%m-%d %H:%M} UTC")
    if when < chosen.stacked_at and kind not in {EventKind.FELLED, EventKind.SAWN}:
        raise UsageError(f"{stack_id} was stacked only at {chosen.stacked_at:%Y-%m-%d %H:%M} UTC")
    store.add_event(Event(stack_id, when, kind, detail))
