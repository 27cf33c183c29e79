"""What the daemon has done in processes of their own, which end and give their memory back.

``python -m drywind.daemon.worker pass|deliver|chores|plans|beat`` is started by the daemon alone.
It says on one line of JSON how it went; its log goes where the daemon's goes.
"""

import argparse
import json
import logging
import os
import sys
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

from drywind.clock import EARLIEST, is_synchronized, iso
from drywind.config import Config, load
from drywind.daemon.heartbeat import beat
from drywind.daemon.work import Failure
from drywind.db.backups import nightly_backup
from drywind.delivery import deliver_due, destinations
from drywind.errors import ClockError, DamagedError, DrywindError, StoreError, WeatherError
from drywind.logs import log_to_stderr
from drywind.store import Outcome, Store

if TYPE_CHECKING:
    from drywind.weather.http import Getter

BACK_BY = timedelta(hours=1)
"""A clock that shows an earlier time than the last decision by so much may have lost its way
(assumption)."""

_log = logging.getLogger("drywind")


def main(arguments: Sequence[str] | None = None) -> None:
    """Do one job and end: with 0 if it was done."""
    parser = argparse.ArgumentParser(prog="drywind.daemon.worker")
    parser.add_argument("job", choices=JOBS)
    parser.add_argument("--config", type=Path)
    parser.add_argument("--store", type=Path, required=True)
    parser.add_argument("--now", type=datetime.fromisoformat, required=True)
    parser.add_argument("--unsure-clock", action="store_true", help="Go on by an unsure clock.")
    parser.add_argument("--failed", action="store_true", help="The pass failed.")
    options = parser.parse_args(arguments)
    log_to_stderr()
    told: dict[str, Any]
    try:
        told = JOBS[options.job](load(options.config, os.environ), options)
    except DrywindError as error:
        _log.error("%s: %s", options.job, error)
        told = {"failure": _failure(error), "detail": str(error)}
    print(json.dumps(told), flush=True)  # noqa: T201 - to the daemon
    sys.exit(0 if "failure" not in told else 1)


def _failure(error: DrywindError) -> Failure:
    if isinstance(error, ClockError):
        return Failure.CLOCK
    if isinstance(error, DamagedError):
        return Failure.DAMAGED
    if isinstance(error, StoreError) and error.unwritable:
        return Failure.UNWRITABLE
    return Failure.OTHER


def _pass(config: Config, options: argparse.Namespace) -> dict[str, Any]:
    from drywind.cycle import run_pass  # noqa: PLC0415 - the numeric packages, for a pass alone
    from drywind.sheets.yard import write_page  # noqa: PLC0415
    from drywind.weather.http import Getter  # noqa: PLC0415

    getter = Getter(config.weather.contact)
    with Store(options.store) as store:
        if options.now < EARLIEST:
            raise ClockError(f"the clock of this computer says {iso(options.now)}: long ago")
        newest = store.newest_stamp()
        if not options.unsure_clock and newest is not None and options.now < newest - BACK_BY:
            _hold_clock(config, Getter(config.weather.contact, attempts=1), options.now, newest)
        store.pull_back(options.now)
        result = run_pass(config, store, getter, options.now)
        store.note_done("pass", options.now)
        write_page(config, store, result.outlooks, options.now)
    return {
        "stacks": len(result.outlooks),
        "new": sum(said.is_new for said in result.said),
        "blind": result.blind,
    }


def _hold_clock(config: Config, getter: "Getter", now: datetime, newest: datetime) -> None:
    """Raise unless somebody says that it is now, though there are decisions of a later time."""
    if is_synchronized():
        return
    for url in (config.weather.nws_url, config.weather.met_norway_url):
        with suppress(WeatherError):  # whatever is answered comes with the time
            getter.get_json(url)
        if getter.clock_was_held:
            return
    raise ClockError(
        f"the clock of this computer says {iso(now)}, earlier than what was decided at"
        f" {iso(newest)}, and nobody says that it is right"
    )


def _chores(_config: Config, options: argparse.Namespace) -> dict[str, Any]:
    """Keep a copy for the night, look whether all is sound, and drop what was kept long enough."""
    with Store(options.store) as store:
        if damaged := store.damage():
            raise DamagedError(f"{options.store}: damaged: {', '.join(damaged)}")
        store.prune(options.now)
    nightly_backup(options.store, options.now)
    with Store(options.store) as store:
        store.note_done("chores", options.now)
    return {}


def _deliver(config: Config, options: argparse.Namespace) -> dict[str, Any]:
    with Store(options.store) as store:
        ended = deliver_due(store, destinations(config), options.now)
    return {"refused": any(outcome is Outcome.FAILED_FOR_GOOD for _, outcome in ended)}


def _plans(config: Config, options: argparse.Namespace) -> dict[str, Any]:
    from drywind.sheets.plans import keep_plans  # noqa: PLC0415 - numpy only where needed

    with Store(options.store) as store:
        keep_plans(config, store, options.now)
        store.note_done("plans", options.now)
    return {}


def _beat(config: Config, options: argparse.Namespace) -> dict[str, Any]:
    beat(config.heartbeat, well=not options.failed)
    return {}


JOBS: Mapping[str, Callable[[Config, argparse.Namespace], dict[str, Any]]] = {
    "pass": _pass,
    "deliver": _deliver,
    "chores": _chores,
    "plans": _plans,
    "beat": _beat,
}

if __name__ == "__main__":
    main()
