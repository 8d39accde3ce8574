"""Settings for all tests: no deadline for examples on a loaded machine, and one thread for each process.

The matrices are small: threads for one of them only stand in the way of the other tests.
"""

import os

from hypothesis import settings

# Before anything imports numpy; processes that tests start have it from here.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
settings.register_profile("unhurried", deadline=None)
settings.load_profile("unhurried")
