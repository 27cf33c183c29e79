"""Which of the daemon's jobs came to an end in time, by a clock that never steps."""

import threading
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager


class Vitals:
    """When each job last came to an end, however it ended.

    Parameters
    ----------
    limits_s
        For how long each job may not end: its period and its deadline.
    """

    def __init__(self, limits_s: Mapping[str, float]) -> None:
        self._limits_s = dict(limits_s)
        self._lock = threading.Lock()
        self._ended = dict.fromkeys(limits_s, time.monotonic())

    @contextmanager
    def of(self, job: str) -> Iterator[None]:
        """Do a job; its end counts even if it fails, since to start anew would mend nothing."""
        try:
            yield
        finally:
            with self._lock:
                self._ended[job] = time.monotonic()

    def overdue(self) -> list[str]:
        """Return the jobs that did not come to an end in time."""
        now = time.monotonic()
        with self._lock:
            return [job for job, at in self._ended.items() if now - at > self._limits_s[job]]
