"""Signing what a client carries for us, so that it comes back as it went out.

A token is `payload.signature`: the payload in base64 for URLs without padding, and an HMAC-SHA-256 over it. Nothing in
it is secret, and nothing in it expires: the same payload under the same key is the same token, which keeps a repeated
request's answer the same byte for byte. An old token can always be shown again; it harms only its own cook.
"""

import base64
import hmac
from collections.abc import Sequence


class TokenError(ValueError):
    """A token that we did not write, or no longer take; says why.

    Attributes:
        kind: `too-long` or `altered`; a key that is retired cannot be told from an alteration.
    """

    def __init__(self, kind: str, says: str) -> None:
        super().__init__(says)
        self.kind = kind


class Tokens:
    """Seals payloads with the newest of its keys and opens what any of them has sealed."""

    def __init__(self, keys: Sequence[bytes], *, purpose: str, longest: int) -> None:
        """Keys oldest to newest. Tokens of another purpose do not open; nor do any over `longest` characters."""
        derived = [hmac.digest(key, purpose.encode(), "sha256") for key in keys]
        # What a signature begins with is the same for every token of a key, and worked out once.
        self._newest_first = [hmac.new(key, digestmod="sha256") for key in reversed(derived)]
        self.longest = longest

    def seal(self, payload: bytes) -> str:
        """The token for this payload. It may be longer than `longest`: whoever hands it out has to look."""
        text = _text(payload)
        return f"{text.decode()}.{_signature(self._newest_first[0], text).decode()}"

    def open(self, token: str) -> bytes:
        """The payload of a token. Raises TokenError."""
        if len(token) > self.longest:
            raise TokenError(
                "too-long", f"it has {len(token)} characters; none that was handed out has over {self.longest}"
            )
        text, _, signature = token.encode("utf-8", "surrogatepass").rpartition(b".")
        # Base64 can spell the same signature in several ways; only ours is taken.
        if not any(hmac.compare_digest(signature, _signature(begun, text)) for begun in self._newest_first):
            raise TokenError("altered", "it was altered, or its key is retired")
        return base64.urlsafe_b64decode(text + b"=" * (-len(text) % 4))


def _signature(begun: hmac.HMAC, text: bytes) -> bytes:
    whole = begun.copy()
    whole.update(text)
    return _text(whole.digest())


def _text(payload: bytes) -> bytes:
    return base64.urlsafe_b64encode(payload).rstrip(b"=")
