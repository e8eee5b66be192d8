"""The mix core and the rules: their codes have words in both languages, and one place rounds."""

from __future__ import annotations

import json
import re

import pytest

from support.twin import DOMAIN, MODULES, ROOT
from tepal.domain.requirements import REGIONS, STANDARDS, requirements

LOCALE = ROOT / "web" / "app" / "locale"
CODE = r"[a-z_]+\.[a-z0-9_]+"


def codes_in_source() -> tuple[set[str], set[str]]:
    """Return the codes of errors and of findings, as the modules quote them."""
    errors, findings = set(), set()
    for path in [
        *(DOMAIN / f"{name}.py" for name in (*MODULES, "label_teller", "season_checks")),
        ROOT / "server/tepal/commands/mix.py",
    ]:
        source = path.read_text()
        errors |= set(re.findall(rf'(?:Error|_unreadable|_refuse)\(\s*"({CODE})"', source))
        findings |= set(
            re.findall(rf'(?:Finding|_stop|_caution|_note|_not_on_file|say)\(\s*"({CODE})"', source)
        )
        # lines.shared_* hand their codes on
        errors |= set(re.findall(r'"(line\.dose_[a-z_]+)"', source))
        slips = re.findall(r'^    \("([a-z_]+)", [\d./ ]+\),$', source, re.MULTILINE)
        if path.name == "slips.py":
            findings |= {f"slip.{slip}" for slip in [*slips, "unexplained", "w_w_w_v"]}
    # codes that label_checks and house_checks hand on or put together
    above = [f"checks.{name}_above_label" for name in ("concentration", "dose", "season")]
    faults = (
        "temperature_not_measured",
        "temperature_outside",
        "humidity_not_measured",
        "humidity_outside",
    )
    findings |= {*above, *(f"checks.air_{fault}" for fault in faults)}
    rows = [
        row for one in STANDARDS for state in ("", *REGIONS) for row in requirements(one, state)
    ]
    findings |= {f"standards.missing_{row.field}" for row in rows if row.need != "optional"}
    limited = [row for row in rows if row.condition in ("hours_limited", "stage_limited")]
    findings |= {f"standards.unknown_{row.field}" for row in limited}
    return errors, findings


@pytest.mark.parametrize("language", ["en", "es"])
def test_codes_and_words_are_the_same(language: str) -> None:
    errors, findings = codes_in_source()
    words = {
        code
        for part in ("mix", "checks")
        for code in json.loads((LOCALE / f"{part}.{language}.json").read_text())
    }

    wanted = {f"error.{code}" for code in errors} | {f"finding.{code}" for code in findings}
    assert wanted == {code for code in words if code.startswith(("error.", "finding."))}


@pytest.mark.parametrize("name", [name for name in MODULES if name != "rounding"])
def test_quantities_are_rounded_in_one_place(name: str) -> None:
    source = (DOMAIN / f"{name}.py").read_text()

    assert not re.search(
        r"(?<![\w.])round\(|\bformat\(|:[,.]?\d*\.?\d+[fge]\}|Decimal\(|%\.\d", source
    )
