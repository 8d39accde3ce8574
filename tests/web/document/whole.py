"""The description put together."""

import inspect
import json
import re
import tomllib
from pathlib import Path
from typing import Any

from apispec import APISpec
from apispec.ext.marshmallow import MarshmallowPlugin

from service.rules.table import RULES
from service.web import settings
from service.web.callers import SCOPES
from service.web.problems import KINDS
from tests.web.document.paths import paths, problem_responses
from tests.web.document.shapes import LIMITS, described

ROOT = Path(__file__).parents[3]
FILE = ROOT / "schemas" / "openapi.json"


def document() -> dict[str, Any]:
    """The whole description."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    plugin = MarshmallowPlugin()
    spec = APISpec(project["name"], project["version"], "3.1.0", plugins=[plugin], info=_info(project["description"]))
    described(spec, plugin)
    made = spec.to_dict()
    components = made["components"] | {"responses": problem_responses(), "securitySchemes": {"key": _key()}}
    return {
        "openapi": made["openapi"],
        "info": made["info"],
        "servers": [{"url": "/"}],
        "paths": paths(),
        "components": components,
        "x-limits": _limits(),
        "x-rules": [{"rule": rule.code, "decision": rule.verdict, "means": rule.means} for rule in RULES],
        "x-problems": [
            {"type": kind.type, "status": kind.status, "title": kind.title, "remedy": kind.remedy} for kind in KINDS
        ],
    }


def document_text() -> str:
    """The same as it is written to the file."""
    return json.dumps(document(), indent=1, ensure_ascii=False) + "\n"


def _info(summary: str) -> dict[str, str]:
    said = (
        "It advises; it is no safety device. Each answer is a function of the request alone: what must survive from one"
    )
    return {
        "summary": summary,
        "description": f"{said} post to the next travels in `state`. Every error is a problem document (RFC 9457).",
    }


def _key() -> dict[str, str]:
    scopes = ", ".join(SCOPES)
    says = f"A key with the scope that the operation names (`x-scope`), out of {scopes}; `any` is any of them."
    return {"type": "http", "scheme": "bearer", "description": f"{says} A service on loopback needs none."}


def _limits() -> list[dict[str, Any]]:
    """Every limit: how it is set, what it is unless set, and what it limits, as the settings say it themselves."""
    says = inspect.getdoc(settings) or ""
    told = []
    for name, value in LIMITS.limits().items():
        variable = f"COOKSTOP_{name.upper()}"
        found = re.search(rf"^{variable} +(.+?)  +{value}$", says, re.MULTILINE)
        assert found, f"{variable} is not among the settings, or not with the value {value}"
        told.append({"name": name, "value": value, "limits": found[1], "set_by": variable})
    return told
