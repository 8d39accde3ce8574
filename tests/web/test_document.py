"""The description of the API is valid, up to date, and true."""

import json
from typing import Any

import pytest
from jsonschema import Draft202012Validator
from openapi_spec_validator import validate

from service.rules.table import RULES
from service.web.problems import KINDS
from service.web.settings import Settings
from tests.web.clients import whole
from tests.web.document.examples import asked, client, examples
from tests.web.document.whole import FILE, document_text

DOCUMENT = json.loads(FILE.read_bytes())
OPERATIONS = {
    f"{method.upper()} {path}": operation
    for path, methods in DOCUMENT["paths"].items()
    for method, operation in methods.items()
}


@pytest.fixture(scope="module")
def asker():
    return client()


def validator(schema: dict[str, Any]) -> Draft202012Validator:
    """A validator of a schema that may refer to others of the description."""
    return Draft202012Validator({**schema, "components": DOCUMENT["components"]})


def test_it_is_valid():
    validate(DOCUMENT)
    assert DOCUMENT["openapi"].startswith("3.1")


def test_it_is_what_the_code_makes_of_it():
    assert FILE.read_text(encoding="utf-8") == document_text(), "run python -m tests.web.document"


def test_every_route_is_described(asker):
    routes = {
        f"{method} {rule.rule.replace('<', '{').replace('>', '}')}"
        for rule in asker.application.url_map.iter_rules()
        for method in rule.methods - {"HEAD", "OPTIONS"}
        # Parts of the two pages.
        if rule.rule not in ("/docs/<name>", "/page/<path:name>")
    }
    assert routes == set(OPERATIONS)


@pytest.mark.parametrize("name", examples())
def test_example_is_answered_as_described(asker, name):
    example = examples()[name]
    operation = DOCUMENT["paths"][example.path]["post"]
    request = operation["requestBody"]["content"][example.media_type]
    described = operation["responses"][str(example.status)]["content"]
    answer = next(iter(described.values()))
    assert request["examples"][name]["value"] == example.value
    told = asked(asker, example)
    assert answer["examples"][name]["value"] == told
    validator(answer["schema"]).validate(told)
    if example.status == 200:
        validator(request["schema"]).validate(example.value)


def test_lines_of_a_replay_are_decisions_or_problems_or_what_was_found(asker):
    told = asked(asker, examples()["log"]).splitlines()
    schema = {"anyOf": [{"$ref": f"#/components/schemas/{name}"} for name in ("Decision", "Problem", "Found")]}
    assert len(told) == 4
    for line in told:
        validator(schema).validate(json.loads(line))


def test_the_line_of_an_outcome_is_taken_as_described():
    last = examples()["log"].value.splitlines()[-1]
    validator({"$ref": "#/components/schemas/OutcomeLine"}).validate(json.loads(last))


@pytest.mark.parametrize("name", [name for name in OPERATIONS if name.startswith("GET ")])
def test_what_is_read_is_answered_as_described(asker, name):
    path, operation = name.removeprefix("GET "), OPERATIONS[name]
    for parameter in operation.get("parameters", ()):
        path = path.replace(f"{{{parameter['name']}}}", parameter["example"])
    answer = asker.get(path)
    assert answer.status_code == 200
    content = operation["responses"]["200"]["content"]
    assert list(content) == [answer.mimetype]
    if answer.mimetype == "application/json":
        validator(content["application/json"]["schema"]).validate(answer.json)


def test_every_problem_is_told_and_stands_in_a_response():
    listed = {problem["type"] for problem in DOCUMENT["x-problems"]}
    responses = DOCUMENT["components"]["responses"].values()
    in_responses = {
        example["value"]["type"]
        for response in responses
        for example in response["content"]["application/problem+json"]["examples"].values()
    }
    assert listed == in_responses == {kind.type for kind in KINDS}


def test_every_problem_example_is_a_problem():
    for response in DOCUMENT["components"]["responses"].values():
        content = response["content"]["application/problem+json"]
        for example in content["examples"].values():
            validator(content["schema"]).validate(example["value"])


def test_headers_of_problems_are_described():
    responses = DOCUMENT["components"]["responses"]
    assert "WWW-Authenticate" in responses["Problem401"]["headers"]
    assert "Allow" in responses["Problem405"]["headers"]
    assert "Retry-After" in responses["Problem429"]["headers"]
    assert "Retry-After" in responses["Problem503"]["headers"]


def test_every_limit_and_every_rule_is_told():
    assert {limit["name"]: limit["value"] for limit in DOCUMENT["x-limits"]} == Settings().limits()
    assert [rule["rule"] for rule in DOCUMENT["x-rules"]] == [rule.code for rule in RULES]


def test_every_object_is_described_in_words():
    schemas = DOCUMENT["components"]["schemas"]
    bare = [
        f"{name}.{field}"
        for name, schema in schemas.items()
        for field, shape in schema.get("properties", {}).items()
        if not ("description" in shape or "$ref" in shape)
    ]
    assert not bare
    assert all(schema.get("description") for schema in schemas.values())


@pytest.mark.parametrize("left_out", [(), ("pops",), ("humidity",)])
def test_all_that_decisions_tell_of_the_evidence_is_described(post, log, left_out):
    schemas = DOCUMENT["components"]["schemas"]
    for until_s in range(10, 150, 10):
        readings = whole([line for line in log if line["as_of"] <= until_s])
        sent = {kind: some for kind, some in readings.items() if kind not in left_out}
        answer = post(program="popcorn", as_of=until_s, readings=sent).json
        validator({"$ref": "#/components/schemas/Decision"}).validate(answer)
        for sensor, facts in answer["evidence"].items():
            assert set(facts) <= set(schemas[sensor.capitalize()]["properties"])
