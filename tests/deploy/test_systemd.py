"""The unit of a hub: systemd's own tools find nothing to complain of."""

import re
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest

from tests.deploy.processes import GRACEFUL_TIMEOUT_S, ROOT

UNIT = ROOT / "deploy" / "systemd" / "cookstop.service"
ANALYZE = shutil.which("systemd-analyze")
needs_systemd = pytest.mark.skipif(ANALYZE is None, reason="systemd-analyze is not installed")


@pytest.fixture
def unit() -> Iterator[Path]:
    """The unit with a program that is on this machine, too."""
    with TemporaryDirectory() as folder:
        file = Path(folder) / UNIT.name
        text = UNIT.read_text(encoding="utf-8")
        assert "/opt/cookstop/bin/gunicorn" in text
        file.write_text(text.replace("/opt/cookstop/bin/gunicorn", "/bin/true"), encoding="utf-8")
        yield file


def analyzed(*arguments: str) -> "subprocess.CompletedProcess[str]":
    assert ANALYZE is not None
    return subprocess.run([ANALYZE, *arguments], capture_output=True, text=True, check=False)


@needs_systemd
def test_systemd_knows_every_line(unit: Path) -> None:
    told = analyzed("verify", str(unit))
    # An unknown key is no failure to it, only a word on its standard error.
    assert (told.returncode, told.stderr) == (0, "")
    unit.write_text(unit.read_text(encoding="utf-8").replace("PrivateTmp=", "PrivateTemp="), encoding="utf-8")
    assert "PrivateTemp" in analyzed("verify", str(unit)).stderr


@needs_systemd
def test_score_in_the_comment_is_the_score(unit: Path) -> None:
    told = analyzed("security", "--offline=true", "--no-pager", str(unit))
    (score,) = re.findall(r"exposure level for \S+: ([\d.]+)", told.stdout)
    assert f"systemd-analyze security --offline=true: {score} " in unit.read_text(encoding="utf-8")
    assert float(score) < 1.5


def test_stop_is_longer_than_the_workers_take_to_finish() -> None:
    (seconds,) = re.findall(r"^TimeoutStopSec=(\d+)$", UNIT.read_text(encoding="utf-8"), re.MULTILINE)
    assert int(seconds) > GRACEFUL_TIMEOUT_S


def test_hub_asks_on_its_own_machine_alone() -> None:
    text = UNIT.read_text(encoding="utf-8")
    assert "COOKSTOP_BIND=127.0.0.1:8080\n" in text
    assert "IPAddressDeny=any\nIPAddressAllow=localhost" in text
