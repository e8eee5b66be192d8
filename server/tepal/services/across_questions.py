"""Effects of several trials sorted by the question they answer, and combined where it is the same.

Pure. The same question: crop, active ingredients, method, comparator, measurement, partners without
an a.i., number of applications; and a rate, a volume and a day that are comparable. Nothing else is
ever combined. What is comparable is our own rule, without a source: rates within 10 %, volumes
within 25 %, days of the assessment within half as long again, counted from the smallest.
"""

from __future__ import annotations

import hashlib
import json
from collections import defaultdict
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from tepal.stats.distributions import t_quantile
from tepal.stats.pooled import pool

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    from tepal.services.across_effects import Effect
    from tepal.services.trial_received import Crop, Dose
    from tepal.stats.pooled import PooledResult

RATE_FACTOR: Final = 1.10
VOLUME_FACTOR: Final = 1.25
DAY_FACTOR: Final = 1.5
_ROOM: Final = 1 + 1e-9  # 1.1 and 1.21 are within 10 % of each other, whatever binary makes of it


@dataclass(frozen=True, slots=True)
class Found:
    """An effect with where it comes from and what was put on; `elsewhere` names the other place.

    `treated_on` is the local day of the treatment, "" where not on file.
    """

    trial: str
    code: str
    title: str
    elsewhere: str
    treated_on: str
    crops: tuple[Crop, ...]
    dose: Dose
    effect: Effect


@dataclass(frozen=True, slots=True)
class Question:
    """One question with the effects that answer it, oldest trial first.

    `counted` are those that may be combined; of the others `left_out` says why (trial, code).
    `pooled` is None with fewer than two. `key` names the question in an address.
    """

    key: str
    crop_key: str
    crop_names: tuple[str, ...]
    counted: tuple[Found, ...]
    left_out: tuple[tuple[Found, str], ...]
    alpha: float
    pooled: PooledResult | None

    @property
    def all(self) -> tuple[Found, ...]:
        """Every effect, counted or not."""
        return (*self.counted, *(one for one, _ in self.left_out))

    @property
    def first(self) -> Found:
        """Return one effect that has what all share: a.i., method, comparator, measurement."""
        return self.all[0]

    @property
    def is_opposed(self) -> bool:
        """Whether one trial's interval lies wholly below no effect and another's wholly above."""
        sides = set()
        for one in self.counted:
            e = one.effect
            half = t_quantile(1 - self.alpha / 2, e.df or 1.0) * (e.se or 0.0)
            if abs(e.value or 0.0) > half:
                sides.add((e.value or 0.0) > 0)
        return len(sides) > 1


def crop_keys(crops: Iterable[Crop]) -> dict[str, str]:
    """Return crop name, lower case -> EPPO code, for names that some lot gives a code to."""
    return {plain(one.crop): one.eppo for one in crops if one.eppo and one.crop}


def questions_of(found: Sequence[Found]) -> tuple[Question, ...]:
    """Return every question that the effects answer, by crop, a.i., method, rate, measurement.

    A trial of several crops answers none of them apart, and is not among the questions.
    """
    codes = crop_keys(crop for one in found for crop in one.crops)
    groups: dict[tuple[object, ...], list[Found]] = defaultdict(list)
    for one in found:
        crop = crop_key(one, codes)
        if crop is None or not one.dose.ais:
            continue
        e, dose = one.effect, one.dose
        groups[
            crop, tuple(ai for ai, _ in dose.ais), dose.method, plain(dose.others),
            dose.n_applications or 0, e.measurement.lower(), e.type, e.comparator,
            # controls of which nobody says what they are: each trial's is its own
            one.trial if e.comparator == "control" else "",
        ].append(one)  # fmt: skip
    questions = [
        _question(str(key[0]), key, part)
        for key, members in groups.items()
        for part in _comparable(members, len(members[0].dose.ais))
    ]
    return tuple(sorted(questions, key=_order))


def crop_key(one: Found, codes: dict[str, str]) -> str | None:
    """Return the EPPO code of a trial's crop, or its name; None where there are two, or none."""
    keys = {c.eppo or codes.get(plain(c.crop)) or plain(c.crop) for c in one.crops}
    return keys.pop() if len(keys) == 1 and "" not in keys else None


def plain(text: str) -> str:
    """Return a name as it is compared."""
    return " ".join(text.lower().split())


def is_close(a: float | None, b: float | None, factor: float) -> bool:
    """Whether two amounts are within a factor; what is not on file is like nothing but itself."""
    if a is None or b is None:
        return a is b
    return max(a, b) <= factor * min(a, b) * _ROOM


def fits(question: Question, dose: Dose) -> bool:
    """Whether a mix is what a question asks about: a.i., partners, method, rates, volume."""
    ours = question.first.dose
    return (
        [ai for ai, _ in dose.ais] == [ai for ai, _ in ours.ais]
        and dose.method == ours.method
        and plain(dose.others) == plain(ours.others)
        and all(
            all(
                is_close(rate, theirs, RATE_FACTOR)
                for (_, rate), (_, theirs) in zip(dose.ais, one.dose.ais, strict=True)
            )
            and is_close(dose.ml_per_container, one.dose.ml_per_container, VOLUME_FACTOR)
            and is_close(dose.ml_per_m2, one.dose.ml_per_m2, VOLUME_FACTOR)
            for one in question.all
        )
    )


def _comparable(members: list[Found], n_ais: int) -> list[list[Found]]:
    """Return the members in parts within which rates, volumes and days are comparable."""
    parts = [members]
    for i in range(n_ais):
        parts = _split(parts, lambda one, i=i: one.dose.ais[i][1], RATE_FACTOR)  # type: ignore[misc]
    parts = _split(parts, lambda one: one.dose.ml_per_container, VOLUME_FACTOR)
    parts = _split(parts, lambda one: one.dose.ml_per_m2, VOLUME_FACTOR)
    return _split(parts, lambda one: one.effect.day, DAY_FACTOR)


def _split(
    parts: list[list[Found]], amount: Callable[[Found], float | None], factor: float
) -> list[list[Found]]:
    """Split each part into runs that stay within the factor of their smallest."""
    found = []
    for part in parts:
        known = sorted((x, i) for i, one in enumerate(part) if (x := amount(one)) is not None)
        runs: list[list[Found]] = []
        smallest = 0.0
        for x, i in known:
            if not runs or x > factor * smallest * _ROOM:
                runs.append([])
                smallest = x
            runs[-1].append(part[i])
        unknown = [one for one in part if amount(one) is None]
        found += [*runs, *([unknown] if unknown else [])]
    return found


def _question(crop: str, key: tuple[object, ...], members: list[Found]) -> Question:
    members = sorted(members, key=lambda o: (o.treated_on, bool(o.elsewhere), o.code, o.trial))
    counted: list[Found] = []
    left_out: list[tuple[Found, str]] = []
    hashes: set[str] = set()
    trials: set[str] = set()
    for one in sorted(members, key=lambda o: (bool(o.elsewhere), o.effect.treatment)):
        e = one.effect
        if e.why_not:
            left_out.append((one, e.why_not))
        elif one.trial in trials:
            left_out.append((one, "same_trial"))
        elif e.input_hash in hashes:
            left_out.append((one, "twin"))
        else:
            trials.add(one.trial)
            hashes.add(e.input_hash)
            counted.append(one)
    counted.sort(key=members.index)
    alpha = min((one.effect.alpha for one in members), default=0.05)
    pooled = None
    if len(counted) > 1:
        pooled = pool(
            [o.effect.value or 0.0 for o in counted], [o.effect.se or 0.0 for o in counted], alpha
        )
    low = min(members, key=lambda o: (o.dose.ais, o.effect.day or 0))
    facts = [*key, low.dose.ais, low.dose.ml_per_container, low.dose.ml_per_m2, low.effect.day]
    digest = hashlib.sha256(json.dumps(facts, ensure_ascii=False).encode()).hexdigest()
    names = {plain(c.crop): c.crop for o in members for c in o.crops if c.crop}
    return Question(
        digest[:16], crop, tuple(names.values()), tuple(counted), tuple(left_out), alpha, pooled
    )


def _order(q: Question) -> tuple[object, ...]:
    one = q.first
    return (
        q.crop_names[:1], one.dose.method, [ai for ai, _ in one.dose.ais],
        [rate for _, rate in one.dose.ais], one.dose.others, not one.effect.is_primary,
        one.effect.measurement, one.effect.comparator, one.effect.day or 0, q.key,
    )  # fmt: skip
