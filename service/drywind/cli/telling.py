"""`drywind stack tell` and `export`: a stack from a sentence, and all of them as a spreadsheet."""

import csv
import io
from collections.abc import Iterable
from pathlib import Path

import click

from drywind.cli.common import config_option, load_config, open_store
from drywind.cli.entry import COLUMNS, make_stack
from drywind.cli.export import safe_cell, stack_cells
from drywind.cli.sentence import read_sentence
from drywind.clock import utc_now
from drywind.config import Config
from drywind.errors import StoreError
from drywind.store import Store
from drywind.units import INCH_M
from drywind.yard import Stack


@click.command()
@click.argument("sentence", nargs=-1, required=True)
@click.option("--yes", is_flag=True, help="Do not ask whether it was understood.")
@config_option
def tell(sentence: tuple[str, ...], yes: bool, config_path: str | None) -> None:
    """Register a stack by a sentence: red oak 4/4 stacked yesterday in the gravel lot.

    It is shown back, and registered once you say yes.
    """
    config = load_config(config_path)
    with open_store(config) as store:
        tell_stack(config, store, " ".join(sentence), sure=yes)


def tell_stack(config: Config, store: Store, sentence: str, *, sure: bool) -> None:
    """Register the stack of a sentence, once it was confirmed or where that is `sure`."""
    from drywind.cli.told import registered_words  # noqa: PLC0415 - numpy only where needed
    from drywind.wood.limits import stack_limit  # noqa: PLC0415

    now = utc_now()
    taken = [one.id for one in store.stacks(include_ended=True)]
    taken += [lot.id for lot in store.lots(include_ended=True)]
    told = read_sentence(sentence, config.sites, taken, config.zone, now)
    stack = make_stack(config, dict(told.given), now)
    click.echo(_shown_back(stack, config))
    if told.unread:
        click.echo(f"  Not understood: {', '.join(told.unread)}")
    if not sure and not click.confirm("Is that right?", default=True):
        click.echo("Nothing was registered.")
        return
    limit = stack_limit(stack, config.policy.safe_loss)
    store.add_stack(stack)
    click.echo(registered_words(stack, limit, now))


def _shown_back(stack: Stack, config: Config) -> str:
    local = stack.stacked_at.astimezone(config.zone)
    setup = stack.setup
    told = [
        f"{stack.id}: {stack.species.replace('_', ' ')} {stack.thickness.label}",
        f"at {setup.site}",
        f"stacked {local:%a %b} {local.day}, {local:%H:%M}",
        f"stickers {setup.sticker_m / INCH_M:.3g} in",
        ", ".join(sorted(m.replace("_", " ") for m in setup.measures)) or "no covers",
        *(trait.replace("_", " ") for trait in sorted(stack.traits)),
    ]
    if stack.green_mc_pct is not None:
        told.append(f"{stack.green_mc_pct:.0f} % MC when stacked")
    return f"  {'; '.join(told)}"


@click.command()
@click.argument("file", type=click.Path(dir_okay=False, allow_dash=True), default="-")
@click.option("--all", "include_ended", is_flag=True, help="Also those taken down.")
@config_option
def export(file: str, include_ended: bool, config_path: str | None) -> None:
    """Write the stacks to a CSV file that `stack import` takes, with all that was entered."""
    config = load_config(config_path)
    with open_store(config) as store:
        text = stacks_csv(store.stacks(include_ended=include_ended))
    if file == "-":
        click.echo(text, nl=False)
        return
    try:
        Path(file).write_text(text, encoding="utf-8", newline="")
    except OSError as error:
        raise StoreError(f"{file} cannot be written: {error.strerror}") from error
    click.echo(f"Wrote {file}")


def stacks_csv(stacks: Iterable[Stack]) -> str:
    """Return stacks as a table with the columns of `COLUMNS`."""
    text = io.StringIO(newline="")
    table = csv.writer(text, lineterminator="\n")
    table.writerow(COLUMNS)
    table.writerows(map(safe_cell, stack_cells(stack)) for stack in stacks)
    return text.getvalue()
