"""Every block of code in the pages is run as it is printed, and so is every command in their sentences."""

import re
import runpy
import shlex
import sys
import tomllib

import click
import pytest

from service.cli import main
from tests.commands.running import ROOT
from tests.documentation.blocks import blocks, commands

HERE = "tests/documentation"
# Which test runs the block that starts so.
RUN_BY = {
    "python3 -m venv .venv && .venv/bin/pip install --quiet . &&": f"{HERE}/test_readme.py::test_first_command_shows_a_cook",
    "python3 -m venv .venv && .venv/bin/pip install --quiet --editable": ".ci/run",
    "curl -s http://127.0.0.1:8080/v1/decisions": f"{HERE}/test_readme.py::test_first_request_is_answered_as_shown",
    '{\n  "decision"': f"{HERE}/test_readme.py::test_first_request_is_answered_as_shown",
    "from service.client import CookSession": f"{HERE}/test_readme.py::test_hub_comes_to_a_stop",
    "sh deploy/device/curl.sh": f"{HERE}/test_readme.py::test_small_clients_come_to_a_stop",
    "micropython deploy/device/trial.py": f"{HERE}/test_readme.py::test_small_clients_come_to_a_stop",
    "cc -std=c11 -O2 -Wall -o cook deploy": f"{HERE}/test_readme.py::test_small_clients_come_to_a_stop",
    "umask 077": f"{HERE}/test_readme.py::test_board_reaches_the_service_with_its_key",
    ".venv/bin/cookstop replay": f"{HERE}/test_readme.py::test_logs_are_kept_and_compared",
    "sed '/^.values.gap_s/": f"{HERE}/test_readme.py::test_two_programmes_are_compared",
    ".venv/bin/pip install --quiet '.[recording]'": f"{HERE}/test_readme.py::test_recording_becomes_a_log",
    "npx --yes openapi-typescript@": "tests/typescript/test_generated_client.py::test_generated_client_cooks_a_whole_bag",
    '{"outcome"': f"{HERE}/test_readme.py::test_outcome_is_taken",
    "units → readings": "tests/test_structure.py",
    ".venv/bin/pytest -q tests/": f"{HERE}/test_developers.py::test_single_parts_run",
    "mkdir -m 700 deploy/secrets": f"{HERE}/test_deploy.py::test_secrets_are_made_and_the_engine_is_asked_for_the_services",
    "kubectl create secret": f"{HERE}/test_deploy.py::test_cluster_is_given_what_its_schemas_take",
    "export CUSTOM_COMPILE_COMMAND": f"{HERE}/test_deploy.py::test_what_is_pinned_is_renewed",
    "python -m tests.deploy.build_image": "tests/deploy/test_container.py::test_image_is_built_and_answers",
    "from machine import Pin": "tests/device/test_page.py::test_relay_is_held_and_let_go",
    "import tls": "tests/device/test_page.py::test_encrypted_answer_is_taken_from_the_server_of_that_name_alone",
    "sh curl.sh": "tests/device/test_page.py::test_conversation_can_be_typed",
    "cc -std=c11 -O2 -Wall -o cookstop cookstop.c": "tests/device/test_page.py::test_program_can_be_made_and_tried",
}
# Which test types the command in a sentence that is no word about one of ours.
TYPED_BY = {
    ".venv/bin/cookstop serve": f"{HERE}/conftest.py::port",
    ".venv/bin/python hub.py": f"{HERE}/test_readme.py::test_hub_comes_to_a_stop",
    "bash tests/device/fetch_micropython.sh": ".ci/run",
}
OURS = [span for span in commands() if span.startswith("cookstop ")]
MEASURED = [span for span in commands() if span.startswith("python -m tests.")]


@pytest.mark.parametrize("block", blocks(), ids=lambda block: f"{block.page}: {block.first_line[:50]}")
def test_every_block_is_run_by_a_test(block):
    known = [start for start in RUN_BY if block.text.startswith(start)]
    assert len(known) == 1, "say in this file which test runs it"
    assert_there(RUN_BY[known[0]])


def test_every_command_in_a_sentence_is_tried():
    assert set(commands()) == {*TYPED_BY, *OURS, *MEASURED}
    for place in TYPED_BY.values():
        assert_there(place)


def assert_there(place):
    file, _, name = place.partition("::")
    text = (ROOT / file).read_text(encoding="utf-8")
    assert f"def {name}(" in text if name else text


@pytest.mark.parametrize("span", OURS)
def test_command_in_a_sentence_can_be_typed_so(span):
    _, name, *words = shlex.split(span)
    context = click.Context(main)
    command = main.get_command(context, name)
    assert command is not None
    own = click.Context(command, parent=context)
    # It knows the options, and takes no more arguments than there are.
    _, rest, _ = command.make_parser(own).parse_args(words)
    assert rest == []


@pytest.mark.parametrize("span", MEASURED)
def test_what_was_measured_can_be_measured_so(span, monkeypatch, capsys):
    _, _, name, *words = span.split()
    monkeypatch.setattr(sys, "argv", [name, "--help"])
    # Another test of this process may have imported it, which is not how a command begins.
    monkeypatch.delitem(sys.modules, f"{name}.__main__", raising=False)
    monkeypatch.delitem(sys.modules, name, raising=False)
    with pytest.raises(SystemExit, match="0"):
        runpy.run_module(name, run_name="__main__", alter_sys=False)
    told = capsys.readouterr().out
    assert all(word in told for word in words if word.startswith("--"))


def test_extras_that_are_named_are_there():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    named = set()
    for text in (*commands(), *(block.text for block in blocks())):
        named.update(name for extras in re.findall(r"'\.\[([a-z,]+)\]'", text) for name in extras.split(","))
    assert named <= project["optional-dependencies"].keys()
