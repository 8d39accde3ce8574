"""Who may call: bearer keys, of which only a hash is kept.

The file of keys has one JSON object a line; blank lines and lines that begin with # are passed over::

    {"name": "hub-1", "sha256": "9f86d0…", "expires": "2027-11-25", "scopes": ["decide"]}

`sha256` is that of the key itself, in hexadecimal: a key is 256 random bits, so nobody finds it by trying. `expires` is
the last day on which it is taken (UTC). Two lines of one name are two keys, which is how a key is replaced without a
gap. The file is looked at again whenever it has changed; one that has become unreadable or wrong changes nothing.
"""

import hashlib
import hmac
import json
import logging
import secrets
from collections.abc import Callable, Iterator
from dataclasses import asdict, dataclass
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

from flask import request

from service.web.json_text import NotJson, parsed
from service.web.observed import observed
from service.web.problems import Refused
from service.web.settings import SettingsError

SCOPES = ("decide", "replay", "metrics")
KEY_BYTES = 32
_HEX = frozenset("0123456789abcdef")


@dataclass(frozen=True, slots=True, kw_only=True)
class Key:
    """A line of the file.

    Attributes:
        name: whose key it is.
        sha256: the hash of the key, in hexadecimal.
        expires: the last day on which it is taken (UTC).
        scopes: what it opens, out of SCOPES.
    """

    name: str
    sha256: str
    expires: date
    scopes: tuple[str, ...]

    def line(self) -> str:
        """The line, without its end."""
        return json.dumps(asdict(self), default=date.isoformat)


def made_key(name: str, scopes: tuple[str, ...], days: int) -> tuple[str, Key]:
    """A new secret, and the key to keep of it, which is taken from today for so many days."""
    secret = secrets.token_urlsafe(KEY_BYTES)
    expires = datetime.now(UTC).date() + timedelta(days=days)
    return secret, Key(name=name, sha256=_hash(secret), expires=expires, scopes=scopes)


class Callers:
    """The keys of a file, as it is now."""

    def __init__(self, file: Path, logger: logging.Logger) -> None:
        """Read the file. Raises SettingsError for one that cannot be used, OSError for one that cannot be read."""
        self._file = file
        self._logger = logger
        self._version = self._stat()
        self._keys = tuple(_keys(file.read_text(encoding="utf-8")))

    def guard(self, *scopes: str) -> Callable[[], None]:
        """A function that refuses the request at hand unless its key has one of these scopes."""

        def refuse_strangers() -> None:
            key = self._key(request.environ.get("HTTP_AUTHORIZATION", ""))
            observed().caller = key.name
            if not set(scopes) & set(key.scopes):
                raise Refused("wrong-scope", f"expected a key with the scope {' or '.join(scopes)}")

        return refuse_strangers

    def _key(self, authorization: str) -> Key:
        scheme, _, secret = authorization.partition(" ")
        if scheme.lower() != "bearer" or not secret.strip():
            raise Refused("no-key", "expected `Authorization: Bearer` with a key; received none")
        shown, found = _hash(secret.strip()), None
        for key in self._current():
            # All of them are compared, so that the time taken does not tell which comes near.
            if hmac.compare_digest(key.sha256, shown):
                found = key
        if found is None:
            raise _invalid("this key is not known here")
        if found.expires < datetime.now(UTC).date():
            raise _invalid(f"this key was taken until {found.expires.isoformat()}")
        return found

    def _current(self) -> tuple[Key, ...]:
        """The keys, read again when the file has changed."""
        try:
            version = self._stat()
            if version != self._version:
                self._version = version
                self._keys = tuple(_keys(self._file.read_text(encoding="utf-8")))
        except (OSError, UnicodeDecodeError, SettingsError) as error:
            self._logger.error("the keys are kept as they were: %s", error)
        return self._keys

    def _stat(self) -> tuple[int, int, int]:
        """What tells this file from an earlier one; zeros where there is none."""
        try:
            stat = self._file.stat()
        except FileNotFoundError:
            return 0, 0, 0
        return stat.st_ino, stat.st_mtime_ns, stat.st_size


def anyone() -> None:
    """The guard of a service that answers whoever asks."""


def _keys(text: str) -> Iterator[Key]:
    for number, line in enumerate(text.splitlines(), start=1):
        if line.strip() and not line.startswith("#"):
            try:
                yield _key(parsed(line.encode()))
            except (NotJson, ValueError) as error:
                raise SettingsError(f"the file of keys, line {number}: {error}") from error


def _key(entry: Any) -> Key:
    if not isinstance(entry, dict) or entry.keys() != {"name", "sha256", "expires", "scopes"}:
        raise ValueError("expected an object with name, sha256, expires and scopes")
    name, sha256, expires, scopes = entry["name"], entry["sha256"], entry["expires"], entry["scopes"]
    if not isinstance(name, str) or not name:
        raise ValueError("name: expected a text")
    if not isinstance(sha256, str) or len(sha256) != 64 or not set(sha256) <= _HEX:
        raise ValueError("sha256: expected 64 hexadecimal digits in lower case")
    if not isinstance(expires, str):
        raise ValueError("expires: expected a date such as 2027-11-25")
    if not isinstance(scopes, list) or not scopes or not all(scope in SCOPES for scope in scopes):
        raise ValueError(f"scopes: expected a list out of {', '.join(SCOPES)}")
    return Key(name=name, sha256=sha256, expires=date.fromisoformat(expires), scopes=tuple(scopes))


def _hash(secret: str) -> str:
    return hashlib.sha256(secret.encode("utf-8", "surrogateescape")).hexdigest()


def _invalid(detail: str) -> Refused:
    return Refused("no-key", detail, headers={"WWW-Authenticate": 'Bearer error="invalid_token"'})
