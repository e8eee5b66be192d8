"""Field types of the record schemas: what a value looks like on the wire.

Values stay as they travelled (JSON): a quantity keeps the digits that a person typed. Errors are
codes of the catalogue (`form.<code>`), never sentences.
"""

from __future__ import annotations

import re
from datetime import date, datetime
from typing import Any, ClassVar

from marshmallow import Schema, ValidationError, fields

# [0-9], not \d: the phone's JS and the cores read ASCII digits only
_DECIMAL = re.compile(r"-?[0-9]{1,12}(\.[0-9]{1,9})?")
_UUID = re.compile(r"[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}")
_LOCAL = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2}")
_HEX64 = re.compile(r"[0-9a-f]{64}")
MISSING_WHYS = ("dead", "discarded", "not_measured", "lost")
MOST_TEXTS = 60
_NOT_IN_NAMES = re.compile(r'[/\\:*?"<>|\n\t]')
_CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\ud800-\udfff]")


class WireField(fields.Field[Any]):
    """A field whose stored value is its wire value; subclasses only check it."""

    type_name: ClassVar[str]

    def __init__(self, *, required_on_paper: bool = False, **kwargs: Any) -> None:
        super().__init__(allow_none=True, **kwargs)
        self.required_on_paper = required_on_paper

    def check(self, value: Any) -> None:
        """Raise ValidationError(code) where the value is refused."""

    def spec(self) -> dict[str, Any]:
        """Return what the form spec adds for this type."""
        return {}

    def _deserialize(self, value: Any, attr: str | None, data: Any, **kwargs: Any) -> Any:
        del attr, data, kwargs
        self.check(value)
        return value


class Text(WireField):
    """One line of text, at most `max_length` characters."""

    type_name = "text"

    def __init__(self, max_length: int = 200, **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.max_length = max_length

    def check(self, value: Any) -> None:
        """Accept printable text within the length."""
        if not isinstance(value, str):
            raise ValidationError("not_text")
        if len(value) > self.max_length:
            raise ValidationError("too_long")
        if _CONTROL.search(value):
            raise ValidationError("control_characters")

    def spec(self) -> dict[str, Any]:
        """Return the length limit."""
        return {"max_length": self.max_length}


class FileName(Text):
    """The bare name of a file: it names no folder, and nothing that a system treats specially."""

    def check(self, value: Any) -> None:
        """Accept a name without separators, drive marks, wildcards or a leading dot."""
        super().check(value)
        if not value or value.startswith(".") or _NOT_IN_NAMES.search(value):
            raise ValidationError("not_a_file_name")


class LongText(Text):
    """Text of several lines."""

    type_name = "longtext"

    def __init__(self, max_length: int = 4000, **kwargs: Any) -> None:
        super().__init__(max_length, **kwargs)


class Choice(WireField):
    """One of a closed list of codes; their words are in the catalogue."""

    type_name = "choice"

    def __init__(self, choices: tuple[str, ...], **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.choices = choices

    def check(self, value: Any) -> None:
        """Accept a listed code."""
        if value not in self.choices:
            raise ValidationError("not_a_choice")

    def spec(self) -> dict[str, Any]:
        """Return the choices."""
        return {"choices": list(self.choices)}


class Choices(Choice):
    """Several of a closed list of codes."""

    type_name = "choices"

    def check(self, value: Any) -> None:
        """Accept a list of listed codes, each once."""
        if not isinstance(value, list) or len(value) > len(self.choices):
            raise ValidationError("not_a_list")
        for one in value:
            super().check(one)


class Texts(Text):
    """A list of short texts."""

    type_name = "texts"

    def check(self, value: Any) -> None:
        """Accept up to 60 printable texts within the length."""
        if not isinstance(value, list) or len(value) > MOST_TEXTS:
            raise ValidationError("not_a_list")
        for one in value:
            super().check(one)


class Quantity(WireField):
    """{"value": decimal string as typed, "unit": UCUM code}; bounds are in the unit typed."""

    type_name = "quantity"

    def __init__(
        self, units: tuple[str, ...], *, least: float = 0, most: float = 1e9, **kwargs: Any
    ) -> None:
        super().__init__(**kwargs)
        self.units = units
        self.least = least
        self.most = most

    def check(self, value: Any) -> None:
        """Accept a decimal within bounds and a listed unit."""
        if not isinstance(value, dict) or set(value) != {"value", "unit"}:
            raise ValidationError("not_a_quantity")
        number = value["value"]
        if not isinstance(number, str) or not _DECIMAL.fullmatch(number):
            raise ValidationError("not_a_number")
        if value["unit"] not in self.units:
            raise ValidationError("unit_not_offered")
        if not self.least <= float(number) <= self.most:
            raise ValidationError("out_of_range")

    def spec(self) -> dict[str, Any]:
        """Return units and bounds."""
        return {"unit_choices": list(self.units), "min": self.least, "max": self.most}


class Decimal(WireField):
    """A decimal number as typed, without a unit of its own."""

    type_name = "number"

    def __init__(self, *, least: float = 0, most: float = 1e9, **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.least = least
        self.most = most

    def check(self, value: Any) -> None:
        """Accept a decimal string within bounds."""
        if not isinstance(value, str) or not _DECIMAL.fullmatch(value):
            raise ValidationError("not_a_number")
        if not self.least <= float(value) <= self.most:
            raise ValidationError("out_of_range")

    def spec(self) -> dict[str, Any]:
        """Return the bounds."""
        return {"min": self.least, "max": self.most}


class Whole(WireField):
    """A whole number within bounds."""

    type_name = "integer"

    def __init__(self, *, least: int = 0, most: int = 10**9, **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.least = least
        self.most = most

    def check(self, value: Any) -> None:
        """Accept a whole number within bounds."""
        if not isinstance(value, int) or isinstance(value, bool):
            raise ValidationError("not_whole")
        if not self.least <= value <= self.most:
            raise ValidationError("out_of_range")

    def spec(self) -> dict[str, Any]:
        """Return the bounds."""
        return {"min": self.least, "max": self.most}


class Flag(WireField):
    """Yes or no; null is "not answered", which is not "no"."""

    type_name = "bool"

    def check(self, value: Any) -> None:
        """Accept true or false."""
        if not isinstance(value, bool):
            raise ValidationError("not_yes_or_no")


class Day(WireField):
    """A calendar day, ISO 8601."""

    type_name = "date"

    def check(self, value: Any) -> None:
        """Accept a day that exists."""
        try:
            if not isinstance(value, str) or date.fromisoformat(value).isoformat() != value:
                raise ValidationError("not_a_day")
        except ValueError as error:
            raise ValidationError("not_a_day") from error


class Moment(WireField):
    """{"local": wall time, "offset_min": minutes east of UTC, "zone": IANA name}."""

    type_name = "moment"

    def check(self, value: Any) -> None:
        """Accept a wall time that exists in the calendar, with its offset and zone."""
        if not isinstance(value, dict) or set(value) != {"local", "offset_min", "zone"}:
            raise ValidationError("not_a_moment")
        local, offset, zone = value["local"], value["offset_min"], value["zone"]
        try:
            if not isinstance(local, str) or not _LOCAL.fullmatch(local):
                raise ValidationError("not_a_moment")
            datetime.fromisoformat(local)
        except ValueError as error:
            raise ValidationError("not_a_moment") from error
        if not isinstance(offset, int) or isinstance(offset, bool) or abs(offset) > 16 * 60:
            raise ValidationError("not_a_moment")
        if not isinstance(zone, str) or not 0 < len(zone) <= 64:
            raise ValidationError("not_a_moment")


class Ref(WireField):
    """The id of a record of another kind. No foreign key: the parent may come later."""

    type_name = "ref"

    def __init__(self, kind: str, **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.kind = kind

    def check(self, value: Any) -> None:
        """Accept a UUID."""
        if not isinstance(value, str) or not _UUID.fullmatch(value):
            raise ValidationError("not_a_reference")

    def spec(self) -> dict[str, Any]:
        """Return the kind referred to."""
        return {"ref": self.kind}


class Refs(Ref):
    """Ids of records of another kind, in an order that matters to people."""

    type_name = "refs"

    def check(self, value: Any) -> None:
        """Accept up to 500 UUIDs."""
        if not isinstance(value, list) or len(value) > 500:
            raise ValidationError("not_a_list")
        for one in value:
            super().check(one)


class Digest(WireField):
    """A SHA-256 in hex."""

    type_name = "digest"

    def check(self, value: Any) -> None:
        """Accept 64 hex characters."""
        if not isinstance(value, str) or not _HEX64.fullmatch(value):
            raise ValidationError("not_a_digest")


class Group(WireField):
    """A fixed set of sub-fields kept as one value."""

    type_name = "group"

    def __init__(self, schema: type[Schema], **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.schema = schema()

    def check(self, value: Any) -> None:
        """Accept an object whose members the sub-schema accepts."""
        if not isinstance(value, dict):
            raise ValidationError("not_a_group")
        for name, inner in value.items():
            field = self.schema.fields.get(name)
            if not isinstance(field, WireField):
                raise ValidationError("unknown_field")
            if inner is not None:
                field.check(inner)


class Measured(WireField):
    """A measured value: a decimal as typed, a day, or {"missing": why, "note": words or null}."""

    type_name = "measured"

    def check(self, value: Any) -> None:
        """Accept a decimal, a calendar day, or the reason why there is no value."""
        if isinstance(value, dict):
            if set(value) != {"missing", "note"} or value["missing"] not in MISSING_WHYS:
                raise ValidationError("not_measured_reason")
            if value["note"] is not None:
                Text(400).check(value["note"])
            return
        if not isinstance(value, str) or not _DECIMAL.fullmatch(value):
            Day().check(value)


class Rows(Group):
    """A list of groups: one field for the merge, so its rows are never mixed."""

    type_name = "list"

    def __init__(self, schema: type[Schema], most_rows: int = 200, **kwargs: Any) -> None:
        super().__init__(schema, **kwargs)
        self.most_rows = most_rows

    def check(self, value: Any) -> None:
        """Accept a list of acceptable groups."""
        if not isinstance(value, list):
            raise ValidationError("not_a_list")
        if len(value) > self.most_rows:
            raise ValidationError("too_many_rows")
        for row in value:
            super().check(row)

    def spec(self) -> dict[str, Any]:
        """Return the row limit."""
        return {"max_rows": self.most_rows}
