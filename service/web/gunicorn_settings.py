"""How gunicorn runs the service: `gunicorn -c python:service.web.gunicorn_settings`.

A decision is a few milliseconds of computing and waits for nothing, which is what these values rest on. Where a
deployment knows better, an environment variable says so; an empty one counts as not set, and a flag on gunicorn's own
command line comes before both.

COOKSTOP_BIND                  address to listen at, HOST:PORT or unix:PATH       127.0.0.1:8080
COOKSTOP_WORKERS               processes that answer                              one a core
COOKSTOP_THREADS               requests at a time in each; above 1 connections    1
                               are kept between requests
COOKSTOP_WORKER_CLASS          what kind of worker they are                       ours, with threads or without
COOKSTOP_TIMEOUT_S             a worker that is silent for so long is replaced    10
COOKSTOP_GRACEFUL_TIMEOUT_S    how long a stop waits for requests under way       10
COOKSTOP_DRAIN_S               how long a worker that was told to stop goes on    0
                               answering, while /readyz says 503; stay below
                               the graceful timeout
COOKSTOP_MAX_REQUESTS          requests after which a worker is renewed           0 (never)
COOKSTOP_MAX_REQUESTS_JITTER   up to so many more, so that not all are at once    0
COOKSTOP_FORWARDED_ALLOW_IPS   proxies whose X-Forwarded-* headers are believed   127.0.0.1,::1
COOKSTOP_METRICS_FOLDER        where the workers leave their counts, wiped at     a new one in memory
                               the start; none but this service may use it
COOKSTOP_LOG_LEVEL             debug, info, warning or error                      info

What else can be set stands in service/web/settings.py.
"""

import atexit
import gc
import os
import shutil
import sys
import tempfile
from pathlib import Path

from gunicorn.arbiter import Arbiter

from service.web.exposure import refuse_exposure
from service.web.last_call import let_nobody_in
from service.web.settings import Settings, SettingsError

# Until the application is built next to nothing becomes garbage, and looking for it takes a quarter of the start.
gc.disable()

_environ = os.environ
_memory = "/dev/shm" if os.access("/dev/shm", os.W_OK) else None  # noqa: S108 (memory, not a shared temporary folder)


def _whole(name: str, default: int) -> int:
    text = _environ.get(name) or str(default)
    if not (text.isascii() and text.isdigit()):
        raise SettingsError(f"{name}: expected a whole number, 0 or more; received {text!r}")
    return int(text)


def _metrics_folder() -> str:
    """A folder with no counts of an earlier start in it."""
    said = _environ.get("COOKSTOP_METRICS_FOLDER")
    if said:
        for file in Path(said).glob("*.db"):
            file.unlink()
        return said
    made, maker = tempfile.mkdtemp(prefix="cookstop-metrics-", dir=_memory), os.getpid()

    def clear() -> None:
        # The workers are copies of the process that made it, and end before it.
        if os.getpid() == maker:
            shutil.rmtree(made, ignore_errors=True)

    atexit.register(clear)
    return made


def when_ready(server: Arbiter) -> None:
    """Refuse to serve where strangers could ask, unless that is meant."""
    names = [listener.getsockname() for listener in server.LISTENERS] or server.address
    try:
        refuse_exposure((name[0] for name in names if isinstance(name, tuple)), Settings.from_environment())
    except SettingsError as error:
        sys.exit(f"Error: {error}")
    # What was built before the workers part is looked through for garbage by none of them: that took a worker 50 ms.
    gc.freeze()
    gc.enable()
    # Workers that linger answer newcomers too; whoever sends requests has moved on before they end.
    if _whole("COOKSTOP_DRAIN_S", 0) == 0:
        _turn_newcomers_away_at_the_end(server)


def _turn_newcomers_away_at_the_end(server: Arbiter) -> None:
    stop = server.stop

    def stop_kindly(graceful: bool = True) -> None:
        # Sockets that were handed down, or on to the next server, go on to listen after this one.
        if server.reexec_pid == server.master_pid == 0 and not server.systemd:
            for listener in server.LISTENERS:
                let_nobody_in(listener.sock)
        stop(graceful)

    # Gunicorn has no hook between being told to stop and closing the sockets.
    vars(server)["stop"] = stop_kindly


# The arrays are small: threads of the linear-algebra library would only take the cores from the other workers.
_environ.setdefault("OPENBLAS_NUM_THREADS", "1")
_environ["PROMETHEUS_MULTIPROC_DIR"] = _metrics_folder()

wsgi_app = "service.app:create_app()"
bind = _environ.get("COOKSTOP_BIND") or "127.0.0.1:8080"

# One request at a time in a worker, one worker a core. Threads gain a tenth at best, cost two to four times in the
# slowest hundredth of the answers, and can pile every kept-alive connection onto one worker. A slow client holds a
# worker until the timeout, so strangers belong behind a proxy that buffers.
threads = _whole("COOKSTOP_THREADS", 1)
_ours = "service.web.gunicorn_worker." + ("ProblemWorker" if threads == 1 else "ThreadedProblemWorker")
worker_class = _environ.get("COOKSTOP_WORKER_CLASS") or _ours
_cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
workers = _whole("COOKSTOP_WORKERS", _cores)

# Built once, then forked: less memory, quick replacement of a worker, and one made-up state key for all.
preload_app = True

# A worker shows that it lives by touching a file; on a disk that can stall, and the worker is killed for it.
worker_tmp_dir = _memory

# No socket into the server, which would also be written into the home folder.
control_socket_disable = True

# Below the grace that orchestrators give by habit (30 s), so that a stop is ours and not theirs.
timeout = _whole("COOKSTOP_TIMEOUT_S", 10)
graceful_timeout = _whole("COOKSTOP_GRACEFUL_TIMEOUT_S", 10)
if _whole("COOKSTOP_DRAIN_S", 0) >= max(graceful_timeout, 1):
    raise SettingsError("COOKSTOP_DRAIN_S: expected less than COOKSTOP_GRACEFUL_TIMEOUT_S, which ends it")

# No recycling: nothing grows, and frequent recycling costs a fifth of the throughput or more.
max_requests = _whole("COOKSTOP_MAX_REQUESTS", 0)
max_requests_jitter = _whole("COOKSTOP_MAX_REQUESTS_JITTER", 0)

forwarded_allow_ips = _environ.get("COOKSTOP_FORWARDED_ALLOW_IPS") or "127.0.0.1,::1"

# What a client of this service needs, with room; the readings travel in the body.
limit_request_line = 2048
limit_request_fields = 40
limit_request_field_size = 4096

# Errors and starts to standard error. Each request has a line of the service's own there; gunicorn need not add one.
accesslog = None
errorlog = "-"
loglevel = _environ.get("COOKSTOP_LOG_LEVEL") or "info"
