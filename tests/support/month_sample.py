"""An invented month of an invented nursery, in English and Spanish, for the tests of the papers.

Business, people, products and registration numbers are made up; the active ingredients exist, but
no rate, strength or REI here is taken from a label. Worked by hand: 0.2 L/m2 on 38 m2 is 7.6 L;
1 US gal = 3.785411784 L and 1 ft = 0.3048 m (NIST Handbook 44, appendix C).
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Literal

from tepal.reports.month_view import MonthView, Total
from tepal.reports.print_facts import Caution, CompleteAsOf, DeviceHeard, Establishment
from tepal.reports.record import (
    ApplicationRecord,
    Change,
    Fact,
    PlaceLine,
    ProductLine,
    Rival,
    Value,
    VoidMark,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

Language = Literal["en", "es"]
HEAD_HASH = "9f3ac1d27be04458a1c6f02b5d9e7734c0ffee12ab34cd56ef7890a1b2c3d4e5"

# 12 May 2026 is a Tuesday: ISO 8601 week 20, day 2.
_WEEKDAYS = {
    "en": ("Tue", "Wed", "Thu", "Fri", "Sat", "Sun", "Mon"),
    "es": ("mar", "mié", "jue", "vie", "sáb", "dom", "lun"),
}

_TEXT: dict[Language, dict[str, str]] = {
    "en": {
        "month": "May 2026",
        "day": "{w} {n} May 2026",
        "house": "House {h}, benches {b}",
        "bench": "House {h}, bench {b}",
        "whole": "closed space: greenhouse, north bay",
        "mix": "Height, bedding, second week",
        "drench": "Drench, finish hold",
        "spray": "foliar spray, boom, medium droplets",
        "drenching": "drench, 120 mL per pot",
        "stage": "before first colour",
        "plants": "{n} pots",
        "filter": "all houses, all products",
        "rules": "US Worker Protection Standard, 40 CFR 170.311(b)",
        "conditions": "Conditions",
        "sds": "Safety data sheet",
        "sds_text": "on file, revision 12 Jan 2026",
        "signs": "Signs",
        "signs_text": "posted 06:40, taken down 13 May 07:10",
        "purpose": "Purpose",
        "purpose_text": "growth regulation: plant height",
        "keep": "Keep until",
        "keep_text": "12 May 2028",
        "entered": "entered by {who} on phone 2, 12 May 08:12, version 1",
        "why": "misread the measuring cylinder",
        "why_void": "logged twice: the same application is record {n}",
        "note": "Spray stopped for four minutes at bench 5: nozzle 3 cleaned.",
        "end_time": "end time",
        "ai_missing": "active ingredients",
        "a1": "chlormequat chloride 11.8 % w/v",
        "a2": "uniconazole 0.05 % w/v",
        "a3": "paclobutrazol 0.4 % w/v",
        "chlormequat": "chlormequat chloride",
        "uniconazole": "uniconazole",
        "paclobutrazol": "paclobutrazol",
        "caution": "Keep this record at least 2 years after the REI has ended.",
        "gap": "Its entries 212 to 214 have not arrived.",
        "note_total": "Record 2026-0145 holds two values for one amount; the totals hold the one on file.",
    },
    "es": {
        "month": "mayo de 2026",
        "day": "{w} {n} may 2026",
        "house": "Invernadero {h}, mesas {b}",
        "bench": "Invernadero {h}, mesa {b}",
        "whole": "espacio cerrado: invernadero, nave norte",
        "mix": "Altura, plantas de temporada, segunda semana",
        "drench": "Riego al sustrato, mantenimiento final",
        "spray": "aspersión foliar, barra, gotas medianas",
        "drenching": "riego al sustrato, 120 mL por maceta",
        "stage": "antes del primer color",
        "plants": "{n} macetas",
        "filter": "todos los invernaderos, todos los productos",
        "rules": "Norma de Protección para el Trabajador (EE. UU.), 40 CFR 170.311(b)",
        "conditions": "Condiciones",
        "sds": "Hoja de datos de seguridad",
        "sds_text": "archivada, revisión del 12 ene 2026",
        "signs": "Letreros",
        "signs_text": "puestos 06:40, retirados 13 may 07:10",
        "purpose": "Objeto",
        "purpose_text": "regulación del crecimiento: altura de la planta",
        "keep": "Guardar hasta",
        "keep_text": "12 may 2028",
        "entered": "registrado por {who} en el teléfono 2, 12 may 08:12, versión 1",
        "why": "lectura errónea de la probeta",
        "why_void": "registrado dos veces: la misma aplicación es el registro {n}",
        "note": "Aspersión detenida cuatro minutos en la mesa 5: se limpió la boquilla 3.",
        "end_time": "hora de fin",
        "ai_missing": "ingredientes activos",
        "a1": "cloruro de clormequat 11.8 % p/v",
        "a2": "uniconazol 0.05 % p/v",
        "a3": "paclobutrazol 0.4 % p/v",
        "chlormequat": "cloruro de clormequat",
        "uniconazole": "uniconazol",
        "paclobutrazol": "paclobutrazol",
        "caution": "Guarde este registro al menos 2 años desde el fin del REI.",
        "gap": "No han llegado sus entradas 212 a 214.",
        "note_total": "El registro 2026-0145 tiene dos valores para una cantidad; los totales usan el que consta.",
    },
}


def required(text: str = "", also: str = "", **more: object) -> Value:
    """Return a value the rule set asks for."""
    return replace(Value(text, also, required=True), **more)  # type: ignore[arg-type]


def application(
    language: Language = "en", *, n: int = 142, day: int = 12, **changed: object
) -> ApplicationRecord:
    """Return a complete spray of a tank mix on three benches; keyword arguments replace fields."""
    t = _TEXT[language]
    date = t["day"].format(n=day, w=_WEEKDAYS[language][(day - 12) % 7])
    crops = ("Pentas ‘Morning Tin’", "Salvia ‘Low Ember’", "Lantana ‘Copperline’")
    places = tuple(
        PlaceLine(
            bench=required(t["bench"].format(h=2, b=bench)),
            lot_code=f"2·0{bench}",
            crop=required(crops[bench - 4]),
            stage=Value(t["stage"]),
            plants=Value(t["plants"].format(n=420 + bench)),
            area=Value("38 m²", "409 ft²"),
            volume=Value("7.6 L", "2.01 gal"),
        )
        for bench in (4, 5, 6)
    )
    products = (
        ProductLine(
            name=required("Stemwright SL"),
            registration=required("99999-101"),
            active_ingredients=required(t["a1"]),
            rate=Value("900 mg/L"),
            # 900 mg/L in 22.8 L is 20.52 g; at 118 g/L that is 173.9 mL (5.88 fl oz).
            amount=Value("174 mL", "5.88 fl oz"),
            rei=Value("12 h"),
            batch=Value("K-2207"),
        ),
        ProductLine(
            name=required("Unicollar SL"),
            registration=required("99999-102"),
            active_ingredients=required(t["a2"]),
            rate=Value("1.5 mg/L"),
            # 1.5 mg/L in 22.8 L is 34.2 mg; at 0.5 g/L that is 68.4 mL (2.31 fl oz).
            amount=Value("68.4 mL", "2.31 fl oz"),
            rei=Value("12 h"),
        ),
    )
    record = ApplicationRecord(
        number=f"2026-0{n}, v1",
        states=("complete",),
        date=required(date),
        start=required("07:10"),
        end=required("08:05"),
        place=required(t["house"].format(h=2, b="4–6")),
        description=required(t["whole"]),
        area=Value("114 m²", "1,227 ft²"),
        volume=Value("22.8 L", "6.02 gal"),
        mix=required(t["mix"]),
        method=required(t["spray"]),
        rei=required("12 h"),
        rei_end=required(f"{date.removesuffix(' 2026')} 20:05"),
        operator=required("Rosa Medrano-Teal"),
        certificate=Value("WA-00417-X"),
        signature=required("08:12"),
        places=places,
        products=products,
        entered=t["entered"].format(who="Rosa Medrano-Teal"),
        facts=(
            Fact(t["purpose"], Value(t["purpose_text"])),
            Fact(t["conditions"], Value("21.5 °C, 64 % RH", "70.7 °F")),
            Fact(t["sds"], required(t["sds_text"])),
            Fact(t["signs"], Value(t["signs_text"])),
            Fact(t["keep"], Value(t["keep_text"], from_memory=True)),
        ),
        n_photos=2,
    )
    return replace(record, **changed)  # type: ignore[arg-type]


def drench(language: Language = "en", *, n: int = 143, day: int = 13) -> ApplicationRecord:
    """Return a drench on one bench with two required fields that are not on file."""
    t = _TEXT[language]
    base = application(language, n=n, day=day)
    return replace(
        base,
        states=("missing", "unsigned"),
        end=required(),
        rei_end=required(),
        signature=required(),
        place=required(t["bench"].format(h=3, b=2)),
        area=Value("20.5 m²", "221 ft²"),
        volume=Value("36 L", "9.51 gal"),
        mix=required(t["drench"]),
        method=required(t["drenching"]),
        operator=required("Dinh Tran-Okafor"),
        certificate=Value(),
        places=(
            PlaceLine(
                bench=required(t["bench"].format(h=3, b=2)),
                lot_code="3·02",
                crop=required("Salvia ‘Low Ember’"),
                plants=Value(t["plants"].format(n=300)),
                area=Value("20.5 m²", "221 ft²"),
                volume=Value("36 L", "9.51 gal"),
            ),
        ),
        products=(
            ProductLine(
                name=required("Shortmere 0.4 SC"),
                registration=required("99999-103"),
                active_ingredients=required(),
                rate=Value("1 mg/L"),
                # 1 mg/L in 36 L is 36 mg; at 4 g/L that is 9.0 mL (0.304 fl oz).
                amount=Value("9.0 mL", "0.304 fl oz"),
                rei=Value("24 h"),
            ),
        ),
        missing=(t["end_time"], t["ai_missing"]),
        rei=required("24 h"),
        entered=t["entered"].format(who="Dinh Tran-Okafor"),
        facts=base.facts[:2],
        n_photos=0,
    )


def amended(language: Language = "en", *, n: int = 144, day: int = 14) -> ApplicationRecord:
    """Return an application whose volume was corrected three days later, with reason and name."""
    t = _TEXT[language]
    base = application(language, n=n, day=day)
    change = Change("28.2 L", "Rosa Medrano-Teal", "2026-05-17 08:40 −07:00", t["why"])
    return replace(
        base,
        states=("complete", "amended"),
        number=f"2026-0{n}, v2",
        volume=Value("22.8 L", "6.02 gal", changes=(change,)),
        notes=(t["note"],),
    )


def undecided(language: Language = "en", *, n: int = 145, day: int = 15) -> ApplicationRecord:
    """Return an application with two values for one amount that nobody has decided on."""
    base = application(language, n=n, day=day)
    rival = Rival("147 mL", "Dinh Tran-Okafor", "2026-05-15 09:02 −07:00")
    line = replace(base.products[0], amount=Value("174 mL", "5.88 fl oz", rivals=(rival,)))
    return replace(base, states=("undecided",), products=(line, base.products[1]))


def void(language: Language = "en", *, n: int = 146, day: int = 15) -> ApplicationRecord:
    """Return an application that was voided because it had been logged twice."""
    t = _TEXT[language]
    mark = VoidMark("Ines Valcourt", "2026-05-15 16:20 −07:00", t["why_void"].format(n="2026-0145"))
    return replace(application(language, n=n, day=day), states=("void",), void=mark)


def full_month(language: Language = "en") -> tuple[ApplicationRecord, ...]:
    """Return nine applications that hold every state a record can be in but "running"."""
    return (
        application(language),
        drench(language),
        amended(language),
        undecided(language),
        void(language),
        *(application(language, n=147 + i, day=18 + i) for i in range(4)),
    )


def month_view(
    language: Language = "en",
    *,
    applications: Sequence[ApplicationRecord] | None = None,
    **changed: object,
) -> MonthView:
    """Return the view of a month; keyword arguments replace fields."""
    t = _TEXT[language]
    records = tuple(full_month(language) if applications is None else applications)
    counted = sum(1 for record in records if record.void is None)
    full = applications is None
    # Seven sprays: 7 x 173.9 mL is 1217 mL (41.2 fl oz), 7 x 68.4 mL is 479 mL (16.2 fl oz);
    # 7 x 20.52 g is 143.6 g (5.07 oz), 7 x 34.2 mg is 239 mg; one drench: 9.0 mL, 36 mg.
    products = (
        Total("Stemwright SL", "99999-101", "1217 mL", "41.2 fl oz", 7),
        Total("Unicollar SL", "99999-102", "479 mL", "16.2 fl oz", 7),
        Total("Shortmere 0.4 SC", "99999-103", "9.0 mL", "0.304 fl oz", 1),
    )
    actives = (
        Total(t["chlormequat"], "", "143.6 g", "5.07 oz", 7),
        Total(t["uniconazole"], "", "239 mg", "0.0084 oz", 7),
        Total(t["paclobutrazol"], "", "36 mg", "0.0013 oz", 1),
    )
    one = (
        Total("Stemwright SL", "99999-101", "174 mL", "5.88 fl oz", 1),
        Total("Unicollar SL", "99999-102", "68.4 mL", "2.31 fl oz", 1),
    )
    one_active = (
        Total(t["chlormequat"], "", "20.5 g", "0.724 oz", 1),
        Total(t["uniconazole"], "", "34.2 mg", "0.0012 oz", 1),
    )
    view = MonthView(
        paper="a4",
        language=language,
        establishment=Establishment(
            "Quillwater Bench & Liner", ("2210 Sallow Road", "Nether Fern, WA 98000"), ()
        ),
        month=t["month"],
        filter=t["filter"],
        rule_set=t["rules"],
        generated_at="2026-06-01 07:45 −07:00",
        printed_by="Ines Valcourt",
        software="Tepal 0.1.0",
        reprint_number=0,
        head_seq=4812,
        head_hash=HEAD_HASH,
        complete_as_of=CompleteAsOf(
            "2026-06-01 07:44 −07:00",
            (
                DeviceHeard("Rosa", "2026-06-01 07:31", "heard"),
                DeviceHeard("Dinh", "2026-05-29 16:02", "silent", t["gap"]),
            ),
        ),
        applications=records,
        product_totals=products if full else one * min(1, counted),
        active_totals=actives if full else one_active * min(1, counted),
        total_notes=(t["note_total"],) if full else (),
        cautions=(Caution(t["caution"], from_memory=True),),
    )
    return replace(view, **changed)  # type: ignore[arg-type]
