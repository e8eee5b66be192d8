"""Schemas, tables, migrations and form specs say the same."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from sqlalchemy import inspect

from tepal.domain.units import UNITS
from tepal.forms.deriver import form_specs
from tepal.forms.kinds import KINDS
from tepal.store.database import Base, db
from tepal.store.kind_models import RECORD_MODELS
from tepal.store.records import field_columns
from tepal.store.upgrade import is_current

if TYPE_CHECKING:
    from support.book import Book

SNAPSHOT = Path(__file__).with_name("form_specs.json")


def test_every_kind_has_a_table_and_every_table_a_kind() -> None:
    assert RECORD_MODELS.keys() - {"conflict", "held"} == KINDS.keys()


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_columns_are_the_fields_of_the_schema(kind: str) -> None:
    assert set(field_columns(kind)) == set(KINDS[kind].schema.fields)


def test_migrations_lead_to_the_models(book_on_each: Book) -> None:
    with book_on_each.app.app_context(), db.engines[None].connect() as connection:
        assert is_current()
        context = MigrationContext.configure(
            connection, opts={"compare_type": True, "compare_server_default": True}
        )
        assert compare_metadata(context, Base.metadata) == []
        assert set(Base.metadata.tables) <= set(inspect(connection).get_table_names())


def test_form_specs_are_as_recorded() -> None:
    """A changed form must be a new form version: phones and records refer to it.

    After a change on purpose: raise the kind's form_version, then
    `python -c "import json; from tepal.forms.deriver import form_specs;
    print(json.dumps(form_specs(), indent=1, sort_keys=True))" > tests/integration/form_specs.json`.
    """
    recorded = json.loads(SNAPSHOT.read_text(encoding="utf-8"))
    specs = form_specs()

    assert specs == recorded


def test_every_unit_that_a_form_offers_is_in_the_unit_table() -> None:
    """A unit that the core does not know would make a record that nothing can be computed from."""

    def offered(fields: list[dict[str, Any]]) -> set[str]:
        found: set[str] = set()
        for field in fields:
            found |= set(field.get("unit_choices", ())) | offered(field.get("fields", []))
        return found

    for kind in form_specs()["kinds"].values():
        assert offered(kind["fields"]) <= UNITS.keys()
