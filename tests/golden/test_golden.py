"""Golden logs with their decisions: a change of any of them is seen, and is meant.

Where it is meant, `cookstop compare --record tests/golden` keeps the new ones.
"""

import json
from pathlib import Path

from click.testing import CliRunner

from service.commands.compare import compare

FOLDER = Path(__file__).parent
LOGS = sorted(path for path in FOLDER.glob("*.ndjson") if not path.name.endswith(".decisions.ndjson"))


def test_golden_logs_are_decided_as_they_were():
    told = CliRunner().invoke(compare, ["--tolerance", "0.5", str(FOLDER)])
    assert told.exit_code == 0, f"{told.output}\nif this is meant: cookstop compare --record tests/golden"
    assert f"0 of {len(LOGS)} cooks changed" in told.output


def test_golden_logs_hold_what_should_never_change_unseen():
    kept = [
        json.loads(line)
        for log in LOGS
        for line in log.with_name(f"{log.stem}.decisions.ndjson").read_text(encoding="utf-8").splitlines()
    ]
    assert {one["verdict"] for one in kept} == {"continue", "warn", "stop"}
    assert {"too-early-to-say", "popping", "end-near", "forecast-reached", "heating-off", "microphone-suspect",
            "stop-already-given", "top-up-silent", "core-safe"} <= {one["why"] for one in kept}  # fmt: skip
