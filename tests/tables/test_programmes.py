"""Programmes are data: every number has its unit, source and note, is asked for by the code, and none can be left unsaid."""

import ast
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from service.programs.programme import SENSORS, Programme, ProgrammeError, load, shipped

ROOT = Path(__file__).parents[2]
FILES = sorted((ROOT / "service" / "programs").glob("*.toml"))
# The unit that the end of a name stands for, the longest ending first.
UNITS = {
    "_g_m3_s": "g/m3/s",
    "_per_g": "kernels/g",
    "_g_m3": "g/m3",
    "_g_s": "g/s",
    "_w_k": "W/K",
    "_s": "s",
    "_g": "g",
    "_w": "W",
    "_c": "degC",
}
SMALL = """
name = "toast"
summary = "Bread until it is brown."
led_by = ["moisture"]
cautions = ["It is hot."]

[values.brown_s]
value = 90.0
unit = "s"
source = "invented"
note = "How long it takes."
"""


def loaded(text: str, folder: Path) -> Programme:
    file = folder / "toast.toml"
    file.write_text(text, encoding="utf-8")
    return load(file)


def without(line: str) -> str:
    """The small programme less the line that begins so."""
    assert f"\n{line} = " in SMALL
    return "\n".join(row for row in SMALL.splitlines() if not row.startswith(f"{line} = "))


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.stem)
def test_every_shipped_programme_loads_and_is_called_as_its_file_is(file: Path) -> None:
    programme = load(file)
    assert programme.name == file.stem
    assert shipped()[file.stem].values == programme.values


def test_all_programme_files_are_shipped() -> None:
    assert list(shipped()) == [file.stem for file in FILES]
    assert "popcorn" in shipped()


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.stem)
def test_a_programme_says_what_it_is_and_warns(file: Path) -> None:
    programme = load(file)
    assert programme.summary.endswith(".")
    assert set(programme.led_by) <= set(SENSORS)
    assert programme.cautions
    assert all(caution.endswith(".") for caution in programme.cautions)


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.stem)
def test_every_number_names_its_source_and_explains_itself(file: Path) -> None:
    """A source is a citation with a year in it, common practice, or invented; the unit at the end of a name is its unit."""
    for key, value in load(file).values.items():
        cited = any(word.strip("().,;:").isdigit() for word in value.source.split())
        assert value.source in ("invented", "common practice, no source") or cited, key
        assert value.note.endswith("."), key
        assert value.unit == next((unit for ending, unit in UNITS.items() if key.endswith(ending)), value.unit), key


def test_a_number_and_what_belongs_to_it_are_read_as_written(tmp_path: Path) -> None:
    programme = loaded(SMALL, tmp_path)
    assert programme.number("brown_s") == 90.0
    value = programme.values["brown_s"]
    assert (value.unit, value.source, value.note) == ("s", "invented", "How long it takes.")
    assert (programme.name, programme.led_by, programme.cautions) == ("toast", ("moisture",), ("It is hot.",))


@pytest.mark.parametrize("part", ["value", "unit", "source", "note"])
def test_a_number_without_one_of_its_parts_is_refused_by_name(part: str, tmp_path: Path) -> None:
    with pytest.raises(ProgrammeError, match=rf"toast\.toml.*values\.brown_s.*{part}"):
        loaded(without(part), tmp_path)


@pytest.mark.parametrize("part", ["unit", "source", "note"])
def test_an_empty_part_is_as_good_as_none(part: str, tmp_path: Path) -> None:
    empty = "\n".join(f'{part} = "  "' if row.startswith(f"{part} = ") else row for row in SMALL.splitlines())
    with pytest.raises(ProgrammeError, match=rf"values\.brown_s.*{part}"):
        loaded(empty, tmp_path)


@pytest.mark.parametrize("part", ["name", "summary", "led_by", "cautions"])
def test_a_programme_without_one_of_its_parts_is_refused_by_name(part: str, tmp_path: Path) -> None:
    with pytest.raises(ProgrammeError, match=part):
        loaded(without(part), tmp_path)


@pytest.mark.parametrize("word", ["nan", "inf", "-inf", "true", '"90"', "[90.0]"])
def test_a_value_that_is_no_finite_number_is_refused(word: str, tmp_path: Path) -> None:
    with pytest.raises(ProgrammeError, match=r"values\.brown_s.*finite number"):
        loaded(SMALL.replace("90.0", word), tmp_path)


REFUSED = {
    "an entry of a number": (
        SMALL + 'colour = "brown"\n',
        "values.brown_s.colour: there is no such part; there are: value",
    ),
    "an entry of the programme": (
        SMALL.replace("summary", 'colour = "brown"\nsummary'),
        "toast.toml: colour: there is no such part",
    ),
    "a sensor": (SMALL.replace('["moisture"]', '["nose"]'), "led_by: expected some of acoustic, moisture"),
    "the same sensor twice": (SMALL.replace('["moisture"]', '["moisture", "moisture"]'), "each once"),
    "no sensor": (SMALL.replace('["moisture"]', "[]"), "led_by"),
    "no numbers": (SMALL[: SMALL.index("[values")], "values: expected at least one number"),
    "a bare number": (
        SMALL[: SMALL.index("[values")] + "[values]\nbrown_s = 90.0\n",
        "values.brown_s: expected value, unit, source and note",
    ),
    "text that is no TOML": (SMALL + "= 3", "toast.toml"),
}


@pytest.mark.parametrize(("text", "says"), REFUSED.values(), ids=REFUSED.keys())
def test_what_no_programme_has_is_refused_by_name(text: str, says: str, tmp_path: Path) -> None:
    with pytest.raises(ProgrammeError) as refused:
        loaded(text, tmp_path)
    assert says in str(refused.value)
    assert str(refused.value).startswith("toast.toml")


def test_asking_for_a_number_that_is_not_there_says_which_are(tmp_path: Path) -> None:
    with pytest.raises(KeyError, match=r"'toast' has no value 'black_s'.*brown_s"):
        loaded(SMALL, tmp_path).number("black_s")


@dataclass(frozen=True)
class Brownness:
    brown_s: float


@dataclass(frozen=True)
class Blackness:
    brown_s: float
    black_s: float


def test_numbers_fill_the_fields_of_their_names(tmp_path: Path) -> None:
    programme = loaded(SMALL, tmp_path)
    assert programme.numbers(Brownness) == Brownness(brown_s=90.0)
    with pytest.raises(KeyError, match="black_s"):
        programme.numbers(Blackness)


def test_what_is_loaded_cannot_be_changed(tmp_path: Path) -> None:
    values: Any = loaded(SMALL, tmp_path).values
    with pytest.raises(TypeError):
        values["brown_s"] = None


@cache
def words_put_to_use() -> frozenset[str]:
    """Names that the service reads, or gives as a text, and does more with than hand them on under the same name."""
    used = set()
    for file in (ROOT / "service").rglob("*.py"):
        tree = ast.parse(file.read_text(encoding="utf-8"))
        handed_on = {
            id(node)
            for call in ast.walk(tree)
            if isinstance(call, ast.keyword) and call.arg is not None
            for node in ast.walk(call.value)
            if _named(node) == call.arg
        }
        used |= {name for node in ast.walk(tree) if id(node) not in handed_on and (name := _named(node)) is not None}
    return frozenset(used)


def _named(node: ast.AST) -> str | None:
    if isinstance(node, ast.Attribute) and isinstance(node.ctx, ast.Load):
        return node.attr
    if isinstance(node, ast.Name) and isinstance(node.ctx, ast.Load):
        return node.id
    return node.value if isinstance(node, ast.Constant) and isinstance(node.value, str) else None


def tables() -> Mapping[str, list[str]]:
    return {file.stem: list(tomllib.loads(file.read_text(encoding="utf-8"))["values"]) for file in FILES}


@pytest.mark.parametrize(("name", "key"), [(name, key) for name, keys in tables().items() for key in keys])
def test_no_number_of_a_programme_is_dead(name: str, key: str) -> None:
    assert key in words_put_to_use(), f"{name}: nothing in the service makes use of {key}"
