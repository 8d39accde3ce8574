"""How gunicorn runs the service: `gunicorn -c python:service.web.gunicorn_settings`.

A decision is under a millisecond of computing and waits for nothing, which is what these values rest on.
"""

import os

# The arrays are small: threads of the linear-algebra library would only take the cores from the other workers.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

wsgi_app = "service.app:create_app()"
bind = "127.0.0.1:8080"

# One request at a time in a worker, one worker a core. Threads gain a tenth at best, cost three to four times in the
# slowest hundredth of the answers, and can pile every kept-alive connection onto one worker. A slow client holds a
# worker until the timeout, so strangers belong behind a proxy that buffers. COOKSTOP_WORKERS sets another number.
worker_class = "service.web.gunicorn_worker.ProblemWorker"
cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
workers = int(os.environ.get("COOKSTOP_WORKERS") or cores)

# Built once, then forked: less memory, quick replacement of a worker, and one made-up state key for all.
preload_app = True

# A worker shows that it lives by touching a file; on a disk that can stall, and the worker is killed for it.
if os.access("/dev/shm", os.W_OK):  # noqa: S108 (memory, not a shared temporary folder)
    worker_tmp_dir = "/dev/shm"  # noqa: S108

# No socket into the server, which would also be written into the home folder.
control_socket_disable = True

# Below the grace that orchestrators give by habit (30 s), so that a stop is ours and not theirs.
timeout = 10
graceful_timeout = 10

# No recycling: nothing grows, and frequent recycling costs a fifth of the throughput or more.
max_requests = 0

# What a client of this service needs, with room; the readings travel in the body.
limit_request_line = 2048
limit_request_fields = 40
limit_request_field_size = 4096

# Errors and starts to standard error; a line for each request would cost more than it tells.
accesslog = None
errorlog = "-"
