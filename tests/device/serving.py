"""The real service under gunicorn on a free port of this machine, with a key for state that tests know."""

import socket
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager

import requests

from service.commands.serve import gunicorn_command
from tests.client.kitchen import STATE_KEY
from tests.commands.running import DEADLINE_S, environment


@contextmanager
def served(**environ: str) -> Iterator[int]:
    """The port at which it answers, for as long as the block runs."""
    environ = {"COOKSTOP_STATE_KEYS": STATE_KEY, "COOKSTOP_LOG_LEVEL": "error", **environ}
    with tempfile.TemporaryFile() as log, socket.create_server(("127.0.0.1", 0)) as listener:
        number, port = listener.fileno(), listener.getsockname()[1]
        process = subprocess.Popen(
            gunicorn_command(f"fd://{number}", workers=1), env=environment(**environ), pass_fds=(number,), stderr=log
        )
        try:
            # The socket is there before the server is: what is asked early waits.
            assert requests.get(f"http://127.0.0.1:{port}/livez", timeout=DEADLINE_S).ok
            yield port
        finally:
            process.terminate()
            process.wait(timeout=DEADLINE_S)
