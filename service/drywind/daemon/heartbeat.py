"""A sign of life to somebody outside, who raises the alarm when it stays away."""

import logging

import httpx

from drywind import __version__
from drywind.config import Heartbeat

TIMEOUT_S = 15.0
"""For each step of the request (assumption)."""

_log = logging.getLogger(__name__)


def beat(heartbeat: Heartbeat, *, well: bool) -> None:
    """Ask for the address that stands for a pass that went well, or for one that did not.

    That nobody answers is logged and no more: whoever listens there will miss us by himself.
    """
    url = heartbeat.url if well else heartbeat.failure_url
    if url is None:
        return
    try:
        answer = httpx.get(
            url.get_secret_value(),
            headers={"User-Agent": f"drywind/{__version__}"},
            timeout=TIMEOUT_S,
        )
    except (httpx.HTTPError, httpx.InvalidURL) as error:
        _log.warning("heartbeat not accepted: %s", type(error).__name__)
        return
    if not answer.is_success:
        _log.warning("heartbeat answered with %d", answer.status_code)
