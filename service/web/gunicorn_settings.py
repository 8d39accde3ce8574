"""How gunicorn runs the service: `gunicorn -c python:service.web.gunicorn_settings`.

A decision is about a millisecond of computing and waits for nothing, which is what these values rest on. Where a
deployment knows better, an environment variable says so; an empty one counts as not set, and a flag on gunicorn's own
command line comes before both.

COOKSTOP_BIND                  address to listen at, HOST:PORT or unix:PATH       127.0.0.1:8080
COOKSTOP_WORKERS               processes that answer                              one a core
COOKSTOP_WORKER_CLASS          what kind of worker they are                       ProblemWorker, one request at a time
COOKSTOP_THREADS               threads a worker, for a worker class that has them 1
COOKSTOP_TIMEOUT_S             a worker that is silent for so long is replaced    10
COOKSTOP_GRACEFUL_TIMEOUT_S    how long a stop waits for requests under way       10
COOKSTOP_MAX_REQUESTS          requests after which a worker is renewed           0 (never)
COOKSTOP_MAX_REQUESTS_JITTER   up to so many more, so that not all are at once    0
COOKSTOP_FORWARDED_ALLOW_IPS   proxies whose X-Forwarded-* headers are believed   127.0.0.1,::1
"""

import os

from service.web.settings import SettingsError

_environ = os.environ


def _whole(name: str, default: int) -> int:
    text = _environ.get(name) or str(default)
    if not (text.isascii() and text.isdigit()):
        raise SettingsError(f"{name}: expected a whole number, 0 or more; received {text!r}")
    return int(text)



# The arrays are small: threads of the linear-algebra library would only take the cores from the other workers.
_environ.setdefault("OPENBLAS_NUM_THREADS", "1")

wsgi_app = "service.app:create_app()"
bind = _environ.get("COOKSTOP_BIND") or "127.0.0.1:8080"

# One request at a time in a worker, one worker a core. Threads gain a tenth at best, cost three to four times in the
# slowest hundredth of the answers, and can pile every kept-alive connection onto one worker. A slow client holds a
# worker until the timeout, so strangers belong behind a proxy that buffers.
worker_class = _environ.get("COOKSTOP_WORKER_CLASS") or "service.web.gunicorn_worker.ProblemWorker"
_cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
workers = _whole("COOKSTOP_WORKERS", _cores)
threads = _whole("COOKSTOP_THREADS", 1)

# Built once, then forked: less memory, quick replacement of a worker, and one made-up state key for all.
preload_app = True

# A worker shows that it lives by touching a file; on a disk that can stall, and the worker is killed for it.
if os.access("/dev/shm", os.W_OK):  # noqa: S108 (memory, not a shared temporary folder)
    worker_tmp_dir = "/dev/shm"  # noqa: S108

# No socket into the server, which would also be written into the home folder.
control_socket_disable = True

# Below the grace that orchestrators give by habit (30 s), so that a stop is ours and not theirs.
timeout = _whole("COOKSTOP_TIMEOUT_S", 10)
graceful_timeout = _whole("COOKSTOP_GRACEFUL_TIMEOUT_S", 10)

# No recycling: nothing grows, and frequent recycling costs a fifth of the throughput or more.
max_requests = _whole("COOKSTOP_MAX_REQUESTS", 0)
max_requests_jitter = _whole("COOKSTOP_MAX_REQUESTS_JITTER", 0)

forwarded_allow_ips = _environ.get("COOKSTOP_FORWARDED_ALLOW_IPS") or "127.0.0.1,::1"

# What a client of this service needs, with room; the readings travel in the body.
limit_request_line = 2048
limit_request_fields = 40
limit_request_field_size = 4096

# Errors and starts to standard error; a line for each request would cost more than it tells.
accesslog = None
errorlog = "-"
