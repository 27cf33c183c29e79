"""The command line: thin commands over the pass, the store and the tables.

Numeric packages are imported inside the commands that need them, so that the rest start at once
on a small machine.
"""

import sys
from collections.abc import Sequence

import click

from drywind import __version__
from drywind.cli.ack import ack
from drywind.cli.backup import backup, restore
from drywind.cli.completion import completion
from drywind.cli.export import export
from drywind.cli.first import init
from drywind.cli.loggers import logger
from drywind.cli.lots import lot
from drywind.cli.outcomes import outcomes
from drywind.cli.places import places
from drywind.cli.ready import ready
from drywind.cli.replay import replay
from drywind.cli.report import report
from drywind.cli.sawdays import sawdays
from drywind.cli.sensitivity import sensitivity
from drywind.cli.setup import check, send_test
from drywind.cli.stacks import stack
from drywind.cli.tables import emc, species
from drywind.cli.watch import watch
from drywind.cli.weather import weather
from drywind.errors import DrywindError


@click.group(context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="drywind")
@click.option("--config", type=click.Path(dir_okay=False), help="Configuration file.")
@click.pass_context
def drywind(ctx: click.Context, config: str | None) -> None:
    """Keep every stickered stack drying as fast as its wood can safely stand."""
    ctx.obj = config


for command in (
    init,
    check,
    watch,
    ack,
    stack,
    lot,
    logger,
    sawdays,
    outcomes,
    ready,
    places,
    weather,
    replay,
    report,
    species,
    emc,
    sensitivity,
    send_test,
    completion,
    backup,
    restore,
    export,
):
    drywind.add_command(command)


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the command line; drywind's own errors become one plain text and their exit code."""
    try:
        drywind.main(arguments, standalone_mode=True)
    except DrywindError as error:
        click.echo(str(error), err=True)
        sys.exit(error.exit_code)
