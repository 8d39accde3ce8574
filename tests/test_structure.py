"""What the code must not become: imports run one way, the core is deaf and blind, and nothing grows without bound."""

import ast
from functools import cache
from graphlib import TopologicalSorter
from pathlib import Path

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
    "service.changed_answers",
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


def test_modules_stand_in_layers_and_import_only_their_own_and_lower_ones():
    assert not [name for name in layered() if layer(name) is None]
    assert not {
        (name, one)
        for name in layered()
        for one in imports(name)
        if layer(one) is not None and layer(one) > layer(name)
    }


def test_no_imports_run_in_a_circle():
    graph = {name: {one for one in imports(name) if one in modules()} for name in modules()}
    assert len(list(TopologicalSorter(graph).static_order())) == len(graph)


def test_core_knows_no_web_clock_environment_log_or_chance():
    assert not {(name, one) for name in core() for one in imports(name) if one.partition(".")[0] not in allowed(name)}
    attributes = {
        (name, node.attr) for name in core() for node in ast.walk(tree(name)) if isinstance(node, ast.Attribute)
    }
    assert not {name for name, attribute in attributes if attribute == "random"}


def allowed(name: str) -> set[str]:
    """What a module of the core may import."""
    reads_numbers = name.startswith("service.programs") or name in READ_THEIR_NUMBERS
    return {"service"} | (PROGRAMMES_MAY_IMPORT if reads_numbers else CORE_MAY_IMPORT)


def test_core_opens_no_files_and_prints_nothing():
    called = {
        (name, node.func.id)
        for name in core()
        for node in ast.walk(tree(name))
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name)
    }
    assert not {(name, word) for name, word in called if word in {"open", "print", "input", "eval", "exec"}}


def test_no_file_and_no_function_is_too_long():
    files = {name: len(file.read_text(encoding="utf-8").splitlines()) for name, file in modules().items()}
    assert not {(name, lines) for name, lines in files.items() if lines > MOST_LINES_IN_A_FILE}
    functions = [
        (name, node) for name in modules() for node in ast.walk(tree(name)) if isinstance(node, ast.FunctionDef)
    ]
    lengths = {(name, node.name): node.end_lineno - node.lineno + 1 for name, node in functions}
    assert not {function for function, lines in lengths.items() if lines > MOST_LINES_IN_A_FUNCTION}


def test_every_module_says_what_it_is():
    assert not [name for name in modules() if not ast.get_docstring(tree(name))]
