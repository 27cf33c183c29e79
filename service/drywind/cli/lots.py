"""`drywind lot`: register felled logs, tell when they are sawn and gone, and see how they keep."""

from typing import Any

import click

from drywind.cli.common import (
    config_option,
    json_option,
    load_config,
    now_option,
    open_store,
    open_to_read,
    print_json,
    read_now,
)
from drywind.cli.entry import make_lot, read_past
from drywind.cli.records import lot_json
from drywind.clock import utc_now
from drywind.errors import UsageError
from drywind.wood.species import find_species
from drywind.yard import Storage

at_option = click.option("--at", default="", help="When (ISO 8601); now if not given.")


@click.group()
def lot() -> None:
    """Register felled logs that wait for the saw, and tell what becomes of them."""


@lot.command()
@click.argument("lot_id", metavar="ID")
@click.option("--species", required=True, help="Like hard_maple; see `drywind species`.")
@click.option("--felled", required=True, help="When (ISO 8601).")
@click.option("--site", required=True, help="Where it lies.")
@click.option("--volume", default="", help='As you write it, like "1,200 bf".')
@click.option("--end-coated", is_flag=True, help="The ends are sealed.")
@click.option(
    "--stored",
    type=click.Choice([one.value for one in Storage]),
    default="open",
    help="How it lies.",
)
@config_option
@json_option
def add(lot_id: str, config_path: str | None, as_json: bool, **given: Any) -> None:
    """Register logs of one species, felled together."""
    config, now = load_config(config_path), utc_now()
    made = make_lot(config, {"id": lot_id, **given}, now)
    with open_store(config) as store:
        store.add_lot(made)
    row, wood = lot_json(made, now), find_species(made.species)
    if as_json:
        print_json(row)
        return
    click.echo(f"{made.id} at {made.site}, {wood.name}, felled {row['age_days']:.1f} days ago.")
    if not wood.stain:
        click.echo("  Nothing is known of its stains: no stain is counted.")


@lot.command("list")
@config_option
@now_option
@json_option
def list_(config_path: str | None, now: str | None, as_json: bool) -> None:
    """List the lots that wait, how far they have stained, and by when to saw them."""
    from drywind.cli.lot_views import keeping, keeping_lines  # noqa: PLC0415 - numpy only here

    config = load_config(config_path)
    instant = read_now(now, config)
    with open_to_read(config) as store:
        rows = keeping(config, store, instant)
    if as_json:
        print_json(rows)
        return
    for row in rows:
        click.echo(keeping_lines(row, config, instant))


@lot.command()
@click.argument("lot_id", metavar="ID")
@at_option
@config_option
def sawn(lot_id: str, at: str, config_path: str | None) -> None:
    """Tell that a lot was sawn; its boards still wait for their stickers."""
    config, now = load_config(config_path), utc_now()
    when = read_past(config, at, now) if at else now
    with open_store(config) as store:
        known = store.lot(lot_id)
        if known.ended_at is not None:
            raise UsageError(f"{lot_id} was ended at {known.ended_at:%Y-%m-%d %H:%M} UTC")
        if when < known.felled_at:
            raise UsageError(f"{lot_id} was felled only at {known.felled_at:%Y-%m-%d %H:%M} UTC")
        store.change_lot(lot_id, sawn_at=when)


@lot.command()
@click.argument("lot_id", metavar="ID")
@at_option
@config_option
def end(lot_id: str, at: str, config_path: str | None) -> None:
    """Tell that nothing of a lot waits any more: stacked, sold or burned."""
    config, now = load_config(config_path), utc_now()
    when = read_past(config, at, now) if at else now
    with open_store(config) as store:
        known = store.lot(lot_id)
        begun, how = (known.sawn_at, "sawn") if known.sawn_at else (known.felled_at, "felled")
        if when < begun:
            raise UsageError(f"{lot_id} was {how} only at {begun:%Y-%m-%d %H:%M} UTC")
        store.change_lot(lot_id, ended_at=when)
