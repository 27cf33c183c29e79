"""What the commands share: options, the configuration, the store, and printing."""

import json
import os
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any

import click

from drywind.clock import parse_instant, utc_now
from drywind.config import Config, load
from drywind.errors import DamagedError, NewerError, StoreError, UsageError
from drywind.store import Store

Command = Callable[..., Any]

PLOTS = (".png", ".svg")


def _plot(_ctx: click.Context, _param: click.Parameter, value: str | None) -> str | None:
    """Refuse a picture that could not be drawn, before any work is done."""
    if value is not None and Path(value).suffix.lower() not in PLOTS:
        raise UsageError(f"--plot {value}: the name ends in {' or '.join(PLOTS)}")
    return value


json_option = click.option("--json", "as_json", is_flag=True, help="Print JSON for machines.")
plot_option = click.option(
    "--plot", type=click.Path(dir_okay=False), callback=_plot, help="Draw it: a .png or .svg file."
)
now_option = click.option("--now", help="Take this time (ISO 8601) for the present one.")


def config_option(command: Command) -> Command:
    """Add --config to a command; the one before the command's name serves as well."""

    def chosen(ctx: click.Context, _param: click.Parameter, value: str | None) -> str | None:
        return value or ctx.obj

    return click.option(
        "--config",
        "config_path",
        type=click.Path(dir_okay=False),
        callback=chosen,
        help="Configuration file.",
    )(command)


def load_config(path: str | None) -> Config:
    """Read the configuration under this process's environment."""
    return load(Path(path) if path else None, os.environ)


def open_store(config: Config) -> Store:
    """Open the yard's database, making it where there is none."""
    return Store(store_path(config))


def store_path(config: Config) -> Path:
    """Return where the yard's database is."""
    return config.data_dir / "drywind.db"


def open_to_read(config: Config) -> Store:
    """Open the yard's database for a command that only reads: also if nothing can be written.

    Then it says so, and whether something may be missing.
    """
    try:
        return open_store(config)
    except (DamagedError, NewerError):
        raise
    except StoreError as trouble:
        try:
            store = Store(store_path(config), to_read=True)
        except StoreError:
            raise trouble from None
        missing = "" if store.up_to_date else "; what was written last may be missing"
        click.echo(f"{trouble}; it is only read{missing}.", err=True)
        return store


def read_now(text: str | None, config: Config) -> datetime:
    """Return the instant a command is to take for the present."""
    return parse_instant(text, config.zone) if text else utc_now()


def print_json(value: object) -> None:
    """Print a value as JSON; what is unknown is null."""
    click.echo(json.dumps(value, indent=2, allow_nan=False))
