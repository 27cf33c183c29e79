"""Stacks, events and lots as plain dictionaries, for `--json`; needs no numeric package.

Keys are a contract: units stand in them, what is unknown is None.
"""

from datetime import datetime, timedelta
from typing import Any

from drywind.clock import iso
from drywind.yard import Event, LogLot, Stack

Json = dict[str, Any]


def stack_json(stack: Stack, now: datetime) -> Json:
    """Return what people entered about a stack, as it stands now."""
    setup = stack.setup_at(now)
    return {
        "id": stack.id,
        "species": stack.species,
        "thickness": stack.thickness.label,
        "stacked_at": iso(stack.stacked_at),
        "ended_at": iso(stack.ended_at) if stack.ended_at else None,
        "age_days": round((now - stack.stacked_at) / timedelta(days=1), 1),
        "site": setup.site,
        "measures": sorted(setup.measures),
        "sticker_mm": round(1000 * setup.sticker_m, 1),
        "pack_width_m": round(setup.pack_width_m, 2),
        "traits": sorted(stack.traits),
        "events": [event_json(e) for e in stack.events],
    }


def event_json(event: Event) -> Json:
    """Return an event as it was entered."""
    return {"time": iso(event.time), "kind": event.kind, "detail": event.detail}


def lot_json(lot: LogLot, now: datetime) -> Json:
    """Return what people entered about a lot."""
    return {
        "id": lot.id,
        "species": lot.species,
        "felled_at": iso(lot.felled_at),
        "sawn_at": iso(lot.sawn_at) if lot.sawn_at else None,
        "ended_at": iso(lot.ended_at) if lot.ended_at else None,
        "age_days": round((now - lot.felled_at) / timedelta(days=1), 1),
        "site": lot.site,
        "volume": lot.volume,
        "end_coated": lot.end_coated,
        "stored": lot.stored,
        "thicknesses": [size.label for size in lot.thicknesses],
        "waits_as": "boards" if lot.is_sawn_at(now) else "logs",
    }
