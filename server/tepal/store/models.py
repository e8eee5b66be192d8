"""Tables: the journal and its heads, and a class per record kind (hence over 400 lines).

No foreign keys between synced kinds: a parent may still be on a phone, or in quarantine. Columns
of a kind's table are the fields of its schema (a test holds them equal); nested values are JSON.
"""

from __future__ import annotations

from typing import Any

from sqlalchemy import JSON, BigInteger, Boolean, Index, Integer, LargeBinary, String, Text
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
    __table_args__ = (
        Index("journal_by_entry", "establishment", "entry_id", unique=True),
        Index("journal_by_digest", "establishment", "digest", unique=True),
        Index("journal_by_record", "establishment", "record", "seq"),
    )


class DeviceTally(Base):
    """Which numbers of a device the journal holds, and when the device was last heard."""

    __tablename__ = "device_tally"
    establishment: Mapped[str] = mapped_column(_UUID, primary_key=True)
    device: Mapped[str] = mapped_column(_UUID, primary_key=True)
    ack: Mapped[int] = mapped_column(BigInteger, default=0)
    beyond: Mapped[list[int]] = mapped_column(JSON, default=list)


class DeviceHeard(Base):
    """What a device last said of itself; no record, and no part of the journal."""

    __tablename__ = "device_heard"
    device: Mapped[str] = mapped_column(_UUID, primary_key=True)
    establishment: Mapped[str] = mapped_column(_UUID, index=True)
    heard_at: Mapped[str] = mapped_column(String(24))
    status: Mapped[dict[str, Any] | None] = mapped_column(JSON)


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


class EstablishmentRecord(SyncColumns, Base):
    """Kind `establishment`."""

    __tablename__ = "establishment"
    name: Mapped[str | None] = _text(200)
    address: Mapped[str | None] = _text()
    country: Mapped[str | None] = _text(2)
    zone: Mapped[str | None] = _text(64)
    number_format: Mapped[str | None] = _text(16)
    unit_system: Mapped[str | None] = _text(10)
    paper: Mapped[str | None] = _text(10)


class MemberRecord(SyncColumns, Base):
    """Kind `member`."""

    __tablename__ = "member"
    name: Mapped[str | None] = _text(120)
    role: Mapped[str | None] = _text(12)
    language: Mapped[str | None] = _text(2)
    active: Mapped[bool | None] = mapped_column(Boolean)


class DeviceRecord(SyncColumns, Base):
    """Kind `device`."""

    __tablename__ = "device"
    label: Mapped[str | None] = _text(80)
    ceiling: Mapped[str | None] = _text(12)
    revoked: Mapped[bool | None] = mapped_column(Boolean)


class HouseRecord(SyncColumns, Base):
    """Kind `house`."""

    __tablename__ = "house"
    name: Mapped[str | None] = _text(120)
    code: Mapped[str | None] = _text(12)
    area: Mapped[dict[str, Any] | None] = _json()
    note: Mapped[str | None] = _text()


class BenchRecord(SyncColumns, Base):
    """Kind `bench`."""

    __tablename__ = "bench"
    name: Mapped[str | None] = _text(120)
    code: Mapped[str | None] = _text(12)
    house: Mapped[str | None] = mapped_column(_UUID, index=True)
    length: Mapped[dict[str, Any] | None] = _json()
    width: Mapped[dict[str, Any] | None] = _json()
    area: Mapped[dict[str, Any] | None] = _json()


class LotRecord(SyncColumns, Base):
    """Kind `lot`."""

    __tablename__ = "lot"
    code: Mapped[str | None] = _text(24)
    crop: Mapped[str | None] = _text(120)
    cultivar: Mapped[str | None] = _text(120)
    crop_eppo: Mapped[str | None] = _text(6)
    benches: Mapped[list[str] | None] = _json()
    n_containers: Mapped[int | None] = mapped_column(BigInteger)
    container: Mapped[str | None] = _text(80)
    stage: Mapped[str | None] = _text(120)
    started_on: Mapped[str | None] = _text(10)


class ProductRecord(SyncColumns, Base):
    """Kind `product`."""

    __tablename__ = "product"
    name: Mapped[str | None] = _text(120)
    registration_number: Mapped[str | None] = _text(60)
    country: Mapped[str | None] = _text(40)
    kind: Mapped[str | None] = _text(24)
    physical_form: Mapped[str | None] = _text(8)
    formulation_type: Mapped[str | None] = _text(4)
    ingredients: Mapped[list[dict[str, Any]] | None] = _json()
    density: Mapped[dict[str, Any] | None] = _json()
    rei: Mapped[dict[str, Any] | None] = _json()
    double_notice: Mapped[bool | None] = mapped_column(Boolean)
    signal_word: Mapped[str | None] = _text(16)
    ppe_mixing: Mapped[str | None] = _text()
    ppe_applying: Mapped[str | None] = _text()
    first_aid: Mapped[str | None] = _text()
    use_within: Mapped[dict[str, Any] | None] = _json()
    water_ph_min: Mapped[str | None] = _text(24)
    water_ph_max: Mapped[str | None] = _text(24)
    label_on: Mapped[str | None] = _text(10)


class TankMixRecord(SyncColumns, Base):
    """Kind `tank_mix`."""

    __tablename__ = "tank_mix"
    name: Mapped[str | None] = _text(120)
    method: Mapped[str | None] = _text(12)
    volume_per_area: Mapped[dict[str, Any] | None] = _json()
    volume_per_container: Mapped[dict[str, Any] | None] = _json()
    components: Mapped[list[dict[str, Any]] | None] = _json()
    extra: Mapped[dict[str, Any] | None] = _json()
    injector_ratio: Mapped[str | None] = _text(24)
    injector_meaning: Mapped[str | None] = _text(16)
    purpose: Mapped[str | None] = _text(200)


class IncompatiblePairRecord(SyncColumns, Base):
    """Kind `incompatible_pair`."""

    __tablename__ = "incompatible_pair"
    a: Mapped[str | None] = _text(120)
    b: Mapped[str | None] = _text(120)
    reason: Mapped[str | None] = _text()
    source: Mapped[str | None] = _text(200)


class JarTestRecord(SyncColumns, Base):
    """Kind `jar_test`."""

    __tablename__ = "jar_test"
    products: Mapped[list[str] | None] = _json()
    result: Mapped[str | None] = _text(12)
    tested_on: Mapped[str | None] = _text(10)
    note: Mapped[str | None] = _text()


class InstrumentRecord(SyncColumns, Base):
    """Kind `instrument`."""

    __tablename__ = "instrument"
    name: Mapped[str | None] = _text(120)
    sort: Mapped[str | None] = _text(12)
    resolution: Mapped[dict[str, Any] | None] = _json()
    capacity: Mapped[dict[str, Any] | None] = _json()


class SprayerRecord(SyncColumns, Base):
    """Kind `sprayer`."""

    __tablename__ = "sprayer"
    name: Mapped[str | None] = _text(120)
    sort: Mapped[str | None] = _text(16)
    capacity: Mapped[dict[str, Any] | None] = _json()
    nozzle: Mapped[str | None] = _text(120)
    droplet: Mapped[str | None] = _text(20)
    calibrate_every: Mapped[dict[str, Any] | None] = _json()


class CalibrationRecord(SyncColumns, Base):
    """Kind `calibration`."""

    __tablename__ = "calibration"
    sprayer: Mapped[str | None] = mapped_column(_UUID, index=True)
    method: Mapped[str | None] = _text(12)
    measured_on: Mapped[str | None] = _text(10)
    used: Mapped[dict[str, Any] | None] = _json()
    plot_area: Mapped[dict[str, Any] | None] = _json()
    catches: Mapped[list[dict[str, Any]] | None] = _json()
    catch_time: Mapped[dict[str, Any] | None] = _json()
    swath: Mapped[dict[str, Any] | None] = _json()
    spacing: Mapped[dict[str, Any] | None] = _json()
    speed: Mapped[dict[str, Any] | None] = _json()
    course: Mapped[dict[str, Any] | None] = _json()
    course_time: Mapped[dict[str, Any] | None] = _json()
    walk_time: Mapped[dict[str, Any] | None] = _json()
    area: Mapped[dict[str, Any] | None] = _json()
    note: Mapped[str | None] = _text()


class ApplicationRecord(SyncColumns, Base):
    """Kind `application`; `started_on` is derived: the local date of the start."""

    __tablename__ = "application"
    lines: Mapped[list[dict[str, Any]] | None] = _json()
    tank_mix: Mapped[str | None] = mapped_column(_UUID)
    mix_name: Mapped[str | None] = _text(120)
    method: Mapped[str | None] = _text(12)
    products: Mapped[list[dict[str, Any]] | None] = _json()
    volume: Mapped[dict[str, Any] | None] = _json()
    area: Mapped[dict[str, Any] | None] = _json()
    sprayer: Mapped[str | None] = mapped_column(_UUID)
    tank_capacity: Mapped[dict[str, Any] | None] = _json()
    volume_left: Mapped[dict[str, Any] | None] = _json()
    purpose: Mapped[str | None] = _text(200)
    operator: Mapped[str | None] = mapped_column(_UUID)
    operator_name: Mapped[str | None] = _text(120)
    started_at: Mapped[dict[str, Any] | None] = _json()
    ended_at: Mapped[dict[str, Any] | None] = _json()
    stopped_early: Mapped[bool | None] = mapped_column(Boolean)
    stopped_note: Mapped[str | None] = _text()
    air_temperature: Mapped[dict[str, Any] | None] = _json()
    air_humidity: Mapped[dict[str, Any] | None] = _json()
    note: Mapped[str | None] = _text()
    entered_later: Mapped[bool | None] = mapped_column(Boolean)
    signature: Mapped[dict[str, Any] | None] = _json()
    started_on: Mapped[str | None] = mapped_column(
        String(10), index=True, info={"derived": "started_at"}
    )


class PhotoRecord(SyncColumns, Base):
    """Kind `photo`."""

    __tablename__ = "photo"
    of_kind: Mapped[str | None] = _text(62)
    of_id: Mapped[str | None] = mapped_column(_UUID, index=True)
    sha256: Mapped[str | None] = mapped_column(String(64), index=True)
    original_sha256: Mapped[str | None] = _text(64)
    size: Mapped[int | None] = mapped_column(Integer)
    width: Mapped[int | None] = mapped_column(Integer)
    height: Mapped[int | None] = mapped_column(Integer)
    media_type: Mapped[str | None] = _text(40)
    captured_at: Mapped[dict[str, Any] | None] = _json()


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
    device: Mapped[str | None] = _text(36)
    number: Mapped[int | None] = mapped_column(BigInteger)
    member: Mapped[str | None] = _text(36)
    of_kind: Mapped[str | None] = _text(63)
    of_id: Mapped[str | None] = mapped_column(_UUID, index=True)
    action: Mapped[str | None] = _text(8)
    decision: Mapped[Any | None] = _json()
    decided_by: Mapped[str | None] = _text(36)


RECORD_MODELS: dict[str, Any] = {
    "establishment": EstablishmentRecord,
    "member": MemberRecord,
    "device": DeviceRecord,
    "house": HouseRecord,
    "bench": BenchRecord,
    "lot": LotRecord,
    "product": ProductRecord,
    "tank_mix": TankMixRecord,
    "incompatible_pair": IncompatiblePairRecord,
    "jar_test": JarTestRecord,
    "instrument": InstrumentRecord,
    "sprayer": SprayerRecord,
    "calibration": CalibrationRecord,
    "application": ApplicationRecord,
    "photo": PhotoRecord,
    "conflict": ConflictRecord,
    "held": HeldRecord,
}


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
    """A photo that is whole, checked and in storage."""

    __tablename__ = "photo_file"
    establishment: Mapped[str] = mapped_column(_UUID, primary_key=True)
    sha256: Mapped[str] = mapped_column(String(64), primary_key=True)
    size: Mapped[int] = mapped_column(Integer)
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
