"""The OpenAPI document."""

import yaml
from django.core.management import call_command
from django.test import Client

DECISIONS = ("count", "discard", "correct", "swap", "undo")
TAKE_PROBLEMS = (400, 401, 403, 406, 409, 411, 413, 415, 422, 429, 503)


def test_the_document_is_valid_and_whole(tmp_path):
    """Checked against the OpenAPI 3.0 schema that drf-spectacular carries."""
    path = tmp_path / "schema.yml"
    call_command("spectacular", "--validate", "--fail-on-warn", "--file", str(path))
    document = yaml.safe_load(path.read_text())
    assert document["components"]["securitySchemes"]["bearer"]["scheme"] == "bearer"
    take = document["paths"]["/api/v1/readings"]["post"]
    assert {"bearer": []} in take["security"]
    assert set(take["responses"]) == {"200", *map(str, TAKE_PROBLEMS)}
    assert "application/problem+json" in take["responses"]["400"]["content"]
    for path in ("", "/{id}", *(f"/{{id}}/{decision}" for decision in DECISIONS)):
        assert f"/api/v1/readings{path}" in document["paths"]


def test_anyone_may_read_it(db):
    assert Client().get("/api/v1/schema").status_code == 200


def test_what_columns_are_called_for_people_shows_nowhere(db):
    """Programs know fields by their names: a title stands only where a serializer gives one."""
    answer = Client().get("/api/v1/schema", headers={"Accept-Language": "de"})
    titles = {
        (name, field): about["title"]
        for name, schema in yaml.safe_load(answer.content)["components"]["schemas"].items()
        for field, about in schema.get("properties", {}).items()
        if "title" in about
    }
    assert titles == {
        ("Machine", "condition"): "Working condition",
        ("Task", "outside"): "Outside the limits",
    }
