"""schemathesis over the OpenAPI, in process: no 5xx, nothing undocumented.

Bounded: a few generated requests for each operation, the same ones each time.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from schemathesis.checks import FailureGroup, not_a_server_error
from schemathesis.openapi import from_wsgi
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_schema_conformance,
    status_code_conformance,
)

from support.book import SAME_ORIGIN, Book, Desk

if TYPE_CHECKING:
    from collections.abc import Iterator

# as it was written: the transport in process does not unpack
HEADERS = {**SAME_ORIGIN, "Accept-Encoding": "identity"}
EXAMPLES = 4  # a request; with some thirty operations this takes some ten seconds


class Api:
    """A book, the schema it publishes, and the cookies of a manager."""

    def __init__(self, book: Book) -> None:
        self.book = book
        self.schema = from_wsgi("/api/openapi.json", book.app)
        self.leaver = Desk(book, "Ines Prado")

    def cookies(self, path: str) -> dict[str, str]:
        """Signing out ends a session that the other operations need."""
        client = (self.leaver if path.endswith("sign-out") else self.book.manager).client
        found = {name: client.get_cookie(name) for name in ("__Host-device", "__Host-person")}
        return {name: cookie.value for name, cookie in found.items() if cookie is not None}


@pytest.fixture(scope="module")
def api(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Api]:
    book = Book(tmp_path_factory.mktemp("openapi"))
    yield Api(book)
    book.close()


CHECKS = [
    not_a_server_error,
    status_code_conformance,
    content_type_conformance,
    response_schema_conformance,
]


def faults_of(api: Api, operation: Any) -> list[str]:
    """Call an operation with generated requests; return what is not as documented."""
    faults: dict[str, None] = {}

    @given(case=operation.as_strategy())
    @settings(
        max_examples=EXAMPLES, derandomize=True, database=None, deadline=None,
        phases=[Phase.generate], suppress_health_check=list(HealthCheck),
    )  # fmt: skip
    def ask(case: Any) -> None:
        response = case.call(headers=HEADERS, cookies=api.cookies(case.path))
        try:
            case.validate_response(response, checks=CHECKS)
        except FailureGroup as group:
            for failure in group.exceptions:
                faults[f"{operation.label} {response.status_code}: {failure}"] = None

    ask()
    return list(faults)


def test_operations_answer_as_documented(api: Api) -> None:
    """One test for all: schemathesis' own parametrisation does not know this pytest."""
    operations = [found.ok() for found in api.schema.get_all_operations()]

    faults = [fault for operation in operations for fault in faults_of(api, operation)]

    assert len(operations) > 20
    assert not faults, "\n".join(faults)


def test_every_api_route_is_documented(api: Api) -> None:
    documented = set(api.book.app.test_client().get("/api/openapi.json").json["paths"])
    there = {
        "/".join(
            "{" + part.strip("<>").split(":")[-1] + "}" if part.startswith("<") else part
            for part in rule.rule.split("/")
        )
        for rule in api.book.app.url_map.iter_rules()
        if rule.rule.startswith("/api/v1/")
    }

    assert there <= documented
