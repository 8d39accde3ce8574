"""The composed services: by the schema that compose itself checks with, and by what this service needs."""

import json
from pathlib import Path
from typing import Any

import pytest
import yaml
from jsonschema import Draft7Validator

from tests.deploy.processes import ROOT

FILE = ROOT / "deploy" / "compose.yaml"
# Of Debian's docker-compose package.
SCHEMA = Path("/usr/lib/python3/dist-packages/compose/config/compose_spec.json")
OURS = ("cookstop", "cookstop-replays")


@pytest.fixture(scope="module")
def composed() -> dict[str, Any]:
    text: dict[str, Any] = yaml.safe_load(FILE.read_text(encoding="utf-8"))
    return text


@pytest.mark.skipif(not SCHEMA.exists(), reason="docker-compose of Debian is not installed: its schema is not there")
def test_compose_knows_every_field(composed: dict[str, Any]) -> None:
    validator = Draft7Validator(json.loads(SCHEMA.read_text(encoding="utf-8")))
    assert [error.message for error in validator.iter_errors(composed)] == []
    misspelt = {**composed, "services": {"front": {"imagee": "nginx"}}}
    assert list(validator.iter_errors(misspelt)), "the schema refuses nothing"


@pytest.mark.parametrize("name", [*OURS, "front"])
def test_nothing_runs_with_more_than_it_needs(composed: dict[str, Any], name: str) -> None:
    service = composed["services"][name]
    assert service["read_only"]
    assert service["cap_drop"] == ["ALL"]
    assert "no-new-privileges:true" in service["security_opt"]
    assert service["deploy"]["resources"]["limits"].keys() == {"cpus", "memory"}


def test_only_the_front_can_be_reached(composed: dict[str, Any]) -> None:
    assert [name for name, service in composed["services"].items() if "ports" in service] == ["front"]
    assert composed["networks"]["inside"] == {"internal": True}
    assert {tuple(composed["services"][name]["networks"]) for name in OURS} == {("inside",)}


def test_front_asks_the_services_that_are_there(composed: dict[str, Any]) -> None:
    upstream = (ROOT / "deploy" / "nginx" / "upstream.conf").read_text(encoding="utf-8")
    servers = [line.split()[1].rstrip(";") for line in upstream.splitlines() if line.strip().startswith("server ")]
    assert servers == [f"{name}:8080" for name in OURS]
    assert composed["services"].keys() >= set(OURS)


def test_secrets_that_are_used_are_declared(composed: dict[str, Any]) -> None:
    for name in OURS:
        service = composed["services"][name]
        assert set(service["secrets"]) == composed["secrets"].keys()
        files = {value for key, value in service["environment"].items() if key.endswith("_FILE")}
        assert files == {f"/run/secrets/{secret}" for secret in service["secrets"]}
