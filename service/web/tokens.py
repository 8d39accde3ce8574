"""Signing what a client carries for us, so that it comes back as it went out.

A token is `payload.signature`: the payload in base64 for URLs without padding, and an HMAC-SHA-256 over it. Nothing in
it is secret, and nothing in it expires: the same payload under the same key is the same token, which keeps a repeated
request's answer the same byte for byte. An old token can always be shown again; it harms only its own cook.
"""

import base64
import binascii
import hashlib
from collections.abc import Sequence

from itsdangerous import BadSignature, Signer


class TokenError(ValueError):
    """A token that we did not write, or no longer take; says why."""


class Tokens:
    """Seals payloads with the newest of its keys and opens what any of them has sealed."""

    def __init__(self, keys: Sequence[bytes], *, purpose: str, longest: int) -> None:
        """Keys oldest to newest. Tokens of another purpose do not open; nor do any over `longest` characters."""
        self._signer = Signer(list(keys), salt=purpose, key_derivation="hmac", digest_method=hashlib.sha256)
        self.longest = longest

    def seal(self, payload: bytes) -> str:
        """The token for this payload. It may be longer than `longest`: whoever hands it out has to look."""
        return self._signer.sign(_text(payload)).decode("ascii")

    def open(self, token: str) -> bytes:
        """The payload of a token. Raises TokenError."""
        if len(token) > self.longest:
            raise TokenError(f"it has {len(token)} characters; none that was handed out has over {self.longest}")
        try:
            text = self._signer.unsign(token.encode("ascii"))
            payload = base64.urlsafe_b64decode(text + b"=" * (-len(text) % 4))
        except (UnicodeEncodeError, BadSignature, binascii.Error) as error:
            raise TokenError("it was altered, or its key is retired") from error
        # Base64 can spell the same signature in several ways; only ours is taken.
        signature = token.rpartition(".")[2].encode("ascii")
        if signature != _text(base64.urlsafe_b64decode(signature + b"=" * (-len(signature) % 4))):
            raise TokenError("it was altered")
        return payload


def _text(payload: bytes) -> bytes:
    return base64.urlsafe_b64encode(payload).rstrip(b"=")
