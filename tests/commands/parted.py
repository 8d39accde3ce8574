"""The command as many processes that part from one: each begins with the commands imported, which is most of what it costs.

`python -m tests.commands.parted` reads what to run, a JSON object a line, and answers each with its exit status.
"""

import gc
import json
import os
import runpy
import signal
import subprocess
import sys
import threading
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from importlib import import_module
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from service.cli import COMMANDS
from tests.commands.running import DEADLINE_S, ROOT, environment

# gunicorn is what `serve` becomes, and imports the application by itself.
APART = ("serve",)


@dataclass(slots=True)
class Parted:
    """Runs commands one at a time."""

    process: "subprocess.Popen[str]"
    folder: Path
    one_at_a_time: threading.Lock = field(default_factory=threading.Lock)

    def run(self, arguments: list[str], environ: Mapping[str, str]) -> "subprocess.CompletedProcess[str]":
        """Run the command to its end."""
        out, err = self.folder / "out", self.folder / "err"
        asked = {"arguments": arguments, "environ": dict(environ), "out": str(out), "err": str(err)}
        with self.one_at_a_time:
            assert self.process.stdin is not None
            assert self.process.stdout is not None
            print(json.dumps(asked), file=self.process.stdin, flush=True)
            status = int(self.process.stdout.readline())
            return subprocess.CompletedProcess(arguments, status, out.read_text(), err.read_text())


@contextmanager
def parted() -> Iterator[Parted]:
    """One that runs commands, for as long as the block runs."""
    command = [sys.executable, "-m", "tests.commands.parted"]
    with TemporaryDirectory(prefix="parted-") as folder:
        process = subprocess.Popen(
            command, env=environment(), stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, cwd=ROOT
        )
        try:
            yield Parted(process, Path(folder))
        finally:
            process.communicate(timeout=DEADLINE_S)


def main() -> None:
    """Import the commands, and run what is asked."""
    for name, (module, _) in COMMANDS.items():
        if name not in APART:
            import_module(module)
    # What is imported need not be looked through for garbage in each process, least of all as it ends.
    gc.freeze()
    for line in sys.stdin:
        asked = json.loads(line)
        process_id = os.fork()
        if process_id == 0:
            _become(asked)
        print(os.waitstatus_to_exitcode(os.waitpid(process_id, 0)[1]), flush=True)


def _become(asked: Mapping[str, Any]) -> None:
    """Run the command in this process, with streams and an environment of its own, and end with it."""
    signal.alarm(DEADLINE_S)
    os.dup2(os.open(os.devnull, os.O_RDONLY), 0)
    for number, name in ((1, "out"), (2, "err")):
        os.dup2(os.open(asked[name], os.O_WRONLY | os.O_CREAT | os.O_TRUNC), number)
    os.environ.clear()
    os.environ.update(asked["environ"])
    sys.argv = ["service", *asked["arguments"]]
    runpy.run_module("service", run_name="__main__", alter_sys=True)
    sys.exit()


if __name__ == "__main__":
    main()
