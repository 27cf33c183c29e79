"""Having a job done by a worker: a process that ends, or is ended."""

import json
import logging
import os
import signal
import subprocess
import sys
import threading
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from pathlib import Path
from typing import Any

WORKER = ("-m", "drywind.daemon.worker")
"""What Python runs as a worker."""

MANAGERS = {"NOTIFY_SOCKET", "WATCHDOG_USEC", "WATCHDOG_PID"}

_log = logging.getLogger("drywind")


class Failure(StrEnum):
    """Why a job was not done, as far as the daemon can do something about it."""

    CLOCK = "clock"
    UNWRITABLE = "unwritable"
    DAMAGED = "damaged"
    OTHER = "other"


@dataclass(frozen=True)
class Told:
    """What a worker told at its end.

    Attributes
    ----------
    stacks, new, blind
        Of a pass: how many stacks it judged and decisions it made, and whether it had no weather.
    refused
        Of a delivery: whether a message was refused for good.
    """

    failure: Failure | None = None
    detail: str = ""
    stacks: int = 0
    new: int = 0
    blind: bool = False
    refused: bool = False


class Worker:
    """Starts workers, each a leader of its own process group so that nothing of it stays behind."""

    def __init__(self, config_path: Path | None) -> None:
        self._config_path = config_path
        self._lock = threading.Lock()
        self._running: dict[subprocess.Popen[bytes], str] = {}

    def do(self, job: str, store: Path, now: datetime, deadline_s: float, *options: str) -> Told:
        """Have a job done; one that does not end in time is killed, and was not done."""
        command = [sys.executable, *WORKER, job]
        command += ["--store", str(store), "--now", now.isoformat(), *options]
        if self._config_path is not None:
            command += ["--config", str(self._config_path)]
        # Only the daemon speaks to the service manager.
        env = {name: value for name, value in os.environ.items() if name not in MANAGERS}
        process = subprocess.Popen(  # noqa: S603 - our own module
            command, stdout=subprocess.PIPE, env=env, start_new_session=True
        )
        with self._lock:
            self._running[process] = job
        try:
            output, _ = process.communicate(timeout=deadline_s)
        except subprocess.TimeoutExpired:
            _end(process)
            process.communicate()
            _log.error("%s did not end within %.0f s and was ended", job, deadline_s)
            return Told(Failure.OTHER, f"it did not end within {deadline_s / 60:.0f} minutes")
        finally:
            with self._lock:
                self._running.pop(process, None)
        told = _read(output, process.returncode)
        if told.failure is Failure.OTHER:
            _log.error("%s was not done: %s", job, told.detail)
        return told

    def kill(self, only: str | None = None) -> None:
        """End all workers at once, or those that do one job."""
        with self._lock:
            for process, job in self._running.items():
                if only in {None, job}:
                    _end(process)


def _end(process: subprocess.Popen[bytes]) -> None:
    try:
        os.killpg(process.pid, signal.SIGKILL)
    except ProcessLookupError:
        return


def _read(output: bytes, code: int) -> Told:
    try:
        found: dict[str, Any] = json.loads(output.splitlines()[-1])
        failure = found.pop("failure", None)
        return Told(failure=None if failure is None else Failure(failure), **found)
    except (IndexError, ValueError, TypeError):
        return Told(Failure.OTHER, f"it ended with {code} and without a word")
