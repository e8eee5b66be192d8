"""What a restore of a backup leaves in the journal: a new epoch, and who did it, from where.

To be called once, right after the tables were put back and before the server opens. Phones see
the new epoch at their next exchange and send again what the put-back journal lacks.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from sqlalchemy import update

from tepal.services.server_acts import Act, act_within, server_device
from tepal.store.journal import SqlJournal
from tepal.store.models import JournalHead

if TYPE_CHECKING:
    from sqlalchemy.orm import Session as DbSession

    from tepal.services.server_acts import Chance
    from tepal.sync.engine import PushResult


def mark_restored(
    db: DbSession,
    establishment: str,
    chance: Chance,
    *,
    old_seq: int | None,
    old_hash: str | None,
    by: str,
    note: str | None,
) -> PushResult:
    """Start a new epoch and append the entry that says so. Commits.

    Parameters
    ----------
    db : a session on the writers' engine, with no transaction open.
    old_seq, old_hash : the head that was lost, where it is known (from a phone, a printed record,
        the broken disk); anchors between it and today's head then read "lost in a restore".
    by : member id of the person who put the backup back.
    note : what the person says about it; kept as the entry's reason.
    """
    with db.begin():
        head = SqlJournal(db, establishment).lock()
        was = None if old_seq is None or old_hash is None else {"seq": old_seq, "hash": old_hash}
        fresh = head.epoch
        while fresh == head.epoch:
            fresh = chance.random_bytes(4).hex()
        db.execute(
            update(JournalHead)
            .where(JournalHead.establishment == establishment)
            .values(epoch=fresh)
        )
        told = {"was": was, "to": {"seq": head.seq, "hash": head.hash}}
        entry = Act("establishment", establishment, "restore", by, {"restored": told}, reason=note)
        return act_within(db, establishment, server_device(db, establishment), [entry], chance)
