"""Lines on standard error: one for each request, and what else there is to say, as JSON or as plain text.

A line about a request holds no readings, no state and no key.
"""

import logging
import sys
from datetime import UTC, datetime
from typing import Any

from service.web.json_text import written
from service.web.settings import LogFormat, LogLevel

LEVELS: dict[LogLevel, int] = {
    "debug": logging.DEBUG,
    "info": logging.INFO,
    "warning": logging.WARNING,
    "error": logging.ERROR,
}


class Lines:
    """Writes lines of at least a level."""

    def __init__(self, level: LogLevel, form: LogFormat) -> None:
        self._least = LEVELS[level]
        self._form = form

    def takes(self, level: LogLevel) -> bool:
        """Whether a line of this level would be written."""
        return LEVELS[level] >= self._least

    def write(self, level: LogLevel, **facts: Any) -> None:
        """Write a line with these facts, those that are None left out."""
        if not self.takes(level):
            return
        line = {"time": _now(), "level": level, **{name: fact for name, fact in facts.items() if fact is not None}}
        if self._form == "text":
            sys.stderr.write(" ".join(str(fact) for fact in line.values()) + "\n")
        else:
            sys.stderr.write(written(line) + "\n")


class Handler(logging.Handler):
    """Brings what the framework logs onto the same lines."""

    def __init__(self, lines: Lines) -> None:
        super().__init__()
        self._lines = lines

    def emit(self, record: logging.LogRecord) -> None:
        level: LogLevel = "debug"
        for name, number in LEVELS.items():
            level = name if record.levelno >= number else level
        trace = logging.Formatter().formatException(record.exc_info) if record.exc_info else None
        self._lines.write(level, message=record.getMessage(), trace=trace)


def _now() -> str:
    return datetime.now(UTC).isoformat(timespec="milliseconds")
