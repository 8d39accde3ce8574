"""Recorded logs: a folder of NDJSON files, a request a line, with a truth.json that says what each cook should have done."""

import json
from pathlib import Path

from tests.simulation.posting import SimulatedCook

TRUTH = "truth.json"


def recorded_cooks(folder: Path, program: str) -> list[SimulatedCook]:
    """The cooks of one programme in a folder; names are PROGRAM-KIND-plain.ndjson and PROGRAM-KIND-network.ndjson."""
    truths = json.loads((folder / TRUTH).read_text(encoding="utf-8"))
    cooks = []
    for name, truth in truths.items():
        asked, _, rest = Path(name).stem.partition("-")
        if asked != program:
            continue
        kind, _, link = rest.rpartition("-")
        log = [json.loads(line) for line in (folder / name).read_text(encoding="utf-8").splitlines() if line.strip()]
        cooks.append(SimulatedCook(kind=kind, seed=0, network=link == "network", log=log, truth=truth))
    return cooks
