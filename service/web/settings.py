"""What can be set from outside: one value per environment variable, read once when the application is built.

COOKSTOP_STATE_KEYS               keys that sign the state, oldest to newest, separated by commas; the newest signs
COOKSTOP_STATE_KEYS_FILE          a file with the same keys, one a line (give one of the two, not both)
COOKSTOP_KEYS_FILE                who may call: a file that `cookstop key` writes; without one, whoever asks is answered
COOKSTOP_OPEN_TO_NETWORK          `yes` to be reachable from other machines without such a file
COOKSTOP_LOG_LEVEL                debug, info, warning or error                              info
COOKSTOP_LOG_FORMAT               json or text                                               json
COOKSTOP_MAX_BODY_BYTES           largest request body                                       262144
COOKSTOP_MAX_READINGS_PER_POST    most readings in one request                                10000
COOKSTOP_MAX_READINGS_PER_COOK    most readings in a whole cook                               20000
COOKSTOP_MAX_STATE_CHARACTERS     longest state that is handed out or taken back              65536
COOKSTOP_MAX_STATE_BYTES          most bytes that a state may unpack to                      176384
COOKSTOP_MAX_NESTING              how deep lists and objects may lie in each other               16
COOKSTOP_MAX_NUMBER_CHARACTERS    longest number as it is written (4300 at most)               4300
COOKSTOP_MAX_LINE_BYTES           longest line of a replay                                   262144
COOKSTOP_MAX_LINES                most lines in a log                                  1000000000
COOKSTOP_MAX_COOKS                most cooks in an audit or a calibration                       500
"""

import os
from collections.abc import Mapping
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Any, Literal, get_args

SHORTEST_KEY = 32
LONGEST_NUMBER = 4300
"""Longer whole numbers the interpreter refuses to convert."""

LogLevel = Literal["debug", "info", "warning", "error"]
LogFormat = Literal["json", "text"]


class SettingsError(ValueError):
    """An environment variable with a value that cannot be used; the text names the variable."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """The limits, the keys that sign the state, who may call, and what is logged.

    Attributes:
        state_keys: oldest to newest, each of at least 32 bytes; empty to make one up at the start.
        keys_file: who may call; None to answer whoever asks.
        open_to_network: whether it was said in so many words that strangers may be answered.
        log_level, log_format, max_...: see the module.
    """

    state_keys: tuple[bytes, ...] = ()
    keys_file: Path | None = None
    open_to_network: bool = False
    log_level: LogLevel = "info"
    log_format: LogFormat = "json"
    max_body_bytes: int = 262_144
    max_readings_per_post: int = 10_000
    max_readings_per_cook: int = 20_000
    max_state_characters: int = 65_536
    max_state_bytes: int = 176_384
    max_nesting: int = 16
    max_number_characters: int = LONGEST_NUMBER
    max_line_bytes: int = 262_144
    max_lines: int = 1_000_000_000
    max_cooks: int = 500

    def __post_init__(self) -> None:
        for at, key in enumerate(self.state_keys, start=1):
            if len(key) < SHORTEST_KEY:
                raise SettingsError(f"state key {at} has {len(key)} bytes; it needs at least {SHORTEST_KEY}")
        if self.max_number_characters > LONGEST_NUMBER:
            raise SettingsError(f"COOKSTOP_MAX_NUMBER_CHARACTERS: expected {LONGEST_NUMBER} at most")
        # What is handed out must be taken back: a fixed part and the setup, and under 8 bytes a reading.
        least = 16_384 + 8 * self.max_readings_per_cook
        if self.max_state_bytes < least:
            raise SettingsError(f"COOKSTOP_MAX_STATE_BYTES: a cook of so many readings needs {least} or more")

    @staticmethod
    def from_environment(environ: Mapping[str, str] = os.environ) -> "Settings":
        """The settings that these variables say. Raises SettingsError, or OSError for a key file that cannot be read."""
        said: dict[str, Any] = {
            field.name: _count(environ, f"COOKSTOP_{field.name.upper()}", field.default)
            for field in fields(Settings)
            if field.name.startswith("max_")
        }
        keys_file = environ.get("COOKSTOP_KEYS_FILE", "")
        return Settings(
            state_keys=_state_keys(environ),
            keys_file=Path(keys_file) if keys_file else None,
            open_to_network=_one_of(environ, "COOKSTOP_OPEN_TO_NETWORK", ("no", "yes"), "no") == "yes",
            log_level=_one_of(environ, "COOKSTOP_LOG_LEVEL", get_args(LogLevel), "info"),
            log_format=_one_of(environ, "COOKSTOP_LOG_FORMAT", get_args(LogFormat), "json"),
            **said,
        )

    def limits(self) -> dict[str, int]:
        """Every limit by its name."""
        return {field.name: getattr(self, field.name) for field in fields(self) if field.name.startswith("max_")}


def _state_keys(environ: Mapping[str, str]) -> tuple[bytes, ...]:
    keys, file = environ.get("COOKSTOP_STATE_KEYS", ""), environ.get("COOKSTOP_STATE_KEYS_FILE", "")
    if keys and file:
        raise SettingsError("give COOKSTOP_STATE_KEYS or COOKSTOP_STATE_KEYS_FILE, not both")
    listed = Path(file).read_text(encoding="utf-8").splitlines() if file else keys.split(",")
    return tuple(key.strip().encode() for key in listed if key.strip())


def _count(environ: Mapping[str, str], name: str, default: object) -> int:
    text = environ.get(name, "").strip() or str(default)
    if not (text.isascii() and text.isdigit() and int(text) > 0):
        raise SettingsError(f"{name}: expected a whole number above 0; received {text!r}")
    return int(text)


def _one_of(environ: Mapping[str, str], name: str, words: tuple[str, ...], default: str) -> Any:
    word = environ.get(name, "").strip().lower() or default
    if word not in words:
        raise SettingsError(f"{name}: expected one of {', '.join(words)}; received {word!r}")
    return word
