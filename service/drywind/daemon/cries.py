"""What must be said though there is no pass to say it: straight to the contacts, once a spell.

Without a right clock, a store that can be used or a pass that ends there is no outbox. What was
told whom is kept in a file beside the daemon's socket, so that a restart does not tell it again.
"""

import json
import logging
from collections.abc import Mapping
from pathlib import Path

from drywind.alerts.records import Message
from drywind.config import Config, Topic
from drywind.delivery import Send, destinations, send_apprise
from drywind.files import whole_file
from drywind.store import Outcome

_log = logging.getLogger(__name__)


class Cries:
    """What stands, and who has been told of it.

    Parameters
    ----------
    kept
        The file that outlives the daemon; it may be lost with a reboot.
    """

    def __init__(self, config: Config, kept: Path, send: Send = send_apprise) -> None:
        self._config, self._kept, self._send = config, kept, send
        self._told = _read(kept)

    def cry(self, what: str, message: Message) -> None:
        """Tell every contact who hears warnings, and has not been told of this spell yet."""
        told = self._told.setdefault(what, [])
        hearing = {c.name for c in self._config.contacts.values() if Topic.WARNINGS in c.hear}
        for name, destination in destinations(self._config).items():
            if name not in hearing or name in told:
                continue
            outcome, detail = self._send(destination.url, message, destination.kind)
            _log.warning("%s to %s: %s", what, name, detail)
            if outcome is not Outcome.FAILED_FOR_NOW:  # it may have arrived, or never will
                told.append(name)
        self._keep()

    def calm(self, what: str) -> None:
        """Note that a trouble is over."""
        if self._told.pop(what, None) is not None:
            self._keep()

    def _keep(self) -> None:
        try:
            with whole_file(self._kept) as file:
                file.write(json.dumps(self._told).encode())
        except OSError as error:
            _log.warning("what was told is kept in memory alone: %s", error.strerror)


def _read(kept: Path) -> dict[str, list[str]]:
    try:
        found = json.loads(kept.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    if not isinstance(found, Mapping):
        return {}
    return {
        str(what): [str(name) for name in names]
        for what, names in found.items()
        if isinstance(names, list)
    }
