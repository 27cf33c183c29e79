"""The daemon: sees to it that passes, deliveries and chores happen, until a signal stops it.

It does nothing by itself: each pass and each round of deliveries is a process of its own, which
ends, is ended where it hangs, and gives its memory back. The main thread watches the clock, because
a Raspberry Pi boots with an old one and steps it when it finds the time, and a scheduler sleeps
through a step back. It feeds the service manager's watchdog only while every job ends in time.
"""

import logging
import os
import random
import signal
import threading
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from math import inf
from pathlib import Path
from types import FrameType

from apscheduler.executors.pool import ThreadPoolExecutor
from apscheduler.schedulers.background import BackgroundScheduler
from apscheduler.triggers.base import BaseTrigger

from drywind.alerts.own_words import clock_words, standstill_words
from drywind.clock import EARLIEST, utc_now
from drywind.config import Config
from drywind.daemon.cries import Cries
from drywind.daemon.sd_notify import notify, watchdog_s
from drywind.daemon.stand_in import StandIn, memory_folder
from drywind.daemon.vitals import Vitals
from drywind.daemon.work import Failure, Told, Worker
from drywind.db.opening import Held
from drywind.db.recovery import make_sound
from drywind.delivery import sole_watcher
from drywind.errors import DamagedError, DrywindError, StoreError
from drywind.logs import log_to_stderr
from drywind.store import Store

TICK_S = 2
DELIVERY_S = 60
CHORES_S = 900
JITTER_S = 300
SOON_S = 5
RETRY_CLOCK_S = 60
RETRY_PASS_S = 900
"""How often jobs are looked at, begin, and are tried again (assumptions: soon enough for a person
who waits, seldom enough for a small computer)."""

CHORES_HOUR = 3
"""Local hour from which the chores of a night are done (assumption)."""

BEAT_DEADLINE_S = 60.0
"""Four times what one request may take."""

DELIVERY_DEADLINE_S = 900.0
"""Twenty recipients who hang, each for as long as one may, and some more (assumption)."""

PASS_DEADLINE_S = 1200.0
"""Over ten times what a pass takes on a Raspberry Pi 3 with a yard full of stacks (estimate)."""

PLANS_AFTER_S = 180.0
"""After the first pass, which matters more."""
PLANS_EVERY = timedelta(hours=12)
"""Saw days and places take minutes on a small computer, and change by the day (assumptions)."""

PATIENCE_S = 1800.0
"""So long a clock that looks wrong is waited for, and then somebody is told (assumption)."""

STANDSTILL_S = 3 * 3600.0
"""Without a pass for so long somebody is told (assumption)."""

CLOCK_STEP_S = 2.0
"""What the two clocks may differ by while a second is waited for (assumption)."""

STOP_GRACE_S = 20.0
"""Less than a service manager waits before it kills; see deploy/drywind.service."""

_log = logging.getLogger("drywind")


class Tick(BaseTrigger):  # type: ignore[misc]  # the scheduler has no types
    """Every few seconds from now on, whatever the clock did meanwhile.

    An interval would count through each one left out since, and a clock that is set after it began
    in 1970 leaves out nearly a billion.
    """

    def get_next_fire_time(self, previous_fire_time: datetime | None, now: datetime) -> datetime:
        """Return when to look next."""
        return now if previous_fire_time is None else now + timedelta(seconds=TICK_S)


class Daemon:
    """Watches the yard of one configuration.

    Parameters
    ----------
    config_path
        Where the configuration was read from, for the workers; None where it is looked for.
    """

    def __init__(self, config: Config, config_path: Path | None = None) -> None:
        self.config = config
        memory = memory_folder(config.data_dir)
        self.disk = StandIn(config.data_dir / "drywind.db", memory / "drywind.db")
        self._cries = Cries(config, memory / "told.json")
        self._worker = Worker(config_path)
        self._stop = threading.Event()
        self._passing = threading.Lock()
        """Held by a pass: the file it uses must not be taken away."""
        self._held = Held(self.disk.disk)
        self._damaged = threading.Event()
        """Set where the store was found damaged, and has to be mended."""
        self._trouble_since: dict[Failure, float] = {}
        # Not at the full hour, with everybody else's program: the seconds are by chance.
        period_s = 60.0 * config.weather.refresh_minutes + random.uniform(-1, 1) * JITTER_S  # noqa: S311
        self._jobs: dict[str, tuple[Callable[[], None], float]] = {
            "pass": (self._pass, period_s),
            "deliver": (self._deliver, DELIVERY_S),
            "chores": (self._chores, CHORES_S),
            "plans": (self._plans, CHORES_S),
        }
        self._due_at = dict.fromkeys(self._jobs, inf)
        self._vitals = Vitals(
            {"pass": period_s + PASS_DEADLINE_S, "deliver": DELIVERY_S + 2 * DELIVERY_DEADLINE_S}
        )
        self._scheduler = BackgroundScheduler(
            timezone=UTC,
            executors={"default": ThreadPoolExecutor(4)},
            # Its own defaults drop a run that is a second late.
            job_defaults={"misfire_grace_time": None, "coalesce": True, "max_instances": 1},
        )

    def run(self) -> None:
        """Run until SIGTERM or SIGINT; a pass in progress is let finish, within a grace time."""
        log_to_stderr()
        with sole_watcher(self.config):
            self._open()
            for number in (signal.SIGTERM, signal.SIGINT):
                signal.signal(number, self._on_signal)
            self._schedule()
            self._scheduler.start()
            _log.info("watching %s, %d sites", self.config.yard_name, len(self.config.sites))
            notify("READY=1", f"STATUS=watching {self.config.yard_name}")
            self._keep_watch()
            notify("STOPPING=1")
            self._held.let_go()
            self._shut_down()
        _log.info("stopped")

    def _open(self) -> None:
        """Make the store sound and up to date; one that cannot be used at all ends the program."""
        try:
            make_sound(self.disk.disk, utc_now())
            with Store(self.disk.disk):
                self._held.hold()
        except StoreError as error:
            if not error.unwritable:
                raise
            _log.error("%s", error)
            self.disk.retreat()

    def _on_signal(self, _number: int, _frame: FrameType | None) -> None:
        self._stop.set()

    def _schedule(self) -> None:
        """Look anew, every few seconds, at which jobs are due; all of them are at once.

        The scheduler leaves out a job that still runs, so none is hung on a single instant.
        """
        for name in self._due_at:
            self._soon(name, PLANS_AFTER_S if name == "plans" else 0.0)
            self._scheduler.add_job(
                self._look_at,
                Tick(),
                args=[name],
                id=name,
                next_run_time=datetime.now(UTC),
                replace_existing=True,
            )

    def _soon(self, name: str, in_s: float = 0.0) -> None:
        """Have a job done in a while at the latest, counted by a clock that never steps."""
        self._due_at[name] = min(self._due_at[name], time.monotonic() + in_s)

    def _look_at(self, name: str) -> None:
        if time.monotonic() < self._due_at[name]:
            return
        job, every_s = self._jobs[name]
        self._due_at[name] = time.monotonic() + every_s
        job()

    def _keep_watch(self) -> None:
        """Wait for the signal; feed the watchdog, and when the clock steps, schedule anew."""
        limit_s = watchdog_s()
        wall, steady, fed = time.time(), time.monotonic(), 0.0
        while not self._stop.wait(1.0):
            drift = (time.time() - wall) - (time.monotonic() - steady)
            if abs(drift) > CLOCK_STEP_S:
                _log.warning("the clock stepped by %.0f s; scheduling anew", drift)
                self._schedule()
                wall, steady = time.time(), time.monotonic()
            if limit_s is not None and time.monotonic() - fed > limit_s / 3:
                fed = time.monotonic()
                if hung := self._vitals.overdue():
                    _log.error("%s came to no end in time", ", ".join(hung))
                else:
                    notify("WATCHDOG=1")

    def _shut_down(self) -> None:
        self._worker.kill("plans")  # nobody waits for them, and they take long
        finished = threading.Thread(target=self._scheduler.shutdown, daemon=True)
        finished.start()
        finished.join(STOP_GRACE_S)
        if finished.is_alive():
            _log.warning("a job did not end within %.0f s; leaving it", STOP_GRACE_S)
            self._worker.kill()
            os._exit(0)

    def _pass(self) -> None:
        with self._vitals.of("pass"), self._passing:
            unsure = self._lasting(Failure.CLOCK) > PATIENCE_S
            told = self._work("pass", PASS_DEADLINE_S, *(["--unsure-clock"] if unsure else []))
            again_s = self._after_failure(told) if told.failure else None
            self._note(told.failure)
            self._cry(told.detail)
        if told.failure is None:
            _log.info("pass: %d stacks, %d new decisions", told.stacks, told.new)
            notify(f"STATUS=last pass {utc_now():%a %H:%M} UTC, {told.stacks} stacks")
            # By its own job, never here: two deliveries at a time would send a message twice.
            self._soon("deliver")
        if again_s is not None:
            self._soon("pass", again_s)
        well = told.failure is None and not told.blind
        if self.config.heartbeat.url or self.config.heartbeat.failure_url:
            self._work("beat", BEAT_DEADLINE_S, *([] if well else ["--failed"]))

    def _after_failure(self, told: Told) -> float:
        """Do what can be done about a pass that failed; return when to try again, seconds."""
        if told.failure is Failure.UNWRITABLE and self._retreat():
            return SOON_S
        if told.failure is Failure.DAMAGED:
            self._damaged.set()
            self._soon("deliver")
            return RETRY_CLOCK_S
        return RETRY_CLOCK_S if told.failure is Failure.CLOCK else RETRY_PASS_S

    def _work(self, job: str, deadline_s: float, *options: str) -> Told:
        return self._worker.do(job, self.disk.path, utc_now(), deadline_s, *options)

    def _note(self, failure: Failure | None) -> None:
        """Note since when passes fail for a reason; all is over with one that succeeds."""
        if failure is None:
            self._trouble_since.clear()
        else:
            self._trouble_since.setdefault(failure, time.monotonic())

    def _lasting(self, *failures: Failure) -> float:
        """Return for how long passes have been failing for any of these reasons, seconds."""
        since = [at for f, at in self._trouble_since.items() if f in failures]
        return time.monotonic() - min(since) if since else 0.0

    def _cry(self, detail: str) -> None:
        """Say what no pass can say."""
        for what, lasts, words in (
            ("clock", self._lasting(Failure.CLOCK) > PATIENCE_S, clock_words),
            ("standstill", self._lasting(*Failure) > STANDSTILL_S, standstill_words),
        ):
            if lasts:
                self._cries.cry(what, words(self.config.yard_name, detail))
            elif not self._trouble_since:
                self._cries.calm(what)

    def _deliver(self) -> None:
        with self._vitals.of("deliver"):
            try:
                self._mend()
                self._hand_over()
            except DamagedError as error:
                _log.error("delivery failed: %s", error)
                self._damaged.set()
            except StoreError as error:
                _log.error("delivery failed: %s", error)
                if error.unwritable and self._retreat():
                    self._soon("deliver")
            except DrywindError as error:
                _log.error("delivery failed: %s", error)

    def _hand_over(self) -> None:
        """Have what is due delivered, if anything is."""
        with Store(self.disk.path) as store:
            if not store.outbox_due(utc_now()):
                return
        told = self._work("deliver", DELIVERY_DEADLINE_S)
        if told.failure is Failure.UNWRITABLE and self._retreat():
            self._soon("deliver")
        elif told.failure is Failure.DAMAGED:
            self._damaged.set()
        elif told.refused:
            self._soon("pass", RETRY_CLOCK_S)  # others may have to be told instead

    def _mend(self) -> None:
        """Go back to the disk where it can be written again, mend the store where it is damaged.

        Not under a pass, and in the job that delivers: nobody else has the store open then.
        """
        if not (self.disk.is_used or self._damaged.is_set()):
            return
        if not self._passing.acquire(blocking=False):
            return
        try:
            if self.disk.is_used:
                if self.disk.come_back():
                    self._held.hold()
            elif self._damaged.is_set():
                self._held.let_go()
                make_sound(self.disk.disk, utc_now())
                self._held.hold()
                self._damaged.clear()
                self._soon("pass")
        finally:
            self._passing.release()

    def _retreat(self) -> bool:
        """Go on in memory, as the disk cannot be written; return whether that is new."""
        if self.disk.is_used:
            return False
        try:
            self.disk.retreat()
        except StoreError as error:
            _log.error("%s", error)
            return False
        return True

    def _chores(self) -> None:
        """Once a night, by what the store says was done: whatever the clock did meanwhile."""
        now = utc_now()
        if now < EARLIEST:  # a copy would be named after that time
            return
        today = now.astimezone(self.config.zone)
        done = self._done_at("chores")
        was_done = done is not None and done.astimezone(self.config.zone).date() >= today.date()
        if not was_done and today.hour >= CHORES_HOUR and not self.disk.is_used:
            told = self._work("chores", PASS_DEADLINE_S)
            if told.failure is Failure.DAMAGED:
                self._damaged.set()
            _log.info("chores: %s", told.detail or "done")

    def _plans(self) -> None:
        """Twice a day, once there has been a pass: what the page says of the weeks ahead."""
        done, now = self._done_at("plans"), utc_now()
        is_due = done is None or not timedelta() <= now - done < PLANS_EVERY
        if is_due and self._done_at("pass") is not None and not self.disk.is_used:
            told = self._work("plans", PASS_DEADLINE_S)
            if told.failure is not None:  # the page does without until then
                self._due_at["plans"] = time.monotonic() + PLANS_EVERY.total_seconds()

    def _done_at(self, job: str) -> datetime | None:
        try:
            with Store(self.disk.path) as store:
                return store.done_at(job)
        except StoreError as error:
            _log.error("%s: %s", job, error)
            return None
