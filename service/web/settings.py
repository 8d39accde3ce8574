"""What can be set from outside: one value per environment variable, read once when the application is built.

COOKSTOP_STATE_KEYS               keys that sign the state, oldest to newest, separated by commas; the newest signs
COOKSTOP_STATE_KEYS_FILE          a file with the same keys, one a line (give one of the two, not both)
COOKSTOP_MAX_BODY_BYTES           largest request body                                       262144
COOKSTOP_MAX_READINGS_PER_POST    most readings in one request                                10000
COOKSTOP_MAX_READINGS_PER_COOK    most readings in a whole cook                               20000
COOKSTOP_MAX_STATE_CHARACTERS     longest state that is handed out or taken back              65536
"""

import os
from collections.abc import Mapping
from dataclasses import dataclass, fields
from pathlib import Path

SHORTEST_KEY = 32


class SettingsError(ValueError):
    """An environment variable with a value that cannot be used; the text names the variable."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """The limits, and the keys that sign the state.

    Attributes:
        state_keys: oldest to newest, each of at least 32 bytes; empty to make one up at the start.
        max_body_bytes, max_readings_per_post, max_readings_per_cook, max_state_characters: see the module.
    """

    state_keys: tuple[bytes, ...] = ()
    max_body_bytes: int = 262_144
    max_readings_per_post: int = 10_000
    max_readings_per_cook: int = 20_000
    max_state_characters: int = 65_536

    def __post_init__(self) -> None:
        for at, key in enumerate(self.state_keys, start=1):
            if len(key) < SHORTEST_KEY:
                raise SettingsError(f"state key {at} has {len(key)} bytes; it needs at least {SHORTEST_KEY}")

    @property
    def most_inflated_bytes(self) -> int:
        """No state that was handed out unpacks to more: a fixed part and its setup, and under 8 bytes a reading."""
        return 16_384 + 8 * self.max_readings_per_cook

    @staticmethod
    def from_environment(environ: Mapping[str, str] = os.environ) -> "Settings":
        """The settings that these variables say. Raises SettingsError, or OSError for a key file that cannot be read."""
        limits = {
            field.name: _count(environ, f"COOKSTOP_{field.name.upper()}", field.default)
            for field in fields(Settings)
            if field.name.startswith("max_")
        }
        return Settings(state_keys=_state_keys(environ), **limits)


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
