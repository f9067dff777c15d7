"""The API's document against what is served: schemathesis sends what fits it and what doesn't.

Held: no answer is a 5xx, each status is one the document names for that route, each body is of the named
media type and shape. The requests are the same in each run.
"""

import pytest
import schemathesis
from django.core.signals import request_finished, request_started
from django.core.wsgi import get_wsgi_application
from django.db import close_old_connections, transaction
from hypothesis import HealthCheck, Phase, given, settings
from schemathesis.checks import not_a_server_error
from schemathesis.generation import GenerationMode
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_schema_conformance,
    status_code_conformance,
)

from tests.doors.addresses import operations

pytestmark = pytest.mark.doors
HELD = [not_a_server_error, status_code_conformance, content_type_conformance, response_schema_conformance]
EXAMPLES = 25  # of each route and kind
OPERATIONS = sorted(operations())


@pytest.fixture(scope="module")
def document(made):
    """The served document; as with Django's own client, a request leaves the test's transaction open."""
    for signal in (request_started, request_finished):
        signal.disconnect(close_old_connections)
    yield schemathesis.openapi.from_wsgi("/api/v1/schema", get_wsgi_application())
    for signal in (request_started, request_finished):
        signal.connect(close_old_connections)


@pytest.mark.parametrize("kind", list(GenerationMode), ids=lambda kind: kind.value)
@pytest.mark.parametrize(("path", "method"), OPERATIONS, ids=[f"{m}-{p}" for p, m in OPERATIONS])
def test_the_answers_are_those_of_the_document(ours, document, path, method, kind):
    token = ours.with_token["owner"]._credentials["HTTP_AUTHORIZATION"]
    statuses = set()

    @settings(
        max_examples=EXAMPLES,
        deadline=None,
        database=None,
        derandomize=True,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(case=document[f"/{path}"][method.upper()].as_strategy(generation_mode=kind))
    def held(case):
        with transaction.atomic():
            answer = case.call_and_validate(headers={"Authorization": token}, checks=HELD)
            transaction.set_rollback(True)  # each request finds what the first one found
        statuses.add(answer.status_code)

    held()
    assert statuses


def test_a_task_that_names_no_place_is_as_the_document_says(document):
    task = document.raw_schema["components"]["schemas"]["Task"]["properties"]
    assert task["place"]["type"] == "string"
    assert "pattern" not in task["place"]  # it may be empty
    assert "pattern" in task["code"]
