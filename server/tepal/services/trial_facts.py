"""What a trial's report says beside its data: place, crop, applications, deviations, photos.

Reads only; the trial itself is read by trial_book.py.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from tepal.reports.trial_view import Fact, ReportPhoto
from tepal.services.record_story import names_of
from tepal.services.trial_book import of_trial, received_instead
from tepal.services.trial_report import ReportFacts
from tepal.services.trials import applications_of, load_trial
from tepal.store import records as record_rows

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from sqlalchemy.orm import Session as DbSession

    from tepal.designs.trial import TrialData
    from tepal.domain.words import Words
    from tepal.services.book_text import TextMaker
    from tepal.services.print_base import Book
    from tepal.sync.merge import RecordState


def report_facts(book: Book, trial_id: str, data: TrialData) -> ReportFacts:
    """Return what the book knows of a trial beside its data, as final text."""
    db, establishment, text, words = book.db, book.id, book.text, book.words
    trial = load_trial(db, establishment, trial_id)
    treated = applications_of(db, establishment, trial_id)
    return ReportFacts(
        **book.facts(),
        phase=str(trial.fields.get("phase") or ""),
        facts=tuple(_facts(db, establishment, trial.fields, words)),
        applications=tuple(_application(a, data, text) for a in treated),
        deviations=tuple(_deviations(trial.fields, treated, data, words)),
        potted_on=_day(text, trial.fields.get("potted_on")),
        harvests=tuple(_harvests(db, establishment, trial.fields, text)),
        own_words=str(trial.fields.get("conclusion") or ""),
        photos=_photos(db, establishment, trial_id),
    )


def _facts(
    db: DbSession, establishment: str, fields: Mapping[str, Any], words: Words
) -> Iterable[Fact]:
    def say(code: str) -> str:
        return words.text(f"trial_report.{code}")

    keys = [("lot", str(x)) for x in fields.get("lots") or ()]
    house, responsible = fields.get("house"), fields.get("responsible")
    permit = fields.get("permit")
    keys += [("house", str(house))] if house else []
    keys += [("member", str(responsible))] if responsible else []
    keys += [("permit", str(permit))] if permit else []
    found = record_rows.load(db, establishment, keys)
    lots = [found[k].fields for k in keys if k[0] == "lot" and k in found]
    crops = [
        " ".join(str(lot.get(x)) for x in ("crop", "cultivar", "code") if lot.get(x))
        for lot in (*lots, *(fields.get("crops") or ()))
    ]
    pairs = (
        ("crop", ", ".join(crops)),
        ("place", _named(found, "house", house)),
        ("responsible", _named(found, "member", responsible)),
        ("permit", str(found["permit", permit].fields.get("number") or "")
         if permit and ("permit", permit) in found else ""),
        ("period", " – ".join(str(fields[x]) for x in ("started_on", "finished_on")
                              if fields.get(x))),
    )  # fmt: skip
    facts = [Fact(say(code), text) for code, text in pairs if text]
    place = str(fields.get("elsewhere") or "")
    if place:
        why = words.text("across.elsewhere_why", place=place)
        facts.insert(0, Fact(words.text("across.elsewhere"), why))
    return facts


def _day(text: TextMaker, on: Any) -> str:
    return text.day({"local": f"{on}T00:00:00"}) if on else ""


def _harvests(
    db: DbSession, establishment: str, fields: Mapping[str, Any], text: TextMaker
) -> Iterable[tuple[str, ...]]:
    """Return a line per harvest: when, what, how many of which, how weighed, by whom."""
    words = text.words
    people = names_of(db, establishment, "member", "name")
    looks = {a.get("code"): a for a in fields.get("assessments") or ()}
    for row in fields.get("harvests") or ():
        look = looks.get(row.get("assessment"), {})
        n, blocks = row.get("plants_per_plot"), ", ".join(row.get("blocks") or ())
        taken = words.text("trial_report.harvest.taken", n=n) if n else ""
        where = words.text("trial_report.harvest.blocks", blocks=blocks) if blocks else ""
        drying = " ".join(
            text.quantity(row.get(name))
            for name in ("drying_temperature", "drying_time")
            if row.get(name)
        )
        weighed = row.get("weighing")
        yield (
            str(look.get("name") or row.get("assessment") or "–"),
            words.text(f"choice.trial.harvests.part.{row['part']}") if row.get("part") else "–",
            ", ".join(x for x in (taken, where) if x) or "–",
            ", ".join(
                x
                for x in (
                    words.text(f"choice.trial.harvests.weighing.{weighed}") if weighed else "",
                    drying, str(row.get("note") or ""),
                )
                if x
            ) or "–",
            people.get(str(row.get("by") or ""), "–"),
        )  # fmt: skip


def _named(found: Mapping[Any, RecordState], kind: str, record_id: Any) -> str:
    record = found.get((kind, record_id))
    return "" if record is None else str(record.fields.get("name") or "")


def _application(record: RecordState, data: TrialData, text: TextMaker) -> tuple[str, ...]:
    fields = record.fields
    numbers = sorted({row.get("actual") or row.get("planned") for row in fields.get("plots") or ()
                      if row.get("actual") or row.get("planned")})  # fmt: skip
    known = {t.number: t.label for t in data.treatments}
    treatment = ", ".join(f"{known[n]}\u00a0({n})" for n in numbers if n in known)
    mix = ", ".join(
        f"{p.get('name') or ''} {text.quantity(p.get('target') or p.get('amount'))}".strip()
        for p in fields.get("products") or ()
    )
    air = ", ".join(
        shown
        for shown in (
            text.quantity(fields.get("air_temperature")),
            text.quantity(fields.get("air_humidity")),
        )
        if shown
    )
    when = f"{text.day(fields.get('started_at'))} {text.clock(fields.get('started_at'))}".strip()
    return (when or "–", treatment or "–", mix or "–", text.quantity(fields.get("volume")) or "–",
            air or "–")  # fmt: skip


def _deviations(
    trial: Mapping[str, Any], treated: Iterable[RecordState], data: TrialData, words: Words
) -> Iterable[str]:
    known = {t.number: t.label for t in data.treatments}
    told = received_instead(trial, (one.fields for one in treated))
    for plot, (planned, actual, when) in told.items():
        yield words.text(
            "trial_report.actual" if when else "trial_report.actual_undated",
            plot=plot, planned=known.get(planned, str(planned)),
            actual=known.get(actual, str(actual)), when=when,
        )  # fmt: skip


def _photos(db: DbSession, establishment: str, trial_id: str) -> tuple[ReportPhoto, ...]:
    """Return the photos of the trial itself and of its assessments: its line-ups, by their day."""
    of = {trial_id, *(a.id for a in of_trial(db, establishment, "assessment", trial_id))}
    found = []
    for record in record_rows.load_all(db, establishment, "photo"):
        fields = record.fields
        if record.state != "void" and fields.get("of_id") in of and fields.get("sha256"):
            taken = str((fields.get("captured_at") or {}).get("local", ""))[:10]
            found.append(ReportPhoto(str(fields["sha256"]), taken))
    return tuple(sorted(found, key=lambda p: p.caption))
