"""Tables: the journal and its heads, the engine's own kinds, and what is no record.

The tables of the record kinds follow from their schemas: kind_models.py.
"""

from __future__ import annotations

from typing import Any

from sqlalchemy import JSON, BigInteger, Boolean, Float, Index, Integer, LargeBinary, String, Text
from sqlalchemy.orm import Mapped, mapped_column

from tepal.store.database import Base

_SEQ = BigInteger().with_variant(Integer, "sqlite")
_UUID = String(36)


class JournalHead(Base):
    """The establishment row that every push locks first: epoch, last seq, hash there."""

    __tablename__ = "journal_head"
    establishment: Mapped[str] = mapped_column(_UUID, primary_key=True)
    epoch: Mapped[str] = mapped_column(String(8))
    seq: Mapped[int] = mapped_column(_SEQ)
    hash: Mapped[str] = mapped_column(String(64))


class Journal(Base):
    """Every entry that ever arrived, append-only, in the order it was taken."""

    __tablename__ = "journal"
    establishment: Mapped[str] = mapped_column(_UUID, primary_key=True)
    seq: Mapped[int] = mapped_column(_SEQ, primary_key=True, autoincrement=False)
    hash: Mapped[str] = mapped_column(String(64))
    received_at: Mapped[str] = mapped_column(String(24))
    outcome: Mapped[str] = mapped_column(String(12))
    reason: Mapped[str | None] = mapped_column(String(40))
    text: Mapped[str] = mapped_column(Text)
    digest: Mapped[str] = mapped_column(String(64))
    entry_id: Mapped[str | None] = mapped_column(_UUID)
    device: Mapped[str | None] = mapped_column(_UUID)
    number: Mapped[int | None] = mapped_column(BigInteger)
    member: Mapped[str | None] = mapped_column(_UUID)
    kind: Mapped[str | None] = mapped_column(String(63))
    record: Mapped[str | None] = mapped_column(_UUID)
    action: Mapped[str | None] = mapped_column(String(8))
    # the text no longer is what was hashed: a person's name was taken out (services/redaction.py)
    redacted: Mapped[bool] = mapped_column(Boolean, default=False)
    __table_args__ = (
        Index("journal_by_entry", "establishment", "entry_id", unique=True),
        Index("journal_by_digest", "establishment", "digest", unique=True),
        Index("journal_by_record", "establishment", "record", "seq"),
    )


class DeviceTally(Base):
    """Which numbers of a device the journal holds: up to `ack`, and the ranges `beyond`."""

    __tablename__ = "device_tally"
    establishment: Mapped[str] = mapped_column(_UUID, primary_key=True)
    device: Mapped[str] = mapped_column(_UUID, primary_key=True)
    ack: Mapped[int] = mapped_column(BigInteger, default=0)
    beyond: Mapped[list[list[int]]] = mapped_column(JSON, default=list)


class DeviceHeard(Base):
    """What a device last said of itself; no record, and no part of the journal."""

    __tablename__ = "device_heard"
    device: Mapped[str] = mapped_column(_UUID, primary_key=True)
    establishment: Mapped[str] = mapped_column(_UUID, index=True)
    heard_at: Mapped[str] = mapped_column(String(24))
    status: Mapped[dict[str, Any] | None] = mapped_column(JSON)


class LimitTally(Base):
    """What was used up of a limit: wrong tries of a name, rounds or bytes of a device.

    No record and no part of the journal: it is here because every process counts together.
    """

    __tablename__ = "limit_tally"
    sort: Mapped[str] = mapped_column(String(20), primary_key=True)
    key: Mapped[str] = mapped_column(String(64), primary_key=True)  # a digest: it names nobody
    amount: Mapped[float] = mapped_column(Float)
    at_s: Mapped[float] = mapped_column(Float, index=True)


class RecordHead(Base):
    """The newest seq of every record: a pull reads it in seq order across kinds."""

    __tablename__ = "record_head"
    establishment: Mapped[str] = mapped_column(_UUID, primary_key=True)
    kind: Mapped[str] = mapped_column(String(63), primary_key=True)
    id: Mapped[str] = mapped_column(_UUID, primary_key=True)
    seq: Mapped[int] = mapped_column(_SEQ)
    revision: Mapped[int] = mapped_column(_SEQ)
    __table_args__ = (Index("record_head_by_seq", "establishment", "seq"),)


class SyncColumns:
    """The columns that the engine keeps beside a kind's own fields."""

    establishment: Mapped[str] = mapped_column(_UUID, primary_key=True)
    id: Mapped[str] = mapped_column(_UUID, primary_key=True)
    revision: Mapped[int] = mapped_column(_SEQ)
    created_seq: Mapped[int] = mapped_column(_SEQ)
    state: Mapped[str] = mapped_column(String(6))
    form_version: Mapped[int] = mapped_column(Integer)
    author: Mapped[str] = mapped_column(String(36))


SYNC_COLUMNS = frozenset(SyncColumns.__annotations__)


def _text(length: int | None = None) -> Any:
    return mapped_column(Text if length is None else String(length), nullable=True)


def _json() -> Any:
    # none_as_null: an absent value is SQL NULL, never the JSON word null
    return mapped_column(JSON(none_as_null=True), nullable=True)


class ConflictRecord(SyncColumns, Base):
    """The engine's kind `conflict`: two values for one field, until a person decides."""

    __tablename__ = "conflict"
    of_kind: Mapped[str | None] = _text(63)
    of_id: Mapped[str | None] = mapped_column(_UUID, index=True)
    field: Mapped[str | None] = _text(63)
    current: Mapped[Any | None] = _json()
    other: Mapped[Any | None] = _json()
    was: Mapped[Any | None] = _json()
    member: Mapped[str | None] = _text(36)
    device: Mapped[str | None] = _text(36)
    entry: Mapped[str | None] = _text(36)
    reason: Mapped[str | None] = _text()
    made_at: Mapped[dict[str, Any] | None] = _json()
    entry_form_version: Mapped[int | None] = mapped_column(Integer)
    decision: Mapped[Any | None] = _json()
    decided_by: Mapped[str | None] = _text(36)


class HeldRecord(SyncColumns, Base):
    """The engine's kind `held`: an entry that waits or is quarantined, whole, with its reason."""

    __tablename__ = "held"
    entry: Mapped[str | None] = _text(36)
    outcome: Mapped[str | None] = _text(12)
    reason: Mapped[str | None] = _text(40)
    text: Mapped[str | None] = _text()
    digest: Mapped[str | None] = _text(64)
    device: Mapped[str | None] = _text(36)
    number: Mapped[int | None] = mapped_column(BigInteger)
    member: Mapped[str | None] = _text(36)
    of_kind: Mapped[str | None] = _text(63)
    of_id: Mapped[str | None] = mapped_column(_UUID, index=True)
    action: Mapped[str | None] = _text(8)
    of_group: Mapped[str | None] = mapped_column(String(36), index=True)
    decision: Mapped[Any | None] = _json()
    decided_by: Mapped[str | None] = _text(36)
    decision_reason: Mapped[str | None] = _text()


class MemberSecret(Base):
    """A member's password hash and PIN verifier: never in an entry or an export.

    The verifier goes to enrolled devices, for people who take turns on one without signal.
    """

    __tablename__ = "member_secret"
    establishment: Mapped[str] = mapped_column(_UUID, primary_key=True)
    member: Mapped[str] = mapped_column(_UUID, primary_key=True)
    password_hash: Mapped[str | None] = mapped_column(Text)
    pin_salt: Mapped[str | None] = mapped_column(String(32))
    pin_hash: Mapped[str | None] = mapped_column(String(64))


class EnrolmentCode(Base):
    """A code that lets one new device in, once, for a few minutes; only its hash is kept."""

    __tablename__ = "enrolment_code"
    code_hash: Mapped[str] = mapped_column(String(64), primary_key=True)
    establishment: Mapped[str] = mapped_column(_UUID)
    ceiling: Mapped[str] = mapped_column(String(12))
    label: Mapped[str] = mapped_column(String(80))
    made_by: Mapped[str] = mapped_column(_UUID)
    expires_at: Mapped[str] = mapped_column(String(24))


class SessionToken(Base):
    """A cookie's hash: sort `device` (180 days sliding) or `person` (12 h idle)."""

    __tablename__ = "session_token"
    token_hash: Mapped[str] = mapped_column(String(64), primary_key=True)
    sort: Mapped[str] = mapped_column(String(6))
    establishment: Mapped[str] = mapped_column(_UUID)
    device: Mapped[str] = mapped_column(_UUID, index=True)
    member: Mapped[str | None] = mapped_column(_UUID, index=True)
    expires_at: Mapped[str] = mapped_column(String(24))


class PhotoPiece(Base):
    """A 64 kB piece of a photo that is still arriving."""

    __tablename__ = "photo_piece"
    establishment: Mapped[str] = mapped_column(_UUID, primary_key=True)
    sha256: Mapped[str] = mapped_column(String(64), primary_key=True)
    n: Mapped[int] = mapped_column(Integer, primary_key=True)
    content: Mapped[bytes] = mapped_column(LargeBinary)


class PhotoFile(Base):
    """A photo, label or sound that is whole, checked and in storage."""

    __tablename__ = "photo_file"
    establishment: Mapped[str] = mapped_column(_UUID, primary_key=True)
    sha256: Mapped[str] = mapped_column(String(64), primary_key=True)
    size: Mapped[int] = mapped_column(Integer)
    media_type: Mapped[str] = mapped_column(String(40))
    stored_at: Mapped[str] = mapped_column(String(24))


class Paper(Base):
    """A printed report: its view model and hash, so that a reprint can say what changed."""

    __tablename__ = "paper"
    establishment: Mapped[str] = mapped_column(_UUID, primary_key=True)
    id: Mapped[str] = mapped_column(_UUID, primary_key=True)
    sort: Mapped[str] = mapped_column(String(40))
    subject: Mapped[str] = mapped_column(String(80), index=True)
    number: Mapped[int] = mapped_column(Integer)
    view: Mapped[dict[str, Any]] = mapped_column(JSON)
    view_hash: Mapped[str] = mapped_column(String(64))
    printed_at: Mapped[str] = mapped_column(String(24))
    printed_by: Mapped[str] = mapped_column(String(36))


class FeedToken(Base):
    """The hash of a calendar address; who has the address may read the plan until it is revoked."""

    __tablename__ = "feed_token"
    token_hash: Mapped[str] = mapped_column(String(64), primary_key=True)
    establishment: Mapped[str] = mapped_column(_UUID, index=True)
    label: Mapped[str] = mapped_column(String(80))
    made_by: Mapped[str] = mapped_column(_UUID)
    made_at: Mapped[str] = mapped_column(String(24))
    revoked_at: Mapped[str | None] = mapped_column(String(24))


class AnalysisResult(Base):
    """What the engine found for one cell of a trial, by the hash of everything it was given."""

    __tablename__ = "analysis_result"
    establishment: Mapped[str] = mapped_column(_UUID, primary_key=True)
    trial: Mapped[str] = mapped_column(_UUID, primary_key=True)
    cell: Mapped[str] = mapped_column(String(80), primary_key=True)
    input_hash: Mapped[str] = mapped_column(String(64))
    result: Mapped[dict[str, Any]] = mapped_column(JSON)
    made_at: Mapped[str] = mapped_column(String(24))
