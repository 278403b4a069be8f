"""The interface document (OpenAPI 3.1) holds: no answer that it does not describe, and no server fault."""

from typing import Any

import pytest
import schemathesis
from argon2 import PasswordHasher
from hypothesis import HealthCheck, Phase, given, settings
from schemathesis import Case
from schemathesis.core.result import Ok
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_schema_conformance,
    status_code_conformance,
)
from starlette.testclient import TestClient

from dyecast_api.server import passphrase

from .press_shop import photograph, start_batch
from .shop_server import API, ShopServer, send_photo, shop_server

DOCUMENT = f"{API}/openapi.json"
LEFT_OUT = ("signOut", "revokeDevice", "signIn", "followInspection")
"""Left out of the search: what takes the searching program's own right away, counts its tries, or lasts."""

CHECKED = [status_code_conformance, content_type_conformance, response_schema_conformance]
"""What is held against the document: status, media type, members."""


@pytest.fixture(scope="module")
def program(tmp_path_factory: pytest.TempPathFactory) -> TestClient:
    """A program with an owner's right, on a server that has one of everything."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(passphrase, "HASHER", PasswordHasher(time_cost=1, memory_cost=64, parallelism=1))
        server = shop_server(tmp_path_factory.mktemp("searched"))
        owner = server.owner()
    number = start_batch(owner)
    photograph(server, owner, number, 1)
    owner.post(f"{API}/batches/{number}/approve", json={"by": "Kim"})
    word = {"recipe": 1, "grade": "under-pressed", "judged_by": "Kim"}
    assert owner.post(f"{API}/pressings", json=word).status_code == 201
    send_photo(owner, 1)
    server.work()
    return server.program(owner, "owner")


@pytest.fixture(scope="module")
def interface(program: TestClient) -> schemathesis.BaseSchema:
    return schemathesis.openapi.from_asgi(DOCUMENT, program.app)


def test_no_request_gets_an_answer_that_is_not_described(
    interface: schemathesis.BaseSchema, program: TestClient, subtests: pytest.Subtests
) -> None:
    tried = 0
    for found in interface.get_all_operations():
        assert isinstance(found, Ok), found
        operation = found.ok()
        name = operation.definition.raw["operationId"]
        if name in LEFT_OUT:
            continue
        tried += 1
        with subtests.test(name):
            _search(operation, program)
    assert tried > 45


def _search(operation: Any, program: TestClient) -> None:
    """Ask in many ways, all of them allowed by the document, and hold each answer against it."""

    @given(case=operation.as_strategy())
    @settings(
        max_examples=25,
        deadline=None,
        derandomize=True,
        database=None,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    def ask(case: Case[Any]) -> None:
        answer = case.call(headers={"Authorization": program.headers["Authorization"]})
        assert answer.status_code < 500
        case.validate_response(answer, checks=CHECKED)

    ask()


def test_every_operation_has_a_name_of_its_own_that_stays(server: ShopServer) -> None:
    operations = [
        operation["operationId"]
        for path in server.app.openapi()["paths"].values()
        for operation in path.values()
    ]
    assert len(set(operations)) == len(operations)
    assert all(name[0].islower() and "_" not in name for name in operations)


def test_the_document_is_of_openapi_3_1_and_says_what_errors_look_like(server: ShopServer) -> None:
    document = server.app.openapi()
    assert document["openapi"].startswith("3.1")
    assert "code" in document["components"]["schemas"]["ProblemBody"]["properties"]
