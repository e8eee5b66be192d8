"""Invented views of the single sheets, built on the invented month of month_sample."""

from __future__ import annotations

from dataclasses import fields, replace
from typing import TYPE_CHECKING

from support import month_sample
from tepal.reports.application_view import ApplicationSheetView, HistoryLine, PhotoLine
from tepal.reports.mixing_view import MixingSheetView, MixStep, TankLoad
from tepal.reports.print_facts import PrintFacts
from tepal.reports.record import Value

if TYPE_CHECKING:
    from tepal.reports.record import ApplicationRecord

_TEXT: dict[month_sample.Language, dict[str, str]] = {
    "en": {
        "phone": "phone 2",
        "office": "office",
        "change": "volume: 28.2 L to 22.8 L",
        "why": "misread the measuring cylinder",
        "photo": "bench {b}, from the aisle",
        "rules": "US Worker Protection Standard, 40 CFR 170.311(b)",
        "planned": "Tue 19 May 2026, before 11:00",
        "half": "about half of the final volume",
        "d1": "chlormequat chloride, 900 mg/L in the tank",
        "d2": "uniconazole, 1.5 mg/L in the tank",
        "fill": "final volume of this load",
        "sprayer": "Sprayer 2, boom, calibrated 11 March",
        "ppe1": "Chemical-resistant gloves, protective eyewear, apron",
        "ppe2": "Long sleeves, long trousers, shoes with socks, gloves",
        "answered": "overhead water moved to tomorrow",
        "left": "Spray what is left on bench 7 (same lot, untreated); rinse three times.",
        "why_void": "logged twice: the same application is record 2026-0145",
    },
    "es": {
        "phone": "teléfono 2",
        "office": "oficina",
        "change": "volumen: de 28.2 L a 22.8 L",
        "why": "lectura errónea de la probeta",
        "photo": "mesa {b}, desde el pasillo",
        "rules": "Norma de Protección para el Trabajador (EE. UU.), 40 CFR 170.311(b)",
        "planned": "mar 19 may 2026, antes de las 11:00",
        "half": "alrededor de la mitad del volumen final",
        "d1": "cloruro de clormequat, 900 mg/L en el tanque",
        "d2": "uniconazol, 1.5 mg/L en el tanque",
        "fill": "volumen final de esta carga",
        "sprayer": "Equipo 2, barra, calibrado el 11 de marzo",
        "ppe1": "Guantes resistentes a químicos, protección ocular, delantal",
        "ppe2": "Manga larga, pantalón largo, zapatos con calcetines, guantes",
        "answered": "riego por arriba pasado a mañana",
        "left": "Aplique el sobrante en la mesa 7 (mismo lote, sin tratar); enjuague tres veces.",
        "why_void": "registrado dos veces: la misma aplicación es el registro 2026-0145",
    },
}

STOP: dict[month_sample.Language, str] = {
    "en": "House 2, bench 5 is restricted until Tue 19 May 20:05 and signs down.",
    "es": "Invernadero 2, mesa 5: entrada restringida hasta mar 19 may 20:05 y letreros abajo.",
}


def print_facts(language: month_sample.Language = "en") -> dict[str, object]:
    """Return the fields that all view models share, as keyword arguments."""
    month = month_sample.month_view(language)
    return {field.name: getattr(month, field.name) for field in fields(PrintFacts)}


def application_sheet_view(
    language: month_sample.Language = "en",
    *,
    record: ApplicationRecord | None = None,
    **changed: object,
) -> ApplicationSheetView:
    """Return the sheet of an application (default: the amended one); keywords replace fields."""
    t = _TEXT[language]
    record = month_sample.amended(language) if record is None else record
    who = record.operator.text
    history = [HistoryLine("2026-05-14 08:12 −07:00", who, t["phone"], "create", "", "", 4401)]
    if record.volume.changes:
        history.append(
            HistoryLine(
                "2026-05-17 08:40 −07:00", who, t["phone"], "amend", t["change"], t["why"], 4466
            )
        )
    if record.void is not None:
        void = record.void
        history.append(HistoryLine(void.at, void.by, t["office"], "void", "", t["why_void"], 4470))
    photos = tuple(
        PhotoLine(t["photo"].format(b=4 + i), f"2026-05-14 08:0{i}", "ab" * 31 + f"{i:02d}")
        for i in range(record.n_photos)
    )
    view = ApplicationSheetView(
        rule_set=t["rules"],
        record=record,
        history=tuple(history),
        photos=photos,
        **print_facts(language),  # type: ignore[arg-type]
    )
    return replace(view, **changed)  # type: ignore[arg-type]


def tank_loads(language: month_sample.Language = "en") -> tuple[TankLoad, ...]:
    """Return two alike loads of 10 L and one of 2.8 L.

    By hand: 900 mg/L x 10 L = 9000 mg; at 118 mg/mL that is 76.3 mL (2.58 fl oz of 29.5735 mL).
    1.5 mg/L x 10 L = 15 mg; at 0.5 mg/mL that is 30.0 mL (1.01 fl oz). For 2.8 L: 21.4 mL
    (0.722 fl oz) and 8.4 mL (0.284 fl oz). 10 L is 2.64 gal, 2.8 L is 0.74 gal.
    """
    t = _TEXT[language]

    def load(numbers: tuple[int, ...], *amounts: tuple[str, str]) -> TankLoad:
        half, first, second, full = amounts
        steps = (
            MixStep("water_first", "", t["half"], *half),
            MixStep("product", "Stemwright SL", t["d1"], *first),
            MixStep("product", "Unicollar SL", t["d2"], *second),
            MixStep("water_up_to", "", t["fill"], *full),
        )
        return TankLoad(numbers, *full, steps)

    return (
        load(
            (1, 2),
            ("5 L", "1.32 gal"),
            ("76.3 mL", "2.58 fl oz"),
            ("30.0 mL", "1.01 fl oz"),
            ("10 L", "2.64 gal"),
        ),
        load(
            (3,),
            ("1.4 L", "0.37 gal"),
            ("21.4 mL", "0.722 fl oz"),
            ("8.4 mL", "0.284 fl oz"),
            ("2.8 L", "0.74 gal"),
        ),
    )


def mixing_sheet_view(language: month_sample.Language = "en", **changed: object) -> MixingSheetView:
    """Return the mixing sheet of three loads for three benches; keywords replace fields."""
    t = _TEXT[language]
    record = month_sample.application(language)
    view = MixingSheetView(
        order="S-061, v3",
        planned=Value(t["planned"]),
        place=record.place,
        mix=record.mix,
        method=record.method,
        volume=record.volume,
        area=record.area,
        rei=record.rei,
        operator=record.operator,
        sprayer=Value(t["sprayer"]),
        places=record.places,
        loads=tank_loads(language),
        ppe_mixing=(t["ppe1"],),
        ppe_applying=(t["ppe2"],),
        answered=(t["answered"],),
        leftovers=t["left"],
        **{**print_facts(language), "cautions": ()},  # type: ignore[arg-type]
    )
    return replace(view, **changed)  # type: ignore[arg-type]
