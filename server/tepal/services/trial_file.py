"""The open trial file: one JSON document that holds a trial whole, for the drawer or for others.

Out: everything that was planned, done and seen, without this book's ids. In: a new trial of its
own, saved as entries; nothing where the file is not whole. The schema is `trial_file.schema.json`.
"""

from __future__ import annotations

import itertools
import json
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from tepal import __version__
from tepal.forms.kinds import KINDS
from tepal.forms.validator import problems as field_problems
from tepal.services.server_acts import Act, act_within, server_device
from tepal.services.trial_book import liners_of, of_trial, received_instead
from tepal.services.trial_potting import is_potted, origin_of
from tepal.services.trial_received import Registers, crops_of, received_of, received_rows
from tepal.services.trials import TrialError, applications_of, load_trial
from tepal.store import records as record_rows
from tepal.sync.ids import shared_id

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from sqlalchemy.orm import Session as DbSession

    from tepal.services.server_acts import Chance
    from tepal.sync.merge import RecordState

FORMAT: Final = "urn:tepal:trial:1"
SCHEMA_FILE: Final = Path(__file__).with_name("trial_file.schema.json")
MOST_OBSERVATIONS: Final = 60_000
# what only this book can follow
_REFS: Final = {"responsible", "permit", "lots", "house", "origin", "order"}
# what stands beside the trial in the file: where it was made, on what crop, what it received
_BESIDE: Final = {"elsewhere", "crops", "received"}
_NOT_NAMED: Final = "–"
_OF_APPLICATIONS: Final = (
    "mix_name", "method", "purpose", "products", "volume", "started_at", "ended_at", "plots",
    "air_temperature", "air_humidity", "note", "stopped_early",
)  # fmt: skip


def schema() -> dict[str, Any]:
    """Return the JSON Schema (draft 2020-12) of the trial file."""
    found: dict[str, Any] = json.loads(SCHEMA_FILE.read_text(encoding="utf-8"))
    return found


def trial_file(db: DbSession, establishment: str, trial_id: str, now: str) -> dict[str, Any]:
    """Return a trial whole.

    Raises
    ------
    NotFoundError   `trials.no_such_trial`.
    """
    trial = load_trial(db, establishment, trial_id)
    own = record_rows.load(db, establishment, [("establishment", establishment)])
    lots = record_rows.load(
        db, establishment, [("lot", lot) for lot in trial.fields.get("lots") or ()]
    )
    applications = applications_of(db, establishment, trial_id)
    registers = Registers(
        _by_id(db, establishment, "tank_mix"), _by_id(db, establishment, "product"),
        {one.id: one for one in lots.values()},
    )  # fmt: skip
    crops = crops_of(trial.fields, registers.lots)
    codes = [one.fields.get("code") for one in lots.values()]
    liner, since = _liner(db, establishment, trial.fields)
    told = received_instead(trial.fields, (one.fields for one in applications))
    fields = _open_fields(trial.fields, {n: row[1] for n, row in told.items()}, since)
    return {
        "format": FORMAT,
        "software": f"Tepal {__version__}",
        "exported_at": now,
        "establishment": str(
            trial.fields.get("elsewhere")
            or own["establishment", establishment].fields.get("name", "")
        ),
        "lots": [
            {
                name: value
                for name, value in (
                    ("code", code), ("crop", one.crop), ("crop_eppo", one.eppo),
                    ("cultivar", one.cultivar), ("container", one.container),
                )
                if value
            }
            for one, code in itertools.zip_longest(crops, codes)
            if one is not None
        ],
        "received": received_rows(received_of(trial.fields, applications, registers)),
        "trial": fields,
        **({} if liner is None else {"liner": liner}),
        "assessments": list(_rows(db, establishment, "assessment", trial_id)),
        "observations": list(_rows(db, establishment, "observation", trial_id)),
        "exclusions": list(_rows(db, establishment, "exclusion", trial_id)),
        "applications": [
            {name: _bare(one.fields[name]) for name in _OF_APPLICATIONS if name in one.fields}
            for one in applications
        ],
    }  # fmt: skip


def _open_fields(
    trial: Mapping[str, Any],
    got: Mapping[int, int],
    since: Mapping[tuple[int, int], int] | None = None,
) -> dict[str, Any]:
    """Return a trial's fields without ids that only this book can follow.

    Its applications don't travel, nor those between two moves: a plot says what it truly got.
    """
    fields = {name: v for name, v in trial.items() if name not in _REFS | _BESIDE}
    fields["plots"] = []
    for row in trial.get("plots") or ():
        plot = _without(row, ("lot", "bench"))
        received = got.get(int(row.get("plot") or 0))
        if received is None and since and (origin := origin_of(row)) is not None:
            received = since.get(origin)
        if received is not None and received != row.get("treatment"):
            plot["received"] = received
        fields["plots"].append(plot)
    fields["treatments"] = [_without(t, ("tank_mix",)) for t in fields.get("treatments") or ()]
    if fields.get("harvests"):
        fields["harvests"] = [_without(h, ("by",)) for h in fields["harvests"]]
    return fields


def _liner(
    db: DbSession, establishment: str, trial: Mapping[str, Any]
) -> tuple[dict[str, Any] | None, Mapping[tuple[int, int], int]]:
    """Return the trial in which the plants were liners, whose plots are the experimental units.

    With it comes what plants got instead of the planned treatment between two moves.
    """
    if not is_potted(trial):
        return None, {}
    liner, got, since = liners_of(db, establishment, trial)
    own = _open_fields(liner, {n: row[1] for n, row in got.items()}) if liner else None
    return own, since


def _rows(db: DbSession, establishment: str, kind: str, trial_id: str) -> Iterator[dict[str, Any]]:
    for one in of_trial(db, establishment, kind, trial_id):
        yield _without(one.fields, ("trial", "lot", "observer", "observers"))


def _by_id(db: DbSession, establishment: str, kind: str) -> dict[str, RecordState]:
    return {one.id: one for one in record_rows.load_all(db, establishment, kind)}


def _without(row: Mapping[str, Any], names: tuple[str, ...]) -> dict[str, Any]:
    return {name: value for name, value in row.items() if name not in names}


def _bare(value: Any) -> Any:
    """Return a value without ids of this book's products and batches."""
    if isinstance(value, list):
        return [_bare(one) for one in value]
    if isinstance(value, dict):
        return {k: _bare(v) for k, v in value.items() if k not in ("product", "batch")}
    return value


def file_problems(document: Any) -> list[dict[str, str]]:
    """Return what stands against a file: where it is, the value, a code. [] where nothing does."""
    if not isinstance(document, dict) or document.get("format") != FORMAT:
        said = document.get("format") if isinstance(document, dict) else None
        return [{"place": "format", "value": str(said)[:80], "code": "not_a_trial_file"}]
    found: list[dict[str, str]] = []
    for part, kind in (
        ("trial", "trial"), ("liner", "trial"), ("assessments", "assessment"),
        ("observations", "observation"), ("exclusions", "exclusion"),
    ):  # fmt: skip
        if part == "liner" and part not in document:
            continue
        rows = [document.get(part)] if kind == "trial" else document.get(part, [])
        if not isinstance(rows, list) or len(rows) > MOST_OBSERVATIONS:
            found.append({"place": part, "value": "", "code": "not_a_list"})
            continue
        for at, row in enumerate(rows):
            place = part if kind == "trial" else f"{part}[{at}]"
            found += _row_problems(place, kind, row)
    for part, name in (("lots", "crops"), ("received", "received")):
        rows = document.get(part, [])
        if not isinstance(rows, list) or any(not isinstance(row, dict) for row in rows):
            found.append({"place": part, "value": "", "code": "not_a_list"})
            continue
        wrong = field_problems("trial", {name: _beside(document)[name]}).items()
        found += [{"place": part, "value": "", "code": codes[0]} for _, codes in wrong]
    return found


def _beside(document: Mapping[str, Any]) -> dict[str, Any]:
    """Return what a file says beside the trial, as fields of the record."""
    names = ("crop", "crop_eppo", "cultivar", "container")
    return {
        "elsewhere": str(document.get("establishment") or _NOT_NAMED)[:200],
        "crops": [
            {name: row[name] for name in names if row.get(name)} for row in document.get("lots", [])
        ],
        "received": document.get("received", []),
    }


def _as_treated(document: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Return the plots with the treatment they got: the applications stay where they were made."""
    rows = [row.get("plots") or () for row in document.get("applications", [])]
    told = received_instead(document["trial"], [{"plots": plots} for plots in rows])
    return [
        {**plot, "received": told[plot["plot"]][1]} if plot.get("plot") in told else plot
        for plot in document["trial"].get("plots") or ()
    ]


def _row_problems(place: str, kind: str, row: Any) -> list[dict[str, str]]:
    if not isinstance(row, dict):
        return [{"place": place, "value": str(row)[:80], "code": "not_a_group"}]
    lacks = {"trial": ("code",), "observation": ("assessment", "plot", "plant")}.get(kind, ())
    found = [
        {"place": f"{place}.{name}", "value": "", "code": "lacks"}
        for name in lacks
        if row.get(name) is None
    ]
    return found + [
        {"place": f"{place}.{name}", "value": str(row[name])[:80], "code": codes[0]}
        for name, codes in field_problems(kind, row).items()
    ]


def import_trial(
    db: DbSession, establishment: str, document: Any, member: str, chance: Chance
) -> dict[str, Any]:
    """Save a file as a trial of its own; return its id and counts. Commits everything or nothing.

    The trial is closed to measuring unless it was under way; a code that is taken gets a suffix.

    Raises
    ------
    TrialError   `trials.file_problems` with the first of them.
    """
    problems = file_problems(document)
    if problems:
        raise TrialError(
            "trials.file_problems", "The file is not whole; nothing was imported.",
            n=len(problems), place=problems[0]["place"], value=problems[0]["value"],
            problem=problems[0]["code"],
        )  # fmt: skip
    trial_id, group = chance.uuid7(), chance.uuid7()
    with db.begin():
        taken = {
            str(one.fields.get("code")) for one in record_rows.load_all(db, establishment, "trial")
        }
        acts = []
        fields = _new_trial(document["trial"], taken) | _beside(document)
        if fields.get("plots"):
            fields["plots"] = _as_treated(document)
        if "liner" in document:
            fields["origin"] = chance.uuid7()
            liner = _new_trial(document["liner"], taken)
            acts = [Act("trial", fields["origin"], "create", member, liner, group=group)]
        acts.append(Act("trial", trial_id, "create", member, fields, group=group))
        acts += _acts_of(document, trial_id, member, group, chance)
        act_within(db, establishment, server_device(db, establishment), acts, chance)
    return {
        "id": trial_id,
        "code": fields["code"],
        "n_observations": len(document.get("observations", [])),
    }


def _new_trial(row: Mapping[str, Any], taken: set[str]) -> dict[str, Any]:
    """Return the fields of a trial from a file; its code becomes one that is free, and taken."""
    left = _REFS | _BESIDE
    fields = {k: v for k, v in row.items() if v is not None and k not in left}
    code = str(fields["code"])
    fields["code"] = next(
        c for c in (code, *(f"{code[:9]}.{n}" for n in range(2, 10_000))) if c not in taken
    )
    taken.add(fields["code"])
    return fields


def _acts_of(
    document: Mapping[str, Any], trial_id: str, member: str, group: str, chance: Chance
) -> Iterator[Act]:
    def made(kind: str, record: str, row: Mapping[str, Any]) -> Act:
        known = {
            name: value
            for name, value in row.items()
            if value is not None and KINDS[kind].field(name) is not None
        }
        return Act(kind, record, "create", member, {"trial": trial_id, **known}, group=group)

    seen: set[str] = set()
    for row in document.get("assessments", []):
        record = shared_id(trial_id, str(row.get("code")))
        if record not in seen:
            seen.add(record)
            yield made("assessment", record, row)
    for row in document.get("observations", []):
        record = shared_id(trial_id, row["assessment"], row["plot"], row["plant"])
        if record not in seen:
            seen.add(record)
            yield made("observation", record, row)
    for row in document.get("exclusions", []):
        yield made("exclusion", chance.uuid7(), row)
