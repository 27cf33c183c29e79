"""The part of the store that holds log lots: registered once, then sawn, then ended."""

import logging
from datetime import datetime
from sqlite3 import Row

from drywind.db import schema
from drywind.db.shelf import WeatherShelf
from drywind.errors import UsageError, unknown_name
from drywind.units import Thickness
from drywind.yard import LogLot, Storage

_log = logging.getLogger(__name__)

_INSERT_LOT = (
    "INSERT INTO lot (id, species, felled_at, site, volume, end_coated, stored, sawn_at, ended_at,"
    " thicknesses) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?) ON CONFLICT (id) DO NOTHING"
)


class LotShelf(WeatherShelf):
    """The database, open, as far as log lots go; see `drywind.store.Store`."""

    def add_lot(self, lot: LogLot) -> None:
        """Register a lot.

        Raises
        ------
        UsageError
            If there is a lot or a stack of its name, ended or not.
        """
        with self._transaction() as db:
            added = db.execute(_INSERT_LOT, _lot_values(lot)).rowcount
            is_stack = db.execute("SELECT 1 FROM stack WHERE id = ?", (lot.id,)).fetchone()
            if is_stack or not added:
                kind = "stack" if is_stack else "lot"
                raise UsageError(f"there already is a {kind} {lot.id}; take another name")

    def lots(self, *, include_ended: bool = False) -> list[LogLot]:
        """Return the lots by name.

        A row that makes no sense is left out, and logged: it must not silence the others.
        """
        lots = []
        for row in self._read_sound("lot", "id"):
            try:
                lots.append(_read_lot(row))
            except (ValueError, OverflowError, OSError, UsageError) as error:
                _log.error("lot %s cannot be read: %s", row["id"], error)
        return [lot for lot in lots if include_ended or lot.ended_at is None]

    def lot(self, lot_id: str) -> LogLot:
        """Return one lot, ended or not.

        Raises
        ------
        UsageError
            If there is none of that name; the nearest names are given.
        """
        known = {lot.id: lot for lot in self.lots(include_ended=True)}
        if lot_id not in known:
            raise unknown_name("lot", lot_id, known)
        return known[lot_id]

    def change_lot(
        self, lot_id: str, *, sawn_at: datetime | None = None, ended_at: datetime | None = None
    ) -> None:
        """Note when a lot was sawn, or ended; None leaves that as it is.

        Raises
        ------
        UsageError
            If there is no such lot, or that was noted before: it stays as it was.
        """
        changed = self._write(
            "UPDATE lot SET sawn_at = coalesce(sawn_at, ?2), ended_at = coalesce(ended_at, ?3)"
            " WHERE id = ?1 AND (?2 IS NULL OR sawn_at IS NULL)"
            " AND (?3 IS NULL OR ended_at IS NULL)",
            *(lot_id, schema.seconds(sawn_at), schema.seconds(ended_at)),
        )
        if not changed:
            lot = self.lot(lot_id)
            told, at = ("sawn", lot.sawn_at) if sawn_at and lot.sawn_at else ("ended", lot.ended_at)
            raise UsageError(f"{lot_id} was {told} at {at:%Y-%m-%d %H:%M} UTC; that stays")


def _lot_values(lot: LogLot) -> tuple[schema.Value, ...]:
    return (
        lot.id,
        lot.species,
        schema.seconds(lot.felled_at),
        lot.site,
        lot.volume,
        lot.end_coated,
        lot.stored,
        schema.seconds(lot.sawn_at),
        schema.seconds(lot.ended_at),
        " ".join(size.label for size in lot.thicknesses),
    )


def _read_lot(row: Row) -> LogLot:
    return LogLot(
        id=row["id"],
        species=row["species"],
        felled_at=schema.instant(row["felled_at"]),
        site=row["site"],
        sawn_at=schema.instant_or_none(row["sawn_at"]),
        ended_at=schema.instant_or_none(row["ended_at"]),
        volume=row["volume"],
        end_coated=bool(row["end_coated"]),
        stored=Storage(row["stored"]),
        thicknesses=tuple(map(Thickness.parse, row["thicknesses"].split())),
    )
