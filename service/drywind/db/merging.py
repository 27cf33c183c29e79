"""Bringing home what a copy of the store learned while it stood in for it."""

from sqlite3 import Connection

WATCHED = ("weather_hour", "service", "foretold", "ensemble", "checkpoint", "job", "learned")
"""Tables that only the watch writes: what the copy holds is the newer."""

_DECISION = "key, contact, stack, hazard, reason, made_at, severity, onset, useful_until, unheard"
_MESSAGE = "subject, text, story, html, state, attempts, tried_at, next_try_at, maybe_repeat"


def take_over(db: Connection) -> None:
    """Bring what the attached database ``kept`` has newer into the main one.

    The copy began as the main one was, and only the watch has written to it since; to the main one
    people may have written. So a decision is the same where id and content are, and new decisions
    get new ids.
    """
    for table in WATCHED:
        db.execute(f"INSERT OR REPLACE INTO main.{table} SELECT * FROM kept.{table}")  # noqa: S608
    same = (
        "theirs.id = ours.id AND (theirs.contact, theirs.stack, theirs.hazard, theirs.reason,"
        " theirs.made_at) = (ours.contact, ours.stack, ours.hazard, ours.reason, ours.made_at)"
    )
    known = f"SELECT theirs.id FROM kept.decision AS theirs JOIN main.decision AS ours ON {same}"  # noqa: S608
    ids = {old: old for (old,) in db.execute(known).fetchall()}
    db.executemany(
        "UPDATE main.decision SET (key, unheard) ="
        " (SELECT key, unheard FROM kept.decision AS k WHERE k.id = main.decision.id) WHERE id = ?",
        [(old,) for old in ids],
    )
    for (old,) in db.execute("SELECT id FROM kept.decision ORDER BY id").fetchall():
        if old not in ids:
            added = db.execute(
                f"INSERT INTO main.decision ({_DECISION}) SELECT {_DECISION}"  # noqa: S608
                " FROM kept.decision WHERE id = ? ON CONFLICT (key) DO NOTHING",
                (old,),
            )
            if added.rowcount:
                assert added.lastrowid is not None
                ids[old] = added.lastrowid
    _take_over_messages(db, ids)


def _take_over_messages(db: Connection, ids: dict[int, int]) -> None:
    """Bring the messages, and how attempts at them ended; `ids` tells their ids here."""
    for old, new in ids.items():
        db.execute(
            f"INSERT OR REPLACE INTO main.outbox (id, {_MESSAGE})"  # noqa: S608
            f" SELECT ?2, {_MESSAGE} FROM kept.outbox WHERE id = ?1",
            (old, new),
        )
    (last,) = db.execute("SELECT coalesce(max(id), 0) FROM main.outcome").fetchone()
    ended = db.execute(
        "SELECT outbox, at, outcome, detail FROM kept.outcome WHERE id > ? ORDER BY id", (last,)
    ).fetchall()
    db.executemany(
        "INSERT INTO main.outcome (outbox, at, outcome, detail) VALUES (?, ?, ?, ?)",
        [(ids[row[0]], *row[1:]) for row in ended if row[0] in ids],
    )
