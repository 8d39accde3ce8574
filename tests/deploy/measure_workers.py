"""Which worker serves best: `python -m tests.deploy.measure_workers`.

Each kind and number of workers gets the posts of whole cooks from wrk (of Debian) on this machine, directly and behind the
shipped front (its limits on how often lifted, for wrk is one address), several runs each in mixed order. wrk and nginx
take their share of the same cores.
"""

import json
import random
import re
import shutil
import statistics
import subprocess
import sys
from argparse import ArgumentParser, Namespace
from collections.abc import Mapping
from contextlib import ExitStack
from dataclasses import dataclass, replace
from pathlib import Path
from tempfile import TemporaryDirectory

from tests.deploy.client import PATH
from tests.deploy.cooks import logs, undisturbed
from tests.deploy.front import NGINX, fronted
from tests.deploy.processes import LOOPBACK, serving

# The value of COOKSTOP_THREADS by the name of gunicorn's worker.
KINDS: Mapping[str, str] = {"sync": "1", "gthread 2": "2", "gthread 4": "4", "gthread 8": "8"}
COOKS = 7
SCRIPT = """\
local bodies = {%s}
local at = 0
request = function()
   at = at %% #bodies + 1
   local headers = {["Content-Type"] = "application/json", ["Authorization"] = "Bearer wrk-" .. at, ["Host"] = "cookstop.example"}
   return wrk.format("POST", "%s", headers, bodies[at])
end
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Figures:
    """What one run of wrk found."""

    per_s: float
    p50_ms: float
    p99_ms: float
    failed: int
    computed_ms: float = 0.0


def main() -> None:
    """Measure everything, print the medians over the runs as a table."""
    asked = _asked()
    if shutil.which("wrk") is None or NGINX is None:
        sys.exit("wrk and nginx have to be installed")
    runs = [
        (kind, workers, behind)
        for kind in KINDS
        for workers in asked.workers
        for behind in (False, True)
        for _ in range(asked.runs)
    ]
    random.Random(1).shuffle(runs)  # noqa: S311 (an order, no secret)
    found: dict[tuple[str, int, bool], list[Figures]] = {}
    with TemporaryDirectory(prefix="wrk-") as folder:
        script = _script(Path(folder))
        for run in runs:
            found.setdefault(run, []).append(_measured(script, run, asked.seconds, asked.connections))
    print(f"{asked.connections} connections, {asked.seconds} s, medians of {asked.runs} runs")
    print("| workers | behind nginx | requests per second | p50 ms | p99 ms (worst run) | processor ms each | failed |")
    print("|---|---|---|---|---|---|---|")
    for (kind, workers, behind), figures in sorted(found.items()):
        per_s, p50, p99, each = (
            statistics.median(getattr(one, name) for one in figures)
            for name in ("per_s", "p50_ms", "p99_ms", "computed_ms")
        )
        worst, failed = max(one.p99_ms for one in figures), sum(one.failed for one in figures)
        cells = f"{per_s:.0f} | {p50:.0f} | {p99:.0f} ({worst:.0f}) | {each:.1f} | {failed} |"
        print(f"| {workers} x {kind} | {'yes' if behind else 'no'} | {cells}")


def _measured(script: Path, run: tuple[str, int, bool], seconds: int, connections: int) -> Figures:
    kind, workers, behind = run
    with ExitStack() as stack:
        server = stack.enter_context(serving(workers=workers, COOKSTOP_THREADS=KINDS[kind]))
        url = f"http://{LOOPBACK}:{server.port}"
        if behind:
            url = f"https://{LOOPBACK}:{stack.enter_context(fronted([server.port], metered=False)).port}"
        before_s = server.computed_s()
        found = wrk(script, url, seconds, connections)
        computed_ms = 1000.0 * (server.computed_s() - before_s) / (found.per_s * seconds)
        return replace(found, computed_ms=computed_ms)


def wrk(script: Path, url: str, seconds: int, connections: int) -> Figures:
    """The figures of one run of wrk. Raises CalledProcessError."""
    command = ["wrk", "--threads", "1", "--connections", str(connections), "--duration", f"{seconds}s"]
    command += ["--latency", "--timeout", "20s", "--script", str(script), url]
    said = subprocess.run(command, check=True, capture_output=True, text=True).stdout
    failed = [int(one) for one in re.findall(r"(?:connect|read|write|timeout|responses:) (\d+)", said)]
    return Figures(
        per_s=float(re.findall(r"Requests/sec:\s+([\d.]+)", said)[0]),
        p50_ms=_ms(said, "50%"),
        p99_ms=_ms(said, "99%"),
        failed=sum(failed),
    )


def _ms(said: str, share: str) -> float:
    number, unit = re.findall(rf"{share}\s+([\d.]+)(us|ms|s)", said)[0]
    return float(number) * {"us": 0.001, "ms": 1.0, "s": 1000.0}[unit]


def _script(folder: Path) -> Path:
    """Every post of some cooks, each with the state that belongs to it, in a drawn order."""
    bodies = []
    for log, answers in zip(logs(COOKS), undisturbed(COOKS), strict=True):
        state: str | None = None
        for post, answer in zip(log, map(json.loads, answers), strict=True):
            bodies.append(json.dumps({**post, "state": state} if state else post))
            if answer["decision"] == "stop":
                # What is asked after a stop costs next to nothing.
                break
            state = answer["state"]
    random.Random(2).shuffle(bodies)  # noqa: S311 (an order, no secret)
    file = folder / "posts.lua"
    file.write_text(SCRIPT % (",\n".join(f"[==[{body}]==]" for body in bodies), PATH), encoding="utf-8")
    return file


def _asked() -> Namespace:
    parser = ArgumentParser(prog="python -m tests.deploy.measure_workers", description=__doc__)
    parser.add_argument("--seconds", type=int, default=6, help="how long each run takes (6)")
    parser.add_argument("--runs", type=int, default=3, help="runs of each (3)")
    parser.add_argument("--connections", type=int, default=16, help="clients at once (16)")
    parser.add_argument("--workers", type=int, nargs="+", default=[1, 2], help="numbers of workers (1 2)")
    return parser.parse_args()


if __name__ == "__main__":
    main()
