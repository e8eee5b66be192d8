"""The demo's trials as the analysis sees them, without a database: from the acts that make them."""

from __future__ import annotations

import itertools
import random
from collections import defaultdict
from datetime import date
from typing import TYPE_CHECKING

from tepal.services.demo_trials import demo_trials
from tepal.services.trial_book import data_of
from tepal.sync.merge import RecordState

if TYPE_CHECKING:
    from tepal.designs.trial import TrialData


_NAMES = (
    "manager", "Dinh Thorne", "Rosa Lind", "house1", "bench1", "bench2", "bench3", "lot1", "lot2",
    "rootpost", "stemwright", "halfpace", "tallcheck",
)  # fmt: skip


class _Ids(dict[str, str]):
    """Any name gets an id of its own."""

    def __missing__(self, name: str) -> str:
        self[name] = f"00000000-0000-7000-8000-{len(self):012d}"
        return self[name]


def demo_trial_data() -> dict[str, TrialData]:
    """Return the demo's trials by their codes."""
    ids = _Ids()
    for name in _NAMES:
        _ = ids[name]
    counter = itertools.count()
    day = date(2026, 11, 25)
    made = demo_trials(ids, lambda: ids[f"new {next(counter)}"], day, ids["manager"])
    acts = [one.act for one in made]
    records: dict[str, list[RecordState]] = defaultdict(list)
    for act in acts:
        records[act.kind].append(
            RecordState(
                kind=act.kind, id=act.record, fields=dict(act.changes), revision=1, state="open", form_version=1,
                author=act.member, created_seq=1,
            )
        )  # fmt: skip
    found = {}
    for trial in records["trial"]:
        of = {
            kind: [r for r in rows if r.fields.get("trial") == trial.id]
            for kind, rows in records.items()
        }
        data = data_of(
            trial.fields,
            of["observation"],
            of["assessment"],
            of["exclusion"],
            of["application"],
            {},
        )
        found[data.code] = data
    return found


def seeds(n: int, start: int = 1) -> list[int]:
    """Return n seeds that depend on the start alone."""
    chance = random.Random(start)
    return [chance.randrange(2**31) for _ in range(n)]
