"""The place, the person, the sprayer, the PPE and the air before a treatment.

Twin: web/app/core/house_checks.js. Only a restricted area bars, and only who is no trained handler;
the rest are house rules: cautions that are answered with a reason (common practice, no source).
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from tepal.domain.entry import entry_findings
from tepal.domain.errors import Finding, text_of
from tepal.domain.label_teller import labelled, shown
from tepal.domain.moments import day_number
from tepal.domain.restriction import place_state
from tepal.domain.units import quantity_value

if TYPE_CHECKING:
    from collections.abc import Mapping

__all__ = ["SOON_DAYS", "house_findings"]

# Common practice, no source: a certificate that runs out within a month is worth a word.
SOON_DAYS = 30

_HOUSE = "house rule (no source)"
_HANDLERS = ("certified_applicator", "noncertified_applicator", "handler_training")
_CALIBRATED = ("spray", "sprench")


def _caution(code: str, message: str, field: str, source: str, **context: Any) -> Finding:
    return Finding(code, "caution", message, field, source, context)


def _note(code: str, message: str, field: str, source: str, **context: Any) -> Finding:
    return Finding(code, "note", message, field, source, context)


def house_findings(situation: Mapping[str, Any]) -> tuple[Finding, ...]:
    """Return what place, person, sprayer, PPE and air say; `situation` as in `checks`."""
    return (
        *_place_findings(situation),
        *_person_findings(situation),
        *_sprayer_findings(situation),
        *_ppe_findings(situation),
        *_air_findings(situation),
    )


def _valid(certificate: Mapping[str, Any], today: str) -> bool:
    until = certificate.get("expires_on")
    return until is None or today <= until


def _place_findings(situation: Mapping[str, Any]) -> tuple[Finding, ...]:
    now = situation.get("now_ms")
    if now is None:
        return ()
    establishment = situation.get("establishment") or {}
    state = place_state(
        situation.get("restrictions") or [],
        now,
        situation.get("heard_ms"),
        situation.get("skew_ms"),
        establishment.get("ventilation_parts_add") is True,
    )
    today = text_of(situation.get("today"))
    is_handler = any(
        one.get("sort") in _HANDLERS and _valid(one, today)
        for one in situation.get("certificates") or []
    )
    operator = situation.get("operator") or {}
    return entry_findings(
        {"code": state.code},
        {"is_handler": is_handler, "is_adult": operator.get("is_adult")},
    )


def _person_findings(situation: Mapping[str, Any]) -> list[Finding]:
    """Certificates and training: a restricted-use product asks for a certified applicator."""
    if situation.get("operator") is None:
        return []
    today = text_of(situation.get("today"))
    application = situation.get("application") or {}
    is_restricted = any(
        product.get("restricted_use") is True or label.get("restricted_use") is True
        for product, label in labelled(situation)
    )
    held = [
        one
        for one in situation.get("certificates") or []
        if one.get("sort")
        in (("certified_applicator", "noncertified_applicator") if is_restricted else _HANDLERS)
    ]
    valid = [one for one in held if _valid(one, today)]
    findings: list[Finding] = []
    if valid:
        ends = [text_of(one.get("expires_on")) for one in valid]
        last = max(ends)
        if "" not in ends and day_number(last) - day_number(today) <= SOON_DAYS:
            findings.append(
                _note(
                    "checks.certificate_runs_out",
                    "The certificate or training runs out soon.",
                    "operator",
                    _HOUSE,
                    until=last,
                )
            )
        is_supervised = any(one.get("sort") == "certified_applicator" for one in valid)
        if is_restricted and not is_supervised and not application.get("certified_applicator"):
            findings.append(
                _caution(
                    "checks.supervisor_missing",
                    "A restricted-use product needs a certified applicator who supervises.",
                    "certified_applicator",
                    "40 CFR 171.303(b)(7)",
                )
            )
        return findings
    if held:
        findings.append(
            _caution(
                "checks.certificate_expired",
                "The certificate or training on file is out of date.",
                "operator",
                _HOUSE,
                until=max(text_of(one.get("expires_on")) for one in held),
            )
        )
    elif is_restricted:
        findings.append(
            _caution(
                "checks.certificate_not_on_file",
                "A restricted-use product needs a certificate; none is on file.",
                "operator",
                "40 CFR 171.303(b)(7)",
            )
        )
    else:
        findings.append(
            _caution(
                "checks.training_not_on_file",
                "No handler training is on file for this person.",
                "operator",
                "40 CFR 170.405(b), 170.505",
            )
        )
    return findings


def _sprayer_findings(situation: Mapping[str, Any]) -> list[Finding]:
    application = situation.get("application") or {}
    if application.get("method") not in _CALIBRATED:
        return []
    sprayer = situation.get("sprayer")
    if sprayer is None:
        return [_note("checks.sprayer_not_named", "No sprayer is named.", "sprayer", _HOUSE)]
    name = text_of(sprayer.get("name"))
    days = [
        text_of(one.get("measured_on"))
        for one in situation.get("calibrations") or []
        if one.get("measured_on")
    ]
    if not days:
        return [
            _caution(
                "checks.sprayer_not_calibrated",
                f"{name} was never calibrated.",
                "sprayer",
                _HOUSE,
                sprayer=name,
            )
        ]
    every = sprayer.get("calibrate_every")
    if every is None:
        return [
            _note(
                "checks.calibration_term_not_on_file",
                f"How often {name} is calibrated is not set.",
                "sprayer",
                _HOUSE,
                sprayer=name,
            )
        ]
    last = max(days)
    allowed = quantity_value(every, "time", "calibrate_every") / 86_400
    age = day_number(situation.get("today")) - day_number(last)
    if age <= allowed:
        return []
    return [
        _caution(
            "checks.calibration_old",
            f"{name} was calibrated {age} days ago; set are {allowed!r}.",
            "sprayer",
            _HOUSE,
            sprayer=name,
            age=age,
            most=allowed,
        )
    ]


def _ppe_findings(situation: Mapping[str, Any]) -> list[Finding]:
    """PPE not ticked; `step` is mixing, spraying or done, and says what must be by now."""
    application = situation.get("application") or {}
    acts = ["mixing"] if situation.get("step") in (None, "mixing") else ["mixing", "applying"]
    findings: list[Finding] = []
    for act in acts:
        for product, label in labelled(situation):
            name = text_of(product.get("name"))
            if not (label.get(f"ppe_{act}") or product.get(f"ppe_{act}")):
                findings.append(
                    _note(
                        "checks.ppe_not_on_file",
                        f"{name}: the PPE for {act} is not on file: read the label.",
                        f"ppe_{act}_worn",
                        "label as copied by the user",
                        product=name,
                    )
                )
        if application.get(f"ppe_{act}_worn") is not True:
            findings.append(
                _caution(
                    "checks.ppe_not_ticked",
                    f"The PPE for {act} is not ticked.",
                    f"ppe_{act}_worn",
                    _HOUSE,
                )
            )
    return findings


def _air_findings(situation: Mapping[str, Any]) -> list[Finding]:
    """The air window that the establishment set; where it set none, nothing is said."""
    establishment = situation.get("establishment") or {}
    application = situation.get("application") or {}
    findings: list[Finding] = []
    for field, dimension in (("air_temperature", "temperature"), ("air_humidity", "fraction")):
        low = establishment.get(f"{field}_min")
        high = establishment.get(f"{field}_max")
        if low is None and high is None:
            continue
        measured = application.get(field)
        if measured is None:
            findings.append(
                _caution(f"checks.{field}_not_measured", "It was not measured.", field, _HOUSE)
            )
            continue
        value = quantity_value(measured, dimension, field)
        is_low = low is not None and value < quantity_value(low, dimension, field)
        is_high = high is not None and value > quantity_value(high, dimension, field)
        if is_low or is_high:
            findings.append(
                _caution(
                    f"checks.{field}_outside",
                    "It is outside the window of the house.",
                    field,
                    _HOUSE,
                    value=shown(measured),
                    low=shown(low),
                    high=shown(high),
                )
            )
    return findings
