"""What the code must not become: imports run one way, the core is deaf and blind, and nothing grows without bound."""

import ast
from functools import cache
from graphlib import TopologicalSorter
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
LAYERS = (
    "service.units",
    "service.readings",
    "service.evidence",
    "service.programs",
    "service.forecast",
    "service.rules",
    "service.outcomes",
    "service.audit",
    "service.calibration",
    "schemas",
    "service.web",
    "service.app",
    "service.client",
    "service.replaying",
    "service.comparing",
    "service.extras",
    "service.fleet",
    "service.report",
    "service.invented",
    "service.demonstration",
    "service.recording",
    "service.commands",
    "service.cli",
    "service.__main__",
)
CORE = LAYERS[: LAYERS.index("schemas")]
# The core may compute, and the programmes may also read the files that lie beside their loader.
CORE_MAY_IMPORT = {
    "__future__",
    "_typeshed",
    "bisect",
    "collections",
    "dataclasses",
    "enum",
    "functools",
    "itertools",
    "math",
    "numpy",
    "statistics",
    "struct",
    "types",
    "typing",
    "zlib",
}
# They read a file of numbers that lies beside them, as the programmes do.
READ_THEIR_NUMBERS = {"service.audit.numbers", "service.calibration.numbers", "service.outcomes.shares"}
PROGRAMMES_MAY_IMPORT = CORE_MAY_IMPORT | {"importlib", "pathlib", "tomllib"}
MOST_LINES_IN_A_FILE = 300
MOST_LINES_IN_A_FUNCTION = 60


@cache
def modules() -> dict[str, Path]:
    """Every module of the service by its dotted name."""
    found = {}
    for file in sorted([*(ROOT / "service").rglob("*.py"), *(ROOT / "schemas").rglob("*.py")]):
        parts = file.relative_to(ROOT).with_suffix("").parts
        found[".".join(parts[:-1] if parts[-1] == "__init__" else parts)] = file
    return found


@cache
def tree(name: str) -> ast.Module:
    return ast.parse(modules()[name].read_text(encoding="utf-8"))


@cache
def imports(name: str) -> frozenset[str]:
    """The modules that a module imports, wherever in it; of our own, the very module."""
    found = set()
    for node in ast.walk(tree(name)):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{name} imports relatively"
            inner = {f"{node.module}.{alias.name}" for alias in node.names}
            found |= {whole if whole in modules() else str(node.module) for whole in inner}
    return frozenset(found)


def layer(name: str) -> int | None:
    """Where a module of ours stands; None for one that is not ours, and for the bare package."""
    return next((at for at, one in enumerate(LAYERS) if name == one or name.startswith(f"{one}.")), None)


def layered() -> list[str]:
    return [name for name in modules() if name != "service"]


def core() -> list[str]:
    return [name for name in layered() if layer(name) < len(CORE)]


@pytest.mark.parametrize("name", layered())
def test_module_stands_in_a_layer_and_imports_only_its_own_and_lower_ones(name):
    assert layer(name) is not None
    higher = [one for one in imports(name) if layer(one) is not None and layer(one) > layer(name)]
    assert not higher


def test_no_imports_run_in_a_circle():
    graph = {name: {one for one in imports(name) if one in modules()} for name in modules()}
    assert len(list(TopologicalSorter(graph).static_order())) == len(graph)


@pytest.mark.parametrize("name", core())
def test_core_knows_no_web_clock_environment_log_or_chance(name):
    reads_numbers = name.startswith("service.programs") or name in READ_THEIR_NUMBERS
    allowed = PROGRAMMES_MAY_IMPORT if reads_numbers else CORE_MAY_IMPORT
    strangers = {one for one in imports(name) if one.partition(".")[0] not in allowed | {"service"}}
    assert not strangers
    attributes = {node.attr for node in ast.walk(tree(name)) if isinstance(node, ast.Attribute)}
    assert "random" not in attributes


def test_core_opens_no_files_and_prints_nothing():
    called = {
        (name, node.func.id)
        for name in core()
        for node in ast.walk(tree(name))
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name)
    }
    assert not {(name, word) for name, word in called if word in {"open", "print", "input", "eval", "exec"}}


@pytest.mark.parametrize("name", sorted(modules()))
def test_no_file_and_no_function_is_too_long(name):
    lines = len(modules()[name].read_text(encoding="utf-8").splitlines())
    assert lines <= MOST_LINES_IN_A_FILE
    functions = [node for node in ast.walk(tree(name)) if isinstance(node, ast.FunctionDef)]
    long = {node.name: node.end_lineno - node.lineno + 1 for node in functions}
    assert not {function for function, length in long.items() if length > MOST_LINES_IN_A_FUNCTION}


@pytest.mark.parametrize("name", sorted(modules()))
def test_every_module_says_what_it_is(name):
    assert ast.get_docstring(tree(name))
