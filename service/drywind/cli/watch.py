"""`drywind watch`: the daemon, or one pass of it."""

import logging
import os
import sys
from contextlib import nullcontext
from pathlib import Path
from typing import TYPE_CHECKING

import click

from drywind.alerts.records import EVERY
from drywind.cli.common import (
    config_option,
    json_option,
    load_config,
    now_option,
    open_store,
    print_json,
    read_now,
)
from drywind.cli.setup import check_names
from drywind.config import Config
from drywind.errors import DeliveryError, DrywindError, UsageError, WeatherError
from drywind.store import OutboxRow, Outcome, Store

if TYPE_CHECKING:
    from drywind.cycle import Pass


@click.command()
@click.option("--once", is_flag=True, help="Do one pass and end.")
@click.option("--dry-run", is_flag=True, help="Print what would be sent; send and decide nothing.")
@click.option("--exit-code", is_flag=True, help="End with 1 if a stack needs action.")
@config_option
@now_option
@json_option
def watch(
    once: bool,
    dry_run: bool,
    exit_code: bool,
    config_path: str | None,
    now: str | None,
    as_json: bool,
) -> None:
    """Watch the weather over the stacks and warn; runs until it is told to stop."""
    config = load_config(config_path)
    if once:
        check_names(config)
        _one_pass(config, dry_run=dry_run, exit_code=exit_code, now=now, as_json=as_json)
        return
    if now or dry_run or as_json or exit_code:
        raise UsageError("--now, --dry-run, --exit-code and --json go with --once")
    _check_apart(config)
    from drywind.daemon.loop import Daemon  # noqa: PLC0415 - APScheduler only where it is needed

    Daemon(config, Path(config_path) if config_path else None).run()


def _check_apart(config: Config) -> None:
    """Check the names in a process of its own: what that takes, the daemon never gives back."""
    child = os.fork()
    if child == 0:
        code = 0
        try:
            check_names(config)
        except DrywindError as error:
            click.echo(str(error), err=True)
            code = error.exit_code
        sys.stderr.flush()
        os._exit(code)
    _, status = os.waitpid(child, 0)
    if code := os.waitstatus_to_exitcode(status):
        sys.exit(code)


def _one_pass(
    config: Config, *, dry_run: bool, exit_code: bool, now: str | None, as_json: bool
) -> None:
    from drywind.cli.views import pass_json, verdict_lines  # noqa: PLC0415 - numpy only here
    from drywind.cycle import run_pass  # noqa: PLC0415
    from drywind.delivery import sole_watcher  # noqa: PLC0415
    from drywind.weather.http import Getter  # noqa: PLC0415

    logging.basicConfig(level=logging.ERROR, format="%(message)s")  # warnings are told below
    instant = read_now(now, config)
    with open_store(config) as store, nullcontext() if dry_run else sole_watcher(config):
        getter = Getter(config.weather.contact)
        result = run_pass(config, store, getter, instant, dry_run=dry_run)
        sent = [] if dry_run else _told(config, store, result)
    if as_json:
        print_json(pass_json(result, [{"contact": r.contact, "outcome": o} for r, o in sent]))
    else:
        for weather in result.weather:
            if weather.error:
                click.echo(f"{weather.site}: {weather.error}", err=True)
        for outlook in result.outlooks:
            click.echo(verdict_lines(outlook))
        for said in result.said:
            if said.message is not None and (said.is_new or dry_run):
                decision = said.decision
                what = decision.hazard if decision.stack == EVERY else decision.reason
                click.echo(f"{what.upper()} to {decision.contact}: {said.message.text}")
    if result.blind or all(w.issued_at is None for w in result.weather):
        raise WeatherError("no usable weather for the hours ahead of any stack")
    if any(outcome is not Outcome.SENT for _, outcome in sent):
        raise DeliveryError("not every message was accepted; it is tried again")
    if exit_code and result.needs_action:
        sys.exit(1)


def _told(config: Config, store: Store, result: "Pass") -> list[tuple[OutboxRow, Outcome]]:
    """Write the yard's page and hand over what is due; return how that ended."""
    from drywind.delivery import deliver_due, destinations  # noqa: PLC0415
    from drywind.sheets.yard import write_page  # noqa: PLC0415

    write_page(config, store, result.outlooks, result.now)
    return deliver_due(store, destinations(config), result.now)
