"""One setting for all property tests: on a loaded machine a slow example is no failure, so none has a deadline."""

from hypothesis import settings

settings.register_profile("unhurried", deadline=None)
settings.load_profile("unhurried")
