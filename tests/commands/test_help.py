"""What the command says about itself."""

import pytest


def test_help_lists_every_command(cookstop):
    told = cookstop("--help")
    assert told.returncode == 0
    assert all(
        f"  {command} " in told.stdout
        for command in ("serve", "key", "audit", "calibrate", "compare", "listen", "replay", "simulate", "demonstrate")
    )


@pytest.mark.parametrize(
    "command", ["serve", "key", "audit", "calibrate", "compare", "listen", "replay", "simulate", "demonstrate"]
)
def test_each_help_gives_an_example(fresh_cookstop, command):
    """From nothing, so that each command is seen to import what it needs."""
    told = fresh_cookstop(command, "--help")
    assert told.returncode == 0
    assert "Example" in told.stdout
    assert f"  cookstop {command}" in told.stdout


@pytest.mark.parametrize(
    "arguments", [["toast"], ["replay"], ["replay", "no-such-file"], ["serve", "--port", "0"], ["key", "--name", "x"]]
)
def test_wrong_use_is_told_and_fails(cookstop, arguments):
    told = cookstop(*arguments)
    assert told.returncode == 2
    assert "Error: " in told.stderr
    assert "Traceback" not in told.stderr
