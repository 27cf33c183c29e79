"""One way to log, for the daemon and its workers: lines on stderr, which the journal keeps."""

import logging


def log_to_stderr() -> None:
    """Log from INFO on, but not what libraries say every few seconds, or with whole URLs."""
    logging.basicConfig(level=logging.INFO, format="%(levelname)s %(name)s: %(message)s")
    logging.getLogger("httpx").setLevel(logging.WARNING)
    logging.getLogger("apscheduler").setLevel(logging.ERROR)
