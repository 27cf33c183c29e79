"""A yard of several stacks and contacts on a real store, pass by pass, without weather."""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

from tests.messages.outlooks import ZONE
from tests.timelines.scripts import AWAKE, Sight

from drywind.alerts.records import Message
from drywind.config import Channel, Config, Contact, Policy, WeatherSettings
from drywind.speaking import Said, speak, stack_matters
from drywind.store import Store
from drywind.units import Units

MAIL = replace(AWAKE, name="Office", kind=Channel.EMAIL)


@dataclass(frozen=True)
class Yard:
    """Contacts, a policy, and the store that remembers."""

    config: Config
    store: Store

    def look(self, now: datetime, *sights: Sight, dry_run: bool = False) -> list[Said]:
        """Do a pass that sees these stacks."""
        matters = [m for sight in sights for m in stack_matters(sight.outlook(now), now)]
        return speak(self.config, self.store, matters, now, dry_run=dry_run)


@contextmanager
def yard(
    folder: Path, contacts: Sequence[Contact] = (AWAKE,), policy: Policy | None = None
) -> Iterator[Yard]:
    """Open a yard of these contacts."""
    settings = WeatherSettings(contact="yard@example.com")
    named = {contact.name: contact for contact in contacts}
    config = Config("Yard", ZONE, Units.US, folder, settings, {}, named, policy or Policy())
    with Store(folder / "drywind.db") as store:
        yield Yard(config, store)


def messages(said: Sequence[Said], contact: Contact = AWAKE) -> list[Message]:
    """Return what is new in the outbox of a contact."""
    mine = [s for s in said if s.is_new and s.decision.contact == contact.name]
    return [s.message for s in mine if s.message is not None]
