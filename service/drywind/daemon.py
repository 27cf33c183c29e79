"""The daemon: passes and deliveries on a scheduler, until a signal stops it.

APScheduler's own defaults drop a run that is a second late; ours never does. The main thread
watches the clock: a Raspberry Pi boots with an old one and steps it when it finds the time, and
a scheduler sleeps through a step back.
"""

import logging
import os
import signal
import threading
import time
from datetime import UTC, datetime
from types import FrameType

from apscheduler.executors.pool import ThreadPoolExecutor
from apscheduler.schedulers.background import BackgroundScheduler

from drywind.clock import utc_now
from drywind.config import Config
from drywind.cycle import Pass, run_pass
from drywind.delivery import deliver_due, destinations, sole_watcher
from drywind.errors import DrywindError
from drywind.sheets.yard import write_page
from drywind.store import Store
from drywind.weather.http import Getter

DELIVERY_SECONDS = 60
JITTER_SECONDS = 300
CLOCK_STEP_S = 2.0
STOP_GRACE_S = 20.0

_log = logging.getLogger("drywind")


class Daemon:
    """Watches the yard of one configuration."""

    def __init__(self, config: Config) -> None:
        self.config = config
        self.path = config.data_dir / "drywind.db"
        self.contacts = destinations(config)
        self._stop = threading.Event()
        self._scheduler = BackgroundScheduler(
            timezone=UTC,
            executors={"default": ThreadPoolExecutor(2)},
            job_defaults={"misfire_grace_time": None, "coalesce": True, "max_instances": 1},
        )

    def run(self) -> None:
        """Run until SIGTERM or SIGINT; a pass in progress is let finish, within a grace time."""
        logging.basicConfig(level=logging.INFO, format="%(levelname)s %(name)s: %(message)s")
        logging.getLogger("httpx").setLevel(logging.WARNING)  # its lines carry whole URLs
        logging.getLogger("apscheduler").setLevel(logging.WARNING)
        with Store(self.path):
            pass  # so that a store that cannot be used ends the program, not each job
        with sole_watcher(self.config):
            for number in (signal.SIGTERM, signal.SIGINT):
                signal.signal(number, self._on_signal)
            self._schedule()
            self._scheduler.start()
            _log.info("watching %s, %d sites", self.config.yard_name, len(self.config.sites))
            self._watch_clock()
            self._shut_down()
        _log.info("stopped")

    def _on_signal(self, _number: int, _frame: FrameType | None) -> None:
        self._stop.set()

    def _schedule(self) -> None:
        """Put both jobs on the scheduler, the pass to run at once."""
        minutes = self.config.weather.refresh_minutes
        self._scheduler.add_job(
            self._pass,
            "interval",
            minutes=minutes,
            jitter=JITTER_SECONDS,
            id="pass",
            next_run_time=datetime.now(UTC),
            replace_existing=True,
        )
        self._scheduler.add_job(
            self._deliver,
            "interval",
            seconds=DELIVERY_SECONDS,
            id="deliver",
            replace_existing=True,
        )

    def _watch_clock(self) -> None:
        """Wait for the signal; when the wall clock steps, run what is due by the new one."""
        wall, steady = time.time(), time.monotonic()
        while not self._stop.wait(1.0):
            drift = (time.time() - wall) - (time.monotonic() - steady)
            if abs(drift) > CLOCK_STEP_S:
                _log.warning("the clock stepped by %.0f s; scheduling anew", drift)
                self._schedule()
                wall, steady = time.time(), time.monotonic()

    def _shut_down(self) -> None:
        finished = threading.Thread(target=self._scheduler.shutdown, daemon=True)
        finished.start()
        finished.join(STOP_GRACE_S)
        if finished.is_alive():
            _log.warning("a job did not end within %.0f s; leaving it", STOP_GRACE_S)
            os._exit(0)

    def _pass(self) -> None:
        try:
            with Store(self.path) as store:
                result = run_pass(
                    self.config, store, Getter(self.config.weather.contact), utc_now()
                )
                self._draw(store, result)
        except DrywindError as error:
            _log.error("pass failed: %s", error)
            return
        new = sum(said.is_new for said in result.said)
        _log.info("pass: %d stacks, %d new decisions", len(result.outlooks), new)
        # By its own job, never here: two deliveries at a time would send a message twice.
        self._scheduler.modify_job("deliver", next_run_time=datetime.now(UTC))

    def _draw(self, store: Store, result: Pass) -> None:
        """Write the yard's page; whatever becomes of it, the warnings of the pass go out."""
        try:
            write_page(self.config, store, result.outlooks, result.now)
        except Exception:  # noqa: BLE001 - a picture must not silence a warning
            _log.exception("the yard's page could not be written")

    def _deliver(self) -> None:
        try:
            with Store(self.path) as store:
                deliver_due(store, self.contacts, utc_now())
        except DrywindError as error:
            _log.error("delivery failed: %s", error)
