"""The whole book in open formats: records, journal, papers, photos and files, schemas. Reads only.

`README.txt`        what is in it, from which journal head
`records/KIND.json` every record as it stands; `tables/KIND.csv` the same, a column a field
`journal.jsonl`     every entry that ever arrived, with its place in the hash chain
`papers/ID.json`    what was printed, as it was frozen
`photos/SHA256.jpg` photos, labels (`.pdf`) and sounds
`schemas/KIND.json` JSON Schema (draft 2020-12) of a kind's fields; `forms.json` the form specs

No secrets: passwords, PINs, cookies, enrolment codes and calendar addresses live in tables of their
own, which nothing here reads.
"""

from __future__ import annotations

import csv
import io
import json
from typing import TYPE_CHECKING, Any, Final

from sqlalchemy import select

from tepal import __version__
from tepal.domain.errors import NotFoundError
from tepal.forms.deriver import form_specs
from tepal.forms.json_schema import schema_of
from tepal.forms.kinds import KINDS
from tepal.photos.storage import SUFFIX
from tepal.services.wire import wire_record
from tepal.store.journal import journal_rows, read_head
from tepal.store.kind_models import RECORD_MODELS
from tepal.store.models import Paper
from tepal.store.photo_rows import stored_files
from tepal.store.records import load_all

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from sqlalchemy.orm import Session as DbSession

    from tepal.photos.storage import PhotoStorage
    from tepal.sync.merge import RecordState

_OF_ROW: Final = ("id", "state", "revision", "form_version", "author")
File = tuple[str, bytes]


def export_files(
    db: DbSession, establishment: str, storage: PhotoStorage, now: str
) -> Iterator[File]:
    """Yield (path inside the export, content) of every file; all from one snapshot.

    Paths are made of kinds, ids and digests only: no name that a person typed becomes a path.
    """
    head = read_head(db, establishment)
    counts: dict[str, int] = {}
    for kind in sorted(RECORD_MODELS):
        records = load_all(db, establishment, kind)
        counts[kind] = len(records)
        yield f"records/{kind}.json", _json([wire_record(one) for one in records])
        yield f"tables/{kind}.csv", _csv(records)
        if kind in KINDS:
            yield f"schemas/{kind}.json", _json(schema_of(kind))
    yield "forms.json", _json(form_specs())
    yield "journal.jsonl", _journal(db, establishment)
    for paper in db.execute(select(Paper).where(Paper.establishment == establishment)).scalars():
        counts["papers"] = counts.get("papers", 0) + 1
        yield f"papers/{paper.id}.json", _json(_paper(paper))
    missing: list[str] = []
    files = stored_files(db, establishment)
    digests = sorted(files)
    for sha256 in digests:
        try:
            content = storage.read(establishment, sha256, files[sha256])
        except NotFoundError:
            missing.append(sha256)
            continue
        yield f"photos/{sha256}.{SUFFIX[files[sha256]]}", content
    counts["photos"] = len(digests) - len(missing)
    manifest = {
        "format": "tepal-export", "version": 1, "software": f"Tepal {__version__}",
        "exported_at": now, "establishment": establishment,
        "journal": {"epoch": head.epoch, "seq": head.seq, "hash": head.hash},
        "counts": counts, "photos_missing": missing,
    }  # fmt: skip
    yield "manifest.json", _json(manifest)
    yield "README.txt", (__doc__ or "").encode()


def _json(value: Any) -> bytes:
    return (json.dumps(value, ensure_ascii=False, indent=1) + "\n").encode()


def _csv(records: list[RecordState]) -> bytes:
    """One column a field; what is no plain text or number stands as JSON."""
    names = sorted({name for record in records for name in record.fields})
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")  # RFC 4180
    writer.writerow([*_OF_ROW, *names])
    for record in records:
        own = [getattr(record, name) for name in _OF_ROW]
        writer.writerow([*own, *(_cell(record.fields.get(name)) for name in names)])
    return out.getvalue().encode("utf-8-sig")  # spreadsheets read UTF-8 by its mark only


def _cell(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, str):
        return value
    return json.dumps(value, ensure_ascii=False)


def _journal(db: DbSession, establishment: str) -> bytes:
    lines = [
        json.dumps(
            {
                "seq": row.seq, "hash": row.hash, "received_at": row.received_at,
                "outcome": row.outcome, "reason": row.reason, "digest": row.digest,
                "text": row.text,
            },
            ensure_ascii=False,
        )
        for row in journal_rows(db, establishment)
    ]  # fmt: skip
    return ("\n".join(lines) + "\n").encode()


def _paper(paper: Paper) -> dict[str, Any]:
    return {
        "id": paper.id, "sort": paper.sort, "subject": paper.subject, "number": paper.number,
        "printed_at": paper.printed_at, "printed_by": paper.printed_by,
        "view_hash": paper.view_hash, "view": paper.view,
    }  # fmt: skip


def write_export(files: Iterator[File], write: Callable[[str, bytes], None]) -> tuple[int, int]:
    """Write every file; return (how many, how many bytes)."""
    n_files = n_bytes = 0
    for path, content in files:
        write(path, content)
        n_files += 1
        n_bytes += len(content)
    return n_files, n_bytes
